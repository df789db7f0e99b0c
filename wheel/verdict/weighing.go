package verdict

import (
	"fmt"
	"math"
	"time"

	"rindkeep/cave/quantity"
	"rindkeep/wheel/drying"
)

// Doubt is why a weighing that is about to be recorded looks wrong; the zero
// value is no doubt. Sister is the tag of a sister wheel the weight would fit,
// or "".
type Doubt struct {
	Why    string
	Sister string
}

// Doubted says whether there is any doubt.
func (d Doubt) Doubted() bool { return d.Why != "" }

// clearlyOff is how far from the expected interval, as a loss, a weighing must
// lie before it is doubted: nearer than this is the scale's and the room's
// business. Our default, common practice, no source.
const clearlyOff = 0.003

// Weighing asks whether a weight is likely for the wheel at an instant: not
// heavier than before, not far off its curve, not from before drying began.
// The weight must be gross, coats and all.
func (c Case) Weighing(gross quantity.Grams, at time.Time) Doubt {
	ch := c.Life.Chain
	if ch.Green == 0 {
		return c.firstWeight(gross)
	}
	if at.Before(ch.Began) {
		return Doubt{Why: fmt.Sprintf("it is from before the green weight of %s: it would become the green weight itself", ch.Began.In(c.Loc).Format("2006-01-02 15:04"))}
	}
	before, was, ok := c.before(at)
	if ok && float64(gross-was) > math.Max(2*float64(ch.Step), 4*float64(before.SD)*float64(ch.Green)+0.002*float64(was)) {
		return c.sister(Doubt{Why: fmt.Sprintf("it is %.0f g heavier than the %.0f g of %s: a wheel does not gain weight", float64(gross-was), float64(was), before.At.In(c.Loc).Format("2006-01-02 15:04"))}, gross, at)
	}
	if c.coatPending(at) {
		return Doubt{}
	}
	return c.offCurve(gross, at)
}

func (c Case) firstWeight(gross quantity.Grams) Doubt {
	usual := c.Variety.Weight
	for _, o := range c.Sisters {
		if o.Life.Chain.Green > 0 {
			usual = o.Life.Chain.Green
			if r := float64(gross / usual); r < 0.5 || r > 2 {
				return Doubt{Why: fmt.Sprintf("its sisters weigh about %.0f g", float64(usual))}
			}
			return Doubt{}
		}
	}
	if r := float64(gross / usual); usual > 0 && (r < 0.02 || r > 50) {
		return Doubt{Why: fmt.Sprintf("a %s weighs about %.0f g; a bare number is grams", c.Variety.Name, float64(usual))}
	}
	return Doubt{}
}

type weighed struct {
	At time.Time
	SD float64
}

// before is the last gross weight the scale showed at or before an instant, of
// a weighing since the last coat, core or cut.
func (c Case) before(at time.Time) (weighed, quantity.Grams, bool) {
	var w weighed
	var g quantity.Grams
	ok := false
	for _, p := range c.Life.Chain.Points {
		if !p.At.After(at) {
			w, g, ok = weighed{p.At, p.SD}, p.Gross, true
		}
	}
	for _, e := range c.Life.Entries {
		if (e.Weight > 0 || e.Before > 0) && !e.At.After(at) && !e.At.Before(w.At) && e.Kind.Reweighs() {
			g, w.At, ok = e.Weight, e.At, e.Weight > 0
		} else if e.Kind.Reweighs() && !e.At.After(at) && !e.At.Before(w.At) {
			ok = false
		}
	}
	return w, g, ok
}

// coatPending says whether a coat, core or cut without a weight after it lies
// between the last weighing and at: the next weight then sets the link.
func (c Case) coatPending(at time.Time) bool {
	pending := false
	for _, e := range c.Life.Entries {
		if e.At.After(at) {
			break
		}
		switch {
		case e.Kind.Reweighs():
			pending = e.Weight == 0 && e.Removed == 0
		case e.Weight > 0:
			pending = false
		}
	}
	return pending
}

func (c Case) point(gross quantity.Grams, at time.Time) drying.Point {
	return drying.Point{Day: c.Day(at), Loss: c.Life.Chain.Of(gross), SD: c.Life.Chain.SDOf(gross)}
}

func (c Case) offCurve(gross quantity.Grams, at time.Time) Doubt {
	p, ok := c.Life.Chain.Last()
	if !ok || at.Before(p.At) {
		// An earlier weight filled in later lies between others: the chain's
		// present stretch may not be its own, so it is taken as it comes.
		return Doubt{}
	}
	st := c.Forecast().Judge(c.point(gross, at))
	loss := float64(st.Loss)
	if st.Verdict != drying.Unlikely || loss > st.Expected.Low-clearlyOff && loss < st.Expected.High+clearlyOff {
		return Doubt{}
	}
	return c.sister(Doubt{Why: fmt.Sprintf("it would be %s of loss where its curve says %.1f to %.1f %%", pct(st.Loss), 100*st.Expected.Low, 100*st.Expected.High)}, gross, at)
}

// sister looks for a sister wheel whose curve the weight fits.
func (c Case) sister(d Doubt, gross quantity.Grams, at time.Time) Doubt {
	best := 2.0
	for _, o := range c.Sisters {
		if o.Life.Chain.Green == 0 || at.Before(o.Life.Chain.Began) {
			continue
		}
		if z := math.Abs(drying.Estimate(o.alone()).Judge(o.point(gross, at)).Z); z < best {
			best, d.Sister = z, o.Life.Tag
		}
	}
	return d
}
