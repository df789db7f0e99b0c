package schedule

import (
	"cmp"
	"math"
	"strings"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/variety"
	"rindkeep/wheel/verdict"
)

// Outlook is how one wheel's weight goes on.
type Outlook struct {
	Track drying.Track
	Began time.Time // when its drying did

	long  *drying.LongTrack
	net   quantity.Grams // of the cheese itself, when last known
	known float64        // the day of that
	left  float64
	coat  day.Date // a coat to come; None for none
	loc   *time.Location
}

// NewOutlook gives the outlook of a wheel whose drying began then. Its track may be a
// sister's of the same make, shape, room, coats and weighings: what it says of the days since
// the wheel's own last weighing is taken for the wheel. The long track, a sister's too, says
// how it goes on after that, and under a coat that its chores put on.
func NewOutlook(b wheel.Brief, t drying.Track, long *drying.LongTrack, began time.Time, chores []Chore,
	loc *time.Location) Outlook {
	o := Outlook{Track: t, Began: began, long: long, net: t.Green, left: 1, coat: day.None, loc: loc}
	if b.Net > 0 {
		o.net, o.known, o.left = b.Net, b.NetDay, t.Left
	}
	for _, c := range chores {
		if c.Job == wheel.Coat && c.Coat != "" {
			o.coat = c.On
			break
		}
	}
	return o
}

// NextCoat is the coat that tasks have put on next, and when, from a date on; on is None where
// they have none.
func NextCoat(ts []Task, from day.Date) (coat string, on day.Date) {
	on = day.None
	for _, t := range ts {
		if t.Job == wheel.Coat && t.Due != day.None && (on == day.None || max(from, t.Due) < on) {
			coat, on = t.Coat, max(from, t.Due)
		}
	}
	return coat, on
}

// GateCoatOn is the coat behind a plan's gate and when it goes on, from a date on: as soon as
// an outlook has the gate met, or at once where that says nothing.
func (p Plan) GateCoatOn(o verdict.Outlook, from day.Date) (coat string, on day.Date) {
	coat, _ = p.GateCoat()
	if o.On == nil {
		return coat, from
	}
	return coat, max(from, o.On.Best)
}

// RatePerDay is how fast it dries on a day since its drying began, fraction of the green weight
// a day, 90 %.
func (o Outlook) RatePerDay(day float64) quantity.Estimate {
	return o.Track.RatePerDay(o.Track.Near(day))
}

func (o Outlook) loss(day float64) quantity.Estimate {
	near := o.Track.Near(day)
	l := o.Track.Loss(near)
	if day > near {
		l = Sum(l, o.long.Between(near, day))
	}
	return l
}

func (o Outlook) day(on day.Date) float64 {
	return math.Max(0, on.Noon(o.loc).Sub(o.Began).Hours()/24)
}

// Mass is what the cheese itself will weigh at noon of a date, its coats not
// counted, in grams, 90 %: the last weight less what the curve has it lose
// since. A wheel never weighed is taken at its lot's or its variety's usual
// weight. What tasting and cutting will take is not counted.
func (o Outlook) Mass(on day.Date) quantity.Estimate {
	d := math.Max(o.known, o.day(on))
	l := o.loss(d)
	if coat := o.day(o.coat); o.coat != day.None && on > o.coat {
		l = Sum(o.loss(coat), o.long.Under(coat, d-coat))
	}
	left := func(loss float64) float64 { return float64(o.net) * (1 - loss) / o.left }
	return quantity.Estimate{Best: left(l.Best), Low: left(math.Max(l.High, l.Best)), High: left(math.Min(l.Low, l.Best))}
}

// Sum adds estimates of things that err together (the same air, the same
// curd): the ends are the sums of the ends.
func Sum(es ...quantity.Estimate) quantity.Estimate {
	var t quantity.Estimate
	for _, e := range es {
		t.Best, t.Low, t.High = t.Best+e.Best, t.Low+e.Low, t.High+e.High
	}
	return t
}

// OldEnough is from when a wheel has the age that the limits of its variety ask
// for. It is information and no promise: days are counted by age alone, unless
// ByAir.
type OldEnough struct {
	On      day.Date
	Days    int
	RawMilk bool             // the days are those of milk that was not pasteurised
	Unsaid  bool             // nobody recorded the milk's treatment: taken as raw
	MinTemp quantity.Celsius // RawMilk: only days at or above it count by law
	ByAir   bool             // days too cold to count were left out
	By      string           // whose law asks for the most days, and its source; "": the limits of its variety
	Stalled bool             // ByAir: where it is, it's too cold to count, and On is what it would be elsewhere
}

// AgeLimit is when a wheel is old enough by the laws it follows and by its
// variety's own file; ok is false where they name no age for it.
func AgeLimit(m wheel.Make, v variety.Variety, law holdrule.Set) (o OldEnough, ok bool) {
	o.Days = v.LimitsOf(m.SoldAs).MinDays
	if len(law.Countries) == 0 {
		law = holdrule.Select(nil, nil, v, m.SoldAs)
	}
	milk := cmp.Or(m.Milk.Treatment, wheel.Raw)
	for i, r := range law.Rules {
		if days := r.DaysFrom(m.Date); days > o.Days && r.Takes(milk) {
			o.Days, o.RawMilk, o.MinTemp, o.By = days, len(r.Milk) > 0, r.MinTemp, ""
			o.Unsaid = m.Milk.Treatment == "" && o.RawMilk
			if by := law.By[i]; len(by) > 0 {
				o.By = strings.Join(by, ", ") + ", " + r.Cite()
			}
		}
	}
	o.On = m.Date + day.Date(o.Days)
	return o, o.Days > 0
}

// summerTime is how far a change of the clock can move the end of a day of 24 h: our
// choice, twice the usual hour.
const summerTime = 2 * time.Hour

// Under is the limit with what holds by law have left to serve at an instant, in the air that
// the wheel was in. follows says that its make follows a country's law. ok is false where a
// hold may never end: somebody has to say something first.
func (o OldEnough) Under(holds []verdict.LawHold, air []drying.Span, follows bool, at time.Time, loc *time.Location) (
	_ OldEnough, ok bool,
) {
	ok = true
	for _, h := range holds {
		ok = ok && !h.MilkUnknown() && !h.Rule.Missing
		if !h.Rule.Warm || !o.RawMilk && !follows {
			continue
		}
		o = o.Counted(h, at, loc)
		o.Stalled = o.Stalled || len(air) > 0 && air[len(air)-1].Air.Temp < h.AtOver
	}
	return o, ok
}

// Counted is the limit with what a hold by law has left to serve at an instant:
// days in air too cold to count make it later, never earlier. It is the first
// date that is past the hold from its beginning, a change of summer time apart.
func (o OldEnough) Counted(h verdict.LawHold, at time.Time, loc *time.Location) OldEnough {
	o.ByAir = true
	served := at.Add(time.Duration(h.Left * 24 * float64(time.Hour)))
	o.On = max(o.On, day.At(served.Add(-summerTime), loc)+1)
	return o
}
