package page

import (
	"time"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/makes"
)

// Correcting and removing makes.

func correctMake(c *call, v values) (any, error) {
	in := c.figures(v.text)
	q := makes.Correction{Of: v.text("lot"), New: makeOf(v, in), Drop: v.list("void"), Why: v.text("why"),
		Lifts: v.truth("sure"),
	}
	for name := range v {
		switch name {
		case "lot", "why", "void", "place", "id", "at", "by", "sure":
		default:
			q.Given = append(q.Given, name)
		}
	}
	if in.err != nil {
		return nil, in.err
	}
	d, err := makes.Correct(c.ctx, c.app, c.caller, q)
	return saved(d, err, nil)
}

func voidMake(c *call, v values) (any, error) {
	q := makes.Removal{Lot: v.text("lot"), Why: v.text("why"), Sure: v.truth("sure")}
	d, err := makes.Void(c.ctx, c.app, c.caller, q)
	return saved(d, err, nil)
}

// correctForm is what the form shows that corrects a make: what is in it is what the
// book says, in the reader's units, and only what is changed is sent.
type correctForm struct {
	Varieties []library.VarietyLine
	Today     string
	Start     string
	Fields    []correctField
}

type correctField struct{ Name, Words, Value string }

func correctFormOf(c *call, d makes.Shown) (f correctForm, err error) {
	v, err := library.Varieties(c.ctx, c.app, c.caller)
	if err != nil {
		return f, err
	}
	m, u := d.Sheet.Make, c.words().Units
	f.Varieties, f.Today = v.Varieties, c.s.opt.Now().Format(time.DateOnly)
	if !m.Began.IsZero() {
		f.Start = m.Began.In(d.Zone).Format("15:04")
	}
	share := func(x quantity.Fraction) string {
		if x == 0 {
			return ""
		}
		return figure(2, pct(x))
	}
	weight := func(g quantity.Grams) string {
		if g == 0 {
			return ""
		}
		return u.Weight(g)
	}
	litres := ""
	if m.Milk.Litres > 0 {
		litres = u.Volume(m.Milk.Litres)
	}
	f.Fields = []correctField{
		{"litres", "milk, volume", litres}, {"milk_fat", "fat in the milk, %", share(m.Milk.Fat)},
		{"milk_protein", "protein in the milk, %", share(m.Milk.Protein)},
		{"curd", "curd, weight", weight(m.Curd)}, {"set_aside", "set aside, weight", weight(m.SetAside)},
		{"set_aside_for", "set aside for", m.SetAsideFor}, {"salt", "salt, weight", weight(m.SaltMass)},
		{"salt_rate", "salt, % of the curd", share(m.SaltRate)},
		{"country", "follows the law of", m.Countries},
	}
	return f, nil
}

func pct(x quantity.Fraction) *float64 {
	p := x.Percent()
	return &p
}
