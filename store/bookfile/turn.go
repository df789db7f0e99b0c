package bookfile

import (
	"encoding/binary"
	"io"
	"os"
	"path/filepath"
)

// The book's file is locked as a whole: by many readers or by one writer. Among those who
// wait the system gives that lock to anyone, so some would wait far longer than others.
// So they queue for it first, readers too. A small file beside the book says which number
// was drawn last. Who drew number n keeps that file's byte numbers+n locked until the book
// is theirs, and before that waits until nobody has a byte below it. The system lets go of
// the bytes of a process that ends, in whatever way.

const (
	drawing = 8       // the byte that's locked while a number is drawn; the last one is before it
	inUse   = 9       // the byte that's locked with the book where the book's file itself can't be
	numbers = 1 << 32 // far behind both: on some systems bytes that are locked can't be read
	rounds  = 1 << 40 // numbers before they begin again
)

// turn is a place in the queue.
type turn struct {
	file  *os.File
	draws bool  // it may write to the file; else it waits for those who are in the queue already
	n     int64 // the number that was drawn; 0: none yet
}

// queueFor opens the queue's file, made on first use. In a folder that can't be written
// it may not exist: nil then, and the reader goes without.
func queueFor(path string) *turn {
	dir, name := filepath.Split(Real(path))
	name = filepath.Join(dir, "."+name+".queue")
	if f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o666); err == nil {
		return &turn{file: f, draws: true}
	}
	if f, err := os.Open(name); err == nil {
		return &turn{file: f}
	}
	return nil
}

// come draws a number and waits until it's next. Without wait got is false where it would
// have to, and come may be called again.
func (t *turn) come(wait bool) (got bool, err error) {
	if t.n == 0 {
		if got, err = t.draw(wait); !got || err != nil {
			return false, err
		}
	}
	if t.draws && wait { // wait for the one just before: when they go, only this one wakes
		if _, err = lockBytes(t.file, numbers+t.n-1, 1, false, true); err != nil {
			return false, err
		}
	}
	return lockBytes(t.file, numbers, t.n, false, wait)
}

func (t *turn) draw(wait bool) (got bool, err error) {
	if t.draws {
		if got, err = lockBytes(t.file, drawing, 1, true, wait); !got || err != nil {
			return false, err
		}
		defer unlockByte(t.file, drawing)
	}
	var last [drawing]byte
	if _, err := t.file.ReadAt(last[:], 0); err != nil && err != io.EOF {
		return false, err
	}
	n := int64(binary.LittleEndian.Uint64(last[:])%rounds) + 1
	if t.draws {
		for got = false; !got; n++ { // one that somebody has isn't drawn again
			if got, err = lockBytes(t.file, numbers+n, 1, true, false); err != nil {
				return false, err
			}
		}
		n--
		binary.LittleEndian.PutUint64(last[:], uint64(n))
		if _, err := t.file.WriteAt(last[:], 0); err != nil {
			return false, err
		}
	}
	t.n = n
	return true, nil
}
