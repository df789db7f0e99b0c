package words

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	uc "rindkeep/cmd/app/drying"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

// The sentences about weights, coats and hand checks.
func init() {
	learn(
		sentence{of: app.BareUnits, full: func(p Printer, _ reason.Reason) string {
			return fmt.Sprintf("a bare number is %s or %s", p.Units.BareWeight(), p.Units.BareLength())
		}},
		form[app.LooksWrong]("{Wheel} at {Weight} looks wrong: {Why}"),
		form[app.WeightsClash]("{Wheel}: {Why}"),
		form[app.InKilograms]("a bare number is grams: {Kilograms:%g}kg?"),
		form[app.TakeOverFirst]("if it had dried before, read the table without its weights first, [then: rindkeep wheel "+
			"take-over {Wheel} --on DATE, then the whole table|take the wheel over, then read the whole table]").
			without("New", "if it had dried before, take it over first[: rindkeep wheel take-over {Wheel}]"),
		form[app.FitsSister]("it would fit {Wheel}: the wrong wheel?"),
		form[app.StrikeEarlier]("if the {Weight} before it was the slip, cancel that first[: rindkeep strike "+
			"{Entry} --why TEXT]"),
		form[uc.NeedsDates]("a table of over {Over} rows needs each row's date; give it[, or --on or --at for all]"),
		form[uc.MovingDay]("{Word:quoted} is another day when the table is read again; write the date as 2026-11-25"),
		form[uc.ChangedSince]("{Why}: somebody else changed the wheel since the table was checked"),
		form[uc.NoteIt]("[use: rindkeep wheel note {Wheel:shell} TEXT|add it as a note]"),
	)
	flats(map[reason.Flat]string{
		uc.OneByOne: "[--before and --after|the weights before and after] are of one wheel, and several are named; " +
			"coat them one by one",
		uc.NothingFound: "a hand check needs what was found[: --sound, or --dry-to-touch, --cracks, --weeping, " +
			"--mould, --mites or --gas, each yes or no]",
		uc.NoteAlone:   "a note alone is no hand check",
		uc.Untouched:   "nothing was recorded",
		uc.Again:       "correct it and run the command again",
		app.ScaleAgain: "look at the scale again",
		app.SayOrder: "[rindkeep book site --dates day-first, or month-first, says it once for this book|where the " +
			"book is kept, say once whether the day or the month is first]",
	})
}

// standings say what the standing of a weighing means for the rind.
var standings = map[drying.Verdict]string{
	drying.OnCurve:  "on its curve",
	drying.Fast:     "FAST: losing more than expected, look for cracks",
	drying.Slow:     "SLOW: losing less than expected, look for slime and mould",
	drying.Unlikely: "DOUBTFUL: fits neither its curve nor its earlier weights",
}

// Standing says what the standing of a weighing means for the rind; "" for none.
func Standing(v drying.Verdict) string { return standings[v] }

// FillWeighed writes what a weighing's advice says.
func (p Printer) FillWeighed(r *uc.Weighed) {
	for _, o := range r.Results {
		if o.Dry != nil {
			o.Dry.Advice = p.Why(o.Dry.Reasons)
		}
	}
}

// Outcome says what one weight came to in a line, and what it means in further ones.
func (p Printer) Outcome(o uc.Outcome) (head string, more []string) {
	head = o.Wheel + "  " + p.Weight(o.Weight)
	switch {
	case o.NoChange:
		head += ": no change, the book has this weight for that time already"
	case o.Green && o.Aged:
		head += "  its first weight here: loss counts from it, loss before that unknown"
	case o.Green:
		head += "  green weight: drying begins " + o.On.Short()
	default:
		if o.Loss != nil {
			head += fmt.Sprintf("  loss %.1f %%", *o.Loss)
		}
		if o.Expected.Low != nil {
			head += fmt.Sprintf(" (expected %.1f to %.1f)", *o.Expected.Low, *o.Expected.High)
		}
		more = append(more, Standing(drying.Verdict(o.Standing)))
	}
	if m, rate := o.Moisture, o.Rate; o.Newest && m.Best != nil && rate.Best != nil {
		more = append(more,
			fmt.Sprintf("moisture about %.1f %% (%.1f to %.1f), losing %.2f %% a day", *m.Best, *m.Low, *m.High, *rate.Best))
	}
	if o.Dry != nil {
		more = append(more, "dry enough to coat? "+p.AnswerLine(o.Dry.Of))
	}
	if o.Leak != nil {
		more = append(more, "LEAK: "+p.Sentence(o.Leak))
	}
	return head, more
}

// FillCurve says of each weighing of a curve what it was.
func (p Printer) FillCurve(c *uc.Curve) {
	for i, x := range c.Points {
		said := fmt.Sprintf("%s: %s, loss %.1f %%", x.On.Short(), p.Weight(quantity.Grams(x.Weight)), x.Loss)
		if e := x.Expected; e.Low != nil && e.High != nil && i > 0 {
			said += fmt.Sprintf(", expected %.1f to %.1f", *e.Low, *e.High)
		}
		c.Points[i].Said = said
	}
}

// WeighedTotal sums up what many weights came to.
func (p Printer) WeighedTotal(r uc.Weighed) string {
	if r.Try && r.Load != nil {
		return fmt.Sprintf("checked %s: nothing is wrong with them", text.Count(r.Load.Rows, "weight"))
	}
	s := fmt.Sprintf("recorded %s of %s", text.Count(r.Recorded, "weight"), text.Count(r.Wheels, "wheel"))
	if r.Try {
		s = "would have " + s
	}
	if r.Same > 0 {
		s += "; " + text.Count(r.Same, "weight") + " in the book already"
	}
	return s
}

// UndoLoad is what to do about wrong weights of a load.
const UndoLoad = "strike wrong weights by their codes, from wheel show, or restore the backup from before it"

// LoadStage is what a load has done at a stage.
func LoadStage(s uc.Stage) string { return [...]string{"read", "checked", "recorded"}[s] }

// LoadProgress is how far a stage of a load of what has come.
func LoadProgress(s uc.Stage, what string, done, of int64) string {
	switch {
	case s != uc.Reading:
		return fmt.Sprintf("%s %d of %d %s", LoadStage(s), done, of, what)
	case of > 0:
		return fmt.Sprintf("read %d %% of the table", 100*min(done, of)/of)
	}
	return fmt.Sprintf("read %d rows", done)
}

// InParts is what is said before a long table is recorded in several transactions.
const InParts = "a long table: it's checked first, then recorded part by part;\n" +
	"if it's interrupted, run the same command again to finish"

// TimeLeft is a time to wait: "40 s left", "3 min left".
func TimeLeft(d time.Duration) string {
	if d < 100*time.Second {
		return fmt.Sprintf("%d s left", int(d.Seconds())+1)
	}
	return fmt.Sprintf("%d min left", int(d.Minutes())+1)
}

// mostRemarks is of how many wheels a remark is made one by one.
const mostRemarks = 6

// remarks is what is said of each of some wheels, of the first few alone.
func remarks[T any](list []T, more string, say func(T) string) []string {
	var out []string
	for i, x := range list {
		if i == mostRemarks {
			return append(out, fmt.Sprintf("and %d more %s", len(list)-i, more))
		}
		out = append(out, say(x))
	}
	return out
}

// alike groups what is said of wheels that differ in nothing but the wheel: the first of
// each group, and the tags.
func alike[T any](list []T, same func(a, b T) bool, tag func(T) string) (firsts []T, tags [][]string) {
	for _, x := range list {
		i := slices.IndexFunc(firsts, func(f T) bool { return same(f, x) })
		if i < 0 {
			i = len(firsts)
			firsts, tags = append(firsts, x), append(tags, nil)
		}
		tags[i] = append(tags[i], tag(x))
	}
	return firsts, tags
}

// FillBefore says what is known of wheels before they're weighed: "last 1942 g on 21
// Nov; now probably 1890 to 1912 g".
func (p Printer) FillBefore(d *uc.Befores) {
	for i, b := range d.Wheels {
		if b.Weight == 0 {
			d.Wheels[i].Said = "never weighed yet"
			continue
		}
		d.Wheels[i].Said = fmt.Sprintf("last %s on %s; now probably %s to %s", p.Weight(b.Weight),
			p.DayMonth(day.At(b.At, b.At.Location())), p.Weight(b.From), p.Weight(b.To))
	}
}

// FillCoated says what speaks against a coat that was recorded.
func (p Printer) FillCoated(d *uc.Coated) {
	var out []string
	again, tags := alike(d.Again, func(a, b uc.CoatedBefore) bool { return a.Since == b.Since },
		func(x uc.CoatedBefore) string { return x.Wheel })
	for i, x := range again {
		out = append(out, fmt.Sprintf("again: %s %s had a coat of %s since %s: a second coat, or the wrong %s?",
			p.Tags(tags[i]), plural(len(tags[i]), "has", "have"), x.Coat, x.Since.Short(),
			plural(len(tags[i]), "wheel", "wheels")))
	}
	other, tags := alike(d.Other, func(a, b uc.CoatOfPlan) bool { return a.Plan == b.Plan },
		func(x uc.CoatOfPlan) string { return x.Wheel })
	for i, x := range other {
		asks := "no coat"
		if len(x.Coats) > 0 {
			asks = strings.Join(x.Coats, " and ")
		}
		n := len(tags[i])
		out = append(out, fmt.Sprintf("other: %s %s %s, which asks for %s: the wrong %s or coat, or give %s another plan%s",
			p.Tags(tags[i]), plural(n, "follows", "follow"), x.Plan, asks, plural(n, "wheel", "wheels"),
			plural(n, "it", "them"), p.typed(": rindkeep wheel plan "+plural(n, x.Wheel, "TAGS")+" PLAN", "")))
	}
	out = append(out, remarks(d.Early, "not ready by the gate", func(v uc.Verdict) string {
		return "early: " + v.Wheel + ", " + p.AnswerShort(v.Dry)
	})...)
	if len(d.Early) > 0 {
		out = append(out, "a damp rind weeps, blisters and rots under its coat: look at it in a few days")
	}
	d.Remarks = append([]string{}, out...)
}

// FillChecked writes what a hand check found, and what to do about it.
func (p Printer) FillChecked(d *uc.Checked) {
	d.Found = p.Sentence(d.Check)
	d.Remarks = append([]string{}, p.FaultAdvice(d.Check)...)
	if len(d.Asked) > 0 {
		d.Remarks = append(d.Remarks, p.CheckSisters(d.Asked))
	}
}

// FaultAdvice is what to do about what a hand check found: common practice, no source.
func (p Printer) FaultAdvice(f wheel.HandCheck) []string {
	var out []string
	if f.Gas == wheel.Yes {
		out = append(out, "don't coat it: keep it apart, hold it"+p.typed(" (rindkeep wheel hold TAG --why blown)", "")+
			" and find out why, by a test if need be, before you coat or sell it or the other wheels of its make; "+
			"eyes or a dome that its kind should have are fine")
	}
	if f.Gas = wheel.NotSaid; f.Faults() != "" {
		out = append(out, "don't coat it like this: dry a weeping rind in drier air, brush or wash off mould and mites, "+
			"fill cracks with butter or lard or trim them; then check again")
	}
	return out
}

// AnswerLine is a verdict in a line: the answer, the rules that keep it so, the date
// expected, what to do.
func (p Printer) AnswerLine(v verdict.Dry) string {
	if v.On == nil || v.Overdue {
		return p.AnswerShort(v)
	}
	return p.answerHead(v) + "; expected " + p.Expected(*v.On) + ": " + p.Why(v.Advice)
}

// AnswerShort is AnswerLine without the date.
func (p Printer) AnswerShort(v verdict.Dry) string {
	joint := ": "
	if len(v.Lacks()) > 0 {
		joint = "; "
	}
	return p.answerHead(v) + joint + p.Why(v.Advice)
}

func (p Printer) answerHead(v verdict.Dry) string {
	if w := p.Lacks(v); w != "" {
		return Answer(v.Answer) + ": " + w
	}
	return Answer(v.Answer)
}

// Expected is a date with its interval: "Sun 29 Nov (Fri 27 Nov to Fri 4 Dec)".
func (p Printer) Expected(e verdict.Expected) string {
	return interval(e, day.Date.Short, "from %s, or much later")
}

// ExpectedShort is Expected for a column: "29 Nov (27 Nov to 4 Dec)".
func (p Printer) ExpectedShort(e verdict.Expected) string {
	return interval(e, p.DayMonth, "%s or later")
}

func interval(e verdict.Expected, form func(day.Date) string, open string) string {
	switch {
	case e.High == day.None:
		return form(e.Best) + " (" + fmt.Sprintf(open, form(e.Low)) + ")"
	case e.Low == e.High:
		return form(e.Best)
	}
	return form(e.Best) + " (" + form(e.Low) + " to " + form(e.High) + ")"
}
