package verdict

import (
	"math"
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
	WeighAgain  Answer = "weigh-again" // the last weight is doubtful, or too old
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

// figures are the measured conditions at the last weighing that isn't in doubt.
type figures struct {
	at                 time.Time
	doubtful           reason.List // of a later weighing; empty where there is none in doubt
	doubtfulOn         day.Date
	loss               quantity.Fraction
	moisture           quantity.Estimate
	rate               quantity.Estimate
	surface            float64 // rate over the wheel's own wet rate; NaN where the air takes no water
	target             quantity.Fraction
	lossOK, surfaceOK  bool
	moistureOK, dry    bool // dry: over MaxLoss by now
	weighedOn, daysMet day.Date
	before             reason.List       // what was lost elsewhere
	minLoss            quantity.Fraction // the gate's, as the wheel's losses count
}

func (c Case) figures(f drying.Forecast) figures {
	var g figures
	g.weighedOn, g.daysMet = day.None, day.At(c.DryingBegan(), c.Loc)+day.Date(c.Gate.MinDays)
	g.before, g.minLoss = c.lostBefore(f), c.minLoss(f)
	points := c.Life.Chain.Points
	last, doubtful, why := c.believed(f)
	if last < 0 {
		g.surface = math.NaN()
		return g
	}
	if why != nil {
		g.doubtful, g.doubtfulOn = reason.List{InDoubt{}, why}, day.At(points[doubtful].At, c.Loc)
	}
	p := points[last]
	g.at, g.weighedOn = p.At, day.At(p.At, c.Loc)
	g.loss = p.Loss()
	g.moisture = c.Start(f).After(g.loss).Moisture
	g.rate = f.RatePerDay(p.Day)
	g.surface = surfaceShare(f, p.Day)
	g.lossOK = g.loss >= g.minLoss-1e-9
	g.surfaceOK = g.surface <= float64(c.Gate.MaxSurface)
	g.target = c.target()
	g.moistureOK = g.target == 0 || g.moisture.Best <= float64(g.target)+1e-9
	g.dry = c.Gate.MaxLoss > 0 && g.loss > c.Gate.MaxLoss
	return g
}

func (g figures) met() bool { return g.dry || g.lossOK && g.surfaceOK && g.moistureOK }

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
func (c Case) DryBy(f drying.Forecast, at time.Time) Dry { return c.doubted(c.answer(f, at)) }

// doubted is a verdict with what a blown wheel adds to it: whatever its figures,
// it is not to be coated. Common practice, no source.
func (c Case) doubted(v Dry) Dry {
	e, blown := c.Life.Blown()
	if !blown {
		return v
	}
	on := day.At(e.At, c.Loc)
	switch v.Answer {
	case Coated:
		v.Advice = append(reason.List{FindGas{on}}, v.Advice...)
	case DryEnough, TooDry:
		v.Answer = CheckByHand
		fallthrough
	default:
		v.Advice = reason.List{KeepApart{on}}
	}
	return v
}

// sound says whether the hand check lets the wheel be coated; a wheel found
// blown before it is not.
func (c Case) sound(check wheel.Entry) bool {
	_, blown := c.Life.Blown()
	return check.Found.Sound() && !blown
}

// blownBefore is gas that an earlier hand check found; empty where none did.
func (c Case) blownBefore(check wheel.Entry) reason.List {
	if e, blown := c.Life.Blown(); blown && e.ID != check.ID {
		return reason.List{BlownOn{day.At(e.At, c.Loc)}}
	}
	return nil
}

func (c Case) answer(f drying.Forecast, at time.Time) Dry {
	today := day.At(at, c.Loc)
	now := math.Max(0, c.Day(at))
	g := c.figures(f)
	weighed := g.weighedOn != day.None
	v := Dry{
		Weighings: c.Life.Chain.Weighings(), WeighedAt: g.at, Loss: g.loss, Moisture: g.moisture,
		Rate: f.RatePerDay(now), Present: f.Loss(now), Basis: f.Basis(),
	}
	if !weighed {
		v.Moisture = f.Moisture(now)
	}
	check, checked := c.Life.LastCheck()
	checkAge := 0
	if checked {
		checkAge = int(today - day.At(check.At, c.Loc))
	}
	fresh := checked && checkAge <= c.Gate.CheckDays
	days := int(today - day.At(c.DryingBegan(), c.Loc))
	daysOK := days >= c.Gate.MinDays

	if weighed {
		v.WeightAge = max(0, int(today-g.weighedOn))
	}
	old := c.Gate.WeighDays > 0 && v.WeightAge > c.Gate.WeighDays
	over := c.Gate.MaxLoss > 0 && f.Used() > 0 && quantity.Fraction(v.Present.Best) > c.Gate.MaxLoss // by the curve

	v.Rules = c.rules(g, v.WeightAge, days, check, checked, fresh)
	switch {
	case len(c.Life.Coats) > 0:
		v.Answer, v.Advice = Coated, reason.List{CoatedOn{c.Life.Coats[0].On}}
		if leaks, ok := f.Leaking(); ok {
			v.Leak = reason.List{leaks}
			v.Advice = reason.List{MendCoat{}, leaks}
		}
	case !weighed:
		v.Answer, v.Advice = NoWeights, reason.List{WeighFirst{}}
		v.On = c.expected(f, g)
	case len(g.doubtful) > 0:
		v.Answer, v.Advice = WeighAgain, g.doubtful
	case g.dry || over && !old:
		v.Answer, v.Advice = TooDry, reason.List{CracksLikely{c.Gate.MaxLoss}}
	case !over && !(g.met() && daysOK):
		v.Answer = NotYet
		v.On = c.expected(f, g)
		v.Overdue = v.On != nil && v.On.Best < today
		v.Advice = reason.List{c.notYet(v, g, at, daysOK)}
		if old && (v.On == nil || v.Overdue) {
			v.Answer, v.Advice = WeighAgain, reason.List{TooOld{v.WeightAge, c.Gate.WeighDays}}
		}
	case old:
		v.Answer, v.Advice, v.Overdue = WeighAgain, reason.List{TooOld{v.WeightAge, c.Gate.WeighDays}}, true
	case fresh && c.sound(check):
		v.Answer, v.Advice = DryEnough, reason.List{CoatBy{day.At(check.At, c.Loc) + day.Date(c.Gate.CheckDays)}}
	case fresh && check.Found.Undecided():
		v.Answer, v.Advice = CheckByHand, reason.List{FeelAgain{}}
	case fresh:
		v.Answer, v.Advice = CheckByHand, reason.List{SeeTo{check.Found}}
	default:
		v.Answer, v.Advice = CheckByHand, reason.List{Feel{}}
	}
	switch v.Answer {
	case TooDry, NotYet, CheckByHand, DryEnough:
		if v.WeightAge > 0 {
			v.Advice = append(v.Advice, ByWeight{v.WeightAge})
		}
	}
	if k, ok := f.Step(); ok {
		was, p := c.Life.Chain.Points[k-1], c.Life.Chain.Points[k]
		v.Advice = append(v.Advice, Jumped{was.Gross, p.Gross, p.At})
	}
	return v
}

// rules are the gate's with what the wheel has of each; a share over 9.99 is shown as
// that (our choice). What was weighed doesn't
// meet a rule once it is too old.
func (c Case) rules(g figures, age, days int, check wheel.Entry, checked, fresh bool) []Rule {
	weighed := g.weighedOn != day.None
	old := c.Gate.WeighDays > 0 && age > c.Gate.WeighDays
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
		{DaysRule, days >= c.Gate.MinDays, reason.List{Days{max(0, days)}}, reason.List{LeastDays{c.Gate.MinDays}}},
		{LossRule, g.lossOK && !old, append(have(Share{apart(g.loss, c.Gate.MinLoss)}, ByWeight{age}), g.before...),
			reason.List{AtLeast{c.Gate.MinLoss}}},
	}
	surface := reason.Reason(NoDrying{})
	if !math.IsNaN(g.surface) {
		surface = OfWetRind{quantity.Fraction(min(9.99, math.Round(100*g.surface)/100))}
	}
	rules = append(rules, Rule{RateRule, g.surfaceOK && !old, have(surface), reason.List{AtMostOfWet{c.Gate.MaxSurface}}})
	if g.target > 0 {
		moisture := About{apart(quantity.Fraction(g.moisture.Best), g.target)}
		met := weighed && g.moistureOK && !old
		rules = append(rules, Rule{MoistureRule, met, have(moisture), reason.List{AtMost{g.target}}})
	}
	if c.Gate.MaxLoss > 0 {
		most := reason.List{AtMost{c.Gate.MaxLoss}}
		rules = append(rules, Rule{TooDryRule, weighed && !g.dry && !old, have(Share{tenth(g.loss)}), most})
	}
	hand := Rule{HandRule, fresh && c.sound(check), reason.List{NoCheck{}}, reason.List{SoundCheck{c.Gate.CheckDays}}}
	if checked {
		hand.Have = append(reason.List{Felt{check.Found, day.At(check.At, c.Loc)}}, c.blownBefore(check)...)
		if !fresh {
			hand.Have = append(hand.Have, Stale{})
		}
	}
	return append(rules, hand)
}

func (c Case) notYet(v Dry, g figures, at time.Time, daysOK bool) reason.Reason {
	today := day.At(at, c.Loc)
	rh := quantity.Fraction(0)
	if n := len(c.Air); n > 0 {
		rh = c.Air[n-1].Air.RH
	}
	switch {
	case v.On == nil && math.IsNaN(g.surface),
		rh >= wetAir && v.Rate.Best < flatRate && (v.On == nil || v.On.Best > today && !g.met()):
		return RoomTooWet{quantity.Fraction(math.Round(100*float64(rh)) / 100), c.wanted(today)}
	case v.On == nil:
		return RoomSlow{}
	case g.met() && !daysOK:
		return WaitUntil{c.Gate.MinDays, g.daysMet}
	case v.On.Best <= today && g.weighedOn == today:
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
func (c Case) wanted(today day.Date) day.Date {
	by := day.None
	switch {
	case c.Gate.UntilDay > 0:
		by = c.Life.Make.Date + day.Date(c.Gate.UntilDay)
	case c.Variety.DryingDays > 0:
		by = day.At(c.Began(), c.Loc) + day.Date(c.Variety.DryingDays)
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

// Stale says whether nothing but the age of its weight keeps a wheel from an answer:
// by the curve it should be ready for its coat.
func (v Dry) Stale() bool { return v.Answer == WeighAgain && v.Overdue }

// horizon is how many days ahead an expected date is looked for: our choice.
const horizon = 400.0

// expected is when every figure is met by the curve, with the interval; nil
// where that is out of sight.
func (c Case) expected(f drying.Forecast, g figures) *Expected {
	from := 0.0
	if g.weighedOn != day.None {
		from = c.Day(g.at)
	}
	e := quantity.Exactly(0)
	join := func(o quantity.Estimate) {
		e = quantity.Estimate{Best: math.Max(e.Best, o.Best), Low: math.Max(e.Low, o.Low), High: math.Max(e.High, o.High)}
	}
	if !g.lossOK {
		o, ok := f.DayOfLoss(g.minLoss)
		if !ok {
			return nil
		}
		join(o)
	}
	if target := c.target(); target > 0 && !(g.weighedOn != day.None && g.moistureOK) {
		o, ok := f.DayOfLoss(wheel.LossForMoisture(c.Start(f).Moisture, target))
		if !ok {
			return nil
		}
		join(o)
	}
	if !g.surfaceOK {
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
	// What was not seen yet cannot have happened before the last look, nor, as
	// the days of the gate are dates, before the last of them.
	floor := max(g.weighedOn, g.daysMet)
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

// surfaceDay is the first day from from on which the rate has fallen to share
// of the wet surface's: best by the best rate, low and high by the ends of the
// rate's interval. How finely the days are searched is our choice.
func surfaceDay(f drying.Forecast, from, share float64) (quantity.Estimate, bool) {
	e := quantity.Estimate{Best: math.Inf(1), Low: math.Inf(1), High: math.Inf(1)}
	step := 0.25
	for d := from; d <= horizon; d += step {
		if d > from+14 {
			step = 2
		}
		wet := f.WetRatePerDay(d)
		if !(wet > 1e-7) {
			continue
		}
		r := f.RatePerDay(d)
		if r.Low/wet <= share {
			e.Low = math.Min(e.Low, d)
		}
		if r.Best/wet <= share {
			e.Best = math.Min(e.Best, d)
		}
		if r.High/wet <= share {
			e.High = d
			break
		}
	}
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
	if g.met() && g.weighedOn != day.None {
		return nil
	}
	return c.expected(f, g)
}
