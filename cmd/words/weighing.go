package words

import (
	"fmt"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

// weighingWords has the sentences about weights, coats and hand checks.
func weighingWords(p Printer, r reason.Reason) (string, bool) {
	switch r := r.(type) {
	case app.LooksWrong:
		return fmt.Sprintf("%s at %s looks wrong: %s", r.Wheel, p.Weight(r.Weight), p.Sentence(r.Why)), true
	case app.WeightsClash:
		return r.Wheel + ": " + p.Sentence(r.Why), true
	case app.InKilograms:
		return fmt.Sprintf("a bare number is grams: %gkg?", r.Kilograms), true
	case app.FitsSister:
		return fmt.Sprintf("it would fit %s: the wrong wheel?", r.Wheel), true
	}
	switch r {
	case app.ScaleAgain:
		return "look at the scale again", true
	case app.BareUnits:
		return fmt.Sprintf("a bare number is %s or %s", p.Units.BareWeight(), p.Units.BareLength()), true
	}
	return "", false
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
