package wheel

import (
	"time"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/wheel/shape"
)

// DoneOn says when a job was last done or passed over, and how often on that
// day. First is the day it was first done; Skipped is true where the last of
// them was passed over.
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

// Stay is a spell a wheel spent in one place.
type Stay struct {
	From  time.Time
	Place cave.Place
}

// Wanted is a job asked for out of turn, since a day.
type Wanted struct {
	On  day.Date
	Why reason.Reason // nil: nobody said
}

// Hold is a reason a wheel may not leave, since a day.
type Hold struct {
	On  day.Date
	Why string
}

// Life is what a wheel's entries add up to: everything the schedule, the
// verdict and the card need to know, and nothing that depends on today.
type Life struct {
	Wheel   Wheel
	Make    Make
	Tag     string
	Place   cave.Place
	Plan    string
	Since   day.Date // from when the book keeps it
	Entries []Entry  // live, in time order
	Chain   Chain
	Done    map[Job]DoneOn
	Asked   map[Job]Wanted // jobs somebody asked for and nobody did since
	Coats   []CoatOn
	Stays   []Stay
	Checks  []Entry // hand checks, in time order
	Holds   []Hold
	Pieces  []Entry  // pieces sent while the rest stayed
	GoneOn  day.Date // None while it is here
	GoneWhy reason.List
	Last    time.Time // the latest entry
}

// NewLife adds up a wheel's entries (all of them, struck ones too, in any
// order). Dates are taken in loc; expect is lent to the loss chain for missing
// weights and may be nil.
func NewLife(w Wheel, m Make, entries []Entry, loc *time.Location, expect Expect) Life {
	return AddUp(w, m, append([]Entry(nil), entries...), loc, expect)
}

// AddUp is NewLife with entries that nobody else uses: it sorts and keeps them.
func AddUp(w Wheel, m Make, all []Entry, loc *time.Location, expect Expect) Life {
	l := Life{
		Wheel: w, Make: m, Tag: w.Tag, Place: w.Place, Plan: w.Plan,
		Since: max(day.At(w.Since, loc), m.Date), Done: map[Job]DoneOn{}, Asked: map[Job]Wanted{}, GoneOn: day.None,
		Last: w.Since,
	}
	Sort(all)
	l.Entries = Live(all)
	if w.Place != "" {
		l.Stays = []Stay{{From: m.Date.Start(loc), Place: w.Place}}
	}
	done := func(j Job, e Entry) {
		on := day.At(e.At, loc)
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
	weighed := false
	for _, e := range l.Entries {
		// A book that tells of handling from before it says it kept the wheel
		// kept it since then. The green weight alone is no such tale.
		if e.Kind != Weighed && e.Kind != Noted && e.Kind != Asked || e.Kind == Weighed && weighed {
			l.Since = min(l.Since, max(day.At(e.At, loc), m.Date))
		}
		weighed = weighed || e.Kind == Weighed
		switch e.Kind {
		case Did, Skipped:
			done(e.Job, e)
		case Weighed:
			done(Weigh, e)
		case Checked:
			done(Check, e)
			l.Checks = append(l.Checks, e)
		case Cored, Tasted:
			done(Taste, e)
		case Asked:
			if _, open := l.Asked[e.Job]; !open {
				l.Asked[e.Job] = Wanted{day.At(e.At, loc), e.Because()}
			}
		case CoatedOn:
			done(Coat, e)
			l.Coats = append(l.Coats, CoatOn{e.At, day.At(e.At, loc), e.Coat})
		case Moved:
			done(Move, e)
			l.Place = e.Place
			l.Stays = append(l.Stays, Stay{e.At, e.Place})
		case Planned:
			l.Plan = e.Plan
		case Tagged:
			l.Tag = e.Tag
		case Held:
			l.Holds = append(l.Holds, Hold{day.At(e.At, loc), e.Note})
		case Released:
			l.Holds = nil
		case SentPart:
			l.Pieces = append(l.Pieces, e)
		case Sent, Lost, Voided:
			l.GoneOn, l.GoneWhy = day.At(e.At, loc), nil
			switch {
			case e.Kind == Voided:
				l.GoneWhy = reason.List{ByMistake{}, Says{e.Note}}
			case e.Kind == Sent && e.To != "":
				l.GoneWhy = reason.List{SentTo{e.To}}
			case e.Note != "":
				l.GoneWhy = reason.List{Says{e.Note}}
			}
		}
		if e.At.After(l.Last) {
			l.Last = e.At
		}
	}
	l.Chain = Link(l.Entries, expect)
	return l
}

// Age is the wheel's age in days on a date, counted from the make date.
func (l Life) Age(on day.Date) int { return int(on - l.Make.Date) }

// Reached says on which date the wheel reached or will reach the stage, by its
// entries and its variety's usual days; None where nothing says it will.
// DryingDays is how long the variety dries uncoated, readyDays the age it is
// ready at; either may be 0 for "not said".
func (l Life) Reached(s Stage, dryingDays, readyDays int, loc *time.Location) day.Date {
	drying := l.Make.Date + 1 // nobody weighed it: out of the press next day
	if l.Chain.Green > 0 {
		drying = min(drying, day.At(l.Chain.Began, loc))
	}
	switch s {
	case Pressing:
		return l.Make.Date
	case Drying:
		return drying
	case Coated:
		if len(l.Coats) > 0 {
			return l.Coats[0].On
		}
	case Ripening:
		ripe := day.None
		if dryingDays > 0 {
			ripe = drying + day.Date(dryingDays)
		}
		if len(l.Coats) > 0 && (ripe == day.None || l.Coats[0].On < ripe) {
			ripe = l.Coats[0].On
		}
		return ripe
	case Ready:
		if readyDays > 0 {
			return l.Make.Date + day.Date(readyDays)
		}
	case Gone:
		return l.GoneOn
	}
	return day.None
}

// StageOn is the wheel's stage on a date. A coated wheel is coated until it is
// ready; an uncoated one goes from drying to ripening to ready.
func (l Life) StageOn(on day.Date, dryingDays, readyDays int, loc *time.Location) Stage {
	by := func(s Stage) bool {
		d := l.Reached(s, dryingDays, readyDays, loc)
		return d != day.None && d <= on
	}
	switch {
	case by(Gone):
		return Gone
	case by(Ready):
		return Ready
	case by(Coated):
		return Coated
	case by(Ripening):
		return Ripening
	case by(Drying):
		return Drying
	}
	return Pressing
}

// LastCheck is the latest hand check, if any.
func (l Life) LastCheck() (Entry, bool) {
	if len(l.Checks) == 0 {
		return Entry{}, false
	}
	return l.Checks[len(l.Checks)-1], true
}

// WeightNow is the last gross weight the scale showed, a coat, core or cut
// included; 0 where it was never weighed.
func (l Life) WeightNow() quantity.Grams {
	g, _ := l.LastWeight()
	return g
}

// LastWeight is WeightNow with the time of it.
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

// OddReweighing says why the weights round a coat, core or cut look wrong
// beside the wheel's last weight; nil where they do not: a wheel that weighs a tenth more or
// less than it did, a coat of over a fifth of it, a core of over a tenth. The
// bounds are our own.
func (l Life) OddReweighing(e Entry) reason.Reason {
	last := max(0, l.WeightNow()-l.PiecesSince())
	before := e.Before
	if last > 0 && before > 0 && (before > last*1.02+5 || before < last*0.9) {
		return BeforeOff{whole(before), whole(last)}
	}
	if before == 0 {
		before = last
	}
	switch {
	case before == 0:
		return nil
	case e.Kind == CoatedOn && e.Weight > before*1.2:
		return CoatHeavy{whole(e.Weight - before), whole(before)}
	case e.Kind == CoatedOn && e.Weight > 0 && e.Weight < before*0.95:
		return AfterLess{e.Kind, whole(e.Weight), whole(before)}
	case e.Kind == Cored && e.Removed > before/10:
		return CoreHeavy{whole(e.Removed), whole(before)}
	case e.Kind == Cored && e.Weight > 0 && e.Weight < before*0.9:
		return AfterLess{e.Kind, whole(e.Weight), whole(before)}
	case e.Kind == Cut && e.Weight > before*1.02 || e.Removed > before:
		return MoreThanThere{whole(before)}
	}
	return nil
}

// Shape is the wheel's shape: as it was measured, or, where those measures cannot
// belong to its green weight, their proportions at that weight; reckoned says so.
func (l Life) Shape() (s shape.Shape, reckoned bool) {
	return l.Wheel.Shape.Fitting(l.Chain.Green, shape.CheeseDensity)
}
