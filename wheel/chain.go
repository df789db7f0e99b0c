package wheel

import (
	"math"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// LossPoint is one weighing on the loss chain. Gross is what the scale said,
// Net what is left of it without coats; Retained is the fraction of the green
// weight that drying has left, cores and cuts apart; SD is one standard
// deviation of Retained from the scale, the hand and guessed links. Scale is
// that of the scale and the hand alone, and Shift that of the links, guessed or
// weighed, since the point before; the first coat's is in Chain.Coat instead.
type LossPoint struct {
	Entry    uuid.UUID
	At       time.Time
	Day      float64 // days of 24 h since drying began
	Gross    quantity.Grams
	Net      quantity.Grams
	Retained float64
	SD       float64
	Scale    float64
	Shift    float64
	Coated   bool // weighed with a coat on
	Aside    bool // the weight taken just before a coat, core or cut
}

// Loss is 1 - Retained.
func (p LossPoint) Loss() quantity.Fraction { return quantity.Fraction(1 - p.Retained) }

// Chain is a wheel's weighings linked like a price index through coats, cores
// and cuts: within a stretch the retained fraction is net weight over net
// weight at the stretch's start, and stretches multiply.
type Chain struct {
	Green  quantity.Grams // green weight; 0: never weighed
	Began  time.Time      // when drying began: the first weighing
	Points []LossPoint    // in time order, the green weight first
	Tare   quantity.Grams // mass of the coats on it now
	Step   quantity.Grams // step of the scale, as the weights betray it
	Notes  reason.List    // what had to be estimated
	Gap    float64        // day of the first guessed link; NaN where every link was weighed
	Coat   LossPoint      // the weight just after the first coat, its mass taken off; SD 0: not weighed

	base     float64 // net weight at the start of the present stretch
	retained float64 // Retained there
	linkVar  float64 // relative variance gathered by guessed links
	shiftVar float64 // that of all links since the last point, the first coat's apart
	lastDay  float64 // day the mass was last known on
	lastNet  float64 // net mass then
}

// Present is the net mass the chain stands at and the day it is from: that of
// the last weighing, or what a coat, core, cut or piece sent since left of it.
// It is 0 where the wheel was never weighed. A cut that nobody weighed is not
// in it yet.
func (c Chain) Present() (net quantity.Grams, day float64) {
	return quantity.Grams(c.lastNet), c.lastDay
}

// Weighings is how many weights the chain holds, the green weight included.
func (c Chain) Weighings() int { return len(c.Points) }

// Last is the latest weighing; ok is false where there is none.
func (c Chain) Last() (p LossPoint, ok bool) {
	if len(c.Points) == 0 {
		return LossPoint{}, false
	}
	return c.Points[len(c.Points)-1], true
}

// handlingSD is what setting down a wheel, drops of water and a scale out of
// level add to a weighing, as a fraction of the weight: common practice, no
// source.
const handlingSD = 0.0005

// leastNoise is the least standard deviation of any weighing, grams: our
// calibration on made-up wheels under 1 kg, in wheel/drying.
const leastNoise = 0.5

// noise is one standard deviation of a weighing of w grams: the scale's step,
// uniform (step/sqrt 12), and the hand.
func noise(w, step quantity.Grams) float64 {
	return math.Max(leastNoise, math.Hypot(float64(step)/math.Sqrt(12), handlingSD*float64(w)))
}

// add puts a point on the chain, with what is known of its errors.
func (c *Chain) add(p LossPoint) {
	rel := noise(p.Gross, c.Step) / float64(p.Net)
	p.Scale, p.Shift = p.Retained*rel, p.Retained*math.Sqrt(c.shiftVar)
	p.SD = p.Retained * math.Sqrt(rel*rel+c.linkVar)
	c.shiftVar = 0
	c.Points = append(c.Points, p)
}

// ScaleStep guesses the step of the scale from what it showed: the largest of
// 1, 2, 5, 10, 20, 50, 100 g that divides every weight, once there are four.
// Fewer than four give 1 g up to 5 kg, 5 g up to 20 kg and 10 g above.
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

// Expect is the drying curve a chain leans on where a weight is missing: the
// retained fraction at a day since drying began, and its standard deviation.
// Nil stands for "nothing is known": the missing link is taken as no drying.
type Expect func(day float64) (retained, sd float64)

// linkSD is the relative standard deviation given to a link over a gap when
// no curve is at hand.
const linkSD = 0.02

// Link makes the chain of a wheel's live entries, in time order. Where a coat,
// core or cut lacks the weight before or after, the link comes from expect;
// its uncertainty is carried in SD from there on and given in Notes.
func Link(live []Entry, expect Expect) Chain {
	var c Chain
	var weights []quantity.Grams
	for _, e := range live {
		if e.Kind == Weighed {
			weights = append(weights, e.Weight)
		}
	}
	c.Step = ScaleStep(weights)
	if len(weights) > 0 {
		c.Points = make([]LossPoint, 0, len(weights))
	}
	c.Gap = math.NaN()
	guess := func(from, to, variance float64) {
		if to > from && math.IsNaN(c.Gap) {
			c.Gap = from
		}
		c.linkVar += variance
		c.shiftVar += variance
	}
	coated := false
	var last struct {
		day, net, retained float64
	}
	// A coat or cut whose weight after is not known: the next weighing has to
	// be split into cheese and coat, or start a stretch, with the curve's help.
	var pending struct {
		kind Kind // CoatedOn, Cored or Cut; 0: none
		day  float64
		net  float64 // net weight just before it
	}
	// least keeps a net weight that cannot be, as under a coat said to weigh
	// more than the whole, above nothing: every figure stays a number.
	least := func(net float64) float64 { return math.Max(net, 1e-6*float64(c.Green)) }
	// settle splits a gross weight where a coat or cut is pending and gives the
	// net weight; net is what the curve says of it.
	settle := func(gross quantity.Grams, net float64) float64 {
		if pending.kind == CoatedOn && float64(gross) > net {
			c.Tare = gross - quantity.Grams(net)
			c.Notes = append(c.Notes, CoatByCurve{whole(c.Tare)})
			return net
		}
		return least(float64(gross - c.Tare))
	}
	day := func(t time.Time) float64 { return t.Sub(c.Began).Hours() / 24 }
	ratio := func(from, to float64) (r, variance float64) {
		if to <= from {
			return 1, 0
		}
		if expect == nil {
			return 1, linkSD * linkSD
		}
		r0, s0 := expect(from)
		r1, s1 := expect(to)
		if !(r0 > 0) || !(r1 > 0) {
			return 1, linkSD * linkSD
		}
		// Both ends lie on one curve: only the drop between them is in doubt,
		// by as much, relative to itself, as the curve's whole loss is.
		drop := 1 - r1/r0
		rel := 0.5
		if loss := 1 - r1; loss > 0 {
			rel = math.Min(1, math.Max(s1, s0)/loss)
		}
		return r1 / r0, drop * drop * rel * rel
	}
	// A piece sent was cut off, if no cut took it before.
	loose := 0.0 // mass that cuts took and nobody was sent
	for _, e := range live {
		switch e.Kind {
		case Cut:
			switch {
			case e.Removed > 0:
				loose += float64(e.Removed)
			case e.Before > 0 && e.Weight > 0:
				loose += float64(e.Before - e.Weight)
			default:
				loose = math.Inf(1)
			}
		case SentPart:
			had := math.Min(loose, float64(e.Weight))
			if loose -= had; math.IsInf(loose, 1) {
				loose = 0
			}
			e.Kind, e.Before, e.Weight, e.Removed = Cut, 0, 0, e.Weight-quantity.Grams(had)
			if e.Removed <= 0 {
				continue
			}
		}
		switch e.Kind {
		case Weighed:
			if c.Green == 0 {
				if c.Tare >= e.Weight {
					c.Tare = 0
				}
				c.Green, c.Began = e.Weight-c.Tare, e.At
				c.base, c.retained = float64(c.Green), 1
				first := LossPoint{Entry: e.ID, At: e.At, Gross: e.Weight, Net: c.Green, Retained: 1, Coated: coated}
				c.Points = append(c.Points, first)
				last.day, last.net, last.retained = 0, float64(c.Green), 1
				continue
			}
			d := day(e.At)
			if pending.kind != 0 {
				r, v := ratio(pending.day, d)
				guess(pending.day, d, v)
				c.base, c.retained = settle(e.Weight, pending.net*r), last.retained*r
				pending.kind = 0
			}
			net := least(float64(e.Weight - c.Tare))
			p := LossPoint{Entry: e.ID, At: e.At, Day: d, Gross: e.Weight, Net: quantity.Grams(net), Coated: coated}
			p.Retained = c.retained * net / c.base
			c.add(p)
			last.day, last.net, last.retained = d, net, p.Retained
		case CoatedOn, Cored, Cut:
			was := coated
			if e.Kind == CoatedOn {
				coated = true
			}
			if c.Green == 0 {
				// From before the first weighing: of a coat the mass is known,
				// where both its weights were taken.
				if e.Kind == CoatedOn && e.Before > 0 && e.Weight > e.Before {
					c.Tare += e.Weight - e.Before
				}
				continue
			}
			d := day(e.At)
			// Net weight just before.
			var net float64
			cutOpen := false // what a cut left was not weighed yet
			switch {
			case pending.kind != 0:
				r, v := ratio(pending.day, d)
				net = pending.net * r
				guess(pending.day, d, v)
				last.retained *= r
				if e.Before > 0 {
					net = settle(e.Before, net)
				} else {
					cutOpen = pending.kind != CoatedOn
				}
			case e.Before > 0:
				// The weight before it is a weighing like any other.
				net = least(float64(e.Before - c.Tare))
				last.retained = c.retained * net / c.base
				c.add(LossPoint{
					Entry: e.ID, At: e.At, Day: d, Gross: e.Before, Net: quantity.Grams(net), Coated: was, Aside: true,
					Retained: last.retained,
				})
			default:
				r, v := ratio(last.day, d)
				net = last.net * r
				guess(last.day, d, v)
				last.retained *= r
				if d > last.day {
					c.Notes = append(c.Notes, BeforeByCurve{e.Kind, whole(quantity.Grams(net) + c.Tare)})
				}
			}
			net = least(net)
			after := float64(e.Weight)
			if after == 0 && e.Removed > 0 {
				after = net + float64(c.Tare) - float64(e.Removed)
			}
			pending.kind = 0
			switch {
			case after > 0 && e.Kind == CoatedOn && cutOpen:
				net = least(after - float64(c.Tare))
				c.Notes = append(c.Notes, CutThenCoated{})
			case after > 0 && e.Kind == CoatedOn:
				c.Tare = quantity.Grams(math.Max(0, after-net))
			case after > 0:
				share := math.Min(1, after/(net+float64(c.Tare)))
				net *= share
				c.Tare *= quantity.Grams(share)
			default:
				pending.kind, pending.day, pending.net = e.Kind, d, net
				if e.Kind != CoatedOn {
					c.Notes = append(c.Notes, CutByCurve{})
				}
			}
			if e.Weight > 0 {
				// The weight after it is as good as any other, and all that
				// follows leans on it.
				rel := noise(e.Weight, c.Step) / net
				if e.Kind == CoatedOn && !was {
					c.Coat = LossPoint{
						Entry: e.ID, At: e.At, Day: d, Gross: e.Weight, Net: quantity.Grams(net), Coated: true,
						Retained: last.retained, SD: last.retained * rel,
					}
				} else {
					c.shiftVar += rel * rel
				}
			}
			c.base, c.retained = net, last.retained
			last.day, last.net = d, net
		}
	}
	c.lastDay, c.lastNet = last.day, last.net
	return c
}

// whole is a weight to the gram, as reasons give it.
func whole(g quantity.Grams) quantity.Grams { return quantity.Grams(math.Round(float64(g))) }

// Of says what loss a further weighing of gross grams would mean, the present
// coats taken off. It needs a green weight; without one it is 0.
func (c Chain) Of(gross quantity.Grams) quantity.Fraction {
	if c.Green == 0 || !(c.base > 0) {
		return 0
	}
	return quantity.Fraction(1 - c.retained*float64(gross-c.Tare)/c.base)
}

// SDOf is one standard deviation of Of(gross), from the scale, the hand and
// guessed links.
func (c Chain) SDOf(gross quantity.Grams) quantity.Fraction {
	if c.Green == 0 || !(c.base > 0) {
		return 0
	}
	rel := noise(gross, c.Step) / math.Max(1, float64(gross-c.Tare))
	return quantity.Fraction((1 - float64(c.Of(gross))) * math.Sqrt(rel*rel+c.linkVar))
}
