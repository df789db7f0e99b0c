package store

import (
	"errors"
	"time"
)

// About is what there is to say of a book as a file.
type About struct {
	Path     string
	Settings Settings
	Format   int
	Counts   Counts
	Newest   time.Time // the latest entry; zero where there is none
	Bytes    int64     // the file's size
	Free     int64     // bytes of it that hold nothing
	Head     Head      // of the chain of its history
	Begun    Beginning // how the chain began,
	Since    time.Time // and when
	Fresh    bool      // its derived records were made by this program's rules, plans and varieties
}

// About looks the book over. Free space is what Compact would give back.
func (b *Book) About() (About, error) {
	a := About{Path: b.path, Settings: b.settings, Format: Format}
	st, err := b.file.Stat()
	if err != nil {
		return a, fileErr(b.path, "read", err)
	}
	a.Bytes = st.Size()
	p, err := openPages(b.path, b.file, st.Size())
	if err != nil {
		return a, err
	}
	free, _, err := p.freePages()
	if err != nil {
		return a, damaged(b.path, err, spot("page", nil))
	}
	a.Free = int64(len(free))*p.m.pageSize + max(0, st.Size()-p.m.bytes())
	err = b.View(func(t *ReadTx) error {
		if a.Counts, err = t.Counts(); err != nil {
			return err
		}
		if a.Head, a.Begun, a.Since, err = t.Head(); err != nil {
			return err
		}
		a.Fresh = string(t.get(bBook, []byte("derivation"))) == derivation()
		a.Newest, err = t.Newest()
		return err
	})
	return a, err
}

func isBusy(err error) bool { return errors.Is(err, ErrBusy) }
