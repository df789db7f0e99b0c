package verdict

import (
	"fmt"
	"math"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
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
)

// Rule is one condition of the gate with its figure, written for people.
type Rule struct {
	Name string
	Met  bool
	Have string
	Need string
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
	WeighedAt time.Time         // the weighing Loss rests on
	Loss      quantity.Fraction // at the last weighing; meaningless without one
	Moisture  quantity.Estimate // then, wet basis, fraction
	Rate      quantity.Estimate // fraction of green weight per day, at the time asked
	Present   quantity.Estimate // loss at the time asked, by the curve
	Rules     []Rule
	On        *Expected // when it should be dry enough; nil where it is, or never will be
	Overdue   bool      // On is past
	Advice    string
	Brief     string // Advice in a few words
	Leak      string // after coating: why the coat seems to leak; "" where it does not
	Basis     string // what the forecast rests on
}

// figures are the measured conditions at the last weighing.
type figures struct {
	loss               quantity.Fraction
	moisture           quantity.Estimate
	rate               quantity.Estimate
	surface            float64 // rate over the wheel's own wet rate; NaN where the air takes no water
	target             quantity.Fraction
	lossOK, surfaceOK  bool
	moistureOK, dry    bool // dry: over MaxLoss by now
	weighedOn, daysMet day.Date
}

func (c Case) figures(f drying.Forecast) figures {
	var g figures
	p, ok := c.Life.Chain.Last()
	g.weighedOn, g.daysMet = day.None, day.At(c.Began(), c.Loc)+day.Date(c.Gate.MinDays)
	if !ok {
		g.surface = math.NaN()
		return g
	}
	g.weighedOn = day.At(p.At, c.Loc)
	g.loss = p.Loss()
	g.moisture = c.Life.Make.Start.After(g.loss).Moisture
	g.rate = f.RatePerDay(p.Day)
	g.surface = surfaceShare(f, p.Day)
	g.lossOK = g.loss >= c.Gate.MinLoss-1e-9
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
// decide are those of the last weighing; the curve only says when to look
// again.
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
	found := "blown with gas " + day.At(e.At, c.Loc).Short()
	switch v.Answer {
	case Coated:
		v.Advice = found + ": keep it apart and find out why; " + v.Advice
	case DryEnough, TooDry:
		v.Answer = CheckByHand
		fallthrough
	default:
		v.Advice = found + ": do not coat it; keep it apart and find out why before its sisters are coated"
	}
	v.Brief = "BLOWN: keep apart"
	return v
}

// sound says whether the hand check lets the wheel be coated; a wheel found
// blown before it is not.
func (c Case) sound(check wheel.Entry) bool {
	_, blown := c.Life.Blown()
	return check.Found.Sound() && !blown
}

// felt is what a hand check found, with gas that an earlier one found.
func (c Case) felt(check wheel.Entry) string {
	w := check.Found.String()
	if e, blown := c.Life.Blown(); blown && e.ID != check.ID {
		w += ", blown with gas on " + day.At(e.At, c.Loc).Short()
	}
	return w
}

// undecided is what keeps a wheel waiting of which only other things were said.
const undecided = "does not say whether it is dry to the touch"

func (c Case) answer(f drying.Forecast, at time.Time) Dry {
	today := day.At(at, c.Loc)
	now := math.Max(0, c.Day(at))
	g := c.figures(f)
	p, weighed := c.Life.Chain.Last()
	v := Dry{
		Weighings: c.Life.Chain.Weighings(), WeighedAt: p.At, Loss: g.loss, Moisture: g.moisture,
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
	days := int(today - day.At(c.Began(), c.Loc))
	daysOK := days >= c.Gate.MinDays

	v.Rules = c.rules(g, weighed, days, check, checked, fresh)
	switch {
	case len(c.Life.Coats) > 0:
		v.Answer = Coated
		v.Advice = "coated " + c.Life.Coats[0].On.Short() + "; a sound coat nearly stops the loss"
		v.Brief = "coated " + c.Life.Coats[0].On.Short()
		if leaks, why := f.Leaking(); leaks {
			v.Leak = why
			v.Brief = "the coat LEAKS"
			v.Advice = "look for cracks and pinholes in the coat and mend them: " + why
		}
		return v
	case !weighed:
		v.Answer = NoWeights
		v.On = c.expected(f, g)
		v.Advice, v.Brief = "weigh it: nothing is known of its loss", "weigh it"
		return v
	case g.dry || c.Gate.MaxLoss > 0 && quantity.Fraction(v.Present.Best) > c.Gate.MaxLoss:
		v.Answer = TooDry
		v.Advice = fmt.Sprintf("over %s of loss cracks are common: look the rind over, then coat at once or raise the humidity", pct(c.Gate.MaxLoss))
		v.Brief = "look for cracks, coat at once"
		return v
	case !g.met() || !daysOK:
		v.Answer = NotYet
		v.On = c.expected(f, g)
		v.Overdue = v.On != nil && v.On.Best < today
		v.Advice, v.Brief = c.notYet(v, g, at, daysOK)
		return v
	case fresh && c.sound(check):
		v.Answer = DryEnough
		by := (day.At(check.At, c.Loc) + day.Date(c.Gate.CheckDays)).Short()
		v.Advice, v.Brief = fmt.Sprintf("coat it by %s, while the hand check holds", by), "coat it by "+by
		return v
	case fresh && check.Found.Undecided():
		v.Answer = CheckByHand
		v.Advice, v.Brief = "the figures are met, but the hand check "+undecided+": feel it all over", "feel it all over"
		return v
	case fresh:
		v.Answer = CheckByHand
		v.Advice = fmt.Sprintf("the figures are met, but the hand check says %s: see to that and check again", check.Found)
		v.Brief = "hand check: " + check.Found.String()
		return v
	}
	v.Answer = CheckByHand
	v.Advice, v.Brief = "the figures are met: feel it all over; coat only if dry to the touch, with no weeping, cracks or mould", "feel it all over"
	return v
}

func (c Case) rules(g figures, weighed bool, days int, check wheel.Entry, checked, fresh bool) []Rule {
	have := func(s string) string {
		if !weighed {
			return "not weighed"
		}
		return s
	}
	rules := []Rule{
		{"days drying", days >= c.Gate.MinDays, fmt.Sprintf("%d", max(0, days)), fmt.Sprintf("at least %d", c.Gate.MinDays)},
		{"loss", g.lossOK, have(apart(g.loss, c.Gate.MinLoss)), "at least " + pct(c.Gate.MinLoss)},
	}
	surface := "air takes no water"
	if !math.IsNaN(g.surface) {
		surface = fmt.Sprintf("%.0f %% of a wet surface's", math.Min(999, 100*g.surface))
	}
	rules = append(rules, Rule{"rate", g.surfaceOK, have(surface), fmt.Sprintf("at most %.0f %%", c.Gate.MaxSurface.Percent())})
	if g.target > 0 {
		rules = append(rules, Rule{"moisture", weighed && g.moistureOK, have("about " + apart(quantity.Fraction(g.moisture.Best), g.target)), "at most " + pct(g.target)})
	}
	if c.Gate.MaxLoss > 0 {
		rules = append(rules, Rule{"not too dry", weighed && !g.dry, have(pct(g.loss)), "at most " + pct(c.Gate.MaxLoss)})
	}
	hand := Rule{handCheck, fresh && c.sound(check), "none yet", fmt.Sprintf("dry and sound, at most %s old", dayCount(c.Gate.CheckDays))}
	if checked {
		hand.Have = c.felt(check) + " " + day.At(check.At, c.Loc).Short()
		if !fresh {
			hand.Have += ", stale"
		}
	}
	return append(rules, hand)
}

func (c Case) notYet(v Dry, g figures, at time.Time, daysOK bool) (advice, brief string) {
	switch {
	case v.On == nil && math.IsNaN(g.surface):
		return "the room's air is too wet to dry it: lower the humidity or move it", "room too wet"
	case v.On == nil:
		return "in this air it will hardly get there: lower the humidity a little or move it", "room too wet"
	case g.met() && !daysOK:
		return fmt.Sprintf("the figures are met early: give the rind its %s, until %s", dayCount(c.Gate.MinDays), g.daysMet.Short()), "wait until " + g.daysMet.Short()
	case v.On.Best <= day.At(at, c.Loc) && g.weighedOn == day.At(at, c.Loc):
		return "by the curve it is all but there: weigh it again tomorrow", "weigh it tomorrow"
	case v.Overdue:
		return fmt.Sprintf("overdue since %s: weigh it", v.On.Best.Short()), "overdue: weigh it"
	case v.On.Best <= day.At(at, c.Loc):
		return "weigh it now: by the curve it may be there", "weigh it now"
	}
	return fmt.Sprintf("weigh it again about %s", v.On.Best.Short()), "weigh about " + v.On.Best.Short()
}

// handCheck names the rule that no figure meets.
const handCheck = "hand check"

// Lacks are the rules whose figures keep a wheel from being dry enough; none
// where the answer is another than not yet.
func (v Dry) Lacks() []Rule {
	var out []Rule
	for _, r := range v.Rules {
		if v.Answer == NotYet && !r.Met && r.Name != handCheck {
			out = append(out, r)
		}
	}
	return out
}

// String is the rule with its figure: "rate 79 % of a wet surface's, needs at
// most 75 %".
func (r Rule) String() string { return r.Name + " " + r.Have + ", needs " + r.Need }

// horizon is how many days ahead an expected date is looked for.
const horizon = 400.0

// expected is when every figure is met by the curve, with the interval; nil
// where that is out of sight.
func (c Case) expected(f drying.Forecast, g figures) *Expected {
	from := 0.0
	if p, ok := c.Life.Chain.Last(); ok {
		from = p.Day
	}
	e := quantity.Exactly(0)
	join := func(o quantity.Estimate) {
		e = quantity.Estimate{Best: math.Max(e.Best, o.Best), Low: math.Max(e.Low, o.Low), High: math.Max(e.High, o.High)}
	}
	if !g.lossOK {
		o, ok := f.DayOfLoss(c.Gate.MinLoss)
		if !ok {
			return nil
		}
		join(o)
	}
	if target := c.target(); target > 0 && !(g.weighedOn != day.None && g.moistureOK) {
		o, ok := f.DayOfLoss(wheel.LossForMoisture(c.Life.Make.Start.Moisture, target))
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
// rate's interval.
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

func pct(f quantity.Fraction) string { return fmt.Sprintf("%.1f %%", f.Percent()) }

// apart writes a figure with a second decimal where one would make it look
// like the figure it is measured against.
func apart(f, limit quantity.Fraction) string {
	fine := fmt.Sprintf("%.2f %%", f.Percent())
	if pct(f) == pct(limit) && fine != fmt.Sprintf("%.2f %%", limit.Percent()) {
		return fine
	}
	return pct(f)
}

func dayCount(n int) string {
	if n == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%d days", n)
}

// Windows are the dates the gate opens, or wants something first, from what is
// known now.
func (c Case) Windows() Windows {
	w := Shut()
	if len(c.Life.Coats) > 0 || c.Life.GoneOn != day.None {
		return w
	}
	_, weighed := c.Life.Chain.Last()
	if !weighed {
		w.WeighFrom = day.At(c.Began(), c.Loc)
		w.WeighWhy = "never weighed: the coat waits for its loss"
		return w
	}
	f := c.Forecast()
	g := c.figures(f)
	if !g.met() {
		w.WeighFrom = g.weighedOn + 7
		w.WeighWhy = "not dry enough a week ago"
		if e := c.expected(f, g); e != nil {
			w.WeighFrom = max(g.weighedOn+1, e.Best)
			w.WeighWhy = "by its curve it is dry enough to coat about now"
		}
		return w
	}
	from := max(g.weighedOn, g.daysMet)
	w.CheckFrom, w.CheckWhy = from, "figures met: feel it before it is coated"
	w.CoatWhy = fmt.Sprintf("dry enough, hand check sound, %s lost", pct(g.loss))
	if g.dry {
		w.CheckWhy = "drier than is safe for the rind: look for cracks"
		w.CoatWhy = fmt.Sprintf("too dry, coat at once, %s lost", pct(g.loss))
	}
	check, ok := c.Life.LastCheck()
	if !ok {
		return w
	}
	on := day.At(check.At, c.Loc)
	if !c.sound(check) {
		w.CheckFrom = max(from, on+1)
		w.CheckWhy = "the last hand check says " + c.felt(check)
		if _, blown := c.Life.Blown(); !blown && check.Found.Undecided() {
			w.CheckWhy = "the last hand check " + undecided
		}
		return w
	}
	until := on + day.Date(c.Gate.CheckDays)
	if coat := max(from, on); coat <= until {
		w.CoatFrom, w.CoatUntil = coat, until
		w.CheckFrom, w.CheckWhy = until+1, "the hand check has gone stale"
	}
	return w
}

// TargetLoss is the loss at which the gate's figures of loss and moisture are
// both met.
func (c Case) TargetLoss() quantity.Fraction {
	l := c.Gate.MinLoss
	if t := c.target(); t > 0 {
		l = max(l, wheel.LossForMoisture(c.Life.Make.Start.Moisture, t))
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
