package store

import (
	"errors"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/reason"
	"rindkeep/store/derive"
	"rindkeep/store/history"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
)

// Result is what became of entries: those written, and those that were in the
// book already and changed nothing.
type Result struct {
	Written  int
	Repeated int
}

// Put writes entries, all or none: the error is a Refused, or Refusals of
// several. An entry whose identity is in the book already changes nothing if
// it says the same, and is refused if it does not; so does one that repeats,
// under another identity, what stands in the book for the same instant.
func (t *WriteTx) Put(entries ...wheel.Entry) (Result, error) {
	var res Result
	var refused refusal.Refusals
	late := t.tab.Latest()
	for _, i := range putOrder(entries) {
		e := pack.Normal(entries[i])
		written, err := t.putOne(&e, late)
		switch {
		case err == nil && written:
			res.Written++
		case err == nil:
			res.Repeated++
		default:
			err = refusal.At(err, t.NameOf(e.Subject), i)
			var r refusal.Refused
			if !errors.As(err, &r) {
				return Result{}, err
			}
			refused = append(refused, r)
		}
	}
	slices.SortFunc(refused, func(a, b refusal.Refused) int { return a.Index - b.Index })
	switch len(refused) {
	case 0:
		return res, nil
	case 1:
		return Result{}, refused[0]
	}
	return Result{}, refused
}

// putOrder is the order in which entries given together are taken: as they
// happened, strikes after all else, so that each finds what it builds on.
func putOrder(es []wheel.Entry) []int {
	at := make([]int, len(es))
	for i := range at {
		at[i] = i
	}
	slices.SortStableFunc(at, func(x, y int) int {
		a, b := &es[x], &es[y]
		if s, u := a.Kind == wheel.Struck, b.Kind == wheel.Struck; s != u {
			if u {
				return -1
			}
			return 1
		}
		if a.Kind == wheel.Struck {
			return a.Written.Compare(b.Written)
		}
		if c := slices.Compare(a.Subject[:], b.Subject[:]); c != 0 {
			return c
		}
		if c := a.At.Compare(b.At); c != 0 {
			return c
		}
		return a.Written.Compare(b.Written)
	})
	return at
}

// NameOf is the tag or lot of a subject, for a sentence.
func (t *ReadTx) NameOf(subject uuid.UUID) string {
	if s, ok, err := t.state(subject); err == nil && ok {
		return s.Tag
	}
	if w, err := t.Wheel(subject); err == nil {
		return w.Tag
	}
	if m, err := t.Make(subject); err == nil {
		return "lot " + m.Lot
	}
	return ""
}

// putOne checks one entry against the book and takes it.
func (t *WriteTx) putOne(e *wheel.Entry, late time.Time) (written bool, err error) {
	if err := e.Check(); err != nil {
		field := "weight"
		if wheel.CheckNote(e.Note) != nil {
			field = "note"
		}
		return false, refusal.Refused{Field: field, Cause: err}
	}
	s, err := t.Subject(e.Subject)
	if err != nil {
		return false, err
	}
	if old, ok, err := t.Entry(e.ID); err != nil {
		return false, err
	} else if ok {
		if old.Subject == e.Subject && old.Same(*e) {
			return false, nil
		}
		return false, refusal.Refused{Field: "id", Cause: reason.Err(refusal.Different{Was: old.Word()})}
	}
	if err := s.CheckTime(e, late); err != nil {
		return false, err
	}
	if err := t.checkContent(e, s.IsWheel); err != nil {
		return false, err
	}
	if s.Repeats(e) {
		return false, nil
	}
	if err := s.Check(e); err != nil {
		return false, err
	}
	if err := t.checkCorrected(s, e); err != nil {
		return false, err
	}
	return true, t.add(s, e)
}

// add writes an entry that was checked.
func (t *WriteTx) add(s *history.Subject, e *wheel.Entry) error {
	c, err := t.count()
	if err != nil {
		return err
	}
	c.Entries++
	c.Newest = max(c.Newest, e.At.UnixMilli())
	k := pack.EntryKey(*e)
	s.Add(e)
	if t.tab.Trial {
		return nil
	}
	t.tab.PutEntry(k, pack.Seal(k, pack.EntryBody(e)))
	t.fresh[e.Subject]++
	t.ids.Put(k)
	t.index(t.hadTags(*e))
	if s.IsWheel {
		t.retags = t.retags || e.Kind == wheel.Tagged || e.Kind == wheel.Struck
		how := t.dirty[e.Subject]
		late := e.Kind == wheel.Did && e.Job.Wets() && s.WeighedSince(e.At)
		t.dirty[e.Subject] = touch{
			gate:    how.gate || late || derive.BearsOnGate(e.Kind),
			sisters: how.sisters || late || derive.BearsOnSisters(e.Kind),
		}
	} else if tells(*e) {
		if err := t.tell(e.Subject); err != nil || !corrects(e) {
			return err
		}
		return t.correct(e.Subject)
	}
	return nil
}

// checkContent looks at what the entry names: room, plan, tag, coat.
func (t *WriteTx) checkContent(e *wheel.Entry, isWheel bool) error {
	switch ofMake := e.Kind.OfMake(); {
	case isWheel && ofMake:
		return reason.Err(refusal.ForAMake)
	case !isWheel && !ofMake && e.Kind != wheel.Noted && e.Kind != wheel.Struck && e.Kind != wheel.Voided:
		return reason.Err(refusal.ForAWheel{What: e.Word()})
	}
	switch e.Kind {
	case wheel.Moved:
		if bound := e.Place.Bound(); bound != "" {
			return t.checkSite(bound)
		}
		return t.checkPlace(e.Place)
	case wheel.Planned:
		_, err := t.Plan(e.Plan)
		return err
	case wheel.CoatedOn:
		_, err := drying.ParseCoat(e.Coat)
		return err
	case wheel.Tagged:
		return t.checkNewTag(e)
	case wheel.Noted:
		if e.Note == "" {
			return reason.Err(reason.Missing{What: "note"})
		}
		if e.Detail != "" {
			return t.checkPhoto(e)
		}
	}
	return nil
}

// checkPhoto says what is wrong with a note that names a photo the book lacks.
func (t *ReadTx) checkPhoto(e *wheel.Entry) error {
	p, err := wheel.ParsePhoto(e.Detail)
	if err != nil {
		return err
	}
	if _, err := t.Photo(p); err != nil {
		return reason.Err(refusal.NoPhoto)
	}
	return nil
}

func (t *WriteTx) checkNewTag(e *wheel.Entry) error {
	if err := t.tab.CheckOwn("tag", e.Tag); err != nil {
		return err
	}
	v := t.tab.Get(layout.Tags, layout.Fold(e.Tag))
	if v == nil {
		return nil
	}
	id, err := layout.DecodeID(v)
	if err != nil {
		return t.tab.Damaged(err, "tag", e.Tag)
	}
	if _, moving := t.dirty[id]; id != e.Subject && !moving {
		return reason.Err(refusal.Taken{What: "tag", Name: e.Tag})
	}
	return nil
}
