package store

import (
	"time"

	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/register"
)

// About is what there is to say of a book as a file.
type About struct {
	Path     string
	Settings Settings
	Format   int
	Counts   Counts
	Newest   time.Time       // the latest entry; zero where there is none
	Bytes    int64           // the file's size
	Free     int64           // bytes of it that hold nothing
	Head     chain.Head      // of the chain of its history
	Begun    chain.Beginning // how the chain began,
	Since    time.Time       // and when
	// Unfinished are the acts that stopped half-way.
	Unfinished []register.Unfinished
	Fresh      bool // its derived records were made by this program's rules, plans and varieties
}

// About looks the book over. Free space is what Compact would give back.
func (b *Book) About() (About, error) {
	a := About{Path: b.Path(), Settings: b.settings, Format: Format}
	var err error
	if a.Bytes, a.Free, err = b.file.Sizes(); err != nil {
		return a, err
	}
	err = b.View(func(t *ReadTx) error {
		if a.Counts, err = t.Counts(); err != nil {
			return err
		}
		if a.Head, a.Begun, a.Since, err = t.Head(); err != nil {
			return err
		}
		a.Fresh = string(t.tab.Get(layout.Book, []byte("derivation"))) == derivation()
		if a.Newest, err = t.Newest(); err != nil {
			return err
		}
		a.Unfinished, err = t.Unfinished()
		return err
	})
	return a, err
}
