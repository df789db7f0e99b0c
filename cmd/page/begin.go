package page

import (
	"slices"
	"strings"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/app/start"
	"rindkeep/wheel"
	"rindkeep/wheel/shape"
)

// Wheels that come into the book: by the questions of start, bought in, or taken over.

// told is a result with what the page says of it.
type told struct {
	start.Begun
	Said []string `json:"said"`
}

func saveStart(c *call, v values) (any, error) {
	g, err := start.Survey(c.ctx, c.app, c.caller, "")
	if err != nil {
		return nil, err
	}
	in := c.figures(v.text)
	a := start.Answers{
		Place: given(in, "place", cave.NamePlace), Temp: optional(in, "temp", in.units.ParseTemp),
		RH: optional(in, "rh", quantity.ParsePercent), Made: pastDate(in, "made", g), Wheels: given(in, "wheels", whole),
		Weights: in.weights("weights", []string{v.text("weights")}), Rind: start.Rind(v.text("rind")),
		Coated: v.text("coated") == "yes", CoatedOn: v.text("coated_on"),
		Treatment: given(in, "treatment", wheel.ParseTreatment), Sure: v.truth("sure"),
	}
	a.Kind.Name = v.text("variety")
	for _, k := range g.Kinds {
		if strings.EqualFold(k.Name, a.Kind.Name) {
			a.Kind = k
		}
	}
	switch {
	case in.err != nil:
		return nil, in.err
	case a.Rind != "" && !slices.Contains(start.Rinds, a.Rind):
		return nil, badRequestf("rind", "give wax, cloth or bare, not %q", short(string(a.Rind)))
	}
	q, err := g.Request(a)
	if err != nil {
		return nil, err
	}
	d, err := start.Begin(c.ctx, c.app, c.caller, q)
	if err != nil || d.Known != nil {
		return saved(d, err, nil)
	}
	p := c.words()
	p.FillToday(&d.Result.Today)
	return told{d.Result, p.Begun(d.Result)}, nil
}

// pastDate reads a date that has come; None where nobody knows it.
func pastDate(in *figures, name string, g start.Ground) day.Date {
	d := optional(in, name, g.Dates.ParsePast)
	switch {
	case d == nil:
		return day.None
	case *d > g.Today && in.err == nil:
		in.err = app.Refuse(app.FutureDate{On: *d}).In(name)
	}
	return *d
}

// received is wheels that came, with what the page says of them.
type received struct {
	makes.Arrived
	Said []string `json:"said"`
}

// saveArrival records wheels that are bought in, or taken over where nobody sent them.
func saveArrival(c *call, v values) (any, error) {
	in := c.figures(v.text)
	q := makes.Receive{
		Variety: v.text("variety"), Note: v.text("note"), Lot: v.text("own_lot"), Made: v.text("made"),
		Country: v.text("country"), SoldAs: v.text("sold_as"), HereSince: v.text("here"),
		Milk: wheel.Milk{Species: v.text("milk"), Treatment: given(in, "treatment", wheel.ParseTreatment)},
		Coat: v.text("coat"), CoatedOn: v.text("coated"), Wheels: optional(in, "wheels", whole),
		Batch: makes.Batch{
			Place: v.text("place"), Plan: v.text("plan"), Shape: in.shape(shape.Form(v.text("shape"))),
			Weights: in.weights("weights", v.list("weights")), Sure: v.truth("sure"),
		},
		Arrival: wheel.Arrival{
			Supplier: v.text("from"), Maker: v.text("maker"), Lot: v.text("lot"), Document: v.text("document"),
			Temp: optional(in, "temp", in.units.ParseTemp),
		},
	}
	a := &q.Arrival
	if a.Price = given(in, "price", func(s string) (x float64, err error) {
		x, a.Currency, err = makes.Money(s)
		return x, err
	}); a.Document != "" {
		a.DocumentType = makes.DeliveryNote
	}
	if a.Supplier == "" { // it's our own code then
		q.Lot, a.Lot = a.Lot, ""
	}
	for _, l := range v.list("last") {
		job, on, ok := strings.Cut(l, "=")
		if !ok {
			return nil, badRequestf("last", "can't read %q; give it like turn=2026-11-20", short(l))
		}
		q.Last = append(q.Last, makes.LastJob{Job: job, On: on})
	}
	if in.err != nil {
		return nil, in.err
	}
	d, err := makes.Take(c.ctx, c.app, c.caller, q)
	if err != nil || d.Known != nil {
		return saved(d, err, nil)
	}
	return received{d.Result, c.words().Came(d.Result)}, nil
}

// saveLine writes a line of a make's log.
func saveLine(c *call, v values) (any, error) {
	in := c.figures(v.text)
	m := wheel.MakeLog{
		What: wheel.LogWhat(v.text("what")), Stage: v.text("stage"), Source: v.text("source"), Name: v.text("name"),
		Kind: v.text("kind"), Lot: v.text("batch"), Species: v.text("species"), Amount: v.text("amount"),
		Where: v.text("where"), For: v.text("for"), ToLot: v.text("into"), Turned: v.truth("turned"),
		Litres: given(in, "litres", in.units.ParseVolume), Treatment: given(in, "treatment", wheel.ParseTreatment),
		HeatTemp: given(in, "heat", in.units.ParseTemp), HeatFor: given(in, "heat_for", quantity.ParseSeconds),
		Fat: in.percent("fat"), Protein: in.percent("protein"), PH: given(in, "ph", decimal), Acid: in.percent("acid"),
		Weight: in.bulk("weight"), Rate: in.percent("rate"), Load: in.bulk("load"),
		Lever: given(in, "lever", quantity.ParseRatio), Diameter: in.length("diameter"),
		Moisture: in.percent("moisture"), SD: in.percent("moisture_sd"), Salt: in.percent("cheese_salt"),
	}
	if t := optional(in, "temp", in.units.ParseTemp); t != nil {
		x := float64(*t)
		m.Temp = &x
	}
	if in.err != nil {
		return nil, in.err
	}
	d, err := makes.Log(c.ctx, c.app, c.caller, makes.NewLine{Lot: v.text("lot"), Line: m, Note: v.text("note")})
	if err != nil || d.Known != nil {
		return saved(d, err, nil)
	}
	return struct {
		makes.Logged
		Said []string `json:"said"`
	}{d.Result, []string{d.Result.Line.What + ": " + c.words().MakeLine(d.Result.Line)}}, nil
}
