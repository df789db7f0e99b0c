package bookfile

import (
	"fmt"
	"io"
	"runtime"
	"runtime/debug"
	"strings"
)

// Guard runs fn on a book whose pages cannot be trusted: what bbolt panics
// over, and memory that is not there, become an ErrDamaged. Any other panic is
// a fault of the program and goes on. A page that the disk couldn't read, and a mapping
// for which there was no memory, are no damage.
// What broke once stays broken: bbolt may hold locks of its own from where it
// broke off, and would wait for itself.
func (f *File) Guard(fn func() error) (err error) {
	if f.broken {
		return Damaged(f.Path, nil, At("page", nil))
	}
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		v := recover()
		if v == nil {
			return
		}
		f.broken = true
		at, fault := v.(interface{ Addr() uintptr })
		m, missing := v.(MissingBucket)
		if name, bad := v.(BadIndex); bad {
			f.broken = false // bbolt had no part in it
			err = Damaged(f.Path, nil, At("index", string(name)))
			return
		}
		if bad, is := v.(BadPage); is {
			f.broken = false
			err = bad.Err
			return
		}
		if fault {
			if err = f.readAt(at.Addr()); err != nil {
				return
			}
		}
		switch {
		case missing:
			err = Damaged(f.Path, nil, At("bucket", string(m)))
		case fault || raisedByBolt():
			err = Damaged(f.Path, PageFault{Is: "unreadable", Message: fmt.Sprint(v)}, At("page", nil))
		default:
			panic(v)
		}
	}()
	return fn()
}

// readAt reads the part of the file that is mapped at an address, and gives what the
// system says of it.
func (f *File) readAt(addr uintptr) error {
	if f.DB == nil {
		return nil
	}
	off := int64(addr - f.DB.Info().Data)
	if off < 0 || off >= f.size() {
		return nil
	}
	if _, err := f.file.ReadAt(make([]byte, 1), off); err != nil && err != io.EOF {
		return Failed(f.Path, "read", err)
	}
	return nil
}

// MissingBucket is what is panicked with within Guard over a bucket that every sound
// book has, where no error can be returned.
type MissingBucket string

// BadPage is what is panicked with within Guard over a page that was found to be damaged
// before bbolt read it, where no error can be returned.
type BadPage struct{ Err error }

// BadIndex is what is panicked with within Guard over a derived record whose seal is
// wrong, where no error can be returned: making the indexes again mends it.
type BadIndex string

// raisedByBolt says whether the panic being recovered began in bbolt: whether
// the first function under the runtime's own is one of bbolt's.
func raisedByBolt() bool {
	pcs := make([]uintptr, 64)
	frames := runtime.CallersFrames(pcs[:runtime.Callers(2, pcs)])
	panicked := false
	for {
		f, more := frames.Next()
		switch {
		case strings.HasPrefix(f.Function, "runtime."):
			panicked = panicked || f.Function == "runtime.gopanic" || f.Function == "runtime.sigpanic" ||
				strings.HasPrefix(f.Function, "runtime.panic")
		case panicked:
			return strings.HasPrefix(f.Function, "go.etcd.io/bbolt")
		}
		if !more {
			return false
		}
	}
}
