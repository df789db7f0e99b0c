package verdict

import (
	"math"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/variety"
)

// Outlook is all that a verdict on one wheel needs, worked out once: its figures, when
// it should be dry enough, and its curve from then on. It follows from the wheel's
// entries and its air up to Until and not from today, so that it can be kept.
type Outlook struct {
	Until time.Time // of the latest entry or reading that it knows
	Began time.Time // when its losses begin to count
	// DryingBegan is Began, or before it where the wheel dried elsewhere.
	DryingBegan time.Time
	Aged        bool // it came, or was taken over, when it had dried for some time
	Weighings   int
	Basis       drying.Basis
	Used        bool // the curve rests on weights of its own
	On          *Expected
	RH          quantity.Fraction // of the air it lies in
	Last        drying.Verdict    // how its last weighing looks; "" where it was weighed once or never

	CheckedOn   day.Date // the last hand check; None: never
	Found       wheel.HandCheck
	BlownOn     day.Date // found blown, and not sound since; None
	BlownBefore bool     // by an earlier check than the last

	CoatedOn day.Date // None: bare
	Leak     reason.List
	Jump     reason.List // a step in its weights that nobody recorded

	Track drying.Track // from Until on; empty where the outlook isn't kept

	Figures Figures
}

// Terms are what a verdict asks of a wheel beside its outlook.
type Terms struct {
	Made    day.Date
	Variety variety.Variety
	Gate    Gate
	Loc     *time.Location
}

// Curve is how a wheel loses weight, on days since its drying began: a Forecast, or
// the Track of one.
type Curve interface {
	Loss(day float64) quantity.Estimate
	RatePerDay(day float64) quantity.Estimate
	Moisture(day float64) quantity.Estimate
}

// Terms are the case's own.
func (c Case) Terms() Terms { return Terms{c.Life.Make.Date, c.Variety, c.Gate, c.Loc} }

// Outlook is the case's by its forecast, without a track.
func (c Case) Outlook(f drying.Forecast) Outlook {
	f.Ahead(math.Max(0, c.Day(c.Until)) + drying.TrackDays)
	g := c.figures(f)
	o := Outlook{
		Until: c.Until, Began: c.Began(), DryingBegan: c.DryingBegan(), Aged: c.Life.Aged(),
		Weighings: c.Life.Chain.Weighings(), Basis: f.Basis(), Used: f.Used() > 0,
		CheckedOn: day.None, BlownOn: day.None, CoatedOn: day.None, Figures: g,
	}
	if n := len(c.Air); n > 0 {
		o.RH = c.Air[n-1].Air.RH
	}
	check, checked := c.Life.LastCheck()
	if checked {
		o.CheckedOn, o.Found = day.At(check.At, c.Loc), check.Found
	}
	if e, blown := c.Life.Blown(); blown {
		o.BlownOn, o.BlownBefore = day.At(e.At, c.Loc), e.ID != check.ID
	}
	if len(c.Life.Coats) > 0 {
		o.CoatedOn = c.Life.Coats[0].On
		if leaks, ok := f.Leaking(); ok {
			o.Leak = reason.List{leaks}
		}
	} else if len(g.Doubtful) == 0 && !g.Dry {
		o.On = c.expected(f, g)
	}
	if k, ok := f.Step(); ok {
		was, p := c.Life.Chain.Points[k-1], c.Life.Chain.Points[k]
		o.Jump = reason.List{Jumped{was.Gross, p.Gross, p.At}}
	}
	if n := len(c.Life.Chain.Points); n > 1 {
		if o.Last = f.Verdict(n - 1); o.Last == drying.Unlikely {
			o.Last = c.Standing(f, n-1).Verdict
		}
	}
	return o
}

// Kept is the outlook with its track, to be read without its forecast.
func (o Outlook) Kept(c Case, f drying.Forecast) Outlook {
	o.Track = f.Track(math.Max(0, o.day(o.Until)), c.known())
	return o
}

// LongTrack is the case's forecast f written down from an instant on, with a coat that is to go
// on on a date; "" for none.
func (c Case) LongTrack(f drying.Forecast, from time.Time, coat string, on day.Date) drying.LongTrack {
	var to *drying.CoatOn
	if k, err := drying.ParseCoat(coat); err == nil && on != day.None {
		to = &drying.CoatOn{Day: math.Max(0, c.Day(on.Noon(c.Loc))), Coat: k}
	}
	return f.LongTrack(math.Max(0, c.Day(from)), c.known(), to)
}

// TrackFrom is where a track begins that covers an instant and has a figure at noon of a date.
func (c Case) TrackFrom(at time.Time, on day.Date) time.Time {
	const step = time.Duration(drying.TrackStep * float64(24*time.Hour))
	noon := on.Noon(c.Loc)
	late := max(0, noon.Sub(at))
	return noon.Add(-((late + step - 1) / step * step))
}

// known is the day that the wheel's mass was last known on; 0: never weighed.
func (c Case) known() float64 {
	if net, day := c.Life.Chain.Present(); net > 0 {
		return day
	}
	return 0
}

// Knows says whether the kept outlook can answer about an instant: one from Until on,
// and not too far off.
func (o *Outlook) Knows(at time.Time) bool {
	return !at.Before(o.Until) && o.Track.Covers(math.Max(0, o.day(at)))
}

// Dry is the verdict at an instant that it knows.
func (o *Outlook) Dry(t Terms, at time.Time) Dry { return o.By(t, o.Track, at) }

// By is the verdict at an instant by a curve, the outlook's own.
func (o *Outlook) By(t Terms, curve Curve, at time.Time) Dry {
	return o.doubted(o.answer(t, curve, at))
}

// day is the instant t in days of 24 h since drying began.
func (o *Outlook) day(t time.Time) float64 { return t.Sub(o.Began).Hours() / 24 }
