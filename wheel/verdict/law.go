package verdict

import (
	"math"
	"strings"
	"time"

	"rindkeep/cave/quantity"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
)

// LawHold is a hold that a food law puts on a wheel: what the law asks, and how
// far the wheel is.
type LawHold struct {
	Rule   holdrule.Rule
	By     []string          // the countries followed whose law it is; none: of the variety's file
	Milk   wheel.Treatment   // the wheel's
	Days   int               // asked for
	AtOver quantity.Celsius  // only time at or above it counts, where the rule is Warm
	Have   float64           // days counted so far
	Left   float64           // days missing; 0 or less: served
	Source string            // of the rule
	Warm   quantity.Fraction // share of its life that counted
}

// Reason is the hold with its figures.
func (h LawHold) Reason() HeldByLaw {
	r := HeldByLaw{Counted: int(math.Floor(h.Have)), Days: h.Days, Warm: h.Rule.Warm}
	if r.Warm {
		r.AtOver = quantity.Celsius(math.Round(100*float64(h.AtOver)) / 100)
	}
	if len(h.Rule.Milk) > 0 {
		r.Milk = h.Milk
	}
	if len(h.By) > 0 {
		r.By, r.Source = strings.Join(h.By, ", "), h.Rule.Cite()
	}
	return r
}

// Laws are those that bear on the case; a case that was not given any follows
// its variety's file.
func (c Case) Laws() holdrule.Set {
	if len(c.Law.Rules) == 0 && len(c.Law.Countries) == 0 {
		return holdrule.Select(nil, nil, c.Variety, false)
	}
	return c.Law
}

// LawDays are the days that laws ask of the wheel, those served too, as they
// stand at an instant.
func (c Case) LawDays(at time.Time) []LawHold {
	var out []LawHold
	milk := c.Life.Make.Milk.Treatment
	set := c.Laws()
	for i, r := range set.Rules {
		if r.Days > 0 && r.Takes(milk) {
			h := c.lawHold(r, at)
			h.By, h.Milk = set.By[i], milk
			out = append(out, h)
		}
	}
	return out
}

// LawHolds are those of LawDays that are not served yet: the wheel may not leave.
func (c Case) LawHolds(at time.Time) []LawHold {
	var out []LawHold
	for _, h := range c.LawDays(at) {
		if h.Open() {
			out = append(out, h)
		}
	}
	return out
}

// Open says whether days are still missing.
func (h LawHold) Open() bool { return h.Left > 1e-9 }

// RawMilk is the hold by law that lasts longest from an instant on; ok is false
// where there is none or it is served.
func (c Case) RawMilk(at time.Time) (h LawHold, ok bool) {
	for i, x := range c.LawDays(at) {
		if i == 0 || x.Left > h.Left {
			h = x
		}
	}
	return h, h.Open()
}

// Labels are the rules that ask something of the wheel's label.
func (c Case) Labels() []holdrule.Rule { return c.Laws().Labels(c.Life.Make.Milk.Treatment) }

// lawHold counts a rule's days, and only while the air the wheel lay in was at
// or above the rule's temperature: by its rooms' readings where there are any,
// else by their set point.
func (c Case) lawHold(r holdrule.Rule, at time.Time) LawHold {
	h := LawHold{Rule: r, Days: r.Days, AtOver: r.MinTemp, Source: r.Cite()}
	now := c.Day(at)
	begin := c.Day(c.Life.Make.Date.Start(c.Loc))
	if r.From == "drying" {
		begin = 0
	}
	if !r.Warm {
		h.Have = math.Max(0, now-begin)
	} else {
		h.Have = c.warmDays(begin, now, r.MinTemp)
	}
	if span := now - begin; span > 0 {
		h.Warm = quantity.Fraction(h.Have / span)
	}
	h.Left = float64(h.Days) - h.Have
	return h
}

func (c Case) warmDays(begin, now float64, over quantity.Celsius) float64 {
	days := 0.0
	for i, s := range c.Air {
		from, to := s.FromDay, now
		if i == 0 {
			from = begin
		}
		if i+1 < len(c.Air) {
			to = math.Min(to, c.Air[i+1].FromDay)
		}
		if from = math.Max(from, begin); to > from && s.Air.Temp >= over {
			days += to - from
		}
	}
	return days
}
