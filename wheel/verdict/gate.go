// Package verdict brings a wheel's life, its variety, its rooms' air and the
// drying model together and answers "dry enough to coat?" with figures,
// reasons and the date expected. Ratios are fractions, days are calendar
// dates or days of 24 h since drying began, as the field says. It reads no
// clock and no file.
package verdict

import (
	"math"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// Gate holds the figures a wheel must meet before it is coated. They come from
// the rind plan; where the plan is silent they are our defaults, and the maker's to
// change.
type Gate struct {
	MinDays     int               // days since drying began
	MinLoss     quantity.Fraction // loss since green weight
	MaxLoss     quantity.Fraction // over it cracks are common: too dry
	MaxSurface  quantity.Fraction // present flux as a share of the wheel's own wet-surface flux
	MaxMoisture quantity.Fraction // 0: the variety's own target, if it has one
	CheckDays   int               // a hand check older than this is stale
	WeighDays   int               // a weight older than this is too old to coat by; 0: never
	UntilDay    int               // age by which the plan wants it coated; 0 or less: it does not say
}

// DefaultGate is the gate of a plan that sets no figures. Days out of the hoop: the
// least of 3 to 7 (Van Slyke and Publow); Thom and Fisk 1918 have 4 to 6. The other
// figures are our defaults.
func DefaultGate() Gate {
	return Gate{MinDays: 3, MinLoss: 0.025, MaxLoss: 0.12, MaxSurface: 0.75, CheckDays: 2, WeighDays: 14}
}

// Windows are the dates on which the gate lets a wheel be coated, or asks for
// something first; None where it does not. They follow from entries alone and
// not from today, so that they can be kept in an index.
type Windows struct {
	CoatFrom  day.Date // dry enough from
	CoatUntil day.Date // the hand check goes stale after
	CheckFrom day.Date // figures met, a hand check is wanted
	WeighFrom day.Date // weigh: the figures should be met, or the last weight is doubtful or too old
	CoatWhy   reason.List
	CheckWhy  reason.List
	WeighWhy  reason.List
}

// Shut is the windows of a gate that asks for nothing.
func Shut() Windows {
	return Windows{CoatFrom: day.None, CoatUntil: day.None, CheckFrom: day.None, WeighFrom: day.None}
}

// firstWeight is how many days there are to weigh a wheel that came, or was taken over,
// for the first time: our choice.
const firstWeight = 7

// Windows are the dates the gate opens, or wants something first, from what is
// known now.
func (c Case) Windows() Windows {
	if len(c.Life.Coats) > 0 || c.Life.GoneOn != day.None {
		return Shut()
	}
	o := c.Outlook(c.Forecast())
	return o.Windows(c.Terms())
}

// Windows are those of a bare wheel that is here.
func (o *Outlook) Windows(t Terms) Windows {
	w, g := Shut(), o.Figures
	if o.Weighings == 0 {
		w.WeighFrom = day.At(o.Began, t.Loc)
		if o.Aged {
			w.WeighFrom += firstWeight
		}
		w.WeighWhy = reason.List{NeverWeighed{}}
		return w
	}
	if len(g.Doubtful) > 0 {
		w.WeighFrom, w.WeighWhy = g.DoubtfulOn, g.Doubtful[:1]
		return w
	}
	if !g.met() {
		w.WeighFrom = g.WeighedOn + 7
		w.WeighWhy = reason.List{NotDryBefore{}}
		if o.On != nil {
			w.WeighFrom = max(g.WeighedOn+1, o.On.Best)
			w.WeighWhy = reason.List{DryByCurve{}}
		}
		return w
	}
	if o.Weighings == 1 {
		w.WeighFrom, w.WeighWhy = max(g.WeighedOn+1, g.DaysMet), reason.List{DryByCurve{}}
		return w
	}
	from, lasts := max(g.WeighedOn, g.DaysMet), day.Date(math.MaxInt32)
	w.CheckFrom, w.CheckWhy = from, reason.List{FiguresMet{}}
	w.CoatWhy = reason.List{DryAndSound{}, Lost{tenth(g.Loss)}}
	blown := o.BlownOn != day.None
	if g.Dry {
		w.CheckWhy = reason.List{PastSafe{}}
		w.CoatWhy = reason.List{CoatAtOnce{}, Lost{tenth(g.Loss)}}
	} else if !blown && t.Gate.WeighDays > 0 {
		lasts = g.WeighedOn + day.Date(t.Gate.WeighDays)
		w.WeighFrom, w.WeighWhy = lasts+1, reason.List{WeightStale{}}
	}
	if o.CheckedOn == day.None {
		return w
	}
	if !o.sound() {
		w.CheckFrom = max(from, o.CheckedOn+1)
		w.CheckWhy = append(reason.List{CheckFound{o.Found}}, o.blownBefore()...)
		if !blown && o.Found.Undecided() {
			w.CheckWhy = reason.List{CheckSilent{}}
		}
		return w
	}
	until := o.CheckedOn + day.Date(t.Gate.CheckDays)
	if coat := max(from, o.CheckedOn); coat <= min(until, lasts) {
		w.CoatFrom, w.CoatUntil = coat, min(until, lasts)
		w.CheckFrom, w.CheckWhy = until+1, reason.List{CheckStale{}}
	}
	return w
}
