package words

import (
	"fmt"
	"strings"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app/rooms"
)

// DayMonth is a date without its year: "26 Nov".
func (p Printer) DayMonth(d day.Date) string { return strings.TrimSpace(d.Short()[4:]) }

// CoatExpected is the day a coat is expected, with its interval: "26 Nov (25 to 28)".
func (p Printer) CoatExpected(d rooms.AheadDry) string {
	if d.Now {
		return "now"
	}
	year, month, _ := d.On.Civil()
	part := func(x day.Date) string {
		switch y, m, n := x.Civil(); {
		case y != year:
			return fmt.Sprintf("%s %d", p.DayMonth(x), y)
		case m == month:
			return fmt.Sprint(n)
		}
		return p.DayMonth(x)
	}
	on, low, high := p.DayMonth(d.On), d.Expected.LowOn, d.Expected.HighOn
	switch {
	case high == day.None:
		return fmt.Sprintf("%s (%s or later)", on, part(low))
	case low == high:
		return on
	}
	return fmt.Sprintf("%s (%s to %s)", on, part(low), part(high))
}

// Interval is the interval of an expected day: "25 Nov to 28 Nov".
func (p Printer) Interval(e rooms.AheadExpected) string {
	if e.HighOn == day.None {
		return "from " + p.DayMonth(e.LowOn) + " on"
	}
	return p.DayMonth(e.LowOn) + " to " + p.DayMonth(e.HighOn)
}

// Lot is what kind of cheese becomes something, and how many of it are held.
func (p Printer) Lot(l rooms.AheadLot) string {
	if l.Held > 0 {
		return fmt.Sprintf("%s, %d on hold", l.Title, l.Held)
	}
	return l.Title
}

// Lawful is Lot with the minimum age and whose it is.
func (p Printer) Lawful(l rooms.AheadLawful) string {
	s := fmt.Sprintf("%s, %d days", p.Lot(l.AheadLot), l.Days)
	if l.RawMilk {
		s += ", raw milk"
	}
	if l.Assumed {
		s += "?"
	}
	if l.Law != nil {
		s += " (" + *l.Law + ")"
	}
	return s
}

// AgeCaution says what an age by the calendar is worth.
func (p Printer) AgeCaution(list []rooms.AheadLawful) string {
	c := "CAUTION: these ages come from a food standard. They aren't permission to sell: check your own law."
	for _, l := range list {
		if l.RawMilk {
			c += fmt.Sprintf(" For raw-milk cheese only days at %s or warmer count.", p.Temp(l.Limit.MinTemp))
			if l.Assumed {
				c += " Where nobody recorded the milk's treatment, it's taken as raw."
			}
			break
		}
	}
	return c
}

// TooCold cautions about raw-milk wheels in air too cold for the days to count.
func (p Printer) TooCold(wheels int) string {
	return fmt.Sprintf("CAUTION: raw milk: %s in air too cold for the days to count.", count(wheels, "wheel"))
}

// massUnit is the unit for the mass of many wheels, and how many grams it has.
func (p Printer) massUnit() (name string, grams float64) {
	if p.Units == quantity.Imperial {
		return "lb", 1000 / quantity.Grams(1000).Pounds()
	}
	return "kg", 1000
}

// Mass is the mass of many wheels (grams) with its interval: "12.3 kg (11.9 to
// 12.7)".
func (p Printer) Mass(e quantity.Estimate) string {
	unit, per := p.massUnit()
	if unit == "kg" && e.Best >= 1e7 {
		unit, per = "t", 1e6
	}
	digits := 1
	if e.Best >= 100*per {
		digits = 0
	}
	return fmt.Sprintf("%.*f %s (%.*f to %.*f)", digits, e.Best/per, unit, digits, e.Low/per, digits, e.High/per)
}

// MassUnit is the unit of BareMass.
func (p Printer) MassUnit() string {
	unit, _ := p.massUnit()
	return unit
}

// BareMass is a mass in grams as a figure of a column, in MassUnit.
func (p Printer) BareMass(grams float64) string {
	_, per := p.massUnit()
	if x := grams / per; x < 1000 {
		return fmt.Sprintf("%.1f", x)
	}
	return fmt.Sprintf("%.0f", grams/per)
}
