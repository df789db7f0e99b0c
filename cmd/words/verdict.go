package words

import (
	"strings"

	"rindkeep/cave/day"
	"rindkeep/cmd/words/noun"
	"rindkeep/wheel/verdict"
)

func init() {
	learn(
		form[verdict.NeverWeighed]("never weighed: the coat waits for its loss"),
		form[verdict.NotDryBefore]("not dry enough a week ago"),
		form[verdict.DryByCurve]("by its curve it's dry enough to coat about now"),
		form[verdict.FiguresMet]("the numbers are right: feel it before you coat it"),
		form[verdict.DryAndSound]("dry enough, hand check sound"),
		form[verdict.PastSafe]("drier than is safe for the rind: look for cracks"),
		form[verdict.CoatAtOnce]("too dry, coat at once"),
		form[verdict.Lost]("{Share} lost"),
		form[verdict.CheckFound]("the last hand check says {Found}"),
		form[verdict.CheckSilent]("the last hand check does not say whether it is dry to the touch"),
		form[verdict.CheckStale]("the hand check is out of date"),
		form[verdict.InDoubt]("the last weight is doubtful, so weigh it again").in("weigh it again"),
		form[verdict.WeightStale]("the last weight is out of date"),
		form[verdict.BlownOn]("blown with gas on {On:short}"),
	)
}

func init() {
	learn(
		form[verdict.Days]("{Days}"),
		form[verdict.LeastDays]("at least {Days}"),
		form[verdict.Share]("{Share}"),
		form[verdict.LostBefore]("since it came; before that about {Best} ({Low:bare} to {High}), by the drying "+
			"model alone"),
		form[verdict.About]("about {Share}"),
		form[verdict.AtLeast]("at least {Share}"),
		form[verdict.AtMost]("at most {Share}"),
		form[verdict.AtMostOfWet]("at most {Share:whole}"),
		form[verdict.OfWetRind]("{Share:whole} of a wet rind's").in("{Share:whole}"),
		say(func(_ Printer, r verdict.ByWeight) string {
			switch r.Days {
			case 0:
				return "(by today's weight)"
			case 1:
				return "(by yesterday's weight)"
			}
			return "(by a weight " + count(r.Days, "day") + " old)"
		}),
		form[verdict.NoDrying]("air takes no water"),
		form[verdict.NotWeighed]("not weighed"),
		form[verdict.NoCheck]("none yet"),
		form[verdict.Felt]("{Found} ({On:short})"),
		form[verdict.Stale]("out of date"),
		form[verdict.SoundCheck]("dry and sound, at most {Days day} old"),
	)
}

func init() {
	learn(
		form[verdict.CoatedOn]("coated {On:short}; a sound coat nearly stops the loss").in("coated {On:short}"),
		form[verdict.MendCoat]("look for cracks and pinholes in the coat and mend them").in("the coat LEAKS"),
		form[verdict.FindGas]("blown with gas {On:short}: keep it apart and find out why").in("BLOWN: keep apart"),
		form[verdict.KeepApart]("blown with gas {On:short}: do not coat it; keep it apart and find out why before "+
			"you coat the other wheels of this make").in("BLOWN: keep apart"),
		form[verdict.WeighFirst]("weigh it: nothing is known of its loss").in("weigh it"),
		form[verdict.WeighedOnce]("weigh it: by the model it should be dry enough, but one weight can't show what "+
			"it lost").in("weigh it"),
		form[verdict.TooOld]("the last weight is {Days day} old ({Most} at most): weigh it again").in("weigh it again"),
		say(func(p Printer, r verdict.Jumped) string {
			ask := "was it coated, or is it another wheel?"
			if r.Is < r.Was {
				ask = "was a piece cut off, or is it another wheel?"
			}
			return "drying doesn't explain the step from " + p.Weight(r.Was) + " to " + p.Weight(r.Is) + " by " +
				p.Instant(r.At) +
				": " + ask
		}),
		form[verdict.CracksLikely]("over {Over} of loss cracks are common: look the rind over, then coat at once "+
			"or raise the humidity").in("look for cracks, coat at once"),
		form[verdict.CoatBy]("coat it by {By:short}, before the hand check is out of "+
			"date").in("coat it by {By:short}"),
		form[verdict.FeelAgain]("the numbers are right, but the hand check does not say whether it is dry to the "+
			"touch: feel it all over").in("feel it all over"),
		form[verdict.SeeTo]("the numbers are right, but the hand check says {Found}: put that right and check "+
			"again").in("hand check: {Found}"),
		form[verdict.Feel]("the numbers are right: feel the rind all over; coat only if it is dry to the touch, "+
			"with no weeping, cracks or mould").in("feel it all over"),
		say(func(_ Printer, r verdict.RoomTooWet) string {
			ready := "to be dry enough to coat"
			if r.By != day.None {
				ready = "to be ready for its coat by " + r.By.Short()
			}
			return "hardly drying at " + wholePct(r.RH) + ": check for slime; it needs drier air " + ready
		}).in("hardly drying: check for slime"),
		form[verdict.RoomSlow]("in this air it will hardly get there: lower the humidity a little or move it").
			in("room too wet"),
		form[verdict.WaitUntil]("the numbers are right early: give the rind its {Days day}, until "+
			"{Until:short}").in("wait until {Until:short}"),
		form[verdict.WeighTomorrow]("by the curve it's nearly there: weigh it again tomorrow").in("weigh it tomorrow"),
		form[verdict.WeighNow]("weigh it now: by the curve it may be there").in("weigh it now"),
		form[verdict.Overdue]("it should have been dry by {Since:short}: weigh it").in("should be dry by now: weigh it"),
		form[verdict.WeighAbout]("weigh it again about {On:short}").in("weigh about {On:short}"),
		say(func(_ Printer, r verdict.NoCoat) string {
			return "its plan " + r.Plan + " has no coat to be dry enough for; by the usual figures it is " + Answer(r.Answer)
		}).in("no coat in its plan"),
	)
}

func init() {
	learn(
		form[verdict.CracksFrom]("over {Over} of loss cracks are common, and it would pass that about {On:short}"),
		form[verdict.LostByCoat]("it will have lost {Loss:tenths} % by then and needs {Needs:tenths} %"),
	)
}

func init() {
	learn(
		form[verdict.LateFirst]("its first weight, {Days day} after the make, would become its green weight"),
		form[verdict.BeforeGreen]("it is from before the green weight, and would become the green weight itself"),
		form[verdict.Heavier]("it is {By} heavier than the {Was} of {At:instant}, and a wheel does not gain weight"),
		form[verdict.FasterThanWet]("it would have lost {Lost} since {Since:instant}, more than even a wet rind "+
			"loses"),
		form[verdict.OffCurve]("it would have lost {Loss}, but its curve says {Low:tenths} to {High:tenths} %"),
		form[verdict.UnlikeSisters]("the other wheels of this make came to about {Sisters} each"),
		say(func(p Printer, r verdict.UnlikeVariety) string {
			return "a usual " + r.Variety + " is about " + p.Weight(r.Usual) + "; a bare number is " + p.Units.BareWeight()
		}),
		say(func(p Printer, r verdict.OddWheel) string {
			return noun.Article(r.Variety) + " " + r.Variety + " of " + p.Weight(r.Weight) +
				" looks wrong: a usual one is about " + p.Weight(r.Usual)
		}),
		form[verdict.OddAmong]("{Weight} for wheel {Wheel} looks wrong: the others weigh about {Others}; "+
			"did you mean {Meant}?").
			without("Meant", "{Weight} for wheel {Wheel} looks wrong: the others weigh about {Others}"),
		say(func(p Printer, r verdict.OddDensity) string {
			return "a " + r.Shape.In(p.Units) + " of " + p.Weight(r.Weight) + " would weigh " + p.amount(density, r.Density) +
				"; cheese weighs " + p.figures(density, 1000, 1150)
		}),
		form[verdict.OddCurd]("{Weight:fine} of curd set aside looks wrong").
			without("Aside", "{Weight:fine} of curd looks wrong"),
	)
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
