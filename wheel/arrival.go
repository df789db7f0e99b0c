package wheel

import (
	"cmp"
	"math"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// Arrival is the Detail of an entry that receives a wheel from a supplier, or takes over
// one that had ripened before the book kept it. What is zero isn't known.
type Arrival struct {
	Supplier     string            `json:"supplier,omitempty"`      // who sent it; "" of a wheel taken over
	Maker        string            `json:"maker,omitempty"`         // who made it, where it's someone else
	Lot          string            `json:"lot,omitempty"`           // the maker's lot code
	DocumentType string            `json:"document_type,omitempty"` // "delivery note", "invoice"
	Document     string            `json:"document,omitempty"`      // its number
	Temp         *quantity.Celsius `json:"temp_c,omitempty"`        // of the cheese as it came
	Price        float64           `json:"price_per_kg,omitempty"`
	Currency     string            `json:"currency,omitempty"`
	Here         *day.Date         `json:"here_since,omitempty"` // taken over: at its place since
}

// From is who made the wheel, as far as the arrival says.
func (a Arrival) From() string { return cmp.Or(a.Maker, a.Supplier) }

// Cheese can arrive at LowestArrival to HighestArrival, C. Wide bounds of our own.
const LowestArrival, HighestArrival quantity.Celsius = -30, 45

// MostPrice is the highest price of a kilogram: a bound of our own, for slips.
const MostPrice = 1e6

// Check refuses figures out of range, and names that aren't good ones.
func (a Arrival) Check() error {
	for _, n := range []struct {
		thing reason.Thing
		name  string
	}{
		{"supplier", a.Supplier}, {"maker", a.Maker}, {"lot", a.Lot}, {"document", a.DocumentType + a.Document},
		{"currency", a.Currency},
	} {
		if n.name == "" {
			continue
		}
		if err := cave.CheckName(n.thing, n.name); err != nil {
			return err
		}
	}
	if a.Temp != nil {
		if err := reason.Within("temperature", *a.Temp, LowestArrival, HighestArrival); err != nil {
			return err
		}
	}
	if math.IsNaN(a.Price) {
		return reason.Err(reason.Missing{What: "price"})
	}
	return reason.Within("price", a.Price, 0, MostPrice)
}

// Detail is the arrival as an entry's Detail holds it, "" if it is empty.
func (a Arrival) Detail() string {
	if a == (Arrival{}) {
		return ""
	}
	return encodeDetail(a)
}

func (k Kind) arrives() bool { return k == Received || k == TakenOver }

// Arrival is the detail of an entry that receives or takes over; empty for any other.
func (e Entry) Arrival() (a Arrival) {
	if e.Kind.arrives() && e.Detail != "" && decodeDetail(e.Detail, &a, "arrival") != nil {
		return Arrival{}
	}
	return a
}

func checkArrival(detail string) error {
	var a Arrival
	return cmp.Or(decodeDetail(detail, &a, "arrival"), a.Check())
}

// Received is the entry that received the wheel from a supplier; ok is false of
// one of the book's own making.
func (l Life) Received() (e Entry, ok bool) {
	for _, e := range l.Arrivals {
		if e.Kind == Received {
			return e, true
		}
	}
	return Entry{}, false
}

// TakenOn is the day from which the book answers for the wheel: it came then, or was
// taken over. None of one that the book has kept from its make.
func (l Life) TakenOn(loc *time.Location) day.Date {
	if n := len(l.Arrivals); n > 0 {
		return day.At(l.Arrivals[n-1].At, loc)
	}
	return day.None
}

// Aged says whether what the wheel lost before its first weight isn't known: it came,
// or was taken over, before it was weighed. Its Chain.Green is no green weight then, and
// losses count from that first weight, or from the arrival.
func (l Life) Aged() bool {
	return len(l.Arrivals) > 0 && (l.Chain.Green == 0 || !l.Chain.Began.Before(l.Arrivals[0].At))
}

// firstStays are where the wheel was until it was moved for the first time.
func (l *Life) firstStays(loc *time.Location) []Stay {
	made := l.Make.Date.Start(loc)
	if len(l.Arrivals) == 0 {
		if l.Place == "" {
			return nil
		}
		return []Stay{{From: made, Place: l.Place}}
	}
	first := l.Arrivals[0]
	from := first.At
	if first.Kind == TakenOver {
		if l.Wheel.Since.Before(from) {
			from = l.Wheel.Since
		}
		if here := first.Arrival().Here; here != nil && here.Start(loc).Before(from) {
			from = here.Start(loc)
		}
	}
	if !from.After(made) {
		return []Stay{{From: made, Place: l.Place}}
	}
	return []Stay{{From: made, Away: true}, {From: from, Place: l.Place}}
}
