package verdict

import (
	"math"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/shape"
	"rindkeep/wheel/variety"
)

// Doubt is why a weighing looks wrong. Sister is the tag of a sister wheel the
// weight would fit better, or "".
type Doubt struct {
	Why    reason.Reason
	Sister string
}

// With is the case with further entries.
func (c Case) With(es ...wheel.Entry) Case {
	c.Life = wheel.NewLife(c.Life.Wheel, c.Life.Make, slices.Concat(c.Life.Entries, es), c.Loc, nil)
	return New(c)
}

// Doubts looks at the weighings of a case that are new, by their entries, and
// says which look wrong and why: heavier than before, far off the curve that
// everything else makes, from before drying began, of another size than the
// lot. The forecast must be the case's own, new weighings included.
func (c Case) Doubts(f drying.Forecast, fresh func(entry uuid.UUID) bool) map[uuid.UUID]Doubt {
	var out map[uuid.UUID]Doubt
	doubt := func(p wheel.LossPoint, sister bool, why reason.Reason) {
		d := Doubt{Why: why}
		if sister && !c.aloof {
			d.Sister = c.fits(p.Gross, p.At)
		}
		if out == nil {
			out = map[uuid.UUID]Doubt{}
		}
		out[p.Entry] = d
	}
	points := c.Life.Chain.Points
	var unlikely map[uuid.UUID]bool
	known := 0 // weighings that were there before
	for _, p := range points {
		if !fresh(p.Entry) {
			known++
		}
	}
	for i, p := range points {
		if !fresh(p.Entry) {
			continue
		}
		if i == 0 {
			if known > 0 {
				doubt(p, false, BeforeGreen{})
			} else if why := c.oddSize(p.Gross); why != nil {
				doubt(p, true, why)
			} else if why := c.late(p.At); why != nil {
				doubt(p, false, why)
			}
			continue
		}
		was := points[i-1]
		if c.heavier(p, was) {
			if unlikely == nil {
				unlikely = c.unlikelyBefore(fresh)
			}
			for k := i - 2; k >= 0 && (out[was.Entry] != Doubt{} || unlikely[was.Entry]); k-- {
				was = points[k]
			}
		}
		why := c.doubt(f, i, was)
		if _, fast := why.(FasterThanWet); fast && out[was.Entry] != (Doubt{}) {
			why = nil // the one before is
		}
		if why != nil {
			doubt(p, true, why)
		}
	}
	return out
}

// doubt is why a weighing of the chain looks wrong, by the curve that everything
// else makes and an earlier one that is believed; nil where it does not.
func (c Case) doubt(f drying.Forecast, i int, was wheel.LossPoint) reason.Reason {
	p := c.Life.Chain.Points[i]
	heavier, fast := c.heavier(p, was), c.tooFast(f, p, was)
	if !heavier && !fast && !f.Unlikely(i) {
		return nil
	}
	s := f.Standing(i)
	off := float64(s.Loss) - s.Expected.Best
	if c.sistersShift(i, s) {
		return nil
	}
	switch {
	case heavier && float64(s.Loss) < s.Expected.Low && -off > c.dampGain(f, p, was):
		return Heavier{quantity.Grams(math.Round(float64(p.Gross - was.Gross))), was.Gross, was.At}
	case s.Verdict == drying.Unlikely:
		low := quantity.Fraction(math.Max(0, s.Expected.Low))
		return OffCurve{tenth(s.Loss), tenth(low), tenth(quantity.Fraction(s.Expected.High))}
	case fast:
		lost := (was.Retained - p.Retained) * float64(c.Life.Chain.Green)
		return FasterThanWet{quantity.Grams(math.Round(lost)), was.At}
	}
	return nil
}

// believed is the latest weighing that is not in doubt, by its place in the chain,
// with the latest that is and why; -1 and nil where there is none.
func (c Case) believed(f drying.Forecast) (last, doubtful int, why reason.Reason) {
	points := c.Life.Chain.Points
	doubtful = -1
	for last = len(points) - 1; last > 0; last-- {
		was := last - 1
		for was > 0 && f.Unlikely(was) {
			was--
		}
		w := c.doubt(f, last, points[was])
		if w == nil {
			break
		}
		if doubtful < 0 {
			doubtful, why = last, w
		}
	}
	return last, doubtful, why
}

// unlikelyBefore are the weighings that were unlikely before the new ones came.
func (c Case) unlikelyBefore(fresh func(entry uuid.UUID) bool) map[uuid.UUID]bool {
	kept := slices.DeleteFunc(slices.Clone(c.Life.Entries), func(e wheel.Entry) bool { return fresh(e.ID) })
	c.Life = wheel.AddUp(c.Life.Wheel, c.Life.Make, kept, c.Loc, nil)
	c = New(c)
	f := c.Forecast()
	out := map[uuid.UUID]bool{}
	for i, p := range c.Life.Chain.Points {
		out[p.Entry] = f.Unlikely(i)
	}
	return out
}

// heavier says whether a weighing is more over an earlier one than the scale, what
// was put on the rind since, a coat, a core or a cut can account for.
func (c Case) heavier(p, was wheel.LossPoint) bool {
	gain := float64(p.Gross - was.Gross)
	return gain > 0 && gain > c.allowance(p, was) && !c.reweighed(was.At, p.At)
}

// dampGain is how far under its expected loss a weighing may be by what the scale and
// the rind account for and by air that has turned damper since an earlier one, two
// standard deviations (our choice); a fraction of green weight.
func (c Case) dampGain(f drying.Forecast, p, was wheel.LossPoint) float64 {
	return c.allowance(p, was)/float64(c.Life.Chain.Green) + 2*f.Sways(was.Day, p.Day)
}

// Sisters speak for a weight that looks wrong where two or more of them were weighed
// within shiftHours of it, and all are off their own curves by as much, half of it or
// less to either side: a wash that wasn't recorded or another scale, not a slip. More
// than shiftMost of the green weight is asked about all the same, as where a column is
// read in the wrong unit. Our choice.
const (
	shiftHours = 12
	shiftMost  = 0.02
)

// Standings is how each weighing of the chain stands to the curve of all others.
func (c Case) Standings(f drying.Forecast) []drying.WeighingStanding {
	out := f.Standings()
	for i := range out {
		out[i] = c.amongSisters(i, out[i])
	}
	return out
}

// Standing is one of the Standings.
func (c Case) Standing(f drying.Forecast, i int) drying.WeighingStanding {
	return c.amongSisters(i, f.Standing(i))
}

// amongSisters makes an unlikely weighing slow or fast where its sisters are off alike.
func (c Case) amongSisters(i int, s drying.WeighingStanding) drying.WeighingStanding {
	if s.Verdict != drying.Unlikely || !c.sistersShift(i, s) {
		return s
	}
	s.Verdict = drying.Fast
	if float64(s.Loss) < s.Expected.Best {
		s.Verdict = drying.Slow
	}
	return s
}

// sistersShift says whether the sisters weighed with a wheel are as many grams off
// their curves as it is.
func (c Case) sistersShift(i int, s drying.WeighingStanding) bool {
	p := c.Life.Chain.Points[i]
	grams := (float64(s.Loss) - s.Expected.Best) * float64(c.Life.Chain.Green)
	if c.aloof || math.Abs(grams) > shiftMost*float64(c.Life.Chain.Green) {
		return false
	}
	weighed := 0
	for _, o := range c.Sisters {
		points := o.Life.Chain.Points
		i := slices.IndexFunc(points, func(q wheel.LossPoint) bool {
			return math.Abs(q.At.Sub(p.At).Hours()) <= shiftHours
		})
		if i < 1 {
			continue
		}
		s := drying.Estimate(o.alone()).Standing(i)
		theirs := (float64(s.Loss) - s.Expected.Best) * float64(o.Life.Chain.Green)
		if math.Abs(theirs-grams) > math.Abs(grams)/2 {
			return false
		}
		weighed++
	}
	return weighed >= 2
}

// mostOfWet is how many times faster than its wet rind a wheel may seem to dry before
// its weight is doubted: our choice, as the movement of the air at one shelf isn't
// known better.
const mostOfWet = 3

// tooFast says whether a weighing lost more since an earlier one than even a wet rind
// could, whatever its curve leaves open after a coat. Half a percent is for all that
// people do to a wheel and don't write down: our choice.
func (c Case) tooFast(f drying.Forecast, p, was wheel.LossPoint) bool {
	if !p.Coated {
		return false // its curve leaves less open
	}
	green := float64(c.Life.Chain.Green)
	film, oil := c.onRind(was.At.Add(-filmDays*24*time.Hour), p.At)
	noise := 4*math.Hypot(p.SD, was.SD) + (2*float64(c.Life.Chain.Step)+film+oil)/green
	most := mostOfWet * f.WetRatePerDay(was.Day) * math.Max(0, p.Day-was.Day)
	return was.Retained-p.Retained > most+noise+0.005
}

// allowance is how much heavier a weighing may seem before it is doubted: what
// two readings of the scale may differ by, and what was put on the rind. Our choice.
func (c Case) allowance(p, was wheel.LossPoint) float64 {
	noise := math.Hypot(p.SD, math.Max(was.SD, p.SD)) * float64(c.Life.Chain.Green)
	film, oil := c.onRind(was.At, p.At)
	return math.Max(2*float64(c.Life.Chain.Step), 3*noise) + film + oil
}

// reweighed says whether a coat, core or cut is between two instants.
func (c Case) reweighed(from, to time.Time) bool {
	for _, e := range c.Life.Entries {
		if e.Kind.Reweighs() && !e.At.Before(from) && !e.At.After(to) {
			return true
		}
	}
	return false
}

// oddSize says why a first weight is unlikely, or nil, by our own bounds.
func (c Case) oddSize(gross quantity.Grams) reason.Reason {
	for _, o := range c.Sisters {
		if g := o.Life.Chain.Green; g > 0 {
			if unlike(gross, g) {
				return UnlikeSisters{g}
			}
			return nil
		}
	}
	if u := c.Variety.Weight; u > 0 && (gross < u/20 || gross > u*50) {
		return UnlikeVariety{c.Variety.Name, u}
	}
	return nil
}

// fits looks for the sister wheel whose own curve a weight fits best, within two standard
// deviations (our choice).
func (c Case) fits(gross quantity.Grams, at time.Time) string {
	best, tag := 2.0, ""
	for _, o := range c.Sisters {
		if o.Life.Chain.Green == 0 || at.Before(o.Life.Chain.Began) {
			continue
		}
		p := drying.Point{Day: o.Day(at), Loss: o.Life.Chain.Of(gross), SD: o.Life.Chain.SDOf(gross)}
		if z := math.Abs(drying.Estimate(o.alone()).Judge(p).Z); z < best {
			best, tag = z, o.Life.Tag
		}
	}
	return tag
}

// unlike says whether a weight is far from that of its sisters: our choice.
func unlike(g, sisters quantity.Grams) bool { return g < sisters/2 || g > sisters*2 }

// oddAmong says which weight is far from all the others, or nil. Of two, it's the one further from the variety's
// usual.
func oddAmong(v variety.Variety, weights []quantity.Grams) reason.Reason {
	var some []quantity.Grams
	for _, g := range weights {
		if g > 0 {
			some = append(some, g)
		}
	}
	if len(some) < 2 {
		return nil
	}
	slices.Sort(some)
	middle := some[len(some)/2]
	if len(some) == 2 && v.Weight > 0 && some[1]/v.Weight > v.Weight/some[0] {
		middle = some[0]
	}
	for i, g := range weights {
		if g == 0 || !unlike(g, middle) {
			continue
		}
		odd := OddAmong{Wheel: i + 1, Weight: g, Others: middle}
		for _, meant := range []quantity.Grams{g / 10, g * 10} {
			if !unlike(meant, middle) {
				odd.Meant = meant
			}
		}
		return odd
	}
	return nil
}

// OddMake says why the weights or measures of a make look like slips, or nil:
// green weights far from the variety's usual or from each other, a wheel far lighter or
// heavier than cheese of its measures, curd of a few grams. Weights are of the wheels
// in order. Our own bounds, wide ones.
func OddMake(mk wheel.Make, v variety.Variety, ws []wheel.Wheel, weights []quantity.Grams) reason.Reason {
	if why := oddAmong(v, weights); why != nil {
		return why
	}
	for i, g := range weights {
		if g == 0 { // not weighed
			continue
		}
		if v.Weight > 0 && (g < v.Weight/12 || g > v.Weight*12) {
			return OddWheel{v.Name, g, v.Weight}
		}
		if vol := ws[i].Shape.Volume(); vol > 0 {
			if rho := g.Kilograms() / vol; rho < shape.LeastDensity || rho > shape.MostDensity {
				return OddDensity{ws[i].Shape, g, math.Round(rho)}
			}
		}
	}
	for _, x := range []OddCurd{{mk.Curd, false}, {mk.SetAside, true}} {
		if x.Weight > 0 && x.Weight < 50 {
			return x
		}
	}
	return nil
}
