package store

import (
	"cmp"
	"errors"

	"github.com/google/uuid"

	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/derive"
	"rindkeep/store/finding"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel"
)

// Harmed is damage to a record that one wheel or make needs. The rest of the book can be
// used: a walk through many wheels leaves this one out and notes it, and Harm lists what
// was left out.
type Harmed struct {
	Subject uuid.UUID
	Damage  *bookfile.Error
}

// Error is for logs and tests.
func (h Harmed) Error() string { return h.Damage.Error() }

// Unwrap gives the damage.
func (h Harmed) Unwrap() error { return h.Damage }

// harmedKey is the record in bBook of what couldn't be read when the indexes were made
// from the facts: wheels that stand in no index, or in them without their tasks.
var harmedKey = []byte("harmed")

// Harm is what couldn't be read since the book was opened, or when its indexes were
// made, and was left out.
func (b *Book) Harm() []bookfile.Finding { return b.file.Harm }

// harm says that damage is to one wheel or make; other errors stay as they are.
func (t *ReadTx) harm(subject uuid.UUID, err error) error {
	var known Harmed
	var be *bookfile.Error
	if err == nil || errors.As(err, &known) || !errors.As(err, &be) || be.Kind != bookfile.ErrDamaged {
		return err
	}
	at, why := t.spotOf(subject), be.Cause
	if at.Thing == "" {
		at = bookfile.At("wheel", subject)
	}
	if be.At != at && reason.Of(why) == nil {
		why = &bookfile.Error{Kind: be.Kind, Path: be.Path, At: be.At}
	}
	return Harmed{subject, &bookfile.Error{Kind: be.Kind, Path: be.Path, At: at, Cause: why}}
}

// leftOut notes damage to one wheel or make, which is then left out; ok is false for any
// other error.
func (t *ReadTx) leftOut(err error) (ok bool) {
	var h Harmed
	if !errors.As(err, &h) {
		return false
	}
	what := reason.Of(h.Damage.Cause)
	if what == nil {
		what = bookfile.Undecodable
	}
	t.book.file.Note(bookfile.Finding{At: h.Damage.At, What: what})
	return true
}

// Unread notes a record that can't be read, which is then left out. An error is one of
// a newer program.
func (t *ReadTx) Unread(thing reason.Thing, key []byte, err error) error {
	if thing != "entry" || errors.Is(err, pack.ErrNewer) {
		return t.tab.Unread(thing, key, err)
	}
	t.book.file.Note(t.UnreadEntry(key))
	return nil
}

// UnreadEntry names the wheel or make of an entry that can't be read, as far as its key
// tells.
func (t *ReadTx) UnreadEntry(key []byte) bookfile.Finding {
	if len(key) == pack.EntryKeySize {
		if of := t.spotOf(uuid.UUID(key[:16])); of.Thing != "" {
			return bookfile.Finding{At: of, What: finding.UnreadEntry{At: chain.Names{Zone: t.Zone()}.At(key[16:])}}
		}
	}
	return bookfile.Finding{At: bookfile.At("entry", key), What: bookfile.Undecodable}
}

// Usable says whether all that was recorded of a wheel can be read. One that can't is
// noted in Harm.
func (t *ReadTx) Usable(id uuid.UUID) (bool, error) {
	_, err := t.Subject(id)
	if t.leftOut(err) {
		return false, nil
	}
	return err == nil, err
}

// LeaveOut says whether an error is damage to one wheel or make, which is noted in Harm.
func (t *ReadTx) LeaveOut(err error) bool { return t.leftOut(err) }

// Called is the tag of a wheel, or "lot" and the lot of a make. If where a wheel stands
// can't be read, that's noted in Harm, and it's called by the tag it came with; what
// can't be read at all, by its identity.
func (t *ReadTx) Called(id uuid.UUID) string {
	_, _, err := t.state(id)
	t.leftOut(t.harm(id, err))
	return cmp.Or(t.NameOf(id), id.String())
}

// partOf is a harmed wheel as far as it can be read, so that it's found by its tag and
// place: its plan, and with it its tasks, aren't known.
func (t *ReadTx) partOf(id uuid.UUID, mk wheel.Make) (*derive.Wheel, error) {
	w, err := t.Wheel(id)
	if err != nil {
		return nil, err
	}
	var es []wheel.Entry
	for k, v := range t.tab.In(layout.Entries, id[:]) {
		if e, err := pack.ReadEntry(k, v); err == nil {
			es = append(es, e)
		}
	}
	wheel.Sort(es)
	return &derive.Wheel{Life: wheel.AddUp(w, mk, es, t.Zone(), nil), Zone: t.Zone(), Entries: len(es)}, nil
}

// putHarm keeps what couldn't be read while the indexes were made, for everybody who
// opens the book.
func (t *WriteTx) putHarm() error {
	var keep []bookfile.Spot
	for _, f := range t.book.file.Harm {
		keep = append(keep, f.At)
	}
	if len(keep) == 0 {
		if t.tab.Get(layout.Book, harmedKey) != nil {
			t.tab.Put(layout.Book, harmedKey, nil)
		}
		return nil
	}
	v, err := pack.JSON(keep)
	if err != nil {
		return err
	}
	t.tab.Put(layout.Book, harmedKey, v)
	return nil
}

// loadHarm reads what couldn't be read when the indexes were made.
func (b *Book) loadHarm(v []byte) {
	var kept []bookfile.Spot
	if v == nil {
		return
	}
	if pack.ReadJSON(v, &kept) != nil { // something was left out, and nobody knows what
		kept = []bookfile.Spot{bookfile.At("record", harmedKey)}
	}
	for _, at := range kept {
		b.file.Note(bookfile.Finding{At: at, What: bookfile.Undecodable})
	}
}
