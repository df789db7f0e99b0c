package store

import (
	"os"
	"runtime"
)

// Snapshot gives the book as it stands, opened for reading on a copy of its own,
// and lets the book itself go: a look that takes long then keeps nobody waiting.
// The copy is among the temporary files, readable by its owner alone, and is
// gone when it is closed or the process ends. Where it cannot be made the book
// itself is given back.
func (b *Book) Snapshot() (*Book, error) {
	tmp, err := os.CreateTemp("", "rindkeep-look-*")
	if err != nil {
		return b, nil
	}
	name := tmp.Name()
	give := func() { _ = os.Remove(name) }
	if err = tmp.Close(); err == nil {
		err = b.View(func(t *ReadTx) error {
			_, err := b.file.CopyAsOf(t.tab.Bolt, name)
			return err
		})
	}
	if err != nil {
		give()
		return b, nil
	}
	c, err := open(name, Read, Options{Wait: b.opt.Wait, Now: b.file.Now, Alone: true})
	if err != nil {
		give()
		return b, nil
	}
	c.file.Harm, c.file.Half = b.file.Harm, b.file.Half
	c.file.Path = b.Path() // what is said of it is said of the book
	if runtime.GOOS == "windows" {
		c.discard = give // an open file keeps its name there
	} else {
		give()
	}
	if err := b.Close(); err != nil {
		_ = c.Close()
		return b, err
	}
	return c, nil
}
