package drying

import (
	"math"

	"rindkeep/cave/air"
)

// plant is the physics of one wheel in its air, ready to be run: everything
// that does not change while the two multipliers do.
type plant struct {
	windows []window
	steps   []step
	x0      float64
	law     sorption
	solids  float64 // dry solids, fraction of green weight
	area    float64 // m2 per kg of green weight
	ratio   float64 // surface to volume, 1/m
	diff12  float64 // m2/s at 12 C
}

// step is what one window means for the wheel, per unit of green weight.
type step struct {
	days     float64
	first    float64 // wet-surface rate at multiplier 1, fraction/day per unit of aw over balance
	vapour   float64 // RH at the surface's reference
	balance  float64 // X in balance with the air
	diff     float64 // m2/day
	wet      float64 // wet-surface rate at the starting activity, fraction/day
	resist   float64 // coat's resistance over the air's
	fromDays float64
}

// newPlant prepares a filled cheese.
func newPlant(c Cheese, w []window) *plant {
	x0, saltDry, protein := c.dry()
	p := &plant{
		windows: w, x0: x0, law: sorptionOf(saltDry, protein),
		solids: 1 - float64(c.Moisture),
		area:   c.Shape.Surface() / c.Green.Kilograms(),
		ratio:  c.Shape.Surface() / c.Shape.Volume(),
		diff12: defaultsOf(c.Group).diffusivity,
	}
	aw0 := p.law.activity(x0)
	p.steps = make([]step, len(w))
	for i, win := range w {
		s := win.state()
		psat := float64(air.SaturationPressure(s.Temp))
		k := air.TransferOf(win.convection, s)
		h := win.convection + air.Radiation(s.Temp)
		lam := air.LatentHeat(s.Temp)
		// Cooling, linearised about the air: the surface is colder by
		// lambda flux/h, so the flux falls as if k were smaller.
		eff := k / (1 + k*lam*aw0*air.SaturationSlope(s.Temp)/h)
		p.steps[i] = step{
			days: win.to - win.from, fromDays: win.from,
			first:   eff * psat * p.area * 86400,
			vapour:  float64(s.RH),
			balance: p.law.balance(math.Min(float64(s.RH), aw0)),
			diff:    diffusivityAt(p.diff12, s.Temp) * 86400,
			wet:     math.Max(0, eff*psat*(aw0-float64(s.RH))*p.area*86400),
			resist:  win.coat,
		}
	}
	return p
}

// run fills out[i] with the loss at the end of window i for the multipliers'
// logs: of the air side, of the inside (the square root of the diffusivity) and
// of the coat's resistance.
func (p *plant) run(la, lb, lc float64, out []float64) {
	ka, kb, kc := math.Exp(la), math.Exp(lb), math.Exp(lc)
	water := 1 - p.solids
	var q, s2, t float64
	for i, st := range p.steps {
		t += st.days
		q += st.days * st.wet * ka / (1 + kc*st.resist)
		drive := p.solids * math.Max(0, p.x0-st.balance) * p.ratio * kb
		s2 += st.days * drive * drive * 4 * st.diff / math.Pi
		l := Curve(q/t, math.Sqrt(s2/t), t)
		cap := p.solids * math.Max(0, p.x0-st.balance)
		l = cap * -math.Expm1(-l/math.Max(cap, 1e-9))
		if i > 0 {
			l = math.Max(l, out[i-1])
		}
		out[i] = math.Min(l, water)
	}
}
