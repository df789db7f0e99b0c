package wheel

import (
	"math"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// LossPoint is one weighing on the loss chain.
type LossPoint struct {
	Entry    uuid.UUID
	At       time.Time
	Day      float64        // days of 24 h since drying began
	Gross    quantity.Grams // as the scale showed it
	Net      quantity.Grams // without coats
	Retained float64        // fraction of the green weight left by drying alone, not by cores and cuts
	SD       float64        // standard deviation of Retained, from weighing and from links
	Scale    float64        // the part from weighing alone
	Shift    float64        // the part from the links since the point before, except the first coat's
	Coated   bool           // weighed with a coat on
	Aside    bool           // the weight just before a coat, core or cut
}

// Loss is 1 - Retained.
func (p LossPoint) Loss() quantity.Fraction { return quantity.Fraction(1 - p.Retained) }

// Chain links a wheel's weighings across coats, cores and cuts like a price index:
// within a stretch, the retained fraction is the net weight over the net weight at
// the start of the stretch, and stretches multiply.
type Chain struct {
	Green  quantity.Grams // green weight; 0 if never weighed
	Began  time.Time      // when drying began: the first weighing
	Points []LossPoint    // in time order, the green weight first
	Tare   quantity.Grams // mass of the present coats
	Step   quantity.Grams // step of the scale, guessed from the weights
	Notes  reason.List    // what had to be estimated
	Gap    float64        // day of the first guessed link; NaN if all were weighed
	Coat   LossPoint      // the weight just after the first coat, without it; SD is 0 if not weighed

	base     float64 // net weight at the start of the present stretch
	retained float64 // Retained there
	linkVar  float64 // relative variance of all guessed links
	shiftVar float64 // that of all links since the last point, except the first coat's
	lastDay  float64 // last day on which the mass is known
	lastNet  float64 // net mass then
}

// Present is the last known net mass and its day: that of the last weighing, or what
// a coat, core, cut or piece left of it. It is 0 for a wheel that was never weighed,
// and doesn't include a cut that wasn't weighed.
func (c Chain) Present() (net quantity.Grams, day float64) {
	return quantity.Grams(c.lastNet), c.lastDay
}

// Weighings counts the weights, including the green weight.
func (c Chain) Weighings() int { return len(c.Points) }

// Last is the latest weighing; ok is false if there is none.
func (c Chain) Last() (p LossPoint, ok bool) {
	if len(c.Points) == 0 {
		return LossPoint{}, false
	}
	return c.Points[len(c.Points)-1], true
}

// handlingSD is the error of setting down a wheel, of drops of water and of a scale
// that isn't level, as a fraction of the weight: common practice, no source.
const handlingSD = 0.0005

// leastNoise is the least standard deviation of any weighing, grams: our
// calibration on made-up wheels under 1 kg, in wheel/drying.
const leastNoise = 0.5

// noise is the standard deviation of a weighing of w grams, from the scale's step
// (uniform: step/sqrt 12) and the handling.
func noise(w, step quantity.Grams) float64 {
	return math.Max(leastNoise, math.Hypot(float64(step)/math.Sqrt(12), handlingSD*float64(w)))
}

// add appends a point and sets its errors.
func (c *Chain) add(p LossPoint) {
	rel := noise(p.Gross, c.Step) / float64(p.Net)
	p.Scale, p.Shift = p.Retained*rel, p.Retained*math.Sqrt(c.shiftVar)
	p.SD = p.Retained * math.Sqrt(rel*rel+c.linkVar)
	c.shiftVar = 0
	c.Points = append(c.Points, p)
}

// ScaleStep guesses the step of the scale: the largest of 1, 2, 5, 10, 20, 50 and 100
// g that divides every weight. With fewer than four weights it is 1 g up to 5 kg, 5
// g up to 20 kg and 10 g above. Common practice, no source.
func ScaleStep(weights []quantity.Grams) quantity.Grams {
	if len(weights) == 0 {
		return 1
	}
	if len(weights) >= 4 {
		for _, s := range []float64{100, 50, 20, 10, 5, 2} {
			if !slices.ContainsFunc(weights, func(w quantity.Grams) bool { return !(math.Mod(float64(w)+1e-6, s) < 1e-3) }) {
				return quantity.Grams(s)
			}
		}
		return 1
	}
	switch w := weights[0]; {
	case w <= 5000:
		return 1
	case w <= 20000:
		return 5
	}
	return 10
}

// Expect is the drying curve to use where a weight is missing: the retained fraction
// on a day since drying began, and its standard deviation. If it is nil, the wheel is
// assumed not to dry over the gap.
type Expect func(day float64) (retained, sd float64)

// linkSD is the relative standard deviation of a link over a gap without a curve: our
// guess.
const linkSD = 0.02

// Link makes the chain of a wheel's live entries, in time order. Where a coat, core
// or cut lacks the weight before or after it, the link comes from expect; SD
// includes its uncertainty from there on, and Notes says so.
func Link(live []Entry, expect Expect) Chain {
	var weights []quantity.Grams
	for _, e := range live {
		if e.Kind == Weighed {
			weights = append(weights, e.Weight)
		}
	}
	l := newLinker(weights, expect)
	for _, e := range live {
		switch e = l.asCut(e); e.Kind {
		case Weighed:
			l.weigh(e)
		case CoatedOn, Cored, Cut:
			l.change(e)
		}
	}
	return l.Chain
}

// linker links entries one after the other.
type linker struct {
	Chain
	expect Expect
	coated bool
	now    float64 // Retained on lastDay
	open   Kind    // the last coat, core or cut if the weight after it isn't known yet; else 0
	loose  float64 // mass that was cut off and not yet sent
}

func newLinker(weights []quantity.Grams, expect Expect) linker {
	c := Chain{Step: ScaleStep(weights), Gap: math.NaN()}
	if len(weights) > 0 {
		c.Points = make([]LossPoint, 0, len(weights))
	}
	return linker{Chain: c, expect: expect}
}

// asCut gives a piece that was sent as the cut that took it off, without what
// earlier cuts took; the zero Entry if they took it all.
func (l *linker) asCut(e Entry) Entry {
	switch {
	case e.Kind == Cut && e.Removed > 0:
		l.loose += float64(e.Removed)
	case e.Kind == Cut && e.Before > 0 && e.Weight > 0:
		l.loose += float64(e.Before - e.Weight)
	case e.Kind == Cut:
		l.loose = math.Inf(1)
	case e.Kind == SentPart:
		had := math.Min(l.loose, float64(e.Weight))
		if l.loose -= had; math.IsInf(l.loose, 1) {
			l.loose = 0
		}
		e.Kind, e.Before, e.Weight, e.Removed = Cut, 0, 0, e.Weight-quantity.Grams(had)
		if e.Removed <= 0 {
			return Entry{}
		}
	}
	return e
}

func (l *linker) day(t time.Time) float64 { return t.Sub(l.Began).Hours() / 24 }

// least keeps a net weight above 0, even under a coat that is said to weigh more
// than the whole wheel, so that every figure is a number.
func (l *linker) least(net float64) float64 { return math.Max(net, 1e-6*float64(l.Green)) }

// weigh adds a weighing.
func (l *linker) weigh(e Entry) {
	if l.Green == 0 {
		if l.Tare >= e.Weight {
			l.Tare = 0
		}
		l.Green, l.Began = e.Weight-l.Tare, e.At
		l.base, l.retained, l.lastNet, l.now = float64(l.Green), 1, float64(l.Green), 1
		l.Points = append(l.Points, LossPoint{
			Entry: e.ID, At: e.At, Gross: e.Weight, Net: l.Green, Retained: 1, Coated: l.coated,
		})
		return
	}
	if l.open != 0 {
		l.carry(l.day(e.At))
		l.base, l.retained = l.split(e.Weight), l.now
		l.open = 0
	}
	l.point(e, e.Weight, false)
}

// point adds a weight to the present stretch.
func (l *linker) point(e Entry, gross quantity.Grams, aside bool) {
	l.lastDay, l.lastNet = l.day(e.At), l.least(float64(gross-l.Tare))
	l.now = l.retained * l.lastNet / l.base
	l.add(LossPoint{
		Entry: e.ID, At: e.At, Day: l.lastDay, Gross: gross, Net: quantity.Grams(l.lastNet), Retained: l.now,
		Coated: l.coated, Aside: aside,
	})
}

// change links the stretches before and after a coat, core or cut.
func (l *linker) change(e Entry) {
	first := e.Kind == CoatedOn && !l.coated
	if l.Green == 0 {
		l.coated = l.coated || first
		// Before the first weighing only the coat's own weights count.
		if e.Kind == CoatedOn && e.Before > 0 && e.Weight > e.Before {
			l.Tare += e.Weight - e.Before
		}
		return
	}
	cutOpen := l.before(e)
	l.coated = l.coated || first
	l.after(e, cutOpen)
	if e.Weight > 0 {
		// The weight after it has an error like any other, and everything later
		// depends on it.
		rel := noise(e.Weight, l.Step) / l.lastNet
		if first {
			l.Coat = LossPoint{
				Entry: e.ID, At: e.At, Day: l.lastDay, Gross: e.Weight, Net: quantity.Grams(l.lastNet), Coated: true,
				Retained: l.now, SD: l.now * rel,
			}
		} else {
			l.shiftVar += rel * rel
		}
	}
	l.base, l.retained = l.lastNet, l.now
}

// before finds the net weight just before a coat, core or cut. CutOpen is true if
// what an earlier cut left is still unknown.
func (l *linker) before(e Entry) (cutOpen bool) {
	d := l.day(e.At)
	switch {
	case l.open != 0:
		l.carry(d)
		if cutOpen = e.Before == 0 && l.open != CoatedOn; e.Before > 0 {
			l.lastNet = l.split(e.Before)
		}
	case e.Before > 0:
		l.point(e, e.Before, true)
	default:
		gap := d > l.lastDay
		l.carry(d)
		if gap {
			l.Notes = append(l.Notes, BeforeByCurve{e.Kind, whole(quantity.Grams(l.lastNet) + l.Tare)})
		}
	}
	l.lastNet = l.least(l.lastNet)
	return cutOpen
}

// after finds the net weight and the tare just after a coat, core or cut.
func (l *linker) after(e Entry, cutOpen bool) {
	after := float64(e.Weight)
	if after == 0 && e.Removed > 0 {
		after = l.lastNet + float64(l.Tare) - float64(e.Removed)
	}
	l.open = 0
	switch {
	case after > 0 && e.Kind == CoatedOn && cutOpen:
		l.lastNet = l.least(after - float64(l.Tare))
		l.Notes = append(l.Notes, CutThenCoated{})
	case after > 0 && e.Kind == CoatedOn:
		l.Tare = quantity.Grams(math.Max(0, after-l.lastNet))
	case after > 0:
		share := math.Min(1, after/(l.lastNet+float64(l.Tare)))
		l.lastNet *= share
		l.Tare *= quantity.Grams(share)
	default:
		l.open = e.Kind
		if e.Kind != CoatedOn {
			l.Notes = append(l.Notes, CutByCurve{})
		}
	}
}

// split gives the net weight of a gross weight after an open coat, core or cut. The
// mass of an open coat is what the curve leaves for it.
func (l *linker) split(gross quantity.Grams) float64 {
	if l.open == CoatedOn && float64(gross) > l.lastNet {
		l.Tare = gross - quantity.Grams(l.lastNet)
		l.Notes = append(l.Notes, CoatByCurve{whole(l.Tare)})
		return l.lastNet
	}
	return l.least(float64(gross - l.Tare))
}

// carry moves the net weight along the curve to a day, as a guess.
func (l *linker) carry(day float64) {
	r, variance := l.drop(l.lastDay, day)
	if day > l.lastDay && math.IsNaN(l.Gap) {
		l.Gap = l.lastDay
	}
	l.linkVar += variance
	l.shiftVar += variance
	l.lastDay, l.lastNet, l.now = day, l.lastNet*r, l.now*r
}

// drop is the share of the mass that the curve keeps from one day to another, and
// its relative variance.
func (l *linker) drop(from, to float64) (r, variance float64) {
	if to <= from {
		return 1, 0
	}
	if l.expect == nil {
		return 1, linkSD * linkSD
	}
	r0, s0 := l.expect(from)
	r1, s1 := l.expect(to)
	if !(r0 > 0) || !(r1 > 0) {
		return 1, linkSD * linkSD
	}
	// Both ends are on one curve, so only the drop between them is uncertain, in
	// the same proportion as the curve's whole loss.
	lost := 1 - r1/r0
	rel := 0.5
	if loss := 1 - r1; loss > 0 {
		rel = math.Min(1, math.Max(s1, s0)/loss)
	}
	return r1 / r0, lost * lost * rel * rel
}

// whole rounds a weight to the gram for a reason.
func whole(g quantity.Grams) quantity.Grams { return quantity.Grams(math.Round(float64(g))) }

// Of is the loss that a further weighing of gross grams would mean with the present
// coats. It is 0 without a green weight.
func (c Chain) Of(gross quantity.Grams) quantity.Fraction {
	if c.Green == 0 || !(c.base > 0) {
		return 0
	}
	return quantity.Fraction(1 - c.retained*float64(gross-c.Tare)/c.base)
}

// SDOf is the standard deviation of Of(gross), from weighing and guessed links.
func (c Chain) SDOf(gross quantity.Grams) quantity.Fraction {
	if c.Green == 0 || !(c.base > 0) {
		return 0
	}
	rel := noise(gross, c.Step) / math.Max(1, float64(gross-c.Tare))
	return quantity.Fraction((1 - float64(c.Of(gross))) * math.Sqrt(rel*rel+c.linkVar))
}
