package words

import (
	"strings"

	"rindkeep/cave/day"
	"rindkeep/cmd/words/noun"
	"rindkeep/wheel/verdict"
)

var ofGate = []sentence{
	fixed(verdict.NeverWeighed{}, "never weighed: the coat waits for its loss"),
	fixed(verdict.NotDryBefore{}, "not dry enough a week ago"),
	fixed(verdict.DryByCurve{}, "by its curve it's dry enough to coat about now"),
	fixed(verdict.FiguresMet{}, "the numbers are right: feel it before you coat it"),
	fixed(verdict.DryAndSound{}, "dry enough, hand check sound"),
	fixed(verdict.PastSafe{}, "drier than is safe for the rind: look for cracks"),
	fixed(verdict.CoatAtOnce{}, "too dry, coat at once"),
	say(func(_ Printer, r verdict.Lost) string { return pct(r.Share) + " lost" }),
	say(func(_ Printer, r verdict.CheckFound) string { return "the last hand check says " + felt(r.Found) }),
	fixed(verdict.CheckSilent{}, "the last hand check does not say whether it is dry to the touch"),
	fixed(verdict.CheckStale{}, "the hand check is out of date"),
	fixed(verdict.InDoubt{}, "the last weight is doubtful, so weigh it again").in("weigh it again"),
	fixed(verdict.WeightStale{}, "the last weight is out of date"),
	say(func(_ Printer, r verdict.BlownOn) string { return "blown with gas on " + r.On.Short() }),
}

var ofRules = []sentence{
	say(func(_ Printer, r verdict.Days) string { return digits(r.Days) }),
	say(func(_ Printer, r verdict.LeastDays) string { return "at least " + digits(r.Days) }),
	say(func(_ Printer, r verdict.Share) string { return pct(r.Share) }),
	say(func(_ Printer, r verdict.LostBefore) string {
		return "since it came; before that about " + pct(r.Best) + " (" + bare(r.Low) + " to " + pct(r.High) +
			"), by the drying model alone"
	}),
	say(func(_ Printer, r verdict.About) string { return "about " + pct(r.Share) }),
	say(func(_ Printer, r verdict.AtLeast) string { return "at least " + pct(r.Share) }),
	say(func(_ Printer, r verdict.AtMost) string { return "at most " + pct(r.Share) }),
	say(func(_ Printer, r verdict.AtMostOfWet) string { return "at most " + wholePct(r.Share) }),
	sayBoth(func(_ Printer, r verdict.OfWetRind) string { return wholePct(r.Share) + " of a wet rind's" },
		func(_ Printer, r verdict.OfWetRind) string { return wholePct(r.Share) }),
	say(func(_ Printer, r verdict.ByWeight) string {
		switch r.Days {
		case 0:
			return "(by today's weight)"
		case 1:
			return "(by yesterday's weight)"
		}
		return "(by a weight " + count(r.Days, "day") + " old)"
	}),
	fixed(verdict.NoDrying{}, "air takes no water"),
	fixed(verdict.NotWeighed{}, "not weighed"),
	fixed(verdict.NoCheck{}, "none yet"),
	say(func(_ Printer, r verdict.Felt) string { return felt(r.Found) + " (" + r.On.Short() + ")" }),
	fixed(verdict.Stale{}, "out of date"),
	say(func(_ Printer, r verdict.SoundCheck) string {
		return "dry and sound, at most " + count(r.Days, "day") + " old"
	}),
}

var ofAdvice = []sentence{
	sayBoth(func(_ Printer, r verdict.CoatedOn) string {
		return "coated " + r.On.Short() + "; a sound coat nearly stops the loss"
	}, func(_ Printer, r verdict.CoatedOn) string { return "coated " + r.On.Short() }),
	fixed(verdict.MendCoat{}, "look for cracks and pinholes in the coat and mend them").in("the coat LEAKS"),
	say(func(_ Printer, r verdict.FindGas) string {
		return "blown with gas " + r.On.Short() + ": keep it apart and find out why"
	}).in("BLOWN: keep apart"),
	say(func(_ Printer, r verdict.KeepApart) string {
		return "blown with gas " + r.On.Short() +
			": do not coat it; keep it apart and find out why before you coat the other wheels of this make"
	}).in("BLOWN: keep apart"),
	fixed(verdict.WeighFirst{}, "weigh it: nothing is known of its loss").in("weigh it"),
	fixed(verdict.WeighedOnce{}, "weigh it: by the model it should be dry enough, but one weight can't show what it lost").
		in("weigh it"),
	say(func(_ Printer, r verdict.TooOld) string {
		return "the last weight is " + count(r.Days, "day") + " old (" + digits(r.Most) + " at most): weigh it again"
	}).in("weigh it again"),
	say(func(p Printer, r verdict.Jumped) string {
		ask := "was it coated, or is it another wheel?"
		if r.Is < r.Was {
			ask = "was a piece cut off, or is it another wheel?"
		}
		return "drying doesn't explain the step from " + p.Weight(r.Was) + " to " + p.Weight(r.Is) + " by " +
			p.Instant(r.At) +
			": " + ask
	}),
	say(func(_ Printer, r verdict.CracksLikely) string {
		return "over " + pct(r.Over) + " of loss cracks are common: " +
			"look the rind over, then coat at once or raise the humidity"
	}).in("look for cracks, coat at once"),
	sayBoth(func(_ Printer, r verdict.CoatBy) string {
		return "coat it by " + r.By.Short() + ", before the hand check is out of date"
	}, func(_ Printer, r verdict.CoatBy) string { return "coat it by " + r.By.Short() }),
	fixed(verdict.FeelAgain{}, "the numbers are right, but the hand check does not say whether it is dry to the touch: "+
		"feel it all over").in("feel it all over"),
	sayBoth(func(_ Printer, r verdict.SeeTo) string {
		return "the numbers are right, but the hand check says " + felt(r.Found) + ": put that right and check again"
	}, func(_ Printer, r verdict.SeeTo) string { return "hand check: " + felt(r.Found) }),
	fixed(verdict.Feel{}, "the numbers are right: feel the rind all over; "+
		"coat only if it is dry to the touch, with no weeping, cracks or mould").in("feel it all over"),
	say(func(_ Printer, r verdict.RoomTooWet) string {
		ready := "to be dry enough to coat"
		if r.By != day.None {
			ready = "to be ready for its coat by " + r.By.Short()
		}
		return "hardly drying at " + wholePct(r.RH) + ": check for slime; it needs drier air " + ready
	}).in("hardly drying: check for slime"),
	fixed(verdict.RoomSlow{}, "in this air it will hardly get there: lower the humidity a little or move it").
		in("room too wet"),
	sayBoth(func(_ Printer, r verdict.WaitUntil) string {
		return "the numbers are right early: give the rind its " + count(r.Days, "day") + ", until " + r.Until.Short()
	}, func(_ Printer, r verdict.WaitUntil) string { return "wait until " + r.Until.Short() }),
	fixed(verdict.WeighTomorrow{}, "by the curve it's nearly there: weigh it again tomorrow").in("weigh it tomorrow"),
	fixed(verdict.WeighNow{}, "weigh it now: by the curve it may be there").in("weigh it now"),
	say(func(_ Printer, r verdict.Overdue) string {
		return "it should have been dry by " + r.Since.Short() + ": weigh it"
	}).in("should be dry by now: weigh it"),
	sayBoth(func(_ Printer, r verdict.WeighAbout) string { return "weigh it again about " + r.On.Short() },
		func(_ Printer, r verdict.WeighAbout) string { return "weigh about " + r.On.Short() }),
	say(func(_ Printer, r verdict.NoCoat) string {
		return "its plan " + r.Plan + " has no coat to be dry enough for; by the usual figures it is " + Answer(r.Answer)
	}).in("no coat in its plan"),
}

var ofOutcome = []sentence{
	say(func(_ Printer, r verdict.CracksFrom) string {
		return "over " + pct(r.Over) + " of loss cracks are common, and it would pass that about " + r.On.Short()
	}),
	say(func(_ Printer, r verdict.LostByCoat) string {
		return "it will have lost " + tenths(r.Loss) + " % by then and needs " + tenths(r.Needs) + " %"
	}),
}

var ofDoubt = []sentence{
	say(func(_ Printer, r verdict.LateFirst) string {
		return "its first weight, " + count(r.Days, "day") + " after the make, would become its green weight"
	}),
	fixed(verdict.BeforeGreen{}, "it is from before the green weight, and would become the green weight itself"),
	say(func(p Printer, r verdict.Heavier) string {
		return "it is " + p.Weight(r.By) + " heavier than the " + p.Weight(r.Was) + " of " + p.Instant(r.At) +
			", and a wheel does not gain weight"
	}),
	say(func(p Printer, r verdict.FasterThanWet) string {
		return "it would have lost " + p.Weight(r.Lost) + " since " + p.Instant(r.Since) +
			", more than even a wet rind loses"
	}),
	say(func(_ Printer, r verdict.OffCurve) string {
		return "it would have lost " + pct(r.Loss) + ", but its curve says " + tenths(r.Low) + " to " + tenths(r.High) + " %"
	}),
	say(func(p Printer, r verdict.UnlikeSisters) string {
		return "the other wheels of this make came to about " + p.Weight(r.Sisters) + " each"
	}),
	say(func(p Printer, r verdict.UnlikeVariety) string {
		return "a usual " + r.Variety + " is about " + p.Weight(r.Usual) + "; a bare number is " + p.Units.BareWeight()
	}),
	say(func(p Printer, r verdict.OddWheel) string {
		return noun.Article(r.Variety) + " " + r.Variety + " of " + p.Weight(r.Weight) +
			" looks wrong: a usual one is about " + p.Weight(r.Usual)
	}),
	say(func(p Printer, r verdict.OddAmong) string {
		s := p.Weight(r.Weight) + " for wheel " + digits(r.Wheel) + " looks wrong: the others weigh about " +
			p.Weight(r.Others)
		if r.Meant > 0 {
			s += "; did you mean " + p.Weight(r.Meant) + "?"
		}
		return s
	}),
	say(func(p Printer, r verdict.OddDensity) string {
		return "a " + r.Shape.In(p.Units) + " of " + p.Weight(r.Weight) + " would weigh " + p.amount(density, r.Density) +
			"; cheese weighs " + p.figures(density, 1000, 1150)
	}),
	say(func(p Printer, r verdict.OddCurd) string {
		if r.Aside {
			return p.Fine(r.Weight) + " of curd set aside looks wrong"
		}
		return p.Fine(r.Weight) + " of curd looks wrong"
	}),
}

// answers are the answers to "dry enough to coat?" in words.
var answers = map[verdict.Answer]string{
	verdict.NotYet: "not yet", verdict.CheckByHand: "check by hand", verdict.DryEnough: "DRY ENOUGH",
	verdict.TooDry: "TOO DRY", verdict.Coated: "coated", verdict.NoWeights: "no weights",
	verdict.WeighAgain: "WEIGH AGAIN",
}

// Answer is an answer to "dry enough to coat?" in words.
func Answer(a verdict.Answer) string {
	if w, ok := answers[a]; ok {
		return w
	}
	return string(a)
}

// ruleNames are the names of the rules of a gate. They are published in JSON.
var ruleNames = map[verdict.RuleCode]string{
	verdict.DaysRule: "days drying", verdict.LossRule: "loss", verdict.RateRule: "rate", verdict.MoistureRule: "moisture",
	verdict.TooDryRule: "not too dry", verdict.HandRule: "hand check",
}

// Rule is the name of a rule of the gate.
func Rule(c verdict.RuleCode) string { return ruleNames[c] }

// Lacks names the rules that keep a wheel from its coat: one with its figure,
// several by name; "" for none.
func (p Printer) Lacks(v verdict.Dry) string {
	rules := v.Lacks()
	names := make([]string, len(rules))
	for i, r := range rules {
		names[i] = Rule(r.Code)
	}
	switch len(rules) {
	case 0:
		return ""
	case 1:
		return names[0] + " " + p.Brief(rules[0].Have) + ", needs " + p.Brief(rules[0].Need)
	}
	return "needs more drying (" + strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1] + ")"
}
