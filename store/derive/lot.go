// Package derive works out what follows from the facts of a lot: where each wheel stands,
// what it's due, its outlook while it waits for its coat, and the curves that wheels share.
// It says how these records are packed, too. It's a pure function of what was read: it knows
// no transaction, reads no clock and changes nothing.
package derive

import (
	"slices"
	"sync"
	"time"

	"rindkeep/cave/day"
	"rindkeep/schedule"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/variety"
	"rindkeep/wheel/verdict"
)

// Lot is a make with everything that bears on its wheels, read from the
// book up to an instant.
type Lot struct {
	Make    wheel.Make
	Variety variety.Variety
	Law     holdrule.Set
	Wheels  []*Wheel
	rank    sync.Once
	ranked  []*Wheel       // by weighings
	cases   []verdict.Case // theirs
	ask     sync.Once
	said    []drying.Evidence // of the wheels that byWeighings gives, where they say something
	by      []*Wheel          // whose they are
}

// Wheel is one wheel of a lot.
type Wheel struct {
	Life    wheel.Life
	Plan    *schedule.Plan // nil where it's unknown
	Own     *verdict.Case  // without sisters; nil until made
	Zone    *time.Location
	Entries int // how many were read
}

// Gated says whether a dry gate of its plan has a say over the wheel.
func (f *Wheel) Gated() bool {
	if f.Plan == nil || len(f.Life.Coats) > 0 || f.Life.GoneOn != day.None {
		return false
	}
	_, ok := f.Plan.GateCoat()
	return ok
}

// Weighty is the latest entry that tells of the wheel's drying. Others, such as its
// turning, must not move what is known of its air: they don't make its outlook again.
func (f *Wheel) Weighty() time.Time {
	for i := len(f.Life.Entries) - 1; i >= 0; i-- {
		if e := &f.Life.Entries[i]; BearsOnSisters(e.Kind) {
			return e.At
		}
	}
	return f.Life.Wheel.Since
}

// most is how many sisters bear on a wheel's case; more add little. Our choice.
const most = 12

// Tell is how many wheels of a lot the others are judged by: one of them has them all but
// itself for sisters.
const Tell = most + 1

// Telling lists the places of wheels that were weighed, most often first, by how often each was.
func Telling(weighings []int) (at []int) {
	for i, n := range weighings {
		if n > 0 {
			at = append(at, i)
		}
	}
	slices.SortStableFunc(at, func(a, b int) int { return weighings[b] - weighings[a] })
	return at
}

// sistersOf picks the sisters that say most of the lot: those weighed most
// often. Wheels that aren't among them share one list.
func (l *Lot) sistersOf(f *Wheel) []verdict.Case {
	ranked := l.byWeighings()
	if i := slices.Index(ranked, f); i >= 0 {
		return slices.Delete(slices.Clone(l.cases), i, i+1)
	}
	return l.cases[:min(len(l.cases), most)]
}

// CaseOf is the case of a wheel of the lot, its sisters with it. The cases must have been
// made.
func (l *Lot) CaseOf(f *Wheel) verdict.Case {
	c := *f.Own
	c.Sisters = l.sistersOf(f)
	c.Said = func() []drying.Evidence { return l.saidTo(f) }
	return verdict.New(c)
}

// saidTo is what those sisters say to a wheel; what each says is found once.
func (l *Lot) saidTo(f *Wheel) []drying.Evidence {
	l.ask.Do(func() {
		for _, o := range l.byWeighings() {
			if e, ok := o.Own.Says(); ok {
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
func (l *Lot) byWeighings() []*Wheel {
	l.rank.Do(func() {
		weighings := make([]int, len(l.Wheels))
		for i, f := range l.Wheels {
			if f.Own != nil {
				weighings[i] = f.Life.Chain.Weighings()
			}
		}
		for _, i := range Telling(weighings) {
			l.ranked, l.cases = append(l.ranked, l.Wheels[i]), append(l.cases, *l.Wheels[i].Own)
			if len(l.ranked) == Tell {
				break
			}
		}
	})
	return l.ranked
}

// tasks is what the wheel is due by its plan.
func (f *Wheel) tasks(l *Lot, w verdict.Windows) []schedule.Task {
	if f.Plan == nil || f.Life.Place.Bound() != "" {
		return nil
	}
	return schedule.Due(*f.Plan, schedule.Subject{
		Life: f.Life, DryingDays: l.Variety.DryingDays, ReadyDays: l.Variety.ReadyDays, Gate: w, Loc: f.Zone,
	})
}

// CorrectedMake is a make that was corrected or removed, as it is now.
type CorrectedMake struct {
	Make    wheel.Make `json:"make"`
	Removed bool       `json:"removed,omitempty"`
}
