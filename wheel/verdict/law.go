package verdict

import (
	"math"
	"slices"
	"strings"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
)

// LawHold is a hold that a food law puts on a wheel: what the law asks, and how
// far the wheel is.
type LawHold struct {
	Rule   holdrule.Rule
	By     []string          // the countries followed whose law it is; none: of the variety's own file
	Milk   wheel.Treatment   // the wheel's; "": not known
	Days   int               // asked for
	AtOver quantity.Celsius  // only time at or above it counts, where the rule is Warm
	Have   float64           // days counted so far
	Unread float64           // of them without a reading of the room, where the rule is Warm
	Away   float64           // days it was elsewhere, which don't count, where the rule is Warm
	Left   float64           // days missing; 0 or less: served
	Source string            // of the rule
	Warm   quantity.Fraction // share of its life that counted

	lot, variety string // of the wheel
}

// Reason is the hold with its figures.
func (h LawHold) Reason() reason.Reason {
	r := HeldByLaw{Counted: int(math.Floor(h.Have + whole)), Days: h.Days, Warm: h.Rule.Warm}
	if r.Warm {
		r.AtOver = quantity.Celsius(math.Round(100*float64(h.AtOver)) / 100)
	}
	if len(h.Rule.Milk) > 0 {
		r.Milk = h.Milk
	}
	if len(h.By) > 0 {
		r.By, r.Source = strings.Join(h.By, ", "), h.Rule.Cite()
	}
	switch unread := h.UnreadDays(); {
	case h.Rule.Missing:
		return RuleMissing{r.By, h.variety, h.Milk, h.lot}
	case h.MilkUnknown():
		return MilkUnknown{r.By, r.Source}
	case h.Away >= 1:
		return HeldElsewhere{r, unread, int(h.Away)}
	case unread > 0:
		return HeldUnread{r, unread}
	}
	return r
}

// UnreadDays is Unread in whole days, as it's said.
func (h LawHold) UnreadDays() int {
	return max(0, min(int(math.Floor(h.Have+whole)), int(math.Ceil(h.Unread-whole))))
}

// whole forgives what is lost in adding up parts of days: our choice.
const whole = 1e-9

// MilkUnknown is true where the law asks how the milk was treated and nobody has
// said it.
func (h LawHold) MilkUnknown() bool { return h.Milk == "" && h.Rule.AsksMilk() }

// Laws are the laws the case follows; a case that was not given any follows its
// variety's own file.
func (c Case) Laws() holdrule.Set {
	if len(c.Law.Rules) == 0 && len(c.Law.Countries) == 0 {
		return holdrule.Select(nil, nil, c.Variety, c.Life.Make.SoldAs)
	}
	return c.Law
}

// LawDays are the days that laws ask of the wheel, those served too, as they
// stand at an instant, and the laws that ask how its milk was treated while nobody said.
func (c Case) LawDays(at time.Time) []LawHold {
	var out []LawHold
	milk := c.Life.Make.Milk.Treatment
	set := c.Laws()
	for i, r := range set.Rules {
		if r.Binds(milk) {
			h := c.lawHold(r, at)
			h.By, h.Milk, h.lot, h.variety = set.By[i], milk, c.Life.Make.Lot, c.Variety.Name
			out = append(out, h)
		}
	}
	return out
}

// CountsWarm says whether a law asks how many days the wheel lay warm.
func (c Case) CountsWarm() bool {
	milk := c.Life.Make.Milk.Treatment
	return slices.ContainsFunc(c.Laws().Rules, func(r holdrule.Rule) bool {
		return r.Warm && r.Binds(milk)
	})
}

// LawHolds are those of LawDays that are not served yet: the wheel may not leave.
func (c Case) LawHolds(at time.Time) []LawHold {
	return slices.DeleteFunc(c.LawDays(at), func(h LawHold) bool { return !h.Open() })
}

// Open says whether days are still missing, or the milk's treatment is, or the rule.
func (h LawHold) Open() bool { return h.Left > whole || h.MilkUnknown() || h.Rule.Missing }

// Labels are the rules that ask something of the wheel's label.
func (c Case) Labels() []holdrule.Rule { return c.Laws().Labels(c.Life.Make.Milk.Treatment) }

// lawHold counts a rule's days, where it is Warm only while the air the wheel lay in
// was at or above the rule's temperature. A day without a reading counts by the
// room's set point, but it ends no hold: a set point is a wish.
func (c Case) lawHold(r holdrule.Rule, at time.Time) LawHold {
	begin := c.Life.Make.Date
	h := LawHold{Rule: r, AtOver: r.MinTemp, Source: r.Cite()}
	from := begin.Start(c.Loc)
	if r.From == "drying" {
		begin, from = day.At(c.Began(), c.Loc), c.Began()
	}
	span := at.Sub(from).Hours() / 24
	if r.Missing {
		return h
	}
	h.Days = r.DaysFrom(begin)
	switch {
	case r.Warm:
		h.Have, h.Unread, h.Away = c.warmDays(from, at, r.MinTemp)
	case r.Months > 0: // dates, not hours: summer time has no say
		h.Have = float64(max(0, day.At(at, c.Loc)-begin))
	default:
		h.Have = math.Max(0, span)
	}
	if span > 0 {
		h.Warm = quantity.Fraction(h.Have / span)
	}
	h.Left = float64(h.Days) - h.Have + h.Unread
	return h
}
