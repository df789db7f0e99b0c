package wheel

import (
	"cmp"
	"slices"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/wheel/shape"
)

// DoneOn says when a job was last done or skipped, and how often on that day. First
// is the first day of all; Skipped is true if the last time was skipped.
type DoneOn struct {
	First   day.Date
	Last    day.Date
	Count   int
	Skipped bool
}

// CoatOn is one coat put on a wheel.
type CoatOn struct {
	At   time.Time
	On   day.Date
	Coat string
}

// Stay is the time that a wheel spent in one place, until the next Stay.
type Stay struct {
	From  time.Time
	Place cave.Place
	Away  bool // elsewhere, before it came: Place is ""
}

// Wanted is a job that somebody asked for besides the plan, since a day.
type Wanted struct {
	On  day.Date
	Why reason.Reason // nil if unknown
}

// Life is the sum of a wheel's entries: everything that the schedule, the verdict
// and the card need, and nothing that depends on today.
type Life struct {
	Wheel   Wheel
	Make    Make
	Tag     string
	Place   cave.Place
	Plan    string
	Since   day.Date // when the book began to keep it, or took it over
	Entries []Entry  // live, in time order
	Chain   Chain
	Done    map[Job]DoneOn
	Asked   map[Job]Wanted // jobs that were asked for and not yet done
	Coats   []CoatOn
	Stays   []Stay
	Checks  []Entry // hand checks, in time order
	Holds   []Hold
	Pieces  []Entry // pieces sent while the rest stayed

	Arrivals []Entry  // that it came from a supplier or was taken over, in time order
	GoneOn   day.Date // None while the wheel is here
	GoneWhy  reason.List
	Last     time.Time // the latest entry
}

// NewLife adds up all entries of a wheel, in any order and including cancelled ones.
// Dates are in the zone loc. Where weights are missing the loss chain takes them
// from expect, which may be nil.
func NewLife(w Wheel, m Make, entries []Entry, loc *time.Location, expect Expect) Life {
	return AddUp(w, m, slices.Clone(entries), loc, expect)
}

// AddUp is NewLife with entries that it may sort and keep.
func AddUp(w Wheel, m Make, all []Entry, loc *time.Location, expect Expect) Life {
	Sort(all)
	if m.Shape.Known() {
		w.Shape = m.Shape
	}
	l := Life{
		Wheel: w, Make: m, Tag: w.Tag, Place: w.Place, Plan: w.Plan, Since: max(day.At(w.Since, loc), m.Date),
		Entries: Live(all), Done: map[Job]DoneOn{}, Asked: map[Job]Wanted{}, GoneOn: day.None, Last: w.Since,
	}
	for _, e := range l.Entries {
		if e.Kind.arrives() {
			l.Arrivals = append(l.Arrivals, e)
		}
	}
	l.Stays = l.firstStays(loc)
	weighed := false
	for _, e := range l.Entries {
		on := day.At(e.At, loc)
		// Handling recorded from before the book kept the wheel moves Since back;
		// the green weight alone doesn't.
		if e.Kind != Weighed && e.Kind != Noted && e.Kind != Asked || e.Kind == Weighed && weighed {
			l.Since = min(l.Since, max(on, m.Date))
		}
		weighed = weighed || e.Kind == Weighed
		l.did(e, on)
		l.apply(e, on)
		if e.At.After(l.Last) {
			l.Last = e.At
		}
	}
	if on := l.TakenOn(loc); on != day.None { // whatever is known of the time before
		l.Since = max(on, m.Date)
	}
	l.heldForTests(loc)
	l.Chain = Link(l.Entries, expect)
	return l
}

// doneBy gives the jobs that entries of other kinds than Did and Skipped do.
var doneBy = map[Kind]Job{
	Weighed: Weigh, Checked: Check, Cored: Taste, Tasted: Taste, CoatedOn: Coat, Moved: Move,
}

// did counts the job that an entry did or skipped, if any.
func (l *Life) did(e Entry, on day.Date) {
	j := doneBy[e.Kind]
	if e.Kind == Did || e.Kind == Skipped {
		j = e.Job
	}
	if j == "" || e.SameRound() {
		return
	}
	d, ok := l.Done[j]
	if !ok {
		d.First = on
	}
	if on > d.Last || !ok {
		d.Last, d.Count = on, 0
	}
	d.Count++
	d.Skipped = e.Kind == Skipped
	l.Done[j] = d
	delete(l.Asked, j)
}

// apply changes what an entry changes about the wheel.
func (l *Life) apply(e Entry, on day.Date) {
	switch e.Kind {
	case Checked:
		l.Checks = append(l.Checks, e)
	case Asked:
		if _, open := l.Asked[e.Job]; !open {
			l.Asked[e.Job] = Wanted{on, e.Because()}
		}
	case CoatedOn:
		l.Coats = append(l.Coats, CoatOn{e.At, on, e.Coat})
	case Moved:
		l.Place = e.Place
		l.Stays = append(l.Stays, Stay{From: e.At, Place: e.Place})
	case Planned:
		l.Plan = e.Plan
	case Tagged:
		l.Tag = e.Tag
	case Held:
		l.Holds = append(l.Holds, Hold{ID: e.ID, On: on, Why: e.Note, By: e.By, Kind: e.Holding().Kind})
	case Released:
		l.Holds = e.endHolds(l.Holds)
	case SentPart:
		l.Pieces = append(l.Pieces, e)
	case Sent, Lost, Voided:
		l.GoneOn, l.GoneWhy = on, e.goneWhy()
	}
}

// goneWhy is why an entry takes its wheel out of the book.
func (e Entry) goneWhy() reason.List {
	switch {
	case e.Kind == Voided:
		return reason.List{ByMistake{}, Says{e.Note}}
	case e.Kind == Sent && e.To != "":
		return reason.List{SentTo{e.To}}
	case e.Note == "":
		return nil
	}
	if _, ok := e.Disposal(); ok {
		return reason.List{Destroyed{}, Says{e.Note}}
	}
	return reason.List{Says{e.Note}}
}

// IsVoid says whether a wheel or make was entered by mistake, by its entries that count.
func IsVoid(live []Entry) bool {
	return slices.ContainsFunc(live, func(e Entry) bool { return e.Kind == Voided })
}

// Age is the wheel's age in days on a date, counted from the make date.
func (l Life) Age(on day.Date) int { return int(on - l.Make.Date) }

// Reached is Milestones.Reached.
func (l Life) Reached(s Stage, dryingDays, readyDays int, loc *time.Location) day.Date {
	return l.Milestones(loc).Reached(s, dryingDays, readyDays)
}

// LastCheck is the latest hand check, if any.
func (l Life) LastCheck() (Entry, bool) {
	if len(l.Checks) == 0 {
		return Entry{}, false
	}
	return l.Checks[len(l.Checks)-1], true
}

// WeightNow is the last gross weight, including those after a coat, core or cut; 0 if
// the wheel was never weighed.
func (l Life) WeightNow() quantity.Grams {
	g, _ := l.LastWeight()
	return g
}

// LastWeight is WeightNow and its time.
func (l Life) LastWeight() (quantity.Grams, time.Time) {
	for i := len(l.Entries) - 1; i >= 0; i-- {
		switch e := l.Entries[i]; e.Kind {
		case Weighed, CoatedOn, Cored, Cut:
			if e.Weight > 0 {
				return e.Weight, e.At
			}
		}
	}
	return 0, time.Time{}
}

// OddReweighing says why the weights of a coat, core or cut look wrong, or nil: a
// tenth more or less than the wheel's last weight, a coat of over a fifth of it, a
// core of over a tenth. The bounds are our own.
func (l Life) OddReweighing(e Entry) reason.Reason {
	last := max(0, l.WeightNow()-l.PiecesSince())
	before := cmp.Or(e.Before, last)
	if last > 0 && (before > last*1.02+5 || before < last*0.9) {
		return BeforeOff{whole(before), whole(last)}
	}
	if before == 0 {
		return nil
	}
	least := map[Kind]quantity.Grams{CoatedOn: before * 0.95, Cored: before * 0.9}[e.Kind]
	switch {
	case e.Kind == CoatedOn && e.Weight > before*1.2:
		return CoatHeavy{whole(e.Weight - before), whole(before)}
	case e.Kind == Cored && e.Removed > before/10:
		return CoreHeavy{whole(e.Removed), whole(before)}
	case e.Weight > 0 && e.Weight < least:
		return AfterLess{e.Kind, whole(e.Weight), whole(before)}
	case e.Kind == Cut && e.Weight > before*1.02 || e.Removed > before:
		return MoreThanThere{whole(before)}
	}
	return nil
}

// Shape is the wheel's shape as measured or, if its measures can't belong to its
// green weight, scaled to that weight.
func (l Life) Shape() (s shape.Shape, scaled bool) {
	return l.Wheel.Shape.Fitting(l.Chain.Green, shape.CheeseDensity)
}
