package work

import (
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/wheel"
)

// PressQuestion asks for the pressure of a load, or for the load of a pressure. The
// mould is round, with a Diameter, or has sides.
type PressQuestion struct {
	Load          quantity.Grams   // 0: it is asked for
	Pressure      quantity.Pascals // wanted, where the load is asked for
	Lever         float64          // how many times the lever multiplies the load
	Diameter      quantity.Metres
	Length, Width quantity.Metres
}

// Press is the answer to a PressQuestion.
type Press struct {
	Schema   string   `json:"schema"`
	Asked    string   `json:"asked"` // pressure or load
	Load     *float64 `json:"load_g"`
	Lever    *float64 `json:"lever_ratio"`
	Face     *float64 `json:"surface_cm2"`
	Force    *float64 `json:"force_n"`
	KPa      *float64 `json:"pressure_kpa"`
	KgPerCm2 *float64 `json:"pressure_kg_cm2"`
	Psi      *float64 `json:"pressure_psi"`
	app.Cautioned
	Basis
}

// PressOf works out pressure from load and lever, or the load for a pressure.
func PressOf(q PressQuestion) (Press, error) {
	p := wheel.Press{Load: q.Load, Lever: q.Lever}
	r := Press{Schema: app.Schema("work-press"), Asked: "pressure", Lever: app.Num(q.Lever)}
	r.Warn(app.PressArm)
	r.uses("pressure", "press-surface", "pressure-units")
	var err error
	field := ""
	if q.Diameter > 0 {
		field = "diameter"
		p.Face, err = wheel.RoundFace(q.Diameter)
	} else {
		p.Face, err = wheel.SquareFace(q.Length, q.Width)
	}
	if err != nil {
		return r, app.At(field, misused(err))
	}
	if q.Load == 0 {
		r.Asked, p.Load = "load", p.LoadFor(q.Pressure)
	}
	if err := p.Check(); err != nil {
		return r, misused(err)
	}
	on := p.Pressure()
	r.Load, r.Face, r.Force = app.Num(p.Load), app.Num(p.FaceCm2()), app.Num(p.Force())
	r.KPa, r.Psi = app.Num(on.In(quantity.KilopascalPa)), app.Num(on.In(quantity.PoundPerInch2))
	r.KgPerCm2 = app.Num(on.In(quantity.KilogramPerCm2))
	return r, nil
}
