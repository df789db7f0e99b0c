// Package plot lays charts out: series over an axis of numbers or of the clock, in panels under each other. A
// Canvas draws them: this package has one of letters for a terminal and one of SVG, cmd/sheet has one of PDF. All
// of them tell series apart by shape and word, never by colour alone.
package plot

import (
	"math"
	"slices"
	"strconv"
	"time"
)

// Look is what a series or a word is, and so how it is drawn.
type Look int

// The looks of series, then those of the frame and of words.
const (
	Expected Look = iota // an area: what was expected, or the limits
	OwnBand              // an area around the own curve
	Target               // a level, its word on it
	Limit                // a level without a word
	Upright              // an upright line at X, its word beside it
	Own                  // the own curve
	Weighed              // rings
	Over                 // marks beyond the limits
	Grid
	Axis
	Heading
	Tick
	Note
	AxisName
	Key
	Told  // points that nothing draws: a picture tells of them when they're touched
	Other // a curve of several; Other+1 and on are told from it, each named at its end
)

// Span is an interval of Y at X; a point has Low and High the same.
type Span struct{ X, Low, High float64 }

// XY is a place on a canvas.
type XY struct{ X, Y float64 }

// At is a point of a series.
func At(x, y float64) Span { return Span{x, y, y} }

// Series is what is drawn in one look. Name is its word in the key, at a level, an
// upright line or a curve's end; "" for none.
type Series struct {
	Look  Look
	Name  string
	At    []Span
	Words []string // to stand beside its points: none, or one for each
	Said  []string // what a picture tells of a point that is touched: none, or one for each
}

// Panel is one quantity; its series are drawn in order.
type Panel struct {
	Label  string // of the upright axis, with its unit
	Tight  bool   // the axis begins near the least figure, not at 0
	Series []Series
}

// Chart is panels under each other on one horizontal axis from 0.
type Chart struct {
	Title   string
	InWords string // what it shows; "": the figures at its ends
	XLabel  string
	Start   time.Time // where set, X counts hours from it and the axis shows its clock
	Panels  []Panel
}

// The figures that can be drawn: a span under least is taken as nothing, a figure over most as unknown.
const (
	least = 1e-6
	most  = 1e9
)

func drawable(x float64) bool { return math.Abs(x) <= most }

// sound is the chart without what is no figure: an unknown estimate is NaN, its high end may be infinite.
func (c Chart) sound() Chart {
	c.Panels = slices.Clone(c.Panels)
	for i, p := range c.Panels {
		c.Panels[i].Series = nil
		for _, s := range p.Series {
			good := Series{Look: s.Look, Name: s.Name}
			for k, q := range s.At {
				if !drawable(q.X) || !drawable(q.Low) || !drawable(q.High) || q.X < 0 {
					continue
				}
				good.At = append(good.At, q)
				if k < len(s.Words) {
					good.Words = append(good.Words, s.Words[k])
				}
				if k < len(s.Said) {
					good.Said = append(good.Said, s.Said[k])
				}
			}
			if len(good.At) > 0 {
				c.Panels[i].Series = append(c.Panels[i].Series, good)
			}
		}
	}
	return c
}

// last is the X at the right end of a sound chart's axis.
func (c Chart) last() (x float64) {
	for _, p := range c.Panels {
		for _, s := range p.Series {
			for _, q := range s.At {
				if s.Look != Upright {
					x = max(x, q.X)
				}
			}
		}
	}
	if x < least {
		return 1
	}
	return x
}

// ticks are the figures of a sound panel's upright axis in at most about n steps;
// the first and the last are its ends.
func (p Panel) ticks(n int) (out []float64) {
	low, high := math.Inf(1), math.Inf(-1)
	if !p.Tight {
		low, high = 0, 0
	}
	for _, s := range p.Series {
		for _, q := range s.At {
			switch {
			case s.Look == Upright:
				continue
			case s.Look == Target: // its word stands on it
				high = max(high, q.High*1.05)
			case p.Tight || s.Look != Expected && s.Look != OwnBand:
				low = min(low, q.Low)
			}
			high = max(high, q.High)
		}
	}
	if low > high {
		low, high = 0, 1
	}
	if high-low < least*max(1, math.Abs(low)) {
		high = low + max(1, math.Abs(low)/1000)
	}
	step := nice(high-low, n)
	for k := math.Floor(low/step + 1e-9); k <= math.Ceil(high/step-1e-9); k++ {
		out = append(out, k*step)
	}
	return out
}

// nice is a step of 1, 2 or 5 times a power of ten that cuts span into at most n parts.
func nice(span float64, n int) float64 {
	raw := span / float64(n)
	p := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, k := range []float64{1, 2, 5} {
		if k*p >= raw*(1-1e-9) {
			return k * p
		}
	}
	return 10 * p
}

// figure writes a figure of an axis with no more digits than it has.
func figure(x float64) string {
	return strconv.FormatFloat(math.Round(x*1e6)/1e6+0, 'g', 6, 64)
}
