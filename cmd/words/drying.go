package words

import (
	"fmt"
	"strings"

	"rindkeep/cmd/app"
	uc "rindkeep/cmd/app/drying"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

func init() {
	learn(
		form[uc.NoneHere]("no wheel of {Word:quoted} is here any more; name one by its tag"),
		form[uc.CoatPast]("a coat on {On} would be in the past; give a date from {From} on"),
		form[uc.HasCoat]("{Wheel} was coated with {Coat} on {On}, so it can't be left bare"),
	)
}

// FillWhatIf writes what the plans of a comparison are called and why a rind would go
// wrong.
func (p Printer) FillWhatIf(w *uc.WhatIf) {
	for _, x := range w.Wheels {
		for i := range x.Cases {
			c := &x.Cases[i]
			if c.Air == "" {
				c.Air = "as it is"
			}
			for k := range c.Risks {
				c.Risks[k].Why = p.Why(c.Risks[k].Reasons)
			}
		}
	}
}

// WhatIfBasis says what the figures of a comparison are.
const WhatIfBasis = "Days count from now. What isn't named stays as it is. Loss: 9 times in 10 between the " +
	"figures in brackets. To sell: the cheese without its coat. When a rind cracks, turns slimy or weeps: " +
	"our guess, no source."

// Risks say how likely it is that a rind goes wrong in each way, and why. What is
// likely is in capitals, and what is unlikely comes last, in brief.
func (p Printer) Risks(list []uc.Risk) (out []string) {
	var low []string
	for _, r := range list {
		switch r.Level {
		case drying.LowRisk:
			low = append(low, r.Of+" unlikely ("+p.Brief(r.Reasons)+")")
		case drying.HighRisk:
			out = append(out, r.Of+" LIKELY: "+p.Why(r.Reasons))
		default:
			out = append(out, r.Of+" "+r.Level.String()+": "+p.Why(r.Reasons))
		}
	}
	if len(low) > 0 {
		out = append(out, strings.Join(low, ", "))
	}
	return out
}

// FillVerdicts writes what the verdicts say.
func (p Printer) FillVerdicts(v *uc.Verdicts) {
	for i := range v.Wheels {
		p.FillVerdict(&v.Wheels[i])
	}
}

// FillVerdict writes what one wheel's verdict says.
func (p Printer) FillVerdict(w *uc.Wheel) {
	w.Advice, w.Leak, w.Law = p.Why(w.Reasons), app.OrNull(p.Why(w.LeakWhy)), p.All(w.LawWhy)
	for i := range w.Rules {
		r := &w.Rules[i]
		r.Rule, r.Have, r.Need = Rule(r.Code), p.Why(r.HaveWhy), p.Why(r.NeedWhy)
	}
}

// DryAnswer is the answer for a wheel, or that its plan has no coat.
func DryAnswer(j app.Judged) string {
	if !j.Gated && j.Dry.Answer != verdict.Coated {
		return "no coat in its plan"
	}
	return Answer(j.Dry.Answer)
}

// DryRow is a line of the list of verdicts.
type DryRow struct {
	Lot                      string
	Answer, Loss, Rate, Next string
	Ready                    bool // to be coated
}

// DryRows are the lines of a list of verdicts, in its order. Sister wheels of which the
// same is to be said share one.
func (p Printer) DryRows(list []app.Judged) (rows []DryRow, tags [][]string) {
	at := map[DryRow]int{}
	for _, j := range list {
		v := j.Dry
		r := DryRow{
			Lot: j.Life.Make.Lot, Answer: Answer(v.Answer), Loss: "-", Rate: "-", Next: p.DryNext(j),
			Ready: v.Answer == verdict.DryEnough || v.Answer == verdict.TooDry,
		}
		if v.Weighings > 0 {
			r.Loss, r.Rate = fmt.Sprintf("%.1f %%", v.Loss.Percent()), fmt.Sprintf("%.2f %%", 100*v.Rate.Best)
		}
		if !j.Gated && v.Answer != verdict.Coated {
			r.Answer = "-" // Next says that its plan has no coat
		}
		i, ok := at[r]
		if !ok {
			i = len(rows)
			at[r], rows, tags = i, append(rows, r), append(tags, nil)
		}
		tags[i] = append(tags[i], j.Life.Tag)
	}
	return rows, tags
}

// DryNext is what to do next about a wheel, in a few words: what it lacks, when it
// is expected, how its last weighing looks.
func (p Printer) DryNext(j app.Judged) string {
	next := p.Brief(j.Dry.Advice)
	if j.Dry.On != nil && j.Gated && !j.Dry.Overdue {
		next = "expected " + p.ExpectedShort(*j.Dry.On)
	}
	if w := p.Lacks(j.Dry); w != "" && j.Gated {
		next = w + "; " + next
	}
	switch j.Last {
	case drying.Fast:
		next += "; drying FAST, look for cracks"
	case drying.Slow:
		next += "; drying SLOWLY, look for slime"
	case drying.Unlikely:
		next += "; last weight DOUBTFUL, weigh again"
	}
	return next
}

// CurveWhen is when a curve is looked at: "now", "in 7 days", or, asked about another
// time, the date.
func CurveWhen(c uc.Curve, a uc.Ahead) string {
	switch {
	case c.Then:
		return a.On.Short()
	case a.Days == 0:
		return "now"
	}
	return "in " + count(a.Days, "day")
}

// DryFigures are the figures of a wheel's card, and what else there is to say.
func (p Printer) DryFigures(j app.Judged) (out []string) {
	v := j.Dry
	add := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	if v.Weighings > 0 {
		add("loss %s %% at the last weighing, %s; now about %s", tenths(v.Loss),
			v.WeighedAt.In(j.Loc).Format("Mon 2 Jan 15:04"), PctBand(v.Present))
	}
	add("moisture about %s", PctBand(v.Moisture))
	rate := fmt.Sprintf("losing %.2f %% a day (%.2f to %.2f)", 100*v.Rate.Best, 100*v.Rate.Low, 100*v.Rate.High)
	if f := j.Flux(v.Rate); f.Known() {
		rate += ", " + p.amount(flux, f.Best)
	}
	add("%s; from %s", rate, p.Basis(v.Basis, v.Weighings))
	for _, n := range j.Life.Chain.Notes {
		add("note: %s", p.Sentence(n))
	}
	if j.Last != "" && j.Last != drying.OnCurve {
		add("last weighing %s", Standing(j.Last))
	}
	for _, h := range j.Held {
		add("held by law: %s", p.Sentence(h))
	}
	if !j.Gated {
		add("its plan %s has no gate: these are the usual figures", j.Life.Plan)
	}
	return out
}
