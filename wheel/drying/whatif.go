package drying

import "rindkeep/cave/quantity"

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

// WithCoat is the same forecast with one coat more from a day on.
func (f Forecast) WithCoat(on CoatOn) Forecast {
	f.subject.Coats = append(append([]CoatOn(nil), f.subject.Coats...), on)
	f = f.again()
	p := priorOf(f.subject, f.cheese)
	f.prior.sd[2] = p.sd[2]
	f.cov[2][2] = p.sd[2] * p.sd[2]
	return f
}

// again runs the physics anew for a subject that was changed.
func (f Forecast) again() Forecast {
	f.course = newCourse(f.cheese, saneAir(f.subject.Air), saneCoats(f.subject.Coats), horizon(f.subject), 0, 0)
	f.curves = &curves{}
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
