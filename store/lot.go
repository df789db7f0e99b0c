package store

import (
	"cmp"
	"errors"
	"time"

	"github.com/google/uuid"

	"rindkeep/store/derive"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/variety"
	"rindkeep/wheel/verdict"
)

// lotKey is a lot as it is read up to an instant: the wheels of one lot are
// mostly asked for one after the other.
type lotKey struct {
	mk     uuid.UUID
	before int64 // ms
}

// upTo drops the entries that happened at or after an instant. Strikes stay
// whenever they were written: what was withdrawn never happened.
func upTo(es []wheel.Entry, before time.Time) []wheel.Entry {
	if before.Equal(pack.MaxTime) {
		return es
	}
	out := make([]wheel.Entry, 0, len(es))
	for _, e := range es {
		if e.At.Before(before) || e.Kind == wheel.Struck {
			out = append(out, e)
		}
	}
	return out
}

// fileOf reads one wheel. Damage to what it's read from is a Harmed.
func (t *ReadTx) fileOf(id uuid.UUID, mk wheel.Make, before time.Time) (*derive.Wheel, error) {
	f, err := t.readFile(id, mk, before)
	return f, t.harm(id, err)
}

func (t *ReadTx) readFile(id uuid.UUID, mk wheel.Make, before time.Time) (*derive.Wheel, error) {
	w, err := t.Wheel(id)
	var nf refusal.NotFound
	if errors.As(err, &nf) {
		return nil, t.tab.Damaged(nil, "lot", mk.Lot)
	}
	if err != nil {
		return nil, err
	}
	f := &derive.Wheel{Zone: t.Zone()}
	es, err := t.history(id)
	if err != nil {
		return nil, err
	}
	f.Entries = len(es)
	f.Life = wheel.AddUp(w, mk, upTo(es, before), t.Zone(), nil)
	p, err := t.Plan(f.Life.Plan)
	switch {
	case err == nil:
		f.Plan = &p
	case !errors.As(err, &nf):
		return nil, err
	}
	return f, nil
}

// makeCase fills in a wheel's case, its sisters and the laws it follows left out.
func (t *ReadTx) makeCase(f *derive.Wheel, v variety.Variety, before time.Time) error {
	if f.Own != nil {
		return nil
	}
	c := verdict.Case{Life: f.Life, Variety: v, Gate: verdict.DefaultGate(), Loc: t.Zone()}
	if f.Plan != nil {
		c.Gate = f.Plan.Gate
	}
	c.Until = f.Weighty()
	if n := len(f.Life.Stays); n > 0 {
		at, ok, err := t.NewestAir(f.Life.Stays[n-1].Place.Room(), before)
		if err != nil {
			return err
		}
		if ok && !at.Before(c.Until) {
			c.Until = at.Add(time.Millisecond)
		}
	}
	rooms := t.RoomsBefore(before)
	c.Air, c.HygrometerSD = c.Spans(c.Until, rooms)
	if rooms.Err == nil {
		f.Own, f.Told = &c, derive.DecodeTold(t.tab.Get(layout.Outlooks, f.Life.Wheel.ID[:]))
	}
	return rooms.Err
}

// lawful is a case with the laws of its make.
func (t *ReadTx) lawful(c verdict.Case, before time.Time) (verdict.Case, error) {
	law, err := t.LawOf(c.Life.Make, c.Variety, before)
	if err != nil {
		return verdict.Case{}, err
	}
	if c.Law = law; !c.CountsWarm() {
		return c, nil
	}
	c, err = t.Follow(c, law, before)
	return c, t.harm(c.Life.Wheel.ID, err)
}

// Follow has a case follow other laws, by the air that the book knew of up to an
// instant.
func (t *ReadTx) Follow(c verdict.Case, law holdrule.Set, before time.Time) (verdict.Case, error) {
	rooms := t.RoomsBefore(before)
	c.Law, c.Kept = law, verdict.KeptIn(c.Life, c.Variety, rooms)
	return c, rooms.Err
}

// readLot reads a whole lot, without cases.
func (t *ReadTx) readLot(mk uuid.UUID, before time.Time) (*derive.Lot, error) {
	m, err := t.Make(mk)
	if err != nil {
		return nil, err
	}
	if m, err = t.told(m, before); err != nil {
		return nil, err
	}
	l := &derive.Lot{Make: m}
	if l.Variety, err = t.VarietyOf(m); err != nil {
		return nil, err
	}
	ids, err := t.wheelIDs(mk)
	if err != nil {
		return nil, err
	}
	for _, id := range ids {
		f, err := t.fileOf(id, m, before)
		if t.leftOut(err) {
			continue
		}
		if err != nil {
			return nil, err
		}
		l.Wheels = append(l.Wheels, f)
	}
	return l, nil
}

// fill makes the cases of every wheel that says something of its drying, and
// of those that ask.
func (t *ReadTx) fill(l *derive.Lot, before time.Time, asks func(*derive.Wheel) bool) error {
	for _, f := range l.Wheels {
		if f.Life.Chain.Weighings() > 0 || asks(f) {
			err := t.harm(f.Life.Wheel.ID, t.makeCase(f, l.Variety, before))
			if err != nil && (asks(f) || !t.leftOut(err)) {
				return err
			}
		}
	}
	return nil
}

// Life adds up a wheel's entries, with missing weights taken from its drying
// curve.
func (t *ReadTx) Life(id uuid.UUID) (wheel.Life, error) {
	c, err := t.Case(id)
	return c.Life, err
}

// Case gathers all that bears on a wheel's drying, its sisters with it.
func (t *ReadTx) Case(id uuid.UUID) (verdict.Case, error) { return t.CaseBefore(id, pack.MaxTime) }

// CaseBefore is Case as far as things had gone before an instant: entries and
// readings of the air from then on are left out.
func (t *ReadTx) CaseBefore(id uuid.UUID, before time.Time) (verdict.Case, error) {
	if err := t.ready(); err != nil {
		return verdict.Case{}, err
	}
	w, err := t.Wheel(id)
	if err != nil {
		return verdict.Case{}, err
	}
	key := lotKey{w.Make, before.UnixMilli()}
	l := t.lots[key]
	if l == nil || !l.Has(id) { // those of a lot that was settled aren't all there
		if l, err = t.readLot(w.Make, before); err != nil {
			return verdict.Case{}, err
		}
		if len(t.lots) > 16 {
			clear(t.lots)
		}
		t.lots[key] = l
	}
	for _, f := range l.Wheels {
		if f.Life.Wheel.ID != id {
			continue
		}
		if err := t.fill(l, before, func(o *derive.Wheel) bool { return o == f }); err != nil {
			return verdict.Case{}, err
		}
		return t.lawful(l.CaseOf(f), before)
	}
	_, err = t.fileOf(id, l.Make, before)
	return verdict.Case{}, cmp.Or(err, t.tab.Damaged(nil, "lot", l.Make.Lot))
}

func (t *ReadTx) fileAlone(id uuid.UUID) (*derive.Wheel, error) {
	if err := t.ready(); err != nil {
		return nil, err
	}
	w, err := t.Wheel(id)
	if err != nil {
		return nil, err
	}
	m, err := t.MakeFromLog(w.Make)
	if err != nil {
		return nil, err
	}
	return t.fileOf(id, m, pack.MaxTime)
}

// LifeAlone is Life with weights that were not taken taken for no loss.
func (t *ReadTx) LifeAlone(id uuid.UUID) (wheel.Life, error) {
	f, err := t.fileAlone(id)
	if err != nil {
		return wheel.Life{}, err
	}
	return f.Life, nil
}

// CaseAlone is Case without sisters, and with weights that were not taken
// taken for no loss: for loads of many wheels, whose chains are settled only
// where they have to be.
func (t *ReadTx) CaseAlone(id uuid.UUID) (verdict.Case, error) {
	f, err := t.fileAlone(id)
	if err != nil {
		return verdict.Case{}, err
	}
	m := f.Life.Make
	v, err := t.VarietyOf(m)
	if err != nil {
		return verdict.Case{}, err
	}
	if err := t.harm(id, t.makeCase(f, v, pack.MaxTime)); err != nil {
		return verdict.Case{}, err
	}
	return t.lawful(f.Own.Alone(), pack.MaxTime)
}
