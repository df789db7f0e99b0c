package drying

import (
	"math"
	"runtime"
	"sync"

	"rindkeep/wheel/shape"
)

// Estimates fits many wheels, as Estimate would each, on all processors. Bare
// wheels of like kind (same group, composition, proportions and air, sizes
// within a few percent) share one table of the physics, so that a hundred
// thousand weighed wheels take seconds; what the table costs in nearness stays
// under 0.1 points of loss where there are weighings. Subjects that are to
// share must hold the same Air slice, or air of at most two spans. How many share one
// table is our choice.
func Estimates(subjects []Subject) []Forecast {
	out := make([]Forecast, len(subjects))
	fleets := map[kind]*fleet{}
	order := make([]*fleet, 0, 16)
	for i, s := range subjects {
		c := sane(s.Cheese).filled()
		k, ok := kindOf(c, s)
		if !ok {
			order = append(order, &fleet{members: []member{{i, c}}, alone: true})
			continue
		}
		f := fleets[k]
		if f == nil || len(f.members) >= 2000 {
			f = &fleet{}
			fleets[k] = f
			order = append(order, f)
		}
		f.members = append(f.members, member{i, c})
	}
	next := make(chan *fleet)
	var wg sync.WaitGroup
	for range max(1, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			var sv solver
			for f := range next {
				f.fit(subjects, out, &sv)
			}
		})
	}
	for _, f := range order {
		next <- f
	}
	close(next)
	wg.Wait()
	return out
}

// kind is what wheels must share to share a table.
type kind struct {
	group               Group
	form                shape.Form
	slim, narrow        float64 // proportions, rounded to 2 %
	moisture, fat, salt float64
	size                int // bins of a tenth of the surface to volume
	air                 *Span
	spans               int
	one, two            Span
}

// kindOf is the kind of a wheel; ok is false for one that is fitted by itself. How
// finely proportions and size are told apart is our choice, by
// TestManyWheelsAtOnceGetWhatEachWouldGetAlone.
func kindOf(c Cheese, s Subject) (kind, bool) {
	if len(s.Coats) > 0 || len(s.Points) == 0 || c.Age > 0 {
		return kind{}, false
	}
	v := c.Shape.Volume()
	across := math.Max(float64(c.Shape.Diameter), float64(c.Shape.Length))
	round := func(x float64) float64 {
		if !(x > 0) {
			return 0
		}
		return math.Round(math.Log(x) * 50)
	}
	k := kind{
		group: c.Group, form: c.Shape.Form,
		slim: round(float64(c.Shape.Height) / across), narrow: round(float64(c.Shape.Width+c.Shape.TopLength) / across),
		moisture: float64(c.Moisture), fat: float64(c.Fat), salt: float64(c.Salt),
		size: int(math.Floor(10 * math.Log(c.Shape.Surface()/v))), spans: len(s.Air),
	}
	switch {
	case len(s.Air) == 0:
	case len(s.Air) <= 2:
		k.one = s.Air[0]
		if len(s.Air) == 2 {
			k.two = s.Air[1]
		}
	default:
		k.air = &s.Air[0]
	}
	return k, true
}

type member struct {
	index  int
	cheese Cheese
}

// fleet is wheels that share a table.
type fleet struct {
	members []member
	alone   bool
}

func (f *fleet) fit(subjects []Subject, out []Forecast, sv *solver) {
	if f.alone || len(f.members) < 4 {
		for _, m := range f.members {
			s := subjects[m.index]
			out[m.index] = estimate(s, m.cheese, newCourse(m.cheese, saneAir(s.Air), saneCoats(s.Coats), horizon(s), 0, 0))
		}
		return
	}
	last, far := 0.0, 0.0
	for _, m := range f.members {
		far = math.Max(far, horizon(subjects[m.index]))
		for _, p := range subjects[m.index].Points {
			if p.usable() {
				last = math.Max(last, p.Day)
			}
		}
	}
	first := f.members[0]
	lead := newCourse(first.cheese, saneAir(subjects[first.index].Air), nil, far, 0, 0)
	t := newTable(lead, last)
	for _, m := range f.members {
		s := subjects[m.index]
		co := lead.forCheese(m.cheese)
		fc := unfitted(s, m.cheese, co)
		order := usableByDay(s.Points)
		if fc.used = len(order); fc.used > 0 {
			sv.load(&s, co, order)
			shift := [2]float64{
				math.Log(co.plant.ratio / co.plant.density * lead.plant.density / lead.plant.ratio),
				math.Log(co.plant.ratio / lead.plant.ratio),
			}
			r := sv.fit(sv.tabled(t, shift), &fc.prior, fc.play, fc.prior.mean, math.Inf(1))
			if sv.flags() || sv.stepAt() >= 0 { // the table knows neither
				fc.fit(sv, nil)
			} else {
				fc.theta, fc.cov = r.theta, r.cov
				fc.keep(sv)
			}
		}
		fc.settle()
		out[m.index] = fc
	}
}

// forCheese is the course of a wheel of like kind: same windows and air, its own
// size.
func (co *course) forCheese(c Cheese) *course {
	p := *co.plant
	v := c.Shape.Volume()
	scale := p.ratio * v / c.Shape.Surface() // of length
	p.density = (1 - float64(c.Moisture)) * c.Green.Kilograms() / v
	p.area = c.Shape.Surface() / c.Green.Kilograms()
	p.ratio = c.Shape.Surface() / v
	p.modes.rate = make([]float64, len(co.plant.modes.rate))
	for i, r := range co.plant.modes.rate {
		p.modes.rate[i] = r / (scale * scale)
	}
	p.modes = p.modes.summed()
	out := *co
	out.plant = &p
	out.toAir[0].first *= p.area / co.plant.area
	out.toAir[0].root *= p.ratio / co.plant.ratio
	return &out
}
