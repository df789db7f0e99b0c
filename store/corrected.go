package store

import (
	"bytes"
	"slices"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/store/derive"
	"rindkeep/store/history"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/table"
	"rindkeep/wheel"
)

// makeIndex is what the indexes hold of a make as it is now. first is its record.
func makeIndex(first, now wheel.Make) ([]indexRecord, error) {
	rs := []indexRecord{{layout.Lots, layout.Fold(now.Lot), layout.IDValue(now.ID)}}
	if !now.Removed {
		rs = append(rs, indexRecord{layout.Dates, layout.MakeDateKey(now.Date, now.ID), layout.Plain})
	}
	if now == first {
		return rs, nil
	}
	rec, err := pack.JSON(derive.CorrectedMake{Make: now, Removed: now.Removed})
	return append(rs, indexRecord{layout.Corrected, now.ID[:], rec}), err
}

// corrected is a make as its entries, with one more where it isn't nil, leave it, and
// its record.
func (t *ReadTx) corrected(id uuid.UUID, more *wheel.Entry) (first, now wheel.Make, err error) {
	if first, err = t.firstMake(id); err != nil {
		return first, first, err
	}
	es, err := t.history(id)
	if more != nil {
		es = append(slices.Clone(es), *more)
	}
	return first, first.AsCorrected(es), err
}

// corrects says whether an entry may change what a make's record says.
func corrects(e *wheel.Entry) bool {
	return e.Kind == wheel.Corrected || e.Kind == wheel.Voided || e.Kind == wheel.Struck
}

// checkCorrected refuses an entry of a make that would leave it impossible: a date
// behind what was done with its wheels, say.
func (t *WriteTx) checkCorrected(s *history.Subject, e *wheel.Entry) error {
	if s.IsWheel || !corrects(e) {
		return nil
	}
	if c, err := wheel.ParseCorrection(e.Detail); e.Kind == wheel.Corrected && err == nil {
		if next, err := c.Of(s.Make); err == nil && next.Check() != nil {
			return next.Check()
		}
	}
	_, now, err := t.corrected(e.Subject, e)
	if err != nil || now == s.Make {
		return err
	}
	if err := t.checkMake(now); err != nil {
		return err
	}
	if _, err := t.Variety(now.Variety); err != nil {
		return err
	}
	if now.Date <= s.Make.Date {
		return nil
	}
	return t.checkLater(now)
}

// checkLater refuses a date of a make that is later than something that happened to
// it or its wheels.
func (t *WriteTx) checkLater(m wheel.Make) error {
	ids, err := t.wheelIDs(m.ID)
	if err != nil {
		return err
	}
	made := m.Date.Start(t.Zone())
	for _, id := range append(ids, m.ID) {
		es, err := t.history(id)
		if err != nil {
			return err
		}
		for _, e := range wheel.Live(es) {
			if e.At.Before(made) {
				return reason.Err(refusal.MadeAfter{
					Of: t.NameOf(id), What: e.Word(), Mark: e.Mark(), On: day.At(e.At, t.Zone()), Made: m.Date,
				})
			}
		}
	}
	return nil
}

// correct brings what follows from a make's record up to date with its entries.
func (t *WriteTx) correct(id uuid.UUID) error {
	was, err := t.Make(id)
	if err != nil {
		return err
	}
	first, now, err := t.corrected(id, nil)
	if err != nil || now == was {
		return err
	}
	before, err := makeIndex(first, was)
	if err != nil {
		return err
	}
	after, err := makeIndex(first, now)
	if err != nil {
		return err
	}
	for _, r := range before {
		same := func(o indexRecord) bool { return o.bucket == r.bucket && bytes.Equal(o.key, r.key) }
		if !slices.ContainsFunc(after, same) {
			t.tab.Put(r.bucket, r.key, nil)
		}
	}
	t.index(after)
	t.makes[id] = now
	for _, s := range t.subjects {
		if s.Make.ID == id {
			s.Correct(now)
		}
	}
	return nil
}

// correctAll does so for every make, after an import.
func (t *WriteTx) correctAll() error {
	for m, err := range table.Records[wheel.Make](t.tab, layout.Makes, "make") {
		if err != nil {
			return err
		}
		if err := t.correct(m.ID); err != nil {
			return err
		}
	}
	return nil
}
