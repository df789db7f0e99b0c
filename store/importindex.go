package store

import (
	"bytes"
	"errors"
	"time"

	"github.com/google/uuid"

	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/lines"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
)

// chain proves that the chain which came with the facts is theirs, and no other than that
// of the book's backups. One that isn't theirs, and a file without one, gives way to a new
// chain that says so.
func (l *loader) chain(b *Book, at time.Time) error {
	kind := chain.Unfit
	if err := b.View(func(t *ReadTx) error {
		found, n, err := t.proveChain(l.ctx)
		if l.altered = found; n == 0 {
			kind, l.altered = chain.Imported, found[:1] // NoChain says it all
		}
		return err
	}); err != nil {
		return err
	}
	if len(l.altered) == 0 {
		var err error
		if !l.salvaged {
			l.altered, err = b.strange(nil, l.path, "")
		}
		return err
	}
	if l.salvaged {
		kind = chain.Salvaged
	}
	return b.Update(func(t *WriteTx) error {
		t.tab.Changed = true
		if err := t.tab.Empty(layout.Chain); err != nil {
			return err
		}
		return chain.Begin(t.tab.Bolt, t.book.settings.ID, kind, at)
	})
}

// index makes the index of entries.
func (l *loader) index(b *Book) error {
	var bounds []uuid.UUID
	if err := b.View(func(t *ReadTx) error { bounds = t.ids.Bounds(idsTogether); return nil }); err != nil {
		return err
	}
	for i := range bounds[1:] {
		if err := l.ctx.Err(); err != nil {
			return err
		}
		twice := uuid.Nil
		if err := b.Update(func(t *WriteTx) (err error) {
			twice, err = t.ids.Index(bounds[i], bounds[i+1])
			return err
		}); err != nil {
			return err
		}
		if twice != uuid.Nil {
			return lines.Whole(lines.Fault{Is: "id-twice", Word: twice.String()})
		}
	}
	return nil
}

// earlyEntry is an entry from before the day of its make as the make's record has it:
// a correction further down may make the make an earlier one.
type earlyEntry struct {
	line int
	at   time.Time
	mk   uuid.UUID
	err  error
}

// mostEarly is how many of them an import puts off.
const mostEarly = 1_000_000

// corrections brings makes up to date with the entries that correct them, and refuses
// an entry from before the earliest day its make ever had.
func (l *loader) corrections(b *Book) error {
	if err := b.Update((*WriteTx).correctAll); err != nil {
		return err
	}
	return b.View(func(t *ReadTx) error {
		for _, x := range l.early {
			first, err := t.firstMake(x.mk)
			if err != nil {
				return err
			}
			es, err := t.history(x.mk)
			if err != nil {
				return err
			}
			if x.at.Before(first.Earliest(es).Start(t.Zone())) {
				return &lines.Error{Line: x.line, Cause: x.err}
			}
		}
		return nil
	})
}

// strikes proves that every strike withdraws an entry of its own subject, that every
// shared round is one of its own subject's, and that no two entries share an identity
// which the index does not tell apart.
func (l *loader) strikes(b *Book) error {
	return b.View(func(t *ReadTx) error {
		var subject uuid.UUID
		var of []wheel.Entry
		seen := map[uuid.UUID]bool{}
		check := func() error {
			for _, e := range of {
				is := "strike-of-another"
				if e.SameRound() {
					is = "round-of-another"
				}
				o, ok, err := t.entry(e.Target)
				if err != nil {
					return err
				}
				if !ok && t.shared() {
					continue // it hasn't come yet
				}
				if !ok || o.Subject != e.Subject {
					return lines.Whole(lines.Fault{Is: is, Word: e.ID.String(), Other: e.Target.String()})
				}
			}
			of = of[:0]
			return nil
		}
		for k, v := range t.tab.In(layout.Entries, nil) {
			if !bytes.Equal(subject[:], k[:16]) {
				copy(subject[:], k)
				if err := check(); err != nil {
					return err
				}
				clear(seen)
			}
			if id := uuid.UUID(k[24:]); layout.BeginsAs(id, subject) {
				if seen[id] {
					return lines.Whole(lines.Fault{Is: "id-twice", Word: id.String()})
				}
				seen[id] = true
			}
			if pack.Targets(v) {
				e, err := pack.ReadEntry(k, v)
				if err != nil {
					return err
				}
				of = append(of, e)
			}
		}
		return check()
	})
}

// derive makes everything derived, some lots at a time.
func (l *loader) derive(b *Book) error {
	from := []byte{}
	for from != nil {
		if err := l.ctx.Err(); err != nil {
			return err
		}
		if err := b.Update(func(t *WriteTx) error {
			t.tab.Remaking, t.tab.Changed = true, true
			var mk []byte
			c := t.tab.Bucket(layout.MakeWheels).Cursor()
			k, _ := c.Seek(from)
			for ; k != nil; k, _ = c.Next() {
				if !bytes.Equal(mk, k[:16]) {
					if len(t.dirty) >= wheelsTogether {
						break
					}
					mk = bytes.Clone(k[:16])
				}
				t.dirty[uuid.UUID(k[20:])] = touch{gate: true}
			}
			from = bytes.Clone(k)
			return nil
		}); err != nil {
			var r refusal.Refused
			if errors.As(err, &r) {
				return &lines.Error{Cause: err}
			}
			return err
		}
	}
	return nil
}
