package page

import (
	"cmp"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/plot"
	"rindkeep/wheel"
	model "rindkeep/wheel/drying"
)

// How wheels dry.

func verdicts(c *call, q drying.Which) (drying.Verdicts, error) {
	v, err := drying.DryEnough(c.ctx, c.app, c.caller, q)
	if err == nil {
		c.words().FillVerdicts(&v)
	}
	return v, err
}

func showVerdicts(c *call) (any, error) {
	var q drying.Which
	if err := c.listed(&q.Narrow, &q.Most); err != nil {
		return nil, err
	}
	return verdicts(c, q)
}

func showVerdict(c *call) (any, error) { return verdicts(c, drying.Which{What: []string{c.name()}}) }

// mostDays is how many days of drying a curve shows at most.
const mostDays = 3650

func curves(c *call) (drying.Curves, error) {
	days, err := c.number("days", 0)
	if err != nil {
		return drying.Curves{}, err
	}
	if days < 0 || days > mostDays {
		return drying.Curves{}, badRequestf("days", "days is out of range; give 1 to %d", mostDays)
	}
	return drying.Draw(c.ctx, c.app, c.caller, drying.CurveQuestion{What: c.name(), Days: days})
}

func showCurve(c *call) (any, error) {
	d, err := curves(c)
	if len(d.Wheels) == 1 {
		return d.Wheels[0], err
	}
	return d, err
}

func curvePicture(c *call) ([]byte, error) {
	d, err := curves(c)
	if err != nil {
		return nil, err
	}
	for i := range d.Wheels {
		c.words().FillCurve(&d.Wheels[i])
	}
	return c.picture(plot.Drying(d.Wheels), size{600, 400}, size{340, 360}), nil
}

// weighed is a weight as the page answers it.
type weighed struct {
	drying.Weighed
	Said []string `json:"said"` // what it means, in the reader's words
}

func saveWeight(c *call, v values) (any, error) {
	switch word, grams := v.text("weight"), v.text("weight_g"); {
	case word == "" && grams == "":
		return nil, badRequestf("weight", "weight or weight_g is missing")
	case word != "" && grams != "":
		return nil, badRequestf("weight", "give weight or weight_g, not both")
	}
	in := c.figures(v.text)
	g := cmp.Or(in.weight("weight"), given(in, "weight_g", quantity.ParseWeight)) // a bare weight is grams there
	if in.err != nil {
		return nil, in.err
	}
	d, err := drying.Weigh(c.ctx, c.app, c.caller, drying.Weights{
		Rows: []intake.Weight{{Tag: v.text("wheel"), Weight: g}}, Note: v.text("note"), Sure: v.truth("sure"),
	})
	if err != nil {
		return nil, err
	}
	if d.Known != nil {
		return d.Known, nil
	}
	p := c.words()
	p.FillWeighed(&d.Result)
	head, more := p.Outcome(d.Result.Results[0])
	return weighed{d.Result, append([]string{head}, more...)}, nil
}

func saveCheck(c *call, v values) (any, error) {
	in := c.figures(v.text)
	seen := func(name string) wheel.Seen { return given(in, name, wheel.ParseSeen) }
	q := drying.HandCheck{What: v.whom(), Note: v.text("note"), Found: wheel.HandCheck{
		DryToTouch: seen("dry_to_touch"), Cracks: seen("cracks"), Weeping: seen("weeping"), Mould: seen("mould"),
		Mites: seen("mites"), Gas: seen("gas"),
	}}
	return record(c, in, drying.Check, q, c.words().FillChecked)
}

func saveCoat(c *call, v values) (any, error) {
	in := c.figures(v.text)
	q := drying.Coating{
		What: v.whom(), Coat: given(in, "coat", model.ParseCoat), Before: in.weight("before"), After: in.weight("after"),
		Note: v.text("note"), Sure: v.truth("sure"),
	}
	return record(c, in, drying.Coat, q, c.words().FillCoated)
}
