package start

import (
	"cmp"
	"strings"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/app/rooms"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/variety"
)

// Answers are what somebody said of a make and where it is, each read.
type Answers struct {
	Place cave.Place
	Temp  *quantity.Celsius  // of a new room; nil: as usual
	RH    *quantity.Fraction // of a new room; nil: as usual

	Kind      variety.Variety
	Made      day.Date // None: nobody knows
	Wheels    int
	Weights   []quantity.Grams // 0: not weighed
	Rind      Rind
	Coated    bool
	CoatedOn  string // "": since when isn't known
	Treatment wheel.Treatment
	Sure      bool
}

// Older is true of wheels that are taken over: their weight is no green weight.
func (g Ground) Older(made day.Date) bool { return made == day.None || g.Today-made > FreshDays }

// Coat is what wheels of a kind end in with a rind, "" where they stay bare.
func (g Ground) Coat(kind variety.Variety, r Rind) drying.Coat {
	_, coat := PlanFor(kind, g.Plans[kind.Plan], r)
	return coat
}

// CoatTooEarly refuses a coat that's on already where wheels just made, or bare ones,
// can't have one.
const CoatTooEarly reason.Flat = "coated-and-fresh"

// Request is what the answers ask to be recorded.
func (g Ground) Request(a Answers) (Request, error) {
	q := Request{
		Rind: a.Rind, Variety: a.Kind.Name, Older: g.Older(a.Made), Milk: wheel.Milk{Treatment: a.Treatment},
		Wheels: a.Wheels, Batch: makes.Batch{Weights: a.Weights, Place: string(a.Place), Sure: a.Sure},
	}
	if a.Made != day.None {
		q.Made = a.Made.String()
	}
	if r, known := g.Room(a.Place.Room()); known {
		q.Batch.Place = r.Name + strings.TrimPrefix(string(a.Place), a.Place.Room())
	} else {
		temp, rh, m, _ := rooms.Usual(a.Place.Room())
		q.Room = &rooms.Change{
			Name: a.Place.Room(), Temp: cmp.Or(a.Temp, &temp), RH: cmp.Or(a.RH, &rh), Movement: m,
		}
	}
	if !a.Coated {
		return q, nil
	}
	coat := g.Coat(a.Kind, a.Rind)
	if coat == "" || !q.Older {
		return q, app.Misuse("coated", CoatTooEarly)
	}
	q.Coat, q.CoatedOn = string(coat), a.CoatedOn
	return q, nil
}
