// Package derive works out what follows from the facts of a lot: where each wheel stands,
// what it's due, its outlook while it waits for its coat, and the curves that wheels share.
// It says how these records are packed, too. It's a pure function of what was read: it knows
// no transaction, reads no clock and changes nothing.
package derive

import (
	"slices"
	"sync"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/schedule"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/variety"
	"rindkeep/wheel/verdict"
)

// Lot is a make with everything that bears on its wheels, read from the
// book up to an instant.
type Lot struct {
	Make    wheel.Make
	Variety variety.Variety
	Wheels  []*Wheel
	rank    sync.Once
	ranked  []*Wheel       // by weighings
	cases   []verdict.Case // theirs
	ask     sync.Once
	tell    []*Wheel // those that byWeighings gives, where they say something
}

// Wheel is one wheel of a lot.
type Wheel struct {
	Life    wheel.Life
	Plan    *schedule.Plan // nil where it's unknown
	Own     *verdict.Case  // without sisters; nil until made
	Told    *Word          // what it says of its lot, as it's kept or was found; nil: neither
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

// Has says whether a wheel is among those that were read.
func (l *Lot) Has(wheel uuid.UUID) bool {
	return slices.ContainsFunc(l.Wheels, func(f *Wheel) bool { return f.Life.Wheel.ID == wheel })
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
	out := make([]drying.Evidence, 0, most)
	for _, o := range l.telling() {
		if o != f && len(out) < most {
			out = append(out, o.Told.Says)
		}
	}
	return out
}

// telling are the wheels of byWeighings that say something of the lot, each with Told.
func (l *Lot) telling() []*Wheel {
	l.ask.Do(func() {
		for _, o := range l.byWeighings() {
			if o.tells() {
				l.tell = append(l.tell, o)
			}
		}
	})
	return l.tell
}

// Word is what a wheel's weights say of its lot, with a digest of all that this follows from.
type Word struct {
	Print uint64
	Says  drying.Evidence
}

// tells finds what a wheel says of its lot, unless it's known.
func (f *Wheel) tells() bool {
	if f.Life.Chain.Weighings() < 2 {
		return false
	}
	sum := f.Own.Print()
	if f.Told != nil && f.Told.Print == sum {
		return true
	}
	e, ok := f.Own.Says()
	if f.Told = nil; ok {
		f.Told = &Word{sum, e}
	}
	return ok
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
