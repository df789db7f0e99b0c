package drying

import (
	"cmp"
	"math"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/wheel/drying/volume"
	"rindkeep/wheel/shape"
)

// Inputs are the figures of a sum on the bench, for a wheel that is in no book.
type Inputs struct {
	Weight      quantity.Grams
	Shape       shape.Shape
	Moisture    quantity.Fraction // 0: of the group
	Salt        quantity.Fraction // 0: of the group
	Fat         quantity.Fraction // 0: of the group
	Group       Group             // empty: hard
	Air         []Span
	Coats       []CoatOn
	Diffusivity float64 // m2/s at the air's temperature; 0: of the group
	Transfer    float64 // kg/(m2 s Pa), surface to air; 0: from the movement
	Linear      bool    // linear surface law with constant balance moisture
	Days        int     // 1 to 3650
}

// BenchPoint is the loss on a day.
type BenchPoint struct {
	Day  int
	Loss quantity.Estimate // fraction of green weight, 90 %
}

// BenchResult is what Bench finds, with the inputs it used.
type BenchResult struct {
	FirstDayRate    float64 // fraction of green weight per day
	RootDayRate     float64 // fraction of green weight per square root of a day
	Points          []BenchPoint
	StartMoisture   quantity.Fraction // wet basis
	BalanceMoisture quantity.Fraction // wet basis, in balance with the first air
	Transfer        float64           // kg/(m2 s Pa)
	Diffusivity     float64           // m2/s
	BiotHeight      float64           // k_s (height/2)/D
	BiotRadius      float64           // k_s radius/D; of a block half its shorter side for the radius
}

// pinnedSD is the spread left to the log of a multiplier whose input was given: our
// choice.
const pinnedSD = 0.05

// NoCurve is figures that no curve comes out of.
const NoCurve = reason.Flat("no-curve")

// Bench works out the expected curve of a wheel from its figures. It refuses what
// Cheese.Check and CheckAir refuse, no weight or shape, days outside 1 to 3650, and
// a diffusivity or transfer that is negative, no number, or over a bound of our own,
// far past what cheese and rooms have.
func Bench(in Inputs) (BenchResult, error) {
	c := Cheese{Green: in.Weight, Shape: in.Shape, Moisture: in.Moisture, Salt: in.Salt, Fat: in.Fat, Group: in.Group}
	err := cmp.Or(
		c.Check(), CheckAir(in.Air), reason.Within("days", in.Days, 1, 3650),
		reason.Within("diffusivity", in.Diffusivity, 0, 1e-6), reason.Within("surface-transfer", in.Transfer, 0, 1e-3),
	)
	if err != nil {
		return BenchResult{}, err
	}
	s := Subject{Cheese: c, Air: in.Air, Coats: in.Coats}
	full := c.filled()
	diff12 := 0.0
	if in.Diffusivity > 0 {
		at := defaultAir.Air.Temp
		if len(in.Air) > 0 {
			at = in.Air[0].Air.Temp
		}
		diff12 = in.Diffusivity / diffusivityAt(1, at)
	}
	f := estimate(s, full, newCourse(full, in.Air, in.Coats, math.Max(float64(in.Days), 30), diff12, in.Transfer))
	if in.Diffusivity > 0 { // pinned: no spread between makers
		f.prior.set(kInside, f.prior.mean[kInside], pinnedSD)
	}
	if in.Transfer > 0 {
		f.prior.set(kAir, f.prior.mean[kAir], pinnedSD)
	}
	p := f.course.plant
	r := BenchResult{
		StartMoisture:   f.cheese.Moisture,
		BalanceMoisture: fraction(p.balance(0)),
		FirstDayRate:    f.FirstDayRate().Best,
		RootDayRate:     f.RootDayRate().Best,
		Diffusivity:     p.diffusivity(0) / 86400,
		Transfer:        p.sites[0].transfer,
	}
	ks := p.biotSpeed(0)
	sh := f.cheese.Shape
	across := sh.Diameter
	switch sh.Form {
	case shape.Block:
		across = min(sh.Length, sh.Width)
	case shape.Pyramid:
		across = (sh.Length + sh.TopLength) / 2
	}
	r.BiotHeight = ks * float64(sh.Height) / 2 / r.Diffusivity
	r.BiotRadius = ks * float64(across) / 2 / r.Diffusivity
	var linear []float64
	if in.Linear {
		linear = linearLoss(f.cheese, p, ks, in.Days)
	}
	for d := 0; d <= in.Days; d++ {
		e := f.Expected(float64(d))
		if in.Linear && d > 0 { // the linear law's curve, with the band's width kept
			e = quantity.Estimate{Best: linear[d], Low: linear[d] * e.Low / e.Best,
				High: math.Min(linear[d]*e.High/e.Best, f.water())}
		}
		if math.IsNaN(e.Best) {
			return BenchResult{}, reason.Err(NoCurve)
		}
		r.Points = append(r.Points, BenchPoint{d, e})
	}
	return r, nil
}

// linearLoss runs the finite volumes with the linear surface law in the air of
// the start: the loss on every day from 0. Past day 60 it steps over days and
// fills in between. The steps are our choice.
func linearLoss(c Cheese, p *plant, ks float64, days int) []float64 {
	out := make([]float64, days+1)
	b := finiteBody(c.Shape, p.x0, volume.Fine)
	law := volume.Linear{Transfer: ks, Balance: p.balance(0)}
	diff := p.diffusivity(0) / 86400
	day, t := 0, 0.0
	for day < days {
		next := min(day+max(1, day/60), days)
		for t < float64(next)-1e-9 {
			dt := math.Min(math.Max(0.01, 0.02*t), float64(next)-t)
			b.Step(dt*86400, diff, law)
			t += dt
		}
		out[next] = p.dry * (p.x0 - b.Mean())
		for k := day + 1; k < next; k++ {
			f := (math.Sqrt(float64(k)) - math.Sqrt(float64(day))) / (math.Sqrt(float64(next)) - math.Sqrt(float64(day)))
			out[k] = out[day] + f*(out[next]-out[day])
		}
		day = next
	}
	return out
}

// finiteBody is the true geometry of a shape; a truncated pyramid is taken as
// the block of its height and volume on a square base.
func finiteBody(s shape.Shape, x0 float64, g volume.Grid) *volume.Body {
	d, h := float64(s.Diameter), float64(s.Height)
	switch s.Form {
	case shape.Block:
		return volume.Block(float64(s.Length), float64(s.Width), h, x0, g.For(3))
	case shape.Sphere:
		return volume.Sphere(d/2, x0, g)
	case shape.Pyramid:
		side := math.Sqrt(s.Volume() / h)
		return volume.Block(side, side, h, x0, g.For(3))
	}
	return volume.Cylinder(d/2, h, x0, g)
}
