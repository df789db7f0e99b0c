package schedule

import (
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// Stock is what is here of a make, or of several.
type Stock struct {
	Wheels  int
	Mass    quantity.Estimate // grams of cheese, without its coats
	ByHand  int               // held by hand
	ByLaw   int               // held by law
	Held    int               // by either
	Ready   int               // of the age its variety is eaten at
	Free    int               // ready and not held
	Weighed int               // wheels with a weight of their own
}

// Add counts a wheel that will have that mass (grams) on a date. at is the instant
// the law is asked about.
func (s *Stock) Add(c verdict.Case, mass quantity.Estimate, at time.Time, on day.Date) {
	one := func(yes bool) int {
		if yes {
			return 1
		}
		return 0
	}
	_, law := c.RawMilk(at)
	hand := len(c.Life.Holds) > 0
	ready := c.Life.StageOn(on, c.Variety.DryingDays, c.Variety.ReadyDays, c.Loc) == wheel.Ready
	s.Plus(Stock{
		Wheels: 1, Mass: mass, Weighed: one(c.Life.WeightNow() > 0), ByHand: one(hand), ByLaw: one(law),
		Held: one(hand || law), Ready: one(ready), Free: one(ready && !hand && !law),
	})
}

// Plus adds other counts.
func (s *Stock) Plus(o Stock) {
	s.Wheels += o.Wheels
	s.Mass = Sum(s.Mass, o.Mass)
	s.ByHand += o.ByHand
	s.ByLaw += o.ByLaw
	s.Held += o.Held
	s.Ready += o.Ready
	s.Free += o.Free
	s.Weighed += o.Weighed
}
