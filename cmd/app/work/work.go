// Package work has the calculators: salt, brine, press, yield, moisture, air and
// drying curves. They need no book. Each takes a question and gives an answer, in
// the units of their JSON fields.
package work

import (
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/wheel"
)

// Formula names a formula that an answer comes from. cmd/words has each in full,
// with its source.
type Formula string

// Explained is a formula in full, and where it comes from.
type Explained struct {
	Formula string `json:"formula"`
	Source  string `json:"source"`
}

// Basis is what an answer comes from. Explain is empty until words fills it in.
type Basis struct {
	Formulas []Formula   `json:"-"`
	Explain  []Explained `json:"explain,omitempty"`
}

// Explanation gives the basis of any answer.
func (b *Basis) Explanation() *Basis { return b }

func (b *Basis) uses(fs ...Formula) { b.Formulas = append(b.Formulas, fs...) }

// misused is an error about a question's figures: the question, not the facts, is
// to blame.
func misused(err error) error {
	r := app.AsRefusal(err)
	r.Kind = app.Misused
	return r
}

// MoreLostThanWater refuses a loss greater than the water there was.
type MoreLostThanWater struct {
	Loss  quantity.Fraction `json:"loss_fraction"`
	Water quantity.Fraction `json:"water_fraction"`
}

// MoreThanWhole refuses parts that come to more than the cheese.
type MoreThanWhole struct {
	Sum quantity.Fraction `json:"sum_fraction"`
}

func (MoreLostThanWater) Code() string { return "more-lost-than-water" }
func (MoreThanWhole) Code() string     { return "more-than-whole" }

// SaltQuestion asks for the salt of a weight of curd.
type SaltQuestion struct {
	Curd     quantity.Grams
	Rate     quantity.Fraction  // salt over curd
	Moisture *quantity.Fraction // of the cheese, for its salt in moisture
	Kept     quantity.Fraction  // of the salt, by the cheese
}

// Salt is the answer to a SaltQuestion.
type Salt struct {
	Schema string   `json:"schema"`
	Curd   *float64 `json:"curd_g"`
	Rate   *float64 `json:"rate_pct"`
	Salt   *float64 `json:"salt_g"`
	SM     *float64 `json:"salt_in_moisture_pct"`
	Kept   *float64 `json:"-"` // percent
	Basis
}

// SaltFor works out the salt for a weight of curd.
func SaltFor(q SaltQuestion) (Salt, error) {
	r := Salt{
		Schema: app.Schema("work-salt"), Curd: app.Num(q.Curd), Rate: app.PctNum(q.Rate),
		Salt: app.Num(wheel.SaltFor(q.Curd, q.Rate)), Kept: app.PctNum(q.Kept),
	}
	r.uses("salt")
	if q.Moisture == nil {
		return r, nil
	}
	if *q.Moisture == 0 {
		return r, app.Refuse(wheel.NoMoisture).In("moisture")
	}
	r.SM = app.PctNum(wheel.SaltInMoisture(q.Rate*q.Kept, *q.Moisture))
	r.uses("salt-in-moisture")
	return r, nil
}

// MoistureQuestion asks what a cheese is like after a loss. Fat and Salt are nil
// where they aren't known; all are of the cheese at the start.
type MoistureQuestion struct {
	Start, Loss quantity.Fraction
	Fat, Salt   *quantity.Fraction
}

// Moisture is the answer to a MoistureQuestion.
type Moisture struct {
	Schema   string   `json:"schema"`
	Moisture *float64 `json:"moisture_pct"`
	MFFB     *float64 `json:"mffb_pct"`
	FDM      *float64 `json:"fdm_pct"`
	SM       *float64 `json:"salt_in_moisture_pct"`
	Activity *float64 `json:"water_activity"`
	Firmness []string `json:"firmness"`
	FatClass *string  `json:"fat_class"`
	Basis
}

// MoistureAfter works out moisture and its ratios after a loss.
func MoistureAfter(q MoistureQuestion) (Moisture, error) {
	start := wheel.Composition{Moisture: q.Start}
	if q.Fat != nil {
		start.Fat = *q.Fat
	}
	if q.Salt != nil {
		start.Salt = *q.Salt
	}
	r := Moisture{Schema: app.Schema("work-moisture"), Firmness: []string{}}
	if q.Loss > q.Start {
		return r, app.Refuse(MoreLostThanWater{q.Loss, q.Start}).In("loss")
	}
	if sum := start.Moisture + start.Fat + start.Salt; sum > 1 {
		return r, app.Refuse(MoreThanWhole{sum}).In("start")
	}
	n := start.After(q.Loss)
	r.Moisture = app.Num(100 * n.Moisture.Best)
	r.uses("moisture")
	if q.Fat != nil {
		r.uses("mffb", "fdm")
		r.MFFB, r.FDM = app.Num(100*n.MFFB.Best), app.Num(100*n.FDM.Best)
		r.Firmness = app.Filled(wheel.Firmness(quantity.Fraction(n.MFFB.Best)))
		class := wheel.FatClass(quantity.Fraction(n.FDM.Best))
		r.FatClass = &class
	}
	if q.Salt != nil {
		r.uses("salt-in-moisture", "water-activity")
		r.SM, r.Activity = app.Num(100*n.SaltInMoisture.Best), app.Num(n.WaterActivity.Best)
	}
	return r, nil
}
