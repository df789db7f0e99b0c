package plot

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
)

// Course is what was measured as time went: one panel over the other, on the
// same clock.
type Course struct {
	Title  string
	Loc    *time.Location // whose midnights and hours the axis shows
	Panels []Panel
}

// Panel is one quantity. Low and High are its limits, NaN where there is none;
// what lies beyond them is marked by shape. Where nothing was measured for
// longer than Gap the line is broken; 0: never.
type Panel struct {
	Name    string // with its unit
	Low     float64
	High    float64
	Gap     time.Duration
	Moments []Moment // in order of time
}

// Moment is one figure, with a word to stand beside it or none.
type Moment struct {
	At   time.Time
	Y    float64
	Word string
}

// sound leaves out what cannot be drawn.
func (p Panel) sound() Panel {
	var ms []Moment
	for _, m := range p.Moments {
		if drawable(m.Y) {
			ms = append(ms, m)
		}
	}
	p.Moments = ms
	if !drawable(p.Low) {
		p.Low = math.NaN()
	}
	if !drawable(p.High) {
		p.High = math.NaN()
	}
	return p
}

// span is the range of a sound panel's axis: all its figures and limits.
func (p Panel) span() (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	see := func(y float64) {
		if !math.IsNaN(y) {
			low, high = math.Min(low, y), math.Max(high, y)
		}
	}
	see(p.Low)
	see(p.High)
	for _, m := range p.Moments {
		see(m.Y)
	}
	if low > high {
		return 0, 1
	}
	if high-low < least*math.Max(1, math.Abs(low)) {
		return low - 1, high + 1
	}
	return low, high
}

// runs are the moments between gaps.
func (p Panel) runs() (out [][]Moment) {
	from := 0
	for i := range p.Moments {
		if i > 0 && p.Gap > 0 && p.Moments[i].At.Sub(p.Moments[i-1].At) > p.Gap {
			out = append(out, p.Moments[from:i])
			from = i
		}
	}
	if len(p.Moments) > 0 {
		out = append(out, p.Moments[from:])
	}
	return out
}

// beyond says whether a figure lies outside the panel's limits.
func (p Panel) beyond(y float64) bool { return y < p.Low || y > p.High }

// SVG draws the panels under each other, for paper, a dark page and a light one.
func (c Course) SVG(width, height int) string {
	const left, right, top, bottom, between = 52.0, 16.0, 30.0, 52.0, 34.0
	loc := c.Loc
	if loc == nil {
		loc = time.UTC
	}
	var b strings.Builder
	p := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	p(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" width="%d" height="%d" role="img" aria-label="%s">`, width, height, width, height, inXML(c.Title))
	p("%s", style)
	p(`<rect class="paper" width="%d" height="%d"/>`, width, height)
	panels := make([]Panel, len(c.Panels))
	var from, to time.Time
	for i, q := range c.Panels {
		panels[i] = q.sound()
		for _, m := range panels[i].Moments {
			if from.IsZero() || m.At.Before(from) {
				from = m.At
			}
			if m.At.After(to) {
				to = m.At
			}
		}
	}
	if from.IsZero() {
		p(`<text x="%.0f" y="%.0f">nothing was measured</text></svg>`, left, top+16)
		return b.String()
	}
	if to.Sub(from) < time.Minute {
		from, to = from.Add(-30*time.Minute), to.Add(30*time.Minute)
	}
	w := math.Max(1, float64(width)-left-right)
	h := math.Max(1, (float64(height)-top-bottom-between*float64(len(panels)-1))/float64(len(panels)))
	px := func(t time.Time) float64 { return left + float64(t.Sub(from))/float64(to.Sub(from))*w }
	ticks := clockTicks(from.In(loc), to.In(loc), max(2, min(8, int(w/70))))
	limits, over := false, false
	for i, q := range panels {
		y0 := top + float64(i)*(h+between)
		low, high := q.span()
		ys := nice(high-low, 5)
		yTop, yBot := math.Ceil(high/ys-1e-9)*ys, math.Floor(low/ys+1e-9)*ys
		py := func(y float64) float64 { return y0 + (yTop-y)/(yTop-yBot)*h }
		p(`<text class="title" x="%.0f" y="%.1f">%s</text>`, left, y0-9, inXML(q.Name))
		if !math.IsNaN(q.Low) || !math.IsNaN(q.High) {
			limits = true
			lo, hi := q.Low, q.High
			if math.IsNaN(lo) {
				lo = yBot
			}
			if math.IsNaN(hi) {
				hi = yTop
			}
			p(`<rect class="expected" x="%.1f" y="%.1f" width="%.1f" height="%.1f"/>`, left, py(hi), w, math.Max(0, py(lo)-py(hi)))
			for _, y := range []float64{q.Low, q.High} {
				if !math.IsNaN(y) {
					p(`<line class="target" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/>`, left, left+w, py(y), py(y))
				}
			}
		}
		for y := yBot; y <= yTop+ys/2; y += ys {
			p(`<line class="grid" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/><text x="%.1f" y="%.1f" text-anchor="end">%.4g</text>`, left, left+w, py(y), py(y), left-6, py(y)+4, round(y))
		}
		for _, t := range ticks {
			p(`<line class="grid" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/>`, px(t.at), px(t.at), y0, y0+h)
		}
		for _, run := range q.runs() {
			var pts []string
			for _, m := range run {
				pts = append(pts, fmt.Sprintf("%.1f,%.1f", px(m.At), py(m.Y)))
			}
			p(`<polyline class="own" points="%s"/>`, strings.Join(pts, " "))
		}
		few := len(q.Moments) <= 60
		for _, m := range q.Moments {
			x, y := px(m.At), py(m.Y)
			switch {
			case q.beyond(m.Y):
				over = true
				p(`<path class="over" d="M%.1f %.1fl5 5l-5 5l-5 -5z"/>`, x, y-5)
			case few:
				p(`<circle class="point" cx="%.1f" cy="%.1f" r="3"/>`, x, y)
			}
			if m.Word != "" {
				anchor, dx := "start", 7.0
				if x+wide(m.Word) > left+w {
					anchor, dx = "end", -7
				}
				p(`<text x="%.1f" y="%.1f" text-anchor="%s">%s</text>`, x+dx, math.Max(y0+10, y-6), anchor, inXML(m.Word))
			}
		}
		p(`<line class="rule" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/><line class="rule" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/>`, left, left+w, y0+h, y0+h, left, left, y0, y0+h)
	}
	base := float64(height) - bottom
	for _, t := range ticks {
		p(`<text x="%.1f" y="%.1f" text-anchor="middle">%s</text>`, px(t.at), base+17, t.word)
	}
	x := 12.0
	key := func(shape, word string) {
		p(shape, x, base+40)
		p(`<text x="%.1f" y="%.1f">%s</text>`, x+26, base+40, word)
		x += 44 + wide(word)
	}
	key(`<line class="own" x2="20" y1="-4" y2="-4" transform="translate(%.1f %.1f)"/>`, "read")
	if limits {
		key(`<rect class="expected" y="-11" width="20" height="14" transform="translate(%.1f %.1f)"/>`, "within limits")
	}
	if over {
		key(`<path class="over" d="M10 -9l5 5l-5 5l-5 -5z" transform="translate(%.1f %.1f)"/>`, "out of limits")
	}
	p(`</svg>`)
	return b.String()
}

// wide is about how wide a word is drawn.
func wide(word string) float64 { return 6.8 * float64(len([]rune(word))) }

type tick struct {
	at   time.Time
	word string
}

// clockTicks are at most n moments of a span that fall on a clock's or a
// calendar's own marks, hours by their time and days by their date.
func clockTicks(from, to time.Time, n int) (out []tick) {
	var hours int
	for _, hours = range []int{1, 2, 3, 6, 12, 24, 48, 96, 168, 336, 672, 1344, 2688, 5376, 10752} {
		if to.Sub(from).Hours()/float64(hours) <= float64(n) {
			break
		}
	}
	if to.Sub(from) < 2*time.Hour {
		minutes := []int{5, 10, 15, 30}
		k := slices.IndexFunc(minutes, func(m int) bool { return to.Sub(from).Minutes()/float64(m) <= float64(n) })
		if k >= 0 {
			step := time.Duration(minutes[k]) * time.Minute
			for t := from.Truncate(step); !t.After(to); t = t.Add(step) {
				if !t.Before(from) {
					out = append(out, tick{t, t.Format("15:04")})
				}
			}
			return out
		}
	}
	y, m, d := from.Date()
	for i := 0; len(out) < 4*n+4; i += hours {
		t := time.Date(y, m, d, i, 0, 0, 0, from.Location())
		if hours >= 24 {
			t = time.Date(y, m, d+i/24, 0, 0, 0, 0, from.Location())
		}
		if t.After(to) {
			break
		}
		if t.Before(from) {
			continue
		}
		word := t.Format("15:04")
		if t.Hour() == 0 && t.Minute() == 0 {
			word = t.Format("2 Jan")
		}
		out = append(out, tick{t, word})
	}
	return out
}
