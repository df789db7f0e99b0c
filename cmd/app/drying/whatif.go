package drying

import (
	"context"
	"math"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

// OtherAir is an air to compare with; what is nil stays as it is.
type OtherAir struct {
	Name     string // as it was asked for
	Temp     *quantity.Celsius
	RH       *quantity.Fraction
	Movement *air.Movement
}

// over is an air with the other's conditions in its place.
func (o OtherAir) over(s drying.Span) drying.Span {
	if o.Temp != nil {
		s.Air.Temp = *o.Temp
	}
	if o.RH != nil {
		s.Air.RH = *o.RH
	}
	if o.Movement != nil {
		s.Movement = *o.Movement
	}
	return s
}

// WhatIf is what other air would make of wheels.
type WhatIf struct {
	Schema string   `json:"schema"`
	Wheels []Choice `json:"wheels"`
}

// Choice is what one wheel comes to in each air, the first of them its own.
type Choice struct {
	Wheel string `json:"wheel"`
	Cases []Case `json:"cases"`

	Of verdict.Case `json:"-"`
}

// Case is what one wheel comes to in one air.
type Case struct {
	Air      string        `json:"air"`
	Temp     *float64      `json:"temp_c"`
	RH       *float64      `json:"rh_pct"`
	Expected *app.Expected `json:"expected_on"`
	Losses   []Band        `json:"loss"`
	Weights  []ToSell      `json:"to_sell"`

	Span drying.Span       `json:"-"`
	On   *verdict.Expected `json:"-"`
}

// ToSell is what a wheel weighs on a day since drying began.
type ToSell struct {
	Day   float64 `json:"day"`
	Grams app.Est `json:"weight_g"`
}

// ages are the days since drying began on which cases are compared.
var ages = []float64{30, 90, 180}

// Compare says what other airs, from now on, would make of the wheels named.
func Compare(ctx context.Context, a *app.App, c app.Caller, what []string, airs []OtherAir) (WhatIf, error) {
	return app.Ask(ctx, a, c, func(s *app.Session) (WhatIf, error) {
		w := WhatIf{Schema: app.Schema("dry-if"), Wheels: []Choice{}}
		at, _, err := s.AsOf()
		if err != nil {
			return w, err
		}
		ws, err := s.Pick(what)
		if err != nil {
			return w, err
		}
		for _, st := range ws {
			c, err := s.CaseAt(st, at)
			if err == nil {
				err = s.Ctx.Err()
			}
			if err != nil {
				return w, err
			}
			x, err := choice(c, math.Max(0, c.Day(at)), airs)
			if err != nil {
				return w, app.At("if", err)
			}
			w.Wheels = append(w.Wheels, x)
		}
		return w, nil
	})
}

func choice(c verdict.Case, now float64, airs []OtherAir) (Choice, error) {
	f := c.Forecast()
	as := drying.Span{Air: air.State{Temp: 12, RH: 0.85}, Movement: air.Gentle}
	if n := len(c.Air); n > 0 {
		as = c.Air[n-1]
	}
	x := Choice{Wheel: c.Life.Tag, Cases: []Case{caseOf("as it is", as, c, f)}, Of: c}
	for _, o := range airs {
		sp := o.over(as)
		if err := sp.Air.Check(); err != nil {
			return x, err
		}
		x.Cases = append(x.Cases, caseOf(o.Name, sp, c, f.WithAir(now, []drying.Span{sp})))
	}
	return x, nil
}

func caseOf(name string, sp drying.Span, c verdict.Case, f drying.Forecast) Case {
	x := Case{
		Air: name, Temp: app.Num(sp.Air.Temp), RH: app.PctNum(sp.Air.RH), Losses: []Band{}, Weights: []ToSell{}, Span: sp,
	}
	if len(c.Life.Coats) == 0 {
		x.On = c.ExpectedBy(f)
		x.Expected = app.ExpectedOf(x.On)
	}
	green := c.GreenLeft(f)
	for _, d := range ages {
		l := f.Loss(d)
		x.Losses = append(x.Losses, Band{d, app.PctEst(l)})
		x.Weights = append(x.Weights, ToSell{d, app.EstOf(left(green, l))})
	}
	return x
}

// left is what a wheel of a green weight weighs after a loss, grams.
func left(green quantity.Grams, loss quantity.Estimate) quantity.Estimate {
	g := float64(green)
	return quantity.Estimate{Best: g * (1 - loss.Best), Low: g * (1 - loss.High), High: g * (1 - loss.Low)}
}
