package schedule

import (
	"rindkeep/cave/quantity"
	"rindkeep/wheel"
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

	OnTheWay int // wheels on the way from one site to another, in no room
}

// StockOf is a wheel that will have that mass (grams) on a date. law says whether a law holds
// it, and onTheWay whether it's between two sites.
func StockOf(b wheel.Brief, mass quantity.Estimate, ready, law, onTheWay bool) Stock {
	one := func(yes bool) int {
		if yes {
			return 1
		}
		return 0
	}
	return Stock{
		Wheels: 1, Mass: mass, Weighed: one(b.Weight > 0), ByHand: one(b.Held), ByLaw: one(law),
		Held: one(b.Held || law), Ready: one(ready), Free: one(ready && !b.Held && !law),
		OnTheWay: one(onTheWay),
	}
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
	s.OnTheWay += o.OnTheWay
}
