package work

import (
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/wheel"
)

// BrineQuestion asks about a brine of a strength.
type BrineQuestion struct {
	Strength quantity.Fraction  // salt over brine
	Volume   quantity.Litres    // to make of it, or to bring to it; 0: none
	Now      *quantity.Fraction // the strength the volume has now; nil: it is to be made
	Soak     *SoakQuestion      // how long a wheel stays in it; nil: not asked
}

// SoakQuestion asks how long a wheel stays in a brine. Salt is what the cheese
// should have; it and Moisture go together, for an estimate by diffusion.
type SoakQuestion struct {
	Weight         quantity.Grams
	Thick          quantity.Metres
	Salt, Moisture *quantity.Fraction
}

// BrineMix is what to add to a brine, or to make one of.
type BrineMix struct {
	Volume *float64 `json:"volume_l"`
	Now    *float64 `json:"now_pct"`
	To     *float64 `json:"to_pct"`
	Brine  *float64 `json:"brine_g"`
	Salt   *float64 `json:"salt_g"`
	Water  *float64 `json:"water_g"`
	After  *float64 `json:"volume_after_l"`
}

// Soak is a wheel's time in a brine.
type Soak struct {
	Weight    *float64       `json:"weight_g"`
	Thickness *float64       `json:"thickness_cm"`
	Rule      *float64       `json:"rule_h"`
	Diffusion *SoakDiffusion `json:"diffusion"`
}

// SoakDiffusion spans the published diffusivities; it isn't a 90 % interval.
type SoakDiffusion struct {
	Salt     *float64 `json:"salt_pct"`
	Moisture *float64 `json:"moisture_pct"`
	Shortest *float64 `json:"shortest_h"`
	Middle   *float64 `json:"middle_h"`
	Longest  *float64 `json:"longest_h"`
}

// Brine is the answer to a BrineQuestion.
type Brine struct {
	Schema    string    `json:"schema"`
	Salt      *float64  `json:"salt_pct"`
	PerBrine  *float64  `json:"salt_g_per_100g_brine"`
	PerWater  *float64  `json:"salt_g_per_100g_water"`
	Density   *float64  `json:"density_g_ml"`
	Gravity   *float64  `json:"specific_gravity_60f"`
	Baume     *float64  `json:"baume"`
	Salometer *float64  `json:"salometer_deg"`
	Freezing  *float64  `json:"freezing_c"`
	SaltFirst bool      `json:"salt_before_ice"`
	New       *BrineMix `json:"new_brine"`
	Back      *BrineMix `json:"bring_back"`
	Time      *Soak     `json:"time_in_brine"`
	app.Cautioned
	Basis
}

// BrineOf works out what a brine is like, what it takes, and how long a wheel stays
// in it.
func BrineOf(q BrineQuestion) (Brine, error) {
	b, err := wheel.BrineOf(q.Strength)
	if err != nil {
		return Brine{}, misused(err)
	}
	r := Brine{
		Schema: app.Schema("work-brine"), Salt: app.PctNum(b.Strength), PerBrine: app.PctNum(b.Strength),
		PerWater: app.PctNum(b.PerWater), Density: app.Num(b.Density), Gravity: app.Num(b.SG60), Baume: app.Num(b.Baume),
		Salometer: app.Num(b.Salometer), Freezing: app.Num(b.Freezing), SaltFirst: b.SaltFirst,
	}
	r.Warn(app.Brine)
	r.uses("per-water", "brine-density", "baume", "salometer", "brine-freezing")
	if q.Volume > 0 {
		if err := r.mix(q); err != nil {
			return r, misused(err)
		}
	}
	if q.Soak != nil {
		if err := r.soak(q.Strength, *q.Soak); err != nil {
			return r, misused(err)
		}
	}
	return r, nil
}

// mix works out what makes the volume a brine of the strength.
func (r *Brine) mix(q BrineQuestion) error {
	var x wheel.Mix
	var err error
	if q.Now == nil {
		r.uses("new-brine")
		x, err = wheel.NewBrine(q.Volume, q.Strength)
	} else {
		r.uses("bring-back")
		x, err = wheel.CorrectBrine(q.Volume, *q.Now, q.Strength)
	}
	m := BrineMix{
		Volume: app.Num(q.Volume), To: app.PctNum(q.Strength), Brine: app.Grams(x.Before),
		Salt: app.Num(x.Salt), Water: app.Num(x.Water), After: app.Num(x.Volume),
	}
	if q.Now == nil {
		r.New = &m
	} else {
		m.Now = app.PctNum(*q.Now)
		r.Back = &m
	}
	return err
}

func (r *Brine) soak(strength quantity.Fraction, q SoakQuestion) error {
	rule := wheel.BrineTimeByRule(q.Weight, q.Thick)
	r.Time = &Soak{Weight: app.Num(q.Weight), Thickness: app.Num(q.Thick.Centimetres()), Rule: app.Num(rule)}
	r.uses("brine-rule")
	if q.Salt == nil || q.Moisture == nil {
		return nil
	}
	t, err := wheel.Soak{Weight: q.Weight, Thick: q.Thick, Brine: strength, Salt: *q.Salt, Moisture: *q.Moisture}.Time()
	r.Time.Diffusion = &SoakDiffusion{
		app.PctNum(*q.Salt), app.PctNum(*q.Moisture), app.Num(t.Short), app.Num(t.Middle), app.Num(t.Long),
	}
	r.uses("brine-diffusion")
	return err
}
