package store

import (
	"cmp"
	"errors"
	"slices"
	"sync"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/schedule"
	"rindkeep/store/pack"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/variety"
	"rindkeep/wheel/verdict"
)

// lotFile is a make with everything that bears on its wheels, read from the
// book up to an instant.
type lotFile struct {
	mk      wheel.Make
	variety variety.Variety
	law     holdrule.Set
	wheels  []*wheelFile
	rank    sync.Once
	ranked  []*wheelFile // by weighings
	ask     sync.Once
	said    []drying.Evidence // of the wheels that byWeighings gives, where they say something
	by      []*wheelFile      // whose they are
}

// lotKey is a lot as it is read up to an instant: the wheels of one lot are
// mostly asked for one after the other.
type lotKey struct {
	mk     uuid.UUID
	before int64 // ms
}

// wheelFile is one wheel of a lot. plan is nil where its plan is unknown.
type wheelFile struct {
	life wheel.Life
	plan *schedule.Plan
	own  *verdict.Case // without sisters; nil until made
	zone *time.Location

	entries int // how many were read
}

// gated says whether a dry gate of its plan has a say over the wheel.
func (f *wheelFile) gated() bool {
	return f.plan != nil && gatedPlan(f.plan) && len(f.life.Coats) == 0 && f.life.GoneOn == day.None
}

func gatedPlan(p *schedule.Plan) bool {
	_, ok := p.GateCoat()
	return ok
}

// maxTime is the instant up to which a lot is read when nothing is left out.
var maxTime = time.UnixMilli(pack.MaxMilli).UTC()

// upTo drops the entries that happened at or after an instant. Strikes stay
// whenever they were written: what was withdrawn never happened.
func upTo(es []wheel.Entry, before time.Time) []wheel.Entry {
	if before.Equal(maxTime) {
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
func (t *ReadTx) fileOf(id uuid.UUID, mk wheel.Make, before time.Time) (*wheelFile, error) {
	f, err := t.readFile(id, mk, before)
	return f, t.harm(id, err)
}

func (t *ReadTx) readFile(id uuid.UUID, mk wheel.Make, before time.Time) (*wheelFile, error) {
	w, err := t.Wheel(id)
	var nf NotFound
	if errors.As(err, &nf) {
		return nil, t.damaged(nil, "lot", mk.Lot)
	}
	if err != nil {
		return nil, err
	}
	f := &wheelFile{zone: t.book.zone}
	es, err := t.history(id)
	if err != nil {
		return nil, err
	}
	f.entries = len(es)
	f.life = wheel.AddUp(w, mk, upTo(es, before), t.book.zone, nil)
	p, err := t.Plan(f.life.Plan)
	switch {
	case err == nil:
		f.plan = &p
	case !errors.As(err, &nf):
		return nil, err
	}
	return f, nil
}

// weighty is the latest entry that tells of the wheel's drying. Others, such as its
// turning, must not move what is known of its air: they don't make its outlook again.
func (f *wheelFile) weighty() time.Time {
	for i := len(f.life.Entries) - 1; i >= 0; i-- {
		if e := &f.life.Entries[i]; bearsOnSisters(e.Kind) {
			return e.At
		}
	}
	return f.life.Wheel.Since
}

// makeCase fills in a wheel's case, its sisters left out.
func (t *ReadTx) makeCase(f *wheelFile, v variety.Variety, law holdrule.Set, before time.Time) error {
	if f.own != nil {
		return nil
	}
	c := verdict.Case{Life: f.life, Variety: v, Gate: verdict.DefaultGate(), Loc: t.book.zone, Law: law}
	if f.plan != nil {
		c.Gate = f.plan.Gate
	}
	c.Until = f.weighty()
	if n := len(f.life.Stays); n > 0 {
		at, ok, err := t.newestAir(f.life.Stays[n-1].Place.Room(), before)
		if err != nil {
			return err
		}
		if ok && !at.Before(c.Until) {
			c.Until = at.Add(time.Millisecond)
		}
	}
	rooms := &roomsOf{t: t, before: before}
	c.Air, c.HygrometerSD = c.Spans(c.Until, rooms)
	if c.CountsWarm() {
		c.Kept = verdict.KeptIn(f.life, v, rooms)
	}
	if rooms.err == nil {
		f.own = &c
	}
	return rooms.err
}

// Follow has a case follow other laws, by the air that the book knew of up to an
// instant.
func (t *ReadTx) Follow(c verdict.Case, law holdrule.Set, before time.Time) (verdict.Case, error) {
	rooms := &roomsOf{t: t, before: before}
	c.Law, c.Kept = law, verdict.KeptIn(c.Life, c.Variety, rooms)
	return c, rooms.err
}

// roomsOf lets the verdict ask about rooms as they were before an instant.
type roomsOf struct {
	t      *ReadTx
	before time.Time
	err    error
}

// RoomNamed finds a room.
func (r *roomsOf) RoomNamed(name string) (cave.Room, bool) {
	room, err := r.t.Room(name)
	var nf NotFound
	if err != nil && !errors.As(err, &nf) {
		r.err = err
	}
	return room, err == nil
}

// AirBetween gives the readings of a room in [from, to).
func (r *roomsOf) AirBetween(room string, from, to time.Time) []cave.Reading {
	if to.After(r.before) {
		to = r.before
	}
	out, err := r.t.airBetween(room, from, to)
	if err != nil {
		r.err = err
	}
	return out
}

// readLot reads a whole lot, without cases.
func (t *ReadTx) readLot(mk uuid.UUID, before time.Time) (*lotFile, error) {
	m, err := t.Make(mk)
	if err != nil {
		return nil, err
	}
	if m, err = t.told(m, before); err != nil {
		return nil, err
	}
	l := &lotFile{mk: m}
	if l.variety, err = t.varietyOf(m); err != nil {
		return nil, err
	}
	if l.law, err = t.LawOf(m, l.variety, before); err != nil {
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
		l.wheels = append(l.wheels, f)
	}
	return l, nil
}

// varietyOf is the variety of a make; one that is no longer known gives a
// variety that says nothing.
func (t *ReadTx) varietyOf(m wheel.Make) (variety.Variety, error) {
	v, err := t.Variety(m.Variety)
	var nf NotFound
	if errors.As(err, &nf) {
		return variety.Variety{Name: m.Variety}, nil
	}
	return v, err
}

// most is how many sisters bear on a wheel's case; more add little. Our choice.
const most = 12

// fill makes the cases of every wheel that says something of its drying, and
// of those that ask.
func (t *ReadTx) fill(l *lotFile, before time.Time, asks func(*wheelFile) bool) error {
	for _, f := range l.wheels {
		if f.life.Chain.Weighings() > 0 || asks(f) {
			err := t.harm(f.life.Wheel.ID, t.makeCase(f, l.variety, l.law, before))
			if err != nil && (asks(f) || !t.leftOut(err)) {
				return err
			}
		}
	}
	return nil
}

// sistersOf picks the sisters that say most of the lot: those weighed most
// often.
func (l *lotFile) sistersOf(f *wheelFile) []verdict.Case {
	var out []verdict.Case
	for _, o := range l.byWeighings() {
		if o != f && len(out) < most {
			out = append(out, *o.own)
		}
	}
	return out
}

// caseOf is the case of a wheel of the lot, its sisters with it.
func (l *lotFile) caseOf(f *wheelFile) verdict.Case {
	c := *f.own
	c.Sisters = l.sistersOf(f)
	c.Said = func() []drying.Evidence { return l.saidTo(f) }
	return verdict.New(c)
}

// saidTo is what those sisters say to a wheel; what each says is found once.
func (l *lotFile) saidTo(f *wheelFile) []drying.Evidence {
	l.ask.Do(func() {
		for _, o := range l.byWeighings() {
			if e, ok := o.own.Says(); ok {
				l.said, l.by = append(l.said, e), append(l.by, o)
			}
		}
	})
	out := []drying.Evidence{}
	for i, e := range l.said {
		if l.by[i] != f && len(out) < most {
			out = append(out, e)
		}
	}
	return out
}

// byWeighings lists the weighed wheels with a case, most weighings first. The cases must
// have been made.
func (l *lotFile) byWeighings() []*wheelFile {
	l.rank.Do(func() {
		fs := slices.DeleteFunc(slices.Clone(l.wheels), func(f *wheelFile) bool {
			return f.own == nil || f.life.Chain.Weighings() == 0
		})
		slices.SortStableFunc(fs, func(a, b *wheelFile) int { return b.life.Chain.Weighings() - a.life.Chain.Weighings() })
		l.ranked = fs[:min(len(fs), most+1)]
	})
	return l.ranked
}

// Life adds up a wheel's entries, with missing weights taken from its drying
// curve.
func (t *ReadTx) Life(id uuid.UUID) (wheel.Life, error) {
	c, err := t.Case(id)
	return c.Life, err
}

// Case gathers all that bears on a wheel's drying, its sisters with it.
func (t *ReadTx) Case(id uuid.UUID) (verdict.Case, error) { return t.CaseBefore(id, maxTime) }

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
	if l == nil {
		if l, err = t.readLot(w.Make, before); err != nil {
			return verdict.Case{}, err
		}
		if len(t.lots) > 16 {
			clear(t.lots)
		}
		t.lots[key] = l
	}
	for _, f := range l.wheels {
		if f.life.Wheel.ID != id {
			continue
		}
		if err := t.fill(l, before, func(o *wheelFile) bool { return o == f }); err != nil {
			return verdict.Case{}, err
		}
		return l.caseOf(f), nil
	}
	_, err = t.fileOf(id, l.mk, before)
	return verdict.Case{}, cmp.Or(err, t.damaged(nil, "lot", l.mk.Lot))
}

func (t *ReadTx) fileAlone(id uuid.UUID) (*wheelFile, error) {
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
	return t.fileOf(id, m, maxTime)
}

// LifeAlone is Life with weights that were not taken taken for no loss.
func (t *ReadTx) LifeAlone(id uuid.UUID) (wheel.Life, error) {
	f, err := t.fileAlone(id)
	if err != nil {
		return wheel.Life{}, err
	}
	return f.life, nil
}

// CaseAlone is Case without sisters, and with weights that were not taken
// taken for no loss: for loads of many wheels, whose chains are settled only
// where they have to be.
func (t *ReadTx) CaseAlone(id uuid.UUID) (verdict.Case, error) {
	f, err := t.fileAlone(id)
	if err != nil {
		return verdict.Case{}, err
	}
	m := f.life.Make
	v, err := t.varietyOf(m)
	if err != nil {
		return verdict.Case{}, err
	}
	law, err := t.LawOf(m, v, maxTime)
	if err != nil {
		return verdict.Case{}, err
	}
	if err := t.harm(id, t.makeCase(f, v, law, maxTime)); err != nil {
		return verdict.Case{}, err
	}
	return f.own.Alone(), nil
}
