package drying

import (
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

// Weighed is what weights came to.
type Weighed struct {
	Schema  string    `json:"schema"`
	Try     bool      `json:"dry_run"`
	Results []Outcome `json:"results"` // in the order of the rows; none where no figures were wanted
	app.Cautioned

	ByWheel  [][]int `json:"-"` // the places of each wheel's in Results
	Recorded int     `json:"-"` // weights
	Same     int     `json:"-"` // weights that were in the book already
	Wheels   int     `json:"-"`
	Load     *Loaded `json:"-"` // set where a long table was loaded part by part
}

// Outcome is what one weight came to and means.
type Outcome struct {
	Wheel    string   `json:"wheel"`
	At       string   `json:"at"`
	Gross    *float64 `json:"gross_g"`
	Net      *float64 `json:"net_g"`
	Loss     *float64 `json:"loss_pct"`
	Moisture app.Est  `json:"moisture_pct"`
	Rate     app.Est  `json:"rate_pct_per_day"`
	Expected app.Est  `json:"expected_loss_pct"`
	Standing string   `json:"standing"`
	Entry    string   `json:"entry"`
	NoChange bool     `json:"no_change"`

	// Dry goes with the last weight of a wheel whose plan has it coated when dry; null
	// otherwise, and among more than Few wheels.
	Dry *Answer `json:"dry"`

	Weight quantity.Grams `json:"-"`
	On     day.Date       `json:"-"`
	Green  bool           `json:"-"` // it is the wheel's first weight
	Aged   bool           `json:"-"` // and isn't the green weight: the wheel came, or was taken over, before it
	Newest bool           `json:"-"` // it is the last: Moisture and Rate are the wheel's now
	Leak   reason.Reason  `json:"-"` // why its coat seems to leak, with the newest; nil: it doesn't
}

// Answer is the answer to "dry enough to coat?" in short.
type Answer struct {
	Verdict    string        `json:"verdict"`
	ExpectedOn *app.Expected `json:"expected_on"`
	Advice     string        `json:"advice"` // in words, filled by cmd/words
	Reasons    reason.List   `json:"reasons"`

	Of verdict.Dry `json:"-"`
}

// outcomes says what a wheel's weights mean.
func (w *weighing) outcomes(g *scaled, few bool) error {
	if w.results == nil {
		return nil
	}
	points := map[mark]int{}
	for i, p := range g.now.Life.Chain.Points {
		points[instant(p.At, p.Gross)] = i
	}
	standings := g.now.Standings(g.curve)
	for _, n := range g.rows {
		e := w.rows[n].entry
		i, ok := points[instant(e.At, e.Weight)]
		if !ok {
			i = -1
		}
		w.results[n] = g.outcome(e, i, standings, w.Zone)
		w.results[n].NoChange = w.rows[n].same
	}
	w.byWheel = append(w.byWheel, g.rows)
	last := g.rows[len(g.rows)-1]
	if p, ok := g.now.Life.Chain.Last(); !ok || p.At.After(w.rows[last].entry.At) || len(standings) < 2 {
		return nil
	}
	o := &w.results[last]
	o.Newest = true
	if why, leaks := g.curve.Leaking(); leaks {
		o.Leak = why
	}
	gated, err := w.Gated(g.now.Life.Plan)
	if few && gated && len(g.now.Life.Coats) == 0 {
		v := g.now.DryBy(g.curve, w.rows[last].entry.At)
		o.Dry = &Answer{Verdict: string(v.Answer), ExpectedOn: app.ExpectedOf(v.On), Reasons: v.Advice, Of: v}
	}
	return err
}

// outcome is what one weight means; point is its place in the chain, or under 0.
func (g *scaled) outcome(e wheel.Entry, point int, standings []drying.WeighingStanding, zone *time.Location) Outcome {
	none := app.EstOf(quantity.Unknown())
	o := Outcome{
		Wheel: g.before.Tag, At: app.Instant(e.At, zone), Gross: app.Num(e.Weight), Entry: e.ID.String(),
		Moisture: none, Rate: none, Expected: none, Standing: string(drying.OnCurve),
		Weight: e.Weight, On: day.At(e.At, zone),
	}
	if point < 0 {
		return o
	}
	chain := g.now.Life.Chain
	p := chain.Points[point]
	o.Net, o.Loss, o.Green = app.Num(p.Net), app.PctNum(p.Loss()), chain.Weighings() == 1
	o.Aged = g.now.Life.Aged()
	if point == 0 {
		o.Loss = app.Num(0.0)
	}
	o.Moisture = app.PctEst(g.now.Start(g.curve).After(p.Loss()).Moisture)
	o.Rate, o.Expected = app.PctEst(g.curve.RatePerDay(p.Day)), app.PctEst(g.curve.Expected(p.Day))
	o.Standing = string(standings[point].Verdict)
	return o
}
