package words

import (
	"fmt"
	"strings"

	"rindkeep/cave"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

var ofAir = []sentence{
	say(func(_ Printer, r cave.NotRead) string {
		if r.Hours >= 48 {
			return "not read for " + count(r.Hours/24, "day")
		}
		return "not read for " + count(r.Hours, "hour")
	}),
	say(func(p Printer, r cave.TooCold) string {
		return p.Temp(r.Temp) + " is under its limit of " + p.Temp(r.Limit)
	}),
	say(func(p Printer, r cave.TooWarm) string {
		return p.Temp(r.Temp) + " is over its limit of " + p.Temp(r.Limit)
	}),
	say(func(p Printer, r cave.TooDry) string {
		return wholePct(r.RH) + " humidity is under its limit of " + wholePct(r.Limit)
	}),
	say(func(p Printer, r cave.TooHumid) string {
		return wholePct(r.RH) + " humidity is over its limit of " + wholePct(r.Limit)
	}),
}

var ofWheel = []sentence{
	say(func(_ Printer, r wheel.HandCheck) string { return felt(r) }),
	say(func(_ Printer, r wheel.Says) string { return r.Words }),
	fixed(wheel.Destroyed{}, "it was destroyed"),
	say(func(_ Printer, r wheel.SentTo) string { return "to " + r.Customer }),
	fixed(wheel.ByMistake{}, "entered by mistake"),
	say(func(_ Printer, r wheel.FaultSeen) string { return r.Faults + " seen on " + r.Wheels }),
	say(func(p Printer, r wheel.CoatByCurve) string {
		return "the weight of the coat was not taken; the curve puts it at " + p.Weight(r.Coat)
	}),
	say(func(p Printer, r wheel.BeforeByCurve) string {
		return "the weight before it was " + r.Event.String() + " was not taken; the curve puts it at " + p.Weight(r.Weight)
	}),
	fixed(wheel.CutThenCoated{}, "the cut before the coat was not weighed; the coat is taken as cheese"),
	fixed(wheel.CutByCurve{}, "what a cut or core took away was not weighed, "+
		"so later losses are estimates from the curve"),
	say(func(p Printer, r wheel.BeforeOff) string {
		return "the weight before is " + p.Weight(r.Before) + ", but the last weight was " + p.Weight(r.Last)
	}),
	say(func(p Printer, r wheel.CoatHeavy) string {
		return "a coat of " + p.Weight(r.Coat) + " on a wheel of " + p.Weight(r.Wheel)
	}),
	say(func(p Printer, r wheel.CoreHeavy) string {
		return "a core of " + p.Weight(r.Core) + " out of " + p.Weight(r.Wheel)
	}),
	say(func(p Printer, r wheel.AfterLess) string {
		thing := "core"
		if r.Event == wheel.CoatedOn {
			thing = "coat"
		}
		return p.Weight(r.After) + " after the " + thing + ", but it weighed " + p.Weight(r.Before) + " before"
	}),
	say(func(p Printer, r wheel.MoreThanThere) string {
		return "more left or taken than the " + p.Weight(r.Before) + " there was"
	}),
	say(func(p Printer, r wheel.SentOverLeft) string {
		return p.Weight(r.Sent) + " sent, but only about " + p.Weight(r.Left) + " of it was left"
	}),
	say(func(p Printer, r wheel.SentOverLast) string {
		if r.Piece {
			return "a piece of " + p.Weight(r.Sent) + ", but the whole wheel last weighed " + p.Weight(r.Last)
		}
		return p.Weight(r.Sent) + " sent, but it last weighed " + p.Weight(r.Last)
	}),
	say(func(_ Printer, r wheel.HeldSince) string { return heldSince(r) }),
	say(func(p Printer, r verdict.HeldByLaw) string { return lawHold(p, r, 0) }),
	say(func(p Printer, r verdict.HeldUnread) string { return lawHold(p, r.Law, r.Unread) }),
	say(func(p Printer, r verdict.HeldElsewhere) string {
		return strings.TrimSuffix(lawHold(p, r.Law, r.Unread), checkYourOwn) + "the " + count(r.Days, "day") +
			" before it came don't count, as nobody here knows how warm it was; " + checkYourOwn
	}),
	say(func(p Printer, r verdict.RuleMissing) string { return p.ruleMissing(r) }),
	say(func(_ Printer, r verdict.MilkUnknown) string {
		return r.By + ", " + r.Source + ": say whether the milk was raw, thermised or pasteurised; " + checkYourOwn
	}),
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

var ofDrying = []sentence{
	say(func(_ Printer, r drying.Leaks) string {
		return "it loses " + wholePct(r.Passes) + " of what it would lose bare (" + bare(r.Low) + " to " + bare(r.High) +
			"), where this coat usually lets through " + wholePct(r.Usual)
	}),
	say(func(_ Printer, r drying.Sealed) string {
		if r.Coat == drying.Breathable {
			return "sealed under a breathable coat"
		}
		return "sealed under " + string(r.Coat)
	}),
	sayBoth(func(p Printer, r drying.RindShrinks) string {
		return "in air at " + wholePct(r.RH) + " it would lose " + p.amount(flux, r.Flux) + ", and rinds crack over " +
			p.figures(flux, r.May, r.Does)
	}, func(p Printer, r drying.RindShrinks) string { return "it would lose " + p.amount(flux, r.Flux) }),
	say(func(_ Printer, r drying.AirCracks) string {
		return "the air is at " + wholePct(r.RH) + ", and rinds crack under " + bare(r.Does) + " to " + wholePct(r.May)
	}),
	sayBoth(func(_ Printer, r drying.AirNotWet) string {
		return "the air is at " + wholePct(r.RH) + ", and slime comes from " + wholePct(r.Wet) + " on"
	}, func(_ Printer, r drying.AirNotWet) string { return "the air is at " + wholePct(r.RH) }),
	say(func(p Printer, r drying.RindDries) string {
		would := "lose " + p.amount(flux, r.Flux)
		if r.Flux < 0 {
			would = "take up water"
		}
		return "in air at " + wholePct(r.RH) + " it would " + would + " over a month, and rinds turn slimy under " +
			p.figures(flux, r.Does, r.May)
	}),
	fixed(drying.NeitherRate{}, "the weights tell neither the first-day nor the root-time rate "+
		"to better than a factor of two and a half"),
	fixed(drying.NoFirstDay{}, "the weights don't tell the first-day rate: "+
		"the air resisted too little, or the first days were not weighed"),
	fixed(drying.NoRootTime{}, "the weights don't tell the root-time rate: "+
		"the surface was wet throughout, or the weighings stop too soon"),
	fixed(drying.NoFall{}, "the weights don't fall: there is no drying in them"),
	fixed(drying.StraightLine{}, "the weights fall in a straight line, which doesn't tell the root-time rate"),
	fixed(drying.RootFromStart{}, "the weights fall with the square root of time from the start, "+
		"which doesn't tell the first-day rate"),
	fixed(drying.LeansOnPhysics{}, "few weighings: the figures lean on the physics"),
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
