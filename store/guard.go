package store

import (
	"errors"
	"fmt"
	"runtime"
	"runtime/debug"
	"strings"
)

// guard runs fn on a book whose pages cannot be trusted: what bbolt panics
// over, and memory that is not there, become an ErrDamaged. Any other panic is
// a fault of the program and goes on.
// What broke once stays broken: bbolt may hold locks of its own from where it
// broke off, and would wait for itself.
func guard(path string, broken *bool, fn func() error) (err error) {
	if broken != nil && *broken {
		return damaged(path, nil, spot("page", nil))
	}
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		v := recover()
		if v == nil {
			return
		}
		if broken != nil {
			*broken = true
		}
		_, fault := v.(interface{ Addr() uintptr })
		if !fault && !raisedByBolt() {
			panic(v)
		}
		at := spot("page", nil)
		if m, ok := v.(missingBucket); ok {
			at = spot("bucket", string(m))
		}
		err = damaged(path, because{PageFault{Is: "unreadable", Message: fmt.Sprint(v)}}, at)
	}()
	err = fn()
	if (errors.Is(err, errPacked) || errors.Is(err, errSeal)) && !errors.Is(err, ErrDamaged) {
		err = damaged(path, err, spot("record", nil))
	}
	return err
}

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
