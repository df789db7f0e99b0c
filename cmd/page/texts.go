package page

import (
	"fmt"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/page/form"
	"rindkeep/schedule"
)

// The kinds of cheese and the rind plans: their texts, and what they say.

// kindsBody is the page of all of them.
type kindsBody struct {
	Kinds []library.VarietyLine
	Plans []library.PlanLine
}

func kindsPage(c *call) (View, error) {
	k, err := library.Varieties(c.ctx, c.app, c.caller)
	if err != nil {
		return View{}, err
	}
	p, err := library.Plans(c.ctx, c.app, c.caller)
	return View{Template: "kinds.html", Title: "Kinds of cheese and rind plans", Here: "makes",
		Body: kindsBody{k.Varieties, p.Plans}}, err
}

// textBody is the page of a kind or a plan.
type textBody struct {
	library.Text
	Of    string // kind of cheese, rind plan
	Plan  string // of a kind, its plan
	Steps []stepLine
	Edit  form.Form
}

// stepLine is a step of a plan in words.
type stepLine struct{ Job, When, Until, Note string }

// textPage is the page of one text.
func textPage(k library.Kind, of string) func(*call) (View, error) {
	return func(c *call) (View, error) {
		t, err := library.Show(c.ctx, c.app, c.caller, k, c.name())
		if err != nil {
			return View{}, err
		}
		b := textBody{Text: t, Of: of, Edit: form.Text(string(k), of+" saved", t.TOML)}
		if k == library.Variety {
			all, err := library.Varieties(c.ctx, c.app, c.caller)
			if err != nil {
				return View{}, err
			}
			for _, v := range all.Varieties {
				if v.Name == t.Name {
					b.Plan = v.Plan
				}
			}
		} else if p, err := schedule.ParsePlan(t.Name, []byte(t.TOML)); err == nil {
			b.Steps = stepLines(c, p)
		}
		return View{Template: "kind.html", Title: t.Title, Here: "makes", Body: b}, nil
	}
}

func stepLines(c *call, p schedule.Plan) (out []stepLine) {
	for _, s := range p.Steps {
		l := stepLine{string(s.Job), c.words().Why(s.Asks()), s.Until, s.Note}
		if s.Coat != "" {
			l.Job += ", " + s.Coat
		}
		if s.Gated() {
			l.When = "when it’s dry enough"
		}
		if s.UntilDay != schedule.None && s.UntilDay > 0 {
			l.Until = fmt.Sprintf("day %d", s.UntilDay)
		}
		out = append(out, l)
	}
	return out
}

// saveText adds a kind or a plan to the book, or replaces one.
func saveText(k library.Kind) func(*call, values) (any, error) {
	return func(c *call, v values) (any, error) {
		q := library.Adding{
			Kind: k, File: "the text", TOML: []byte(v.text("toml")), Why: v.text("why"), Sure: v.truth("sure"),
		}
		d, err := library.Add(c.ctx, c.app, c.caller, q)
		return saved(d, app.At("toml", err), nil)
	}
}
