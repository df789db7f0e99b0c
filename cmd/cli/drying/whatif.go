package drying

import (
	"fmt"
	"strings"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	model "rindkeep/wheel/drying"
)

// parsePlans reads what is given to --if: rh=88,temp=10,air=still and
// coat=cloth,2026-12-01, with a slash between several.
func parsePlans(c *console.Console, given []string) ([]drying.Plan, error) {
	f := c.Figures()
	var out []drying.Plan
	for s := range strings.SplitSeq(strings.Join(given, "/"), "/") {
		parts := strings.Split(s, ",")
		var p drying.Plan
		seen := map[string]bool{}
		for i, kv := range parts {
			kv = strings.TrimSpace(kv)
			parts[i] = kv
			k, v, ok := strings.Cut(kv, "=")
			if k = strings.ToLower(strings.TrimSpace(k)); !ok && seen["coat"] {
				k, v = "from", kv
			}
			switch {
			case seen[k]:
				return nil, console.At("--if", console.Usagef("%q is one too many for one comparison; put a slash between two",
					console.SafeWord(kv)))
			case v == "" || !condition(f, &p, k, v):
				return nil, console.At("--if", console.Usagef("%q is no condition; give rh=88, temp=10, air=still or "+
					"coat=cloth,2026-12-01, with commas between", console.SafeWord(kv)))
			}
			seen[k] = true
		}
		p.Name = strings.Join(parts, ", ")
		out = append(out, p)
	}
	return out, f.Err
}

// condition reads one condition of a plan; false where there is no such one.
func condition(f *console.Figures, p *drying.Plan, k, v string) bool {
	switch k {
	case "rh":
		p.RH = new(f.Percent("--if", v))
	case "temp":
		p.Temp = new(f.Temp("--if", v))
	case "air":
		p.Movement = new(console.Read(f, "--if", v, air.ParseMovement))
	case "coat":
		if p.Bare = strings.EqualFold(v, "bare"); !p.Bare {
			p.Coat = console.Read(f, "--if", v, parseCoat)
		}
	case "from":
		p.CoatOn = v
	default:
		return false
	}
	return true
}

// parseCoat is drying.ParseCoat; its error knows of bare.
func parseCoat(s string) (model.Coat, error) {
	k, err := model.ParseCoat(s)
	if u, ok := reason.Of(err).(reason.Unknown); ok {
		u.Known += ", or bare for none"
		err = reason.Err(u)
	}
	return k, err
}

func whatIf(c *console.Console, what, plans []string) error {
	if len(what) == 0 {
		return console.Usagef("--if needs a wheel: rindkeep dry TAG --if rh=88,temp=10")
	}
	all, err := parsePlans(c, plans)
	if err != nil {
		return err
	}
	w, err := drying.Compare(c.Ctx, c.App, c.Caller(), what, all)
	if err != nil {
		return err
	}
	c.Words.FillWhatIf(&w)
	if c.JSON {
		return c.Document(w)
	}
	for i, x := range w.Wheels {
		if i > 0 {
			c.Print("\n")
		}
		c.Print("%s  %s, %.0f days of drying\n", c.Style("1")(x.Wheel), x.Title, x.Days)
		showCases(c, x.Cases)
	}
	c.Print("\n")
	c.Lines(text.Wrap(words.WhatIfBasis, c.Env.Columns()))
	c.Cautions(w.Cautions)
	return nil
}

// showCases prints the plans for one wheel side by side.
func showCases(c *console.Console, cases []drying.Case) {
	right := func(title string) text.Column { return text.Column{Title: title, Right: true} }
	figures := text.Table{Indent: 2, Columns: []text.Column{{Title: "what if", Wrap: true}, right(""), right(""),
		{Title: "dry enough"}}}
	loss := text.Table{Indent: 2, Columns: []text.Column{{Title: "loss", Wrap: true}}}
	weight := text.Table{Indent: 2, Columns: []text.Column{{Title: "to sell", Wrap: true}}}
	risks := text.Table{Indent: 2, Columns: []text.Column{{Title: "the rind", Wrap: true}, {Wrap: true}}}
	for _, h := range cases[0].Ahead {
		when := fmt.Sprintf("in %d days", h.Days)
		loss.Columns = append(loss.Columns, text.Column{Title: when})
		weight.Columns = append(weight.Columns, right(when))
	}
	for _, x := range cases {
		on := "-"
		if x.On != nil {
			on = c.Words.ExpectedShort(*x.On)
		}
		figures.Add(x.Air, c.Words.Temp(x.Span.Air.Temp), c.Words.RH(x.Span.Air.RH), on)
		losses, weights := []string{x.Air}, []string{x.Air}
		for _, h := range x.Ahead {
			losses = append(losses, fmt.Sprintf("%.1f %% (%.1f to %.1f)", *h.Loss.Best, *h.Loss.Low, *h.Loss.High))
			weights = append(weights, c.Words.Weight(quantity.Grams(*h.Weight.Best)))
		}
		loss.Add(losses...)
		weight.Add(weights...)
		for i, r := range c.Words.Risks(x.Risks) {
			risks.Add([]string{x.Air, ""}[min(i, 1)], r)
		}
	}
	for i, t := range []text.Table{figures, loss, weight, risks} {
		if i > 0 {
			c.Print("\n")
		}
		c.Table(t)
	}
}
