package plot

import (
	"cmp"
	"fmt"
	"html"
	"math"
	"slices"
	"strings"
)

// style is how the parts of a picture look, on a light page, a dark one and paper.
const style = `<style>
.paper{fill:#fff}.ink{fill:#1b1b1b}.rule{stroke:#1b1b1b;stroke-width:1}.grid{stroke:#1b1b1b;stroke-opacity:.13}
.expected{fill:#8a6d3b;fill-opacity:.20}.ownband{fill:#1d5f8a;fill-opacity:.22}.own{stroke:#1d5f8a;stroke-width:2;fill:none}
.target{stroke:#1b1b1b;stroke-width:1.5;stroke-dasharray:7 4}.mark{stroke:#1b1b1b;stroke-dasharray:2 3}
.point{fill:#fff;stroke:#1b1b1b;stroke-width:1.8}.other{stroke:#1b1b1b;stroke-opacity:.55;fill:none}.over{fill:#9c2a1d;stroke:#1b1b1b}
text{font:13px system-ui,sans-serif;fill:#1b1b1b}.title{font-weight:600;font-size:15px}
@media (prefers-color-scheme:dark){.paper{fill:#16181a}.ink,text{fill:#ececec}.rule,.mark,.target{stroke:#ececec}.grid{stroke:#ececec}.point{fill:#16181a;stroke:#ececec}.other{stroke:#ececec}.over{fill:#f08a7a;stroke:#ececec}.own{stroke:#7fc1ea}.ownband{fill:#7fc1ea}.expected{fill:#d8b878}}
@media print{.paper{fill:#fff}.ink,text{fill:#000}.rule,.mark,.target{stroke:#000}.grid{stroke:#000}.point{fill:#fff;stroke:#000}.other{stroke:#000}.own{stroke:#1d5f8a}}
</style>`

// SVG draws the chart as a picture of its own, width by height units: good on
// paper, in a dark page and a light one, and told apart by shape and dashes as
// well as by colour.
func (c Chart) SVG(width, height int) string {
	const left, top = 52.0, 40.0
	right, bottom := 16.0, 74.0
	if width < 560 {
		bottom += 36 // the key takes three lines
	}
	if len(c.Others) > 0 {
		right = 110 // the names of the curves
	}
	c = c.sound()
	xMax, yMin, yMax := c.bounds()
	ys := nice(yMax-yMin, 6)
	yTop, yBot := math.Ceil(yMax/ys-1e-9)*ys, math.Floor(yMin/ys+1e-9)*ys
	w, h := float64(width)-left-right, float64(height)-top-bottom
	px := func(x float64) float64 { return left + x/xMax*w }
	py := func(y float64) float64 { return top + (yTop-y)/(yTop-yBot)*h }
	var b strings.Builder
	p := func(format string, a ...any) { fmt.Fprintf(&b, format+"\n", a...) }
	p(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" width="%d" height="%d" role="img" aria-label="%s">`, width, height, width, height, inXML("drying curve of "+c.Title))
	p("%s", style)
	p(`<rect class="paper" width="%d" height="%d"/>`, width, height)
	title := c.Title + ": " + c.YLabel
	if left+wide(title)*1.3 > float64(width) {
		title = c.YLabel // the page or file it stands in names it
	}
	p(`<text class="title" x="%.0f" y="22">%s</text>`, left, inXML(title))
	for y := yBot; y <= yTop+ys/2; y += ys {
		p(`<line class="grid" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/><text x="%.1f" y="%.1f" text-anchor="end">%.4g</text>`, left, left+w, py(y), py(y), left-6, py(y)+4, round(y))
	}
	xs := nice(xMax, max(2, min(10, int(w/60))))
	for x := 0.0; x <= xMax*(1+1e-9); x += xs {
		p(`<line class="grid" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/><text x="%.1f" y="%.1f" text-anchor="middle">%.4g</text>`, px(x), px(x), top, top+h, px(x), top+h+17, round(x))
	}
	area := func(class string, band []Band) {
		if len(band) == 0 {
			return
		}
		var d strings.Builder
		for i, q := range band {
			fmt.Fprintf(&d, "%s%.1f %.1f ", map[bool]string{true: "M", false: "L"}[i == 0], px(q.X), py(q.High))
		}
		for i := len(band) - 1; i >= 0; i-- {
			fmt.Fprintf(&d, "L%.1f %.1f ", px(band[i].X), py(math.Max(band[i].Low, yBot)))
		}
		p(`<path class="%s" d="%sZ"/>`, class, d.String())
	}
	line := func(class string, xy []XY) {
		var pts []string
		for _, q := range xy {
			pts = append(pts, fmt.Sprintf("%.1f,%.1f", px(q.X), py(q.Y)))
		}
		if len(pts) > 0 {
			p(`<polyline class="%s" points="%s"/>`, class, strings.Join(pts, " "))
		}
	}
	area("expected", c.Expected)
	area("ownband", c.OwnBand)
	if !math.IsNaN(c.Target) && c.Target > 0 {
		p(`<line class="target" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/><text x="%.1f" y="%.1f" text-anchor="end">%s %.1f %%</text>`, left, left+w, py(c.Target), py(c.Target), left+w-4, py(c.Target)-6, inXML(c.TargetAs), c.Target)
	}
	for i, m := range c.Marks {
		if !(m.X >= 0 && m.X <= xMax) {
			continue
		}
		anchor, dx := "start", 5.0
		if px(m.X) > left+w*0.6 || px(m.X)+wide(m.Word) > left+w && px(m.X)-wide(m.Word) > left {
			anchor, dx = "end", -5
		}
		if anchor == "start" && px(m.X)+dx+wide(m.Word) > left+w { // it fits on neither side
			anchor, dx = "end", left+w-px(m.X)
		}
		p(`<line class="mark" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/><text x="%.1f" y="%.1f" text-anchor="%s">%s</text>`, px(m.X), px(m.X), top, top+h, px(m.X)+dx, top+h-8-float64(i)*16, anchor, inXML(m.Word))
	}
	for i, l := range c.Others {
		p(`<polyline class="other" stroke-dasharray="%s" points="%s"/>`, []string{"", "6 3", "2 2", "9 3 2 3"}[i%4], pointsOf(l.XY, px, py))
	}
	for _, n := range c.endNames(py, top, top+h) {
		p(`<text x="%.1f" y="%.1f">%s</text><line class="grid" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/>`, left+w+8, n.y+4, inXML(n.name), px(n.x), left+w+6, py(n.end), n.y)
	}
	line("own", c.Own)
	for _, q := range c.Points {
		p(`<circle class="point" cx="%.1f" cy="%.1f" r="4"/>`, px(q.X), py(q.Y))
	}
	p(`<line class="rule" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/><line class="rule" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/>`, left, left+w, top+h, top+h, left, left, top, top+h)
	p(`<text x="%.1f" y="%.1f" text-anchor="middle">%s</text>`, left+w/2, top+h+36, inXML(c.XLabel))
	x, y := left, top+h+60
	key := func(shape, word string) {
		if x > left && x+26+wide(word) > float64(width) {
			x, y = left, y+18
		}
		p(shape, x, y)
		p(`<text x="%.1f" y="%.1f">%s</text>`, x+26, y, inXML(word))
		x += 44 + 6.6*float64(len(word))
	}
	if len(c.Points) > 0 {
		key(`<circle class="point" cx="10" cy="-4" r="4" transform="translate(%.1f %.1f)"/>`, "weighed")
	}
	if len(c.Own) > 0 {
		key(`<g transform="translate(%.1f %.1f)"><rect class="ownband" y="-11" width="20" height="14"/><line class="own" x2="20" y1="-4" y2="-4"/></g>`, "own curve, 90 %")
	}
	if len(c.Expected) > 0 {
		key(`<rect class="expected" y="-11" width="20" height="14" transform="translate(%.1f %.1f)"/>`, "expected before weighing, 90 %")
	}
	p(`</svg>`)
	return b.String()
}

// inXML makes a text fit for XML: its marks escaped, and what XML cannot hold
// (control characters) shown by a stand-in.
func inXML(s string) string {
	return html.EscapeString(strings.Map(func(r rune) rune {
		if r < 0x20 && r != '\t' && r != '\n' || r >= 0x7f && r < 0xa0 || r == 0xfffe || r == 0xffff {
			return '·'
		}
		return r
	}, s))
}

func pointsOf(xy []XY, px, py func(float64) float64) string {
	var pts []string
	for _, q := range xy {
		pts = append(pts, fmt.Sprintf("%.1f,%.1f", px(q.X), py(q.Y)))
	}
	return strings.Join(pts, " ")
}

// endName is the name of a curve at the right edge, and the end it belongs to.
type endName struct {
	name   string
	x, end float64
	y      float64
}

// endNames puts the names of the further curves at the right edge, each as near
// to the height of its curve's end as the others leave room for.
func (c Chart) endNames(py func(float64) float64, top, bottom float64) []endName {
	var out []endName
	for _, l := range c.Others {
		if n := len(l.XY); n > 0 {
			q := l.XY[n-1]
			out = append(out, endName{l.Name, q.X, q.Y, py(q.Y)})
		}
	}
	slices.SortStableFunc(out, func(a, b endName) int { return cmp.Compare(a.y, b.y) })
	step := min(15, (bottom-top)/float64(max(1, len(out))))
	for i := range out {
		if i > 0 {
			out[i].y = max(out[i].y, out[i-1].y+step)
		}
	}
	limit := bottom
	for i := len(out) - 1; i >= 0; i-- {
		out[i].y = min(out[i].y, limit)
		limit = out[i].y - step
	}
	return out
}
