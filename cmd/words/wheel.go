package words

import (
	"fmt"
	"strings"

	"rindkeep/cave"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

func init() {
	learn(
		say(func(_ Printer, r cave.NotRead) string {
			if r.Hours >= 48 {
				return "not read for " + count(r.Hours/24, "day")
			}
			return "not read for " + count(r.Hours, "hour")
		}),
		form[cave.TooCold]("{Temp} is under its limit of {Limit}"),
		form[cave.TooWarm]("{Temp} is over its limit of {Limit}"),
		form[cave.TooDry]("{RH:whole} humidity is under its limit of {Limit:whole}"),
		form[cave.TooHumid]("{RH:whole} humidity is over its limit of {Limit:whole}"),
	)
}

func init() {
	learn(
		say(func(_ Printer, r wheel.HandCheck) string { return felt(r) }),
		form[wheel.Says]("{Words}"),
		form[wheel.Destroyed]("it was destroyed"),
		form[wheel.SentTo]("to {Customer}"),
		form[wheel.ByMistake]("entered by mistake"),
		form[wheel.FaultSeen]("{Faults} seen on {Wheels}"),
		form[wheel.CoatByCurve]("the weight of the coat was not taken; the curve puts it at {Coat}"),
		form[wheel.BeforeByCurve]("the weight before it was {Event} was not taken; the curve puts it at {Weight}"),
		form[wheel.CutThenCoated]("the cut before the coat was not weighed; the coat is taken as cheese"),
		form[wheel.CutByCurve]("what a cut or core took away was not weighed, so later losses are estimates from "+
			"the curve"),
		form[wheel.BeforeOff]("the weight before is {Before}, but the last weight was {Last}"),
		form[wheel.CoatHeavy]("a coat of {Coat} on a wheel of {Wheel}"),
		form[wheel.CoreHeavy]("a core of {Core} out of {Wheel}"),
		say(func(p Printer, r wheel.AfterLess) string {
			thing := "core"
			if r.Event == wheel.CoatedOn {
				thing = "coat"
			}
			return p.Weight(r.After) + " after the " + thing + ", but it weighed " + p.Weight(r.Before) + " before"
		}),
		form[wheel.MoreThanThere]("more left or taken than the {Before} there was"),
		form[wheel.SentOverLeft]("{Sent} sent, but only about {Left} of it was left"),
		form[wheel.SentOverLast]("a piece of {Sent}, but the whole wheel last weighed {Last}").
			without("Piece", "{Sent} sent, but it last weighed {Last}"),
		say(func(_ Printer, r wheel.HeldSince) string { return heldSince(r) }),
		say(func(p Printer, r verdict.HeldByLaw) string { return lawHold(p, r, 0) }),
		say(func(p Printer, r verdict.HeldUnread) string { return lawHold(p, r.Law, r.Unread) }),
		say(func(p Printer, r verdict.HeldElsewhere) string {
			return strings.TrimSuffix(lawHold(p, r.Law, r.Unread), checkYourOwn) + "the " + count(r.Days, "day") +
				" before it came don't count, as nobody here knows how warm it was; " + checkYourOwn
		}),
		say(func(p Printer, r verdict.RuleMissing) string { return p.ruleMissing(r) }),
		form[verdict.MilkUnknown]("{By}, {Source}: say whether the milk was raw, thermised or pasteurised; "+checkYourOwn),
	)
}

// felt is what a hand check found: "dry to the touch, no cracks".
func felt(c wheel.HandCheck) string {
	var w []string
	switch c.DryToTouch {
	case wheel.Yes:
		w = append(w, "dry to the touch")
	case wheel.No:
		w = append(w, "still damp")
	}
	for _, k := range c.Looks() {
		switch {
		case k.Seen == wheel.No:
			w = append(w, "no "+k.Name)
		case k.Seen == wheel.Yes && k.Name == "gas":
			w = append(w, "blown with gas")
		case k.Seen == wheel.Yes:
			w = append(w, k.Name)
		}
	}
	if len(w) == 0 {
		return "nothing"
	}
	return strings.Join(w, ", ")
}

// ruleMissing says what is missing and what settles it.
func (p Printer) ruleMissing(r verdict.RuleMissing) string {
	milk := "milk that nobody spoke of"
	if r.Milk != "" {
		milk = string(r.Milk) + " milk"
	}
	return r.By + ": no rule on file says how long " + r.Variety + " of " + milk + " is held: add it" +
		p.typed(" with rindkeep law add FILE", "") + ", or let a releaser send it despite the hold" +
		p.typed(" with --override TEXT", "") + ", or, if the milk was pasteurised, correct the make" +
		p.typed(" with rindkeep make correct "+Shell(r.Lot)+" --treatment pasteurised --why TEXT", "") + "; " + checkYourOwn
}

func lawHold(p Printer, r verdict.HeldByLaw, unread int) string {
	days := count(r.Days, "day")
	if r.Warm {
		days += " at " + p.Temp(r.AtOver) + " or more"
	}
	if r.Counted <= r.Days {
		days = digits(r.Counted) + " of " + days
	} else {
		days += " needed, " + digits(r.Counted) + " done"
	}
	if unread > 0 {
		days += fmt.Sprintf(", %d of them without a reading", unread)
	}
	if r.Milk != "" {
		days = string(r.Milk) + " milk: " + days
	}
	if r.By != "" {
		days = r.By + ", " + r.Source + ": " + days
	}
	return days + "; " + checkYourOwn
}

func init() {
	learn(
		form[drying.Leaks]("it loses {Passes:whole} of what it would lose bare ({Low:bare} to {High:bare}), where "+
			"this coat usually lets through {Usual:whole}"),
		say(func(_ Printer, r drying.Sealed) string {
			if r.Coat == drying.Breathable {
				return "sealed under a breathable coat"
			}
			return "sealed under " + string(r.Coat)
		}),
		say(func(p Printer, r drying.RindShrinks) string {
			return "in air at " + wholePct(r.RH) + " it would lose " + p.amount(flux, r.Flux) + ", and rinds crack over " +
				p.figures(flux, r.May, r.Does)
		}).in("it would lose {Flux:flux}"),
		form[drying.AirCracks]("the air is at {RH:whole}, and rinds crack under {Does:bare} to {May:whole}"),
		form[drying.AirNotWet]("the air is at {RH:whole}, and slime comes from {Wet:whole} "+
			"on").in("the air is at {RH:whole}"),
		say(func(p Printer, r drying.RindDries) string {
			would := "lose " + p.amount(flux, r.Flux)
			if r.Flux < 0 {
				would = "take up water"
			}
			return "in air at " + wholePct(r.RH) + " it would " + would + " over a month, and rinds turn slimy under " +
				p.figures(flux, r.Does, r.May)
		}),
		form[drying.NeitherRate]("the weights tell neither the first-day nor the root-time rate to better than a "+
			"factor of two and a half"),
		form[drying.NoFirstDay]("the weights don't tell the first-day rate: the air resisted too little, or the "+
			"first days were not weighed"),
		form[drying.NoRootTime]("the weights don't tell the root-time rate: the surface was wet throughout, or the "+
			"weighings stop too soon"),
		form[drying.NoFall]("the weights don't fall: there is no drying in them"),
		form[drying.StraightLine]("the weights fall in a straight line, which doesn't tell the root-time rate"),
		form[drying.RootFromStart]("the weights fall with the square root of time from the start, which doesn't "+
			"tell the first-day rate"),
		form[drying.LeansOnPhysics]("few weighings: the figures lean on the physics"),
	)
}

// Basis says what a forecast from so many weighings rests on.
func (p Printer) Basis(b drying.Basis, weighings int) string {
	switch b {
	case drying.FromPrior:
		return "the drying model alone"
	case drying.FromLot:
		return "the drying model and the other wheels of this make"
	}
	return count(weighings, "weighing") + " and the drying model"
}

// Sending is what an entry says of how a wheel was sent, but for to whom: "document
// D-7", "sent although held (test pending, since 2026-11-20): tested today".
func (p Printer) Sending(s wheel.Sending) []string {
	var out []string
	if s.Document != "" {
		out = append(out, "document "+s.Document)
	}
	if len(s.Held) > 0 {
		out = append(out, "sent although held ("+strings.Join(p.All(s.Held), "; ")+"): "+s.Override)
	}
	return out
}
