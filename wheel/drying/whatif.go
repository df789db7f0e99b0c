package drying

import (
	"math"
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
	f.settle()
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
		if w := &co.plant.windows[i]; on.Day+co.age <= w.from+1e-9 {
			w.coat += more
		}
	}
	return co.shareOf(math.Log(times))
}

// again reruns the physics for a subject that was changed.
func (f Forecast) again() Forecast {
	was := f.course
	f.course = newCourse(f.cheese, saneAir(f.subject.Air), saneCoats(f.subject.Coats), horizon(f.subject), 0, 0)
	f.curves = &curves{}
	f.play = f.course.unknowns(f.theta[kClose] != 0)
	if was.coated { // the coats' resistance stays, whatever share that now is
		f.theta[kShare] = f.course.shareOf(was.logOf(f.theta[kShare]) + math.Log(was.coats/f.course.coats))
		f.prior.set(kShare, f.course.share[0], f.course.share[1])
	}
	f.settle()
	return f
}

// Start is the cheese the forecast uses: the subject's, with what was
// not known filled in from its group.
func (f Forecast) Start() Cheese { return f.cheese }

// Plan is what could be done with a wheel: a coat, "" for leaving it bare or as
// it is, that goes on on CoatDay, and other air, none for the air it is in.
type Plan struct {
	Coat    Coat
	CoatDay float64
	Air     []Span
}

// Under is the forecast with a plan carried out from a day on: the air then, the
// coat on its own day, but not before. Plans of one wheel and day can be compared
// side by side.
func (f Forecast) Under(day float64, p Plan) Forecast {
	f = f.WithAir(day, p.Air)
	if p.Coat != "" {
		f = f.WithCoat(CoatOn{Day: math.Max(day, p.CoatDay), Coat: p.Coat})
	}
	return f
}
