package store

import (
	"bytes"
	"context"
	"errors"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/reason"
	"rindkeep/store/finding"
	"rindkeep/store/history"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
)

// History gives every entry of a wheel or make, struck ones and the strikes
// too, in the order they happened. A subject without entries gives none.
func (t *ReadTx) History(subject uuid.UUID) ([]wheel.Entry, error) {
	es, err := t.history(subject)
	return append([]wheel.Entry(nil), es...), err
}

// history is History without the copy: as the transaction knows it now.
func (t *ReadTx) history(subject uuid.UUID) ([]wheel.Entry, error) {
	if s := t.subjects[subject]; s != nil {
		return s.History(), nil
	}
	var out []wheel.Entry
	for k, v := range t.tab.In(layout.Entries, subject[:]) {
		e, err := pack.ReadEntry(k, v)
		if err != nil {
			if !errors.Is(err, pack.ErrNewer) {
				f := t.UnreadEntry(k)
				err = reason.Err(f.What)
			}
			return nil, t.harm(subject, t.tab.Damaged(err, "entry", k))
		}
		out = append(out, e)
	}
	if err := t.whole(subject, len(out)); err != nil {
		return nil, t.harm(subject, err)
	}
	wheel.Sort(out)
	return out, nil
}

// whole says what is wrong if not as many entries of a wheel were found as its standing says
// it has: one whose key a disk changed isn't found among them. What has no such count is
// whole if none can be elsewhere.
func (t *ReadTx) whole(subject uuid.UUID, n int) error {
	if !t.book.file.Sealed || t.tab.Checking || t.tab.Remaking {
		return nil
	}
	s, ok, err := t.state(subject)
	switch {
	case err != nil:
		return err
	case !ok && t.write == nil && t.tab.Get(layout.Wheels, subject[:]) != nil:
		return t.tab.Damaged(nil, "standing", subject)
	case !ok || s.Entries < 0:
		last := slices.Concat(subject[:], bytes.Repeat([]byte{0xff}, pack.EntryKeySize-len(subject)))
		if t.tab.Strayed(layout.Entries, subject[:], last) == nil {
			return nil
		}
	default:
		if t.write != nil {
			n -= t.write.fresh[subject]
		}
		if s.Entries == n {
			return nil
		}
	}
	return t.tab.Damaged(reason.Err(finding.EntriesMissing), "entry", subject)
}

// EntryByID gives one entry. The error may be a NotFound.
func (t *ReadTx) EntryByID(id uuid.UUID) (wheel.Entry, error) {
	e, ok, err := t.Entry(id)
	if err == nil && !ok {
		err = refusal.NotFound{Thing: "entry", Name: id.String()}
	}
	return e, err
}

// Log goes through entries in the order they happened, those of one instant as they were
// written, and gives how many match in all. fn is told how many there will be with the
// first.
func (t *ReadTx) Log(ctx context.Context, q history.Query, fn func(e history.Logged, total int) error) (int, error) {
	if err := t.ready(); err != nil {
		return 0, err
	}
	return t.log(q).Ordered(ctx, fn)
}

// EachLogged goes through the entries asked for in the order the book keeps
// them, which is by wheel: for sums, in one reading. Most has no say.
func (t *ReadTx) EachLogged(ctx context.Context, q history.Query, fn func(history.Logged) error) error {
	if err := t.ready(); err != nil {
		return err
	}
	return t.log(q).Each(ctx, fn)
}

func (t *ReadTx) log(q history.Query) *history.Log {
	return &history.Log{
		Tab: t.tab, Query: q, Unread: func(k []byte, err error) error { return t.Unread("entry", k, err) },
		Whole: func(subject uuid.UUID, n int) error {
			if err := t.harm(subject, t.whole(subject, n)); !t.leftOut(err) {
				return err
			}
			return nil
		},
	}
}

// EachWritten goes through the entries that happened and were written since a time, from
// the newest link of the chain back to one that was gone through before, 0 for none. It
// gives the newest link, and costs what was written since.
func (t *ReadTx) EachWritten(since time.Time, after uint64, fn func(wheel.Entry) error) (newest uint64, err error) {
	if err := t.ready(); err != nil {
		return 0, err
	}
	return history.Written(t.tab, since, after, fn)
}

// Newest is when the latest entry happened; the zero time where there is none.
func (t *ReadTx) Newest() (time.Time, error) {
	c, err := t.count()
	if err != nil || c.Newest == 0 {
		return time.Time{}, err
	}
	return time.UnixMilli(c.Newest).UTC(), nil
}

// Counts are the book's totals. Here are the wheels that were neither sent nor
// lost.
type Counts struct {
	Makes   int
	Wheels  int
	Here    int
	Entries int
	Rooms   int
}

// Counts gives the book's totals.
func (t *ReadTx) Counts() (Counts, error) {
	if err := t.ready(); err != nil {
		return Counts{}, err
	}
	c, err := t.count()
	if err != nil {
		return Counts{}, err
	}
	out := Counts{Makes: c.Makes, Wheels: c.Wheels, Here: c.Here, Entries: c.Entries}
	rooms, err := t.Rooms()
	out.Rooms = len(rooms)
	return out, err
}
