package verdict

import (
	"math"
	"slices"
	"sort"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
)

// Answer is the answer to "dry enough to coat?".
type Answer string

// The answers.
const (
	NotYet      Answer = "not-yet"
	CheckByHand Answer = "check-by-hand" // figures met, hand check missing or stale
	DryEnough   Answer = "dry-enough"
	TooDry      Answer = "too-dry" // over the loss where cracking is common
	Coated      Answer = "coated"
	NoWeights   Answer = "no-weights"
	WeighAgain  Answer = "weigh-again" // the last weight is doubtful, too old, or the only one
)

// RuleCode names a rule of the gate.
type RuleCode string

// The rules.
const (
	DaysRule     RuleCode = "days-drying"
	LossRule     RuleCode = "loss"
	RateRule     RuleCode = "rate"
	MoistureRule RuleCode = "moisture"
	TooDryRule   RuleCode = "not-too-dry"
	HandRule     RuleCode = "hand-check" // the one that no figure meets
)

// Rule is one condition of the gate: what the wheel has and what it needs.
type Rule struct {
	Code RuleCode
	Met  bool
	Have reason.List
	Need reason.List
}

// Expected is a date with its 90 % interval; High is None where the slow end
// of the interval never gets there.
type Expected struct {
	Best, Low, High day.Date
}

// Dry is the verdict on one wheel at one time.
type Dry struct {
	Answer    Answer
	Weighings int
	WeighedAt time.Time         // the weighing Loss rests on: the last that isn't in doubt
	WeightAge int               // its age in days
	Loss      quantity.Fraction // at that weighing; meaningless without one
	Moisture  quantity.Estimate // then, wet basis, fraction
	Rate      quantity.Estimate // fraction of green weight per day, at the time asked
	Present   quantity.Estimate // loss at the time asked, by the curve
	Rules     []Rule
	On        *Expected // when it should be dry enough; nil where it is, or never will be
	Overdue   bool      // On is past, or it should be ready by now
	Advice    reason.List
	Leak      reason.List // after coating: why the coat seems to leak; empty where it does not
	Basis     drying.Basis
}

// Figures are the measured conditions at the last weighing that isn't in doubt.
type Figures struct {
	At                time.Time
	Doubtful          reason.List // of a later weighing; empty where there is none in doubt
	DoubtfulOn        day.Date
	Loss              quantity.Fraction
	Moisture          quantity.Estimate
	Surface           float64 // rate over the wheel's own wet rate; NaN where the air takes no water
	Target            quantity.Fraction
	LossOK, SurfaceOK bool
	MoistureOK, Dry   bool     // Dry: over MaxLoss by now
	WeighedOn         day.Date // None: never
	DaysMet           day.Date
	Before            reason.List       // what was lost elsewhere
	MinLoss           quantity.Fraction // the gate's, as the wheel's losses count
}

func (c Case) figures(f drying.Forecast) Figures {
	var g Figures
	g.WeighedOn, g.DaysMet = day.None, day.At(c.DryingBegan(), c.Loc)+day.Date(c.Gate.MinDays)
	g.Before, g.MinLoss = c.lostBefore(f), c.minLoss(f)
	points := c.Life.Chain.Points
	last, doubtful, why := c.believed(f)
	if last < 0 {
		g.Surface = math.NaN()
		return g
	}
	if why != nil {
		g.Doubtful, g.DoubtfulOn = reason.List{InDoubt{}, why}, day.At(points[doubtful].At, c.Loc)
	}
	p := points[last]
	g.At, g.WeighedOn = p.At, day.At(p.At, c.Loc)
	g.Loss = p.Loss()
	g.Moisture = c.Start(f).After(g.Loss).Moisture
	g.Surface = surfaceShare(f, p.Day)
	g.LossOK = g.Loss >= g.MinLoss-1e-9
	g.SurfaceOK = g.Surface <= float64(c.Gate.MaxSurface)
	g.Target = c.target()
	g.MoistureOK = g.Target == 0 || g.Moisture.Best <= float64(g.Target)+1e-9
	g.Dry = c.Gate.MaxLoss > 0 && g.Loss > c.Gate.MaxLoss
	return g
}

func (g Figures) met() bool { return g.Dry || g.LossOK && g.SurfaceOK && g.MoistureOK }

// surfaceShare is the present rate over the wheel's own rate with a wet
// surface in the same air: near 1 the surface is wet, well below it the inside
// decides. In air too wet to take any water it is NaN, which meets no limit.
func surfaceShare(f drying.Forecast, d float64) float64 {
	wet := f.WetRatePerDay(d)
	if !(wet > 1e-7) {
		return math.NaN()
	}
	return f.RatePerDay(d).Best / wet
}

// Dry answers at an instant, from a life that ends there. The figures that
// decide are those of the last weighing, which is to be weighed again where it is
// in doubt, or too old to say that the wheel is ready; the curve only says when to
// look again. A loss of over Gate.MaxLoss that was weighed is never too old: what
// is lost doesn't come back.
func (c Case) Dry(at time.Time) Dry { return c.DryBy(c.Forecast(), at) }

// DryBy is Dry with a forecast that was made already.
func (c Case) DryBy(f drying.Forecast, at time.Time) Dry {
	o := c.Outlook(f)
	return o.By(c.Terms(), f, at)
}

// doubted is a verdict with what a blown wheel adds to it: whatever its figures,
// it is not to be coated. Common practice, no source.
func (o *Outlook) doubted(v Dry) Dry {
	if o.BlownOn == day.None {
		return v
	}
	switch v.Answer {
	case Coated:
		v.Advice = append(reason.List{FindGas{o.BlownOn}}, v.Advice...)
	case DryEnough, TooDry:
		v.Answer = CheckByHand
		fallthrough
	default:
		v.Advice = reason.List{KeepApart{o.BlownOn}}
	}
	return v
}

// sound says whether the last hand check lets the wheel be coated; a wheel found
// blown before it is not.
func (o *Outlook) sound() bool { return o.Found.Sound() && o.BlownOn == day.None }

// blownBefore is gas that an earlier hand check found; empty where none did.
func (o *Outlook) blownBefore() reason.List {
	if o.BlownBefore {
		return reason.List{BlownOn{o.BlownOn}}
	}
	return nil
}

// answer is the verdict at an instant.
func (o *Outlook) answer(t Terms, curve Curve, at time.Time) Dry {
	today := day.At(at, t.Loc)
	now := math.Max(0, o.day(at))
	g := o.Figures
	weighed := g.WeighedOn != day.None
	v := Dry{
		Weighings: o.Weighings, WeighedAt: g.At, Loss: g.Loss, Moisture: g.Moisture,
		Rate: curve.RatePerDay(now), Present: curve.Loss(now), Basis: o.Basis,
	}
	if !weighed {
		v.Moisture = curve.Moisture(now)
	}
	checkAge := int(today - o.CheckedOn)
	fresh := o.CheckedOn != day.None && checkAge <= t.Gate.CheckDays
	days := int(today - day.At(o.DryingBegan, t.Loc))
	daysOK := days >= t.Gate.MinDays

	if weighed {
		v.WeightAge = max(0, int(today-g.WeighedOn))
	}
	old := t.Gate.WeighDays > 0 && v.WeightAge > t.Gate.WeighDays
	over := t.Gate.MaxLoss > 0 && o.Used && quantity.Fraction(v.Present.Best) > t.Gate.MaxLoss // by the curve

	v.Rules = o.rules(t, v.WeightAge, days, fresh)
	switch {
	case o.CoatedOn != day.None:
		v.Answer, v.Advice = Coated, reason.List{CoatedOn{o.CoatedOn}}
		if len(o.Leak) > 0 {
			v.Leak = o.Leak
			v.Advice = append(reason.List{MendCoat{}}, o.Leak...)
		}
	case !weighed:
		v.Answer, v.Advice = NoWeights, reason.List{WeighFirst{}}
		v.On = o.On
	case len(g.Doubtful) > 0:
		v.Answer, v.Advice = WeighAgain, slices.Clone(g.Doubtful)
	case o.Weighings == 1 && (g.met() && daysOK || over && !old): // by the model alone
		v.Answer, v.Advice, v.Overdue = WeighAgain, reason.List{WeighedOnce{}}, true
	case g.Dry || over && !old:
		v.Answer, v.Advice = TooDry, reason.List{CracksLikely{t.Gate.MaxLoss}}
	case !over && !(g.met() && daysOK):
		v.Answer = NotYet
		v.On = o.On
		v.Overdue = v.On != nil && v.On.Best < today
		v.Advice = reason.List{o.notYet(t, v, at, daysOK)}
		if old && (v.On == nil || v.Overdue) {
			v.Answer, v.Advice = WeighAgain, reason.List{TooOld{v.WeightAge, t.Gate.WeighDays}}
		}
	case old:
		v.Answer, v.Advice, v.Overdue = WeighAgain, reason.List{TooOld{v.WeightAge, t.Gate.WeighDays}}, true
	case fresh && o.sound():
		v.Answer, v.Advice = DryEnough, reason.List{CoatBy{o.CheckedOn + day.Date(t.Gate.CheckDays)}}
	case fresh && o.Found.Undecided():
		v.Answer, v.Advice = CheckByHand, reason.List{FeelAgain{}}
	case fresh:
		v.Answer, v.Advice = CheckByHand, reason.List{SeeTo{o.Found}}
	default:
		v.Answer, v.Advice = CheckByHand, reason.List{Feel{}}
	}
	switch v.Answer {
	case TooDry, NotYet, CheckByHand, DryEnough:
		if v.WeightAge > 0 {
			v.Advice = append(v.Advice, ByWeight{v.WeightAge})
		}
	}
	v.Advice = append(v.Advice, o.Jump...)
	return v
}

// rules are the gate's with what the wheel has of each; a share over 9.99 is shown as
// that (our choice). What was weighed doesn't
// meet a rule once it is too old.
func (o *Outlook) rules(t Terms, age, days int, fresh bool) []Rule {
	g, gate := o.Figures, t.Gate
	weighed := g.WeighedOn != day.None
	old := gate.WeighDays > 0 && age > gate.WeighDays
	have := func(figure ...reason.Reason) reason.List {
		switch {
		case !weighed:
			return reason.List{NotWeighed{}}
		case old:
			return append(figure, Stale{})
		}
		return figure
	}
	rules := []Rule{
		{DaysRule, days >= gate.MinDays, reason.List{Days{max(0, days)}}, reason.List{LeastDays{gate.MinDays}}},
		{LossRule, g.LossOK && !old, append(have(Share{apart(g.Loss, gate.MinLoss)}, ByWeight{age}), g.Before...),
			reason.List{AtLeast{gate.MinLoss}}},
	}
	surface := reason.Reason(NoDrying{})
	if !math.IsNaN(g.Surface) {
		surface = OfWetRind{quantity.Fraction(min(9.99, math.Round(100*g.Surface)/100))}
	}
	rules = append(rules, Rule{RateRule, g.SurfaceOK && !old, have(surface), reason.List{AtMostOfWet{gate.MaxSurface}}})
	if g.Target > 0 {
		moisture := About{apart(quantity.Fraction(g.Moisture.Best), g.Target)}
		met := weighed && g.MoistureOK && !old
		rules = append(rules, Rule{MoistureRule, met, have(moisture), reason.List{AtMost{g.Target}}})
	}
	if gate.MaxLoss > 0 {
		most := reason.List{AtMost{gate.MaxLoss}}
		rules = append(rules, Rule{TooDryRule, weighed && !g.Dry && !old, have(Share{tenth(g.Loss)}), most})
	}
	hand := Rule{HandRule, fresh && o.sound(), reason.List{NoCheck{}}, reason.List{SoundCheck{gate.CheckDays}}}
	if o.CheckedOn != day.None {
		hand.Have = append(reason.List{Felt{o.Found, o.CheckedOn}}, o.blownBefore()...)
		if !fresh {
			hand.Have = append(hand.Have, Stale{})
		}
	}
	return append(rules, hand)
}

func (o *Outlook) notYet(t Terms, v Dry, at time.Time, daysOK bool) reason.Reason {
	today, g := day.At(at, t.Loc), o.Figures
	switch {
	case v.On == nil && math.IsNaN(g.Surface),
		o.RH >= wetAir && v.Rate.Best < flatRate && (v.On == nil || v.On.Best > today && !g.met()):
		return RoomTooWet{quantity.Fraction(math.Round(100*float64(o.RH)) / 100), o.wanted(t, today)}
	case v.On == nil:
		return RoomSlow{}
	case g.met() && !daysOK:
		return WaitUntil{t.Gate.MinDays, g.DaysMet}
	case v.On.Best <= today && g.WeighedOn == today:
		return WeighTomorrow{}
	case v.Overdue:
		return Overdue{v.On.Best}
	case v.On.Best <= today:
		return WeighNow{}
	}
	return WeighAbout{v.On.Best}
}

// A wheel that loses less than flatRate of its green weight a day in air of wetAir
// or more is hardly drying: 2 % in a month, where slime grows sooner than a rind
// dries. Our default.
const wetAir, flatRate = 0.9, 0.0006

// wanted is when the wheel should be ready for its coat, by its plan or else by how
// long its variety usually dries; None where that is past or unknown.
func (o *Outlook) wanted(t Terms, today day.Date) day.Date {
	by := day.None
	switch {
	case t.Gate.UntilDay > 0:
		by = t.Made + day.Date(t.Gate.UntilDay)
	case t.Variety.DryingDays > 0:
		by = day.At(o.Began, t.Loc) + day.Date(t.Variety.DryingDays)
	}
	if by <= today {
		return day.None
	}
	return by
}

// Lacks are the rules whose figures keep a wheel from being dry enough; none
// where the answer is another than not yet.
func (v Dry) Lacks() []Rule {
	var out []Rule
	for _, r := range v.Rules {
		if v.Answer == NotYet && !r.Met && r.Code != HandRule {
			out = append(out, r)
		}
	}
	return out
}

// Stale says whether nothing but one newer weight keeps a wheel from an answer:
// by the curve it should be ready for its coat.
func (v Dry) Stale() bool { return v.Answer == WeighAgain && v.Overdue }

// horizon is how many days ahead an expected date is looked for: our choice.
const horizon = 400.0

// expected is when every figure is met by the curve, with the interval; nil
// where that is out of sight.
func (c Case) expected(f drying.Forecast, g Figures) *Expected {
	from := 0.0
	if g.WeighedOn != day.None {
		from = c.Day(g.At)
	}
	e := quantity.Exactly(0)
	join := func(o quantity.Estimate) {
		e = quantity.Estimate{Best: math.Max(e.Best, o.Best), Low: math.Max(e.Low, o.Low), High: math.Max(e.High, o.High)}
	}
	if !g.LossOK {
		o, ok := f.DayOfLoss(g.MinLoss)
		if !ok {
			return nil
		}
		join(o)
	}
	if target := c.target(); target > 0 && !(g.WeighedOn != day.None && g.MoistureOK) {
		o, ok := f.DayOfLoss(wheel.LossForMoisture(c.Start(f).Moisture, target))
		if !ok {
			return nil
		}
		join(o)
	}
	if !g.SurfaceOK {
		o, ok := surfaceDay(f, from, float64(c.Gate.MaxSurface))
		if !ok {
			return nil
		}
		join(o)
	}
	if e.Best > horizon || math.IsNaN(e.Best) {
		return nil
	}
	date := func(d float64) day.Date {
		if math.IsNaN(d) || d > 10*horizon {
			return day.None
		}
		return day.At(c.Time(d), c.Loc)
	}
	x := &Expected{Best: date(e.Best), Low: date(math.Min(e.Low, e.Best)), High: date(math.Max(e.High, e.Best))}
	// What the last weighing didn't show, the next one may, and that is a day later at the
	// earliest; nor, as the days of the gate are dates, can it be before the last of them.
	floor := g.DaysMet
	if g.WeighedOn != day.None {
		floor = max(floor, g.WeighedOn+1)
	}
	x.Best, x.Low = max(x.Best, floor), max(x.Low, floor)
	if x.High != day.None {
		x.High = max(x.High, floor)
	}
	return x
}

func (c Case) target() quantity.Fraction {
	if c.Gate.MaxMoisture > 0 {
		return c.Gate.MaxMoisture
	}
	return c.Variety.DryTarget
}

// surfaceDay is the day from from on which the rate, which falls, has come to share
// of the wet surface's: best by the best rate, low and high by the ends of the
// rate's interval. How finely the days are told apart is our choice.
func surfaceDay(f drying.Forecast, from, share float64) (quantity.Estimate, bool) {
	const quarters = 4 * 14 // and every other day from then on
	at := func(i int) float64 { return from + 0.25*float64(min(i, quarters)) + 2*float64(max(i-quarters, 0)) }
	n := 0
	for at(n) <= horizon {
		n++
	}
	i := 0
	first := func(of func(quantity.Estimate) float64) float64 {
		fallen := func(i int) bool {
			wet := f.WetRatePerDay(at(i))
			return wet > 1e-7 && of(f.RatePerDay(at(i)))/wet <= share
		}
		low := i
		for step := 1; i < n && !fallen(i); step *= 2 { // further and further, then back
			low, i = i+1, min(i+step, max(i+1, n-1))
		}
		if i += sort.Search(i-low, func(k int) bool { return fallen(low + k) }) - (i - low); i >= n {
			return math.Inf(1)
		}
		return at(i)
	}
	var e quantity.Estimate
	e.Low = first(func(r quantity.Estimate) float64 { return r.Low })
	e.Best = first(func(r quantity.Estimate) float64 { return r.Best })
	e.High = first(func(r quantity.Estimate) float64 { return r.High })
	return e, !math.IsInf(e.Best, 1)
}

// tenth is a share to a tenth of a percent, as reasons give it.
func tenth(f quantity.Fraction) quantity.Fraction {
	return quantity.Fraction(math.Round(float64(f)*1000) / 1000)
}

// apart is tenth, with a digit more where tenth would make a figure look like
// the limit it is measured against.
func apart(f, limit quantity.Fraction) quantity.Fraction {
	fine := quantity.Fraction(math.Round(float64(f)*10000) / 10000)
	if tenth(f) == tenth(limit) && fine != limit {
		return fine
	}
	return tenth(f)
}

// TargetLoss is the loss at which the gate's figures of loss and moisture are
// both met, by a forecast of the case.
func (c Case) TargetLoss(f drying.Forecast) quantity.Fraction {
	l := c.minLoss(f)
	if t := c.target(); t > 0 {
		l = max(l, wheel.LossForMoisture(c.Start(f).Moisture, t))
	}
	return l
}

// ExpectedBy is when a forecast has the wheel meet its gate's figures; nil
// where it meets them now, or the forecast never does.
func (c Case) ExpectedBy(f drying.Forecast) *Expected {
	g := c.figures(f)
	if g.met() && g.WeighedOn != day.None {
		return nil
	}
	return c.expected(f, g)
}
