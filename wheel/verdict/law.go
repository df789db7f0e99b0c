package verdict

import (
	"fmt"
	"math"
	"time"

	"rindkeep/cave/quantity"
	"rindkeep/wheel"
)

// LawHold is a hold that a food law puts on a wheel: what the law asks, and how
// far the wheel is.
type LawHold struct {
	Days   int               // asked for
	AtOver quantity.Celsius  // only time at or above it counts
	Have   float64           // days counted so far
	Left   float64           // days missing
	Source string            // of the rule
	Warm   quantity.Fraction // share of its life that counted
}

// String says the hold in one sentence.
func (h LawHold) String() string {
	return fmt.Sprintf("raw milk: %.0f of %d days at %.1f C or more; check your own law", math.Floor(h.Have), h.Days, float64(h.AtOver))
}

// RawMilk is the hold that the variety's rule puts on a wheel of raw milk at an
// instant; ok is false where there is none or it is served. Days count from the
// make date and only while the air the wheel lay in was at or above the rule's
// temperature: by its rooms' readings where there are any, else by their set
// point.
func (c Case) RawMilk(at time.Time) (h LawHold, ok bool) {
	l := c.Variety.Limits
	if c.Life.Make.Milk.Treatment != wheel.Raw || l.RawMinDays == 0 {
		return h, false
	}
	h = LawHold{Days: l.RawMinDays, AtOver: l.RawMinTemp, Source: l.Source}
	now := c.Day(at)
	begin := c.Day(c.Life.Make.Date.Start(c.Loc))
	for i, s := range c.Air {
		from, to := s.FromDay, now
		if i == 0 {
			from = begin
		}
		if i+1 < len(c.Air) {
			to = math.Min(to, c.Air[i+1].FromDay)
		}
		if to > from && s.Air.Temp >= l.RawMinTemp {
			h.Have += to - from
		}
	}
	if span := now - begin; span > 0 {
		h.Warm = quantity.Fraction(h.Have / span)
	}
	h.Left = float64(h.Days) - h.Have
	return h, h.Left > 1e-9
}
