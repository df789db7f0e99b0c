package drying

import (
	"math"

	"rindkeep/cave/quantity"
)

// WithAir is the same forecast, the wheel's own deviations and weighings kept,
// under other air from a day on. The spans' days count from the start of
// drying like the subject's; the first holds from that day whatever its FromDay
// says. No spans leaves the forecast as it is.
func (f Forecast) WithAir(fromDay float64, spans []Span) Forecast {
	if len(spans) == 0 {
		return f
	}
	kept := f.subject.Air
	if len(kept) == 0 {
		kept = []Span{defaultAir}
	}
	var all []Span
	for i, s := range sortedAir(kept) {
		if s.FromDay < fromDay || (i == 0 && fromDay > 0) {
			all = append(all, s)
		}
	}
	for i, s := range sortedAir(spans) {
		if i == 0 || s.FromDay < fromDay {
			s.FromDay = fromDay
		}
		all = append(all, s)
	}
	f.subject.Air = all
	return f.again()
}

// WithCoat is the same forecast with one coat more from a day on. The coats
// already on stay as tight as they were found to be; the new one is as its kind
// usually is.
func (f Forecast) WithCoat(on CoatOn) Forecast {
	was, share := f.course, f.theta[kShare]
	f.subject.Coats = append(append([]CoatOn(nil), f.subject.Coats...), on)
	f = f.again()
	f.shareBefore()
	th, cov := f.before()
	if was.coated {
		f.theta[kShare] = f.course.added(on, was, share)
	} else {
		f.theta[kShare] = th[kShare]
	}
	f.share[0] += f.theta[kShare] - th[kShare]
	f.cov[kShare] = cov[kShare]
	for i := range f.cov {
		f.cov[i][kShare] = cov[i][kShare]
	}
	return f
}

// added sets the resistance of a coat that came on top of coats which were
// found to pass a share, so that one multiplier of all leaves it as usual. It
// gives the share that all of them pass.
func (co *course) added(on CoatOn, was *course, share float64) float64 {
	usual, _ := cutNormal(1/(1+on.Coat.resistance()/co.half), on.Coat.spread())
	r := co.half * (1 - usual) / usual
	times := math.Exp(was.logOf(share)) * was.coats / (co.coats - r)
	more := r/times - r
	co.coats += more
	for i := range co.plant.windows {
		if w := &co.plant.windows[i]; on.Day <= w.from+1e-9 {
			w.coat += more
		}
	}
	return co.shareOf(math.Log(times))
}

// again runs the physics anew for a subject that was changed.
func (f Forecast) again() Forecast {
	was := f.course
	f.course = newCourse(f.cheese, saneAir(f.subject.Air), saneCoats(f.subject.Coats), horizon(f.subject), 0, 0)
	f.curves = &curves{}
	f.play = f.course.unknowns(f.theta[kClose] != 0)
	if was.coated { // the coats' resistance stays, whatever share that now is
		f.theta[kShare] = f.course.shareOf(was.logOf(f.theta[kShare]) + math.Log(was.coats/f.course.coats))
		f.prior.set(kShare, f.course.share[0], f.course.share[1])
	}
	return f
}

// Start is the cheese the forecast reckons with: the subject's, with what was
// not known filled in from its group.
func (f Forecast) Start() Cheese { return f.cheese }

// BalanceMoisture is the wet-basis moisture the cheese would come to in balance
// with the air of a day.
func (f Forecast) BalanceMoisture(day float64) quantity.Fraction {
	return fraction(f.course.plant.balance(f.course.upTo(max(day, 1e-6)) - 1))
}

// Plan is what could be done with a wheel: a coat, "" for leaving it bare or as
// it is, and other air, none for the air it lies in.
type Plan struct {
	Coat Coat
	Air  []Span
}

// Outcome is what a plan makes of a wheel: the loss 30, 90 and 180 days after
// its day, as fractions of green weight, what the cheese then weighs in grams
// without its coat, all 90 %; and whether its rind is likely to crack or to turn
// slimy.
type Outcome struct {
	Plan
	Loss30, Loss90, Loss180 quantity.Estimate
	Weight180               quantity.Estimate
	Crack, Slime            bool
}

// The rind of a cheese that loses more than crackRate grams per square
// decimetre and day on the day after is likely to crack, and one in air
// damper than slimeAir that loses less than slimeRate to turn slimy. Common
// practice, no source.
const (
	crackRate, slimeRate = 1.2, 0.15
	slimeAir             = 0.93
)

// WhatIf is what a plan carried out on a day makes of the wheel. Plans of one
// wheel and day are compared side by side.
func (f Forecast) WhatIf(day float64, p Plan) Outcome {
	g := f.WithAir(day, p.Air)
	if p.Coat != "" {
		g = g.WithCoat(CoatOn{Day: day, Coat: p.Coat})
	}
	out := Outcome{Plan: p, Loss30: g.Loss(day + 30), Loss90: g.Loss(day + 90), Loss180: g.Loss(day + 180)}
	green := float64(f.cheese.Green)
	out.Weight180 = quantity.Estimate{
		Best: green * (1 - out.Loss180.Best), Low: green * (1 - out.Loss180.High), High: green * (1 - out.Loss180.Low),
	}
	flux := g.RatePerDay(day+1).Best / g.course.plant.area * 10 // g/dm2 a day
	i := g.course.upTo(day+1) - 1
	damp := float64(g.course.plant.states[i].RH) + g.theta[kDamp]
	open := p.Coat == "" || p.Coat == Cloth || p.Coat == Oil
	out.Crack = open && flux > crackRate
	out.Slime = open && flux < slimeRate && damp > slimeAir
	return out
}
