package page

import (
	"strconv"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/page/form"
	"rindkeep/cmd/page/format"
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
	return record(c, in, makes.Correct, q, nil)
}

func voidMake(c *call, v values) (any, error) {
	q := makes.Removal{Lot: v.text("lot"), Why: v.text("why"), Sure: v.truth("sure")}
	return record(c, nil, makes.Void, q, nil)
}

// correctFormOf is the form that corrects a make: what is in it is what the book says, in
// the reader's units, and only what is changed is sent.
func correctFormOf(c *call, o form.Offer, d makes.Shown) form.Form {
	m, u, start := d.Sheet.Make, c.words().Units, ""
	if !m.Began.IsZero() {
		start = m.Began.In(d.Zone).Format("15:04")
	}
	share := func(x quantity.Fraction) string {
		if x == 0 {
			return ""
		}
		return format.Figure(2, pct(x))
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
	is := map[string]string{
		"lot": m.Lot, "date": m.Date.String(), "start": start, "variety": m.Variety, "sold_as": m.SoldAs,
		"wheels": strconv.Itoa(d.Output.Wheels), "milk": m.Milk.Species, "treatment": string(m.Milk.Treatment),
		"litres": litres, "milk_fat": share(m.Milk.Fat), "milk_protein": share(m.Milk.Protein), "curd": weight(m.Curd),
		"set_aside": weight(m.SetAside), "set_aside_for": m.SetAsideFor, "salt": weight(m.SaltMass),
		"salt_rate": share(m.SaltRate), "salt_where": m.SaltWhere, "country": m.Countries, "note": m.Note,
	}
	if x := m.Start; x.Measured {
		is["moisture"], is["moisture_sd"], is["fat"], is["cheese_salt"] = share(x.Moisture), share(x.MoistureSD),
			share(x.Fat), share(x.Salt)
	}
	return o.Correct(is)
}

func pct(x quantity.Fraction) *float64 {
	p := x.Percent()
	return &p
}
