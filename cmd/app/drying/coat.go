package drying

import (
	"context"
	"slices"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/derive"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

// Coating asks to record a coat. Weights are 0 where nobody took one.
type Coating struct {
	What   []string // tags, lots, places
	Coat   drying.Coat
	Before quantity.Grams // with Before or After, What names one wheel
	After  quantity.Grams
	Note   string
	Sure   bool // weights that look wrong are taken
}

// Coated is what was recorded of a coat.
type Coated struct {
	Schema string   `json:"schema"`
	At     string   `json:"at"`
	Coat   string   `json:"coat"`
	Wheels []string `json:"wheels"`
	Tare   *float64 `json:"coat_g"`
	Same   bool     `json:"no_change"` // it was in the book already
	app.Cautioned

	Remarks []string `json:"remarks"` // filled by cmd/words

	When  time.Time      `json:"-"` // in the book's zone; zero: now
	Mass  quantity.Grams `json:"-"` // of the coat; 0: not known
	Again []CoatedBefore `json:"-"` // wheels that had such a coat
	Other []CoatOfPlan   `json:"-"` // wheels whose plan asks for other coats, or none
	Early []Verdict      `json:"-"` // wheels that were not ready by their gate
}

// CoatOfPlan is a wheel's plan and the coats that it asks for.
type CoatOfPlan struct {
	Wheel, Plan string
	Coats       []string
}

// CoatedBefore is a wheel that had such a coat already, and since when.
type CoatedBefore struct {
	Wheel string
	Coat  drying.Coat
	Since day.Date
}

// Verdict is the verdict on a wheel.
type Verdict struct {
	Wheel string
	Dry   verdict.Dry
}

// OneByOne refuses weights round a coat of several wheels.
const OneByOne reason.Flat = "weights-of-one-wheel"

// Coat records that wheels were coated. It is recorded of a wheel that wasn't ready
// too, as the book says what happened.
func Coat(ctx context.Context, a *app.App, c app.Caller, q Coating) (app.Did[Coated], error) {
	if q.Before > 0 && q.After > 0 && q.After < q.Before {
		why := wheel.AfterLess{Event: wheel.CoatedOn, After: q.After, Before: q.Before}
		return app.Did[Coated]{}, app.Refuse(why).In("after")
	}
	return app.ActOn(ctx, a, c, func(s *app.Session) (Coated, error) { return coat(s, q) }, (*Coated).add)
}

// add adds what was recorded of more wheels.
func (d *Coated) add(o Coated) {
	d.Wheels, d.Same = append(d.Wheels, o.Wheels...), d.Same && o.Same
	d.Again, d.Other, d.Early = append(d.Again, o.Again...), append(d.Other, o.Other...), append(d.Early, o.Early...)
	d.Warn(o.Hazards()...)
}

func coat(s *app.Session, q Coating) (Coated, error) {
	d := Coated{Schema: app.Schema("coat"), Coat: string(q.Coat)}
	if q.Before > 0 && q.After > 0 {
		d.Tare = app.Grams(q.After - q.Before)
	}
	e := wheel.Entry{Kind: wheel.CoatedOn, Coat: string(q.Coat), Before: q.Before, Weight: q.After, Note: q.Note}
	named := 0
	r, err := s.Record(q.What, func(st derive.WheelState) (wheel.Entry, error) {
		if named++; named > 1 && (q.Before > 0 || q.After > 0) {
			return e, app.Misuse("before", OneByOne)
		}
		if err := s.Reweighed(st, e, q.Sure); err != nil {
			return e, err
		}
		return e, d.look(s, st)
	})
	d.At, d.When, d.Wheels, d.Same = app.Instant(r.At, s.Zone), s.Earlier(r.At), app.Tags(r.Wheels), r.Written == 0
	if q.Before > 0 && q.After > 0 {
		d.Mass = q.After - q.Before
	}
	if err != nil {
		return d, err
	}
	hs, err := s.Hazards(wheel.Coat, d.Coat, r.Wheels)
	d.Warn(hs...)
	return d, err
}

// look notes what speaks against a coat on a wheel: that it has one already (oil is
// rubbed in again and again), that its plan asks for another, that its gate isn't open.
func (d *Coated) look(s *app.Session, st derive.WheelState) error {
	at, _, err := s.Moment()
	if err != nil {
		return err
	}
	c, err := s.CaseAt(st, at)
	if err != nil {
		return err
	}
	p, err := s.PlanOf(c.Life.Plan)
	if err != nil {
		return err
	}
	since := day.None
	for _, x := range c.Life.Coats {
		if x.Coat == d.Coat {
			since = x.On
		}
	}
	oil := d.Coat == string(drying.Oil)
	if since != day.None && !oil {
		d.Again = append(d.Again, CoatedBefore{st.Tag, drying.Coat(d.Coat), since})
	}
	if len(c.Life.Coats) > 0 {
		return nil
	}
	if !oil && !slices.Contains(p.Coats(), d.Coat) {
		d.Other = append(d.Other, CoatOfPlan{st.Tag, p.Name, p.Coats()})
	}
	if _, gated := p.GateCoat(); !gated {
		return nil
	}
	if v := c.Dry(at); v.Answer != verdict.DryEnough && v.Answer != verdict.TooDry {
		d.Early = append(d.Early, Verdict{st.Tag, v})
	}
	return nil
}
