package verdict

import (
	"math"
	"time"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
)

// Of a wheel that came, or was taken over, before anyone here weighed it, drying began
// elsewhere: its losses count from its first weight here, and what it lost before is the
// drying model's guess.
type (
	// LostBefore is what such a wheel lost before, by the model: the least, the best and
	// the most of a 90 % interval.
	LostBefore struct {
		Best quantity.Fraction `json:"loss_pct"`
		Low  quantity.Fraction `json:"low_pct"`
		High quantity.Fraction `json:"high_pct"`
	}
	// HeldElsewhere is a hold by a law that counts days at a temperature, of a wheel that
	// was elsewhere for some days of its life: those don't count.
	HeldElsewhere struct {
		Law    HeldByLaw `json:"law"`
		Unread int       `json:"unread"`
		Days   int       `json:"days_elsewhere"`
	}
	// LateFirst doubts a first weight taken long after the make: is it the green weight?
	LateFirst struct {
		Days int `json:"days"`
	}
)

// Code is how programs know each of these.
func (LostBefore) Code() string    { return "lost-before" }
func (HeldElsewhere) Code() string { return "held-by-law-elsewhere" }
func (LateFirst) Code() string     { return "late-first-weight" }

func init() {
	reason.Register(map[int]reason.Reason{441: LostBefore{}, 442: HeldElsewhere{}, 443: LateFirst{}})
}

// pressed is when drying begins of a wheel that nobody weighed then: noon of the day after
// the make.
func (c Case) pressed() time.Time { return (c.Life.Make.Date + 1).Noon(c.Loc) }

// Age is how many days the wheel had dried when it was first weighed here, or came; 0 of
// one that was kept here from the start. Without a make date it's half the age at which
// the variety is ready, or what is known to be more: our guess.
func (c Case) Age() float64 {
	if !c.Life.Aged() {
		return 0
	}
	age := c.Began().Sub(c.pressed()).Hours() / 24
	if c.Life.Make.MadeBefore {
		age = math.Max(age, float64(c.Variety.ReadyDays)/2)
	}
	return math.Max(0, age)
}

// DryingBegan is when the wheel's drying began, here or elsewhere.
func (c Case) DryingBegan() time.Time {
	return c.Began().Add(-time.Duration(c.Age() * 24 * float64(time.Hour)))
}

// Start is what the wheel is made of as its losses begin to count: the make's composition,
// or what drying elsewhere made of it.
func (c Case) Start(f drying.Forecast) wheel.Composition {
	s := c.Life.Make.Start
	b := f.Before()
	if !(b.High > 0) {
		return s
	}
	m := f.Moisture(0)
	kept := quantity.Fraction(1 - b.Best)
	s.Moisture, s.MoistureSD = quantity.Fraction(m.Best), quantity.Fraction(m.SD())
	s.Fat, s.FatSD, s.Salt, s.SaltSD = s.Fat/kept, s.FatSD/kept, s.Salt/kept, s.SaltSD/kept
	return s
}

// minLoss is the least loss, as the wheel's losses count, at which the gate is met.
func (c Case) minLoss(f drying.Forecast) quantity.Fraction {
	kept := 1 - quantity.Fraction(f.Before().Best)
	return max(0, 1-(1-c.Gate.MinLoss)/kept)
}

// lostBefore is the reason that says what the wheel lost elsewhere; none for one kept here
// from the start.
func (c Case) lostBefore(f drying.Forecast) reason.List {
	b := f.Before()
	if !(b.High > 0) {
		return nil
	}
	return reason.List{LostBefore{
		tenth(quantity.Fraction(b.Best)), tenth(quantity.Fraction(b.Low)), tenth(quantity.Fraction(b.High)),
	}}
}

// lateFirst is how many days after the make a first weight is asked about: our choice.
const lateFirst = 21

// late asks about a first weight long after the make, of a wheel that nobody took over.
func (c Case) late(at time.Time) reason.Reason {
	days := int(at.Sub(c.Life.Make.Date.Noon(c.Loc)).Hours() / 24)
	if days < lateFirst || c.Life.Aged() || c.Life.Make.MadeBefore {
		return nil
	}
	return LateFirst{days}
}

// Spans are Spans of the case, from when drying began, here or elsewhere. Days before
// the wheel was first weighed here are under 0.
func (c Case) Spans(until time.Time, rooms Rooms) ([]drying.Span, quantity.Fraction) {
	spans, hygrometer := Spans(c.Life, c.Variety, c.DryingBegan(), until, rooms)
	if age := c.Age(); age > 0 {
		for i := range spans {
			spans[i].FromDay -= age
		}
	}
	return spans, hygrometer
}
