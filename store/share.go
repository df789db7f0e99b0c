package store

import (
	"bytes"
	"strconv"

	"github.com/google/uuid"
	bolt "go.etcd.io/bbolt"

	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/members"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/register"
	"rindkeep/store/sorts"
	"rindkeep/store/table"
)

// sharedFormat is the format of a book that several sites share: an older program would read
// it as one site's.
const sharedFormat = 4

// loadSite reads which site the book is.
func (b *Book) loadSite(tx *bolt.Tx) error {
	b.site, b.file.Site = nil, uuid.Nil
	if !members.IsShared(tx) {
		return nil
	}
	own := members.Own{}
	if err := pack.ReadJSON(tx.Bucket([]byte(layout.Heads)).Get(members.OwnKey), &own); err != nil {
		return err
	}
	b.site, b.file.Site = &own, own.Site
	return nil
}

// Share makes the book one of several sites, or gives it another epoch. Whatever it holds is
// this site's.
func (t *WriteTx) Share(own members.Own) error {
	if err := register.CheckSiteName(own.Name); err != nil {
		return refusal.Refused{Cause: err}
	}
	v, err := pack.JSON(own)
	if err != nil {
		return err
	}
	if !t.Shared() {
		if err := t.flush(); err != nil {
			return err
		}
		if err := t.markStood(own.Site); err != nil {
			return err
		}
	}
	t.tab.Put(layout.Heads, members.OwnKey, v)
	t.tab.Put(layout.Book, []byte("format"), []byte(strconv.Itoa(sharedFormat)))
	t.book.site, t.book.file.Site = &own, own.Site
	return nil
}

// Leave has the book's site take part no longer. The link that is being written, with the pact
// that says so, is the last of its own that others take. Only the present epoch ends: another book
// may have more of an earlier one than this book knows.
func (t *WriteTx) Leave(p register.Pact) error {
	own, _ := t.Own()
	h, _, _, err := t.Head()
	if err != nil {
		return err
	}
	own.Left = &members.Departure{At: p.Written, Number: uint64(h.Number) + 1}
	p.Kind, p.Site, p.From, p.Name = register.Left, own.Site, own.Site, own.Name
	p.Epoch, p.Number = own.Epoch, own.Left.Number
	if err := t.PutPact(p); err != nil {
		return err
	}
	return t.Share(own)
}

// markStood notes when each record was written that another site's may come to replace, of a
// book that wasn't shared until now.
func (t *WriteTx) markStood(site uuid.UUID) error {
	c := t.tab.Walk(layout.Chain)
	for k, v := c.Seek(nil); k != nil; k, v = c.Next() {
		l, err := chain.Decode(v)
		if err != nil {
			return t.tab.Damaged(err, "chain", nil)
		}
		for _, f := range l.Facts {
			if name := layout.OfCode[f.Code]; layout.ByClock[name] {
				stood := table.Stood(l.Written().UnixMilli(), site)
				t.tab.Put(layout.Stood, table.StoodKey(name, f.Key), stood)
				if v := t.tab.Get(name, f.Key); f.Is(chain.Digest(f.Code, f.Key, v)) {
					t.tab.Version(name, f.Key, nil, bytes.Clone(v), stood)
				}
			}
		}
	}
	return nil
}

// takeHeadLine takes a line of Heads: which site the book is, or how far it has another's
// history.
func (t *WriteTx) takeHeadLine(s sorts.Sort, line []byte) error {
	x, err := sorts.Parse(t.tab, layout.Heads, line, func(x sorts.Shared) []byte { return x.Key })
	switch {
	case err != nil:
		return err
	case !bytes.Equal(x.Key, members.OwnKey):
		return s.Take(t.Writer, t.tab, line)
	}
	var own members.Own
	if err := pack.ReadJSON(x.Value, &own); err != nil {
		return err
	}
	return t.Share(own)
}
