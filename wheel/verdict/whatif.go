package verdict

import (
	"slices"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
)

// GreenLeft is the green weight of what is left of the wheel: its green weight, less
// the share of it that cores, cuts and pieces took since. It is the forecast's for a
// wheel never weighed. What the wheel weighs on a day is GreenLeft times one less its
// loss then.
func (c Case) GreenLeft(f drying.Forecast) quantity.Grams {
	taken := func(e wheel.Entry) bool { return e.Kind.Reweighs() && e.Kind != wheel.CoatedOn }
	if now, day := c.Life.Chain.Present(); now > 0 && slices.ContainsFunc(c.Life.Entries, taken) {
		return now / quantity.Grams(1-f.Loss(day).Best)
	}
	return f.Start().Green
}

// Outcome is what a plan makes of a wheel.
type Outcome struct {
	Forecast     drying.Forecast
	Expected     *Expected // when it is dry enough for a coat; nil where it is, has one or never will be
	Crack, Slime drying.Risk
	Weep         *drying.Risk // under a tight coat, a wheel's first; nil for others
}

// from is the date with what is past of it left out.
func (e *Expected) from(today day.Date) *Expected {
	if e == nil {
		return nil
	}
	x := Expected{max(e.Best, today), max(e.Low, today), e.High}
	if x.High != day.None {
		x.High = max(x.High, today)
	}
	return &x
}

// ahead is how many days of a plan the rind is looked after: our choice.
const ahead = 180

// Under is what a plan carried out from a day on makes of a wheel, whose forecast is f;
// gated says that its own plan has a coat that waits for the gate.
func (c Case) Under(f drying.Forecast, now float64, p drying.Plan, gated bool) Outcome {
	bare := f.Under(now, drying.Plan{Air: p.Air})
	o := Outcome{Forecast: bare}
	if p.Coat != "" {
		o.Forecast = f.Under(now, p)
	}
	usual := c.Variety.Room.RHHigh
	o.Crack, o.Slime = o.Forecast.Rind(now, usual)
	if on := p.CoatDay; p.Coat != "" && on > now {
		crack, slime := o.Forecast.Rind(on, usual)
		o.Crack, o.Slime = o.Crack.Worse(crack), o.Slime.Worse(slime)
	}
	if len(c.Life.Coats) > 0 {
		return o
	}
	o.Expected = c.ExpectedBy(bare).from(day.At(c.Time(now), c.Loc))
	if p.Coat.Tight() {
		r := c.weep(bare, max(now, p.CoatDay))
		o.Weep = &r
	}
	if most := c.Gate.MaxLoss; p.Coat == "" && gated && most > 0 {
		if d, ok := bare.DayOfLoss(most); ok && d.Best < now+ahead {
			from := day.At(c.Time(max(now, d.Best)), c.Loc)
			o.Crack = o.Crack.Worse(drying.Risk{Level: drying.SomeRisk, Why: CracksFrom{most, from}})
		}
	}
	return o
}

// weep is the risk that a wheel weeps and rots under a tight coat put on on a day: damp
// cheese makes wax blister and crack off (Thom and Fisk 1918). By the gate's figures.
func (c Case) weep(bare drying.Forecast, on float64) drying.Risk {
	loss, needs := bare.Loss(on), c.TargetLoss(bare)
	r := drying.Risk{Why: LostByCoat{quantity.Fraction(loss.Best), needs}}
	switch earliest := day.At(c.Began(), c.Loc) + day.Date(c.Gate.MinDays); {
	case loss.High < float64(needs):
		r.Level = drying.HighRisk
	case loss.Best < float64(needs):
		r.Level = drying.SomeRisk
	case day.At(c.Time(on), c.Loc) < earliest:
		r = drying.Risk{Level: drying.SomeRisk, Why: WaitUntil{c.Gate.MinDays, earliest}}
	}
	return r
}
