package drying

import (
	"context"
	"math"

	"rindkeep/cave/air"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

// Plan is what could be done with a wheel; what is nil or "" stays as it is.
type Plan struct {
	Name     string // as it was asked for
	Temp     *quantity.Celsius
	RH       *quantity.Fraction
	Movement *air.Movement
	Coat     drying.Coat
	Bare     bool   // leave it without a coat: refused for one that has a coat
	CoatOn   string // the date the coat goes on, as typed; "": now
}

// over is an air with the plan's conditions in its place.
func (p Plan) over(s drying.Span) drying.Span {
	if p.Temp != nil {
		s.Air.Temp = *p.Temp
	}
	if p.RH != nil {
		s.Air.RH = *p.RH
	}
	if p.Movement != nil {
		s.Movement = *p.Movement
	}
	return s
}

// coatDate is when the coat goes on, of a question about the date on.
func (p Plan) coatDate(dates day.Reader, on day.Date) (day.Date, error) {
	if p.CoatOn == "" {
		return on, nil
	}
	if p.Coat == "" {
		return on, app.Misuse("if", reason.Needs{What: "date", Other: "coat"})
	}
	d, err := dates.Parse(p.CoatOn)
	if err != nil {
		return d, app.Misread("if", err)
	}
	if d < on {
		return d, app.Misuse("if", CoatPast{d, on})
	}
	return d, nil
}

// WhatIf is what plans would make of wheels.
type WhatIf struct {
	Schema string   `json:"schema"`
	Wheels []Choice `json:"wheels"`
	app.Cautioned
}

// Choice is what one wheel comes to by each plan, the first of them to change
// nothing.
type Choice struct {
	Wheel string `json:"wheel"`
	Cases []Case `json:"cases"`

	Title string  `json:"-"` // of its variety
	Days  float64 `json:"-"` // of drying so far
}

// Case is what one wheel comes to by one plan: in the days to come, and, in Losses and
// Weights, on days since drying began.
type Case struct {
	Air      string        `json:"air"` // the plan, as it was asked for
	Temp     *float64      `json:"temp_c"`
	RH       *float64      `json:"rh_pct"`
	Coat     *string       `json:"coat"`    // the one it gets, or bare; null: as it is
	CoatOn   *string       `json:"coat_on"` // the date it gets it
	Expected *app.Expected `json:"expected_on"`
	Losses   []Band        `json:"loss"`
	Weights  []ToSell      `json:"to_sell"`
	Ahead    []Horizon     `json:"ahead"`
	Risks    []Risk        `json:"risks"`

	Span drying.Span       `json:"-"`
	On   *verdict.Expected `json:"-"`
}

// ToSell is what a wheel weighs on a day since drying began.
type ToSell struct {
	Day   float64 `json:"day"`
	Grams app.Est `json:"weight_g"`
}

// Horizon is what a wheel comes to in some days: the cheese alone, without a coat.
type Horizon struct {
	Days   int     `json:"days"`
	On     string  `json:"on"`
	Loss   app.Est `json:"loss_pct"`
	Weight app.Est `json:"weight_g"`
}

// Risk is how likely it is that a rind cracks, turns slimy, or weeps under its coat.
type Risk struct {
	Of      string       `json:"of"`
	Level   drying.Level `json:"level"`
	Why     string       `json:"why"` // in words, filled by cmd/words
	Reasons reason.List  `json:"reasons"`
}

// The ways in which a rind goes wrong.
const (
	Cracks = "cracks"
	Slime  = "slime"
	Weeps  = "weeping"
)

// CoatPast refuses a coat from a date before the one a question is about.
type CoatPast struct {
	On   day.Date `json:"on"`
	From day.Date `json:"from"`
}

// HasCoat refuses to leave a wheel bare that has a coat.
type HasCoat struct {
	Wheel string   `json:"wheel"`
	Coat  string   `json:"coat"`
	On    day.Date `json:"on"`
}

// The codes.

func (CoatPast) Code() string { return "coat-in-past" }
func (HasCoat) Code() string  { return "has-coat" }

// horizons are the days ahead for which plans are compared, and the days since drying
// began.
var horizons = []int{30, 90, 180}

// Compare says what each plan, from now on, would make of the wheels named.
func Compare(ctx context.Context, a *app.App, c app.Caller, what []string, plans []Plan) (WhatIf, error) {
	return asker[WhatIf](what)(ctx, a, c, func(s *app.Session) (WhatIf, error) {
		w := WhatIf{Schema: app.Schema("dry-if"), Wheels: []Choice{}}
		at, on, err := s.AsOf()
		if err != nil {
			return w, err
		}
		dates := make([]day.Date, len(plans))
		for i, p := range plans {
			if dates[i], err = p.coatDate(s.Dates(), on); err != nil {
				return w, err
			}
		}
		ws, err := s.Pick(what)
		if err != nil {
			return w, err
		}
		for _, st := range ws {
			c, gated, err := s.GatedCase(st, at)
			if err == nil {
				err = s.Ctx.Err()
			}
			if err != nil {
				return w, err
			}
			x := choice{Case: c, gated: gated, now: math.Max(0, c.Day(at)), on: on, f: c.Forecast()}
			all, err := x.by(plans, dates)
			if err != nil {
				return w, app.At("if", err)
			}
			w.Wheels = append(w.Wheels, all)
		}
		for _, p := range plans {
			w.Warn(app.HazardsOf(wheel.Coat, string(p.Coat), 0)...)
		}
		return w, nil
	})
}

// choice is a wheel that plans are compared for, from a day of its drying on.
type choice struct {
	verdict.Case
	f     drying.Forecast
	gated bool
	now   float64
	on    day.Date
}

func (c choice) by(plans []Plan, dates []day.Date) (Choice, error) {
	as := drying.Span{Air: air.State{Temp: 12, RH: 0.85}, Movement: air.Gentle}
	if n := len(c.Air); n > 0 {
		as = c.Air[n-1]
	}
	out := Choice{Wheel: c.Life.Tag, Title: c.Variety.Title, Days: c.now}
	out.Cases = append(out.Cases, c.under(Plan{}, as, drying.Plan{}))
	for i, p := range plans {
		if k := c.Life.Coats; p.Bare && len(k) > 0 {
			return out, app.Refuse(HasCoat{c.Life.Tag, k[0].Coat, k[0].On})
		}
		sp := p.over(as)
		if err := sp.Air.Check(); err != nil {
			return out, err
		}
		plan := drying.Plan{Coat: p.Coat, CoatDay: c.now}
		if p.Temp != nil || p.RH != nil || p.Movement != nil {
			plan.Air = []drying.Span{sp}
		}
		if dates[i] > c.on {
			plan.CoatDay = c.Day(dates[i].Noon(c.Loc))
		}
		x := c.under(p, sp, plan)
		switch {
		case p.Bare:
			x.Coat = app.OrNull("bare")
		case p.Coat != "":
			x.Coat, x.CoatOn = app.OrNull(string(p.Coat)), app.DateOrNull(dates[i])
		}
		out.Cases = append(out.Cases, x)
	}
	return out, nil
}

// under is the wheel's case by a plan, in the air sp.
func (c choice) under(p Plan, sp drying.Span, plan drying.Plan) Case {
	o := c.Under(c.f, c.now, plan, c.gated)
	x := Case{
		Air: p.Name, Temp: app.Num(sp.Air.Temp), RH: app.PctNum(sp.Air.RH), Expected: app.ExpectedOf(o.Expected),
		Risks: []Risk{risk(Cracks, o.Crack), risk(Slime, o.Slime)}, Span: sp, On: o.Expected,
	}
	if o.Weep != nil {
		x.Risks = append(x.Risks, risk(Weeps, *o.Weep))
	}
	green := float64(c.GreenLeft(c.f))
	left := func(l quantity.Estimate) app.Est {
		return app.EstOf(quantity.Estimate{Best: green * (1 - l.Best), Low: green * (1 - l.High), High: green * (1 - l.Low)})
	}
	for _, d := range horizons {
		l := o.Forecast.Loss(float64(d))
		x.Losses = append(x.Losses, Band{float64(d), app.PctEst(l)})
		x.Weights = append(x.Weights, ToSell{float64(d), left(l)})
		l = o.Forecast.Loss(c.now + float64(d))
		x.Ahead = append(x.Ahead, Horizon{d, (c.on + day.Date(d)).String(), app.PctEst(l), left(l)})
	}
	return x
}

func risk(of string, r drying.Risk) Risk {
	return Risk{Of: of, Level: r.Level, Reasons: reason.List{r.Why}}
}
