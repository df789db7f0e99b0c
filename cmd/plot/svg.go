package plot

import (
	"encoding/xml"
	"fmt"
	"strings"
)

// style is how the parts of a picture look, on a light page, a dark one and paper.
const style = `<style>
.paper{fill:#fff}.rule{stroke:#1b1b1b}.grid{stroke:#1b1b1b;stroke-opacity:.13}
.expected{fill:#8a6d3b;fill-opacity:.20}
.ownband{fill:#1d5f8a;fill-opacity:.22}.own{stroke:#1d5f8a;stroke-width:2;fill:none}
.target{stroke:#1b1b1b;stroke-width:1.5;stroke-dasharray:7 4}.mark{stroke:#1b1b1b;stroke-dasharray:2 3}
.point{fill:#fff;stroke:#1b1b1b;stroke-width:1.8}.over{fill:#9c2a1d;stroke:#1b1b1b}
.other{stroke:#1b1b1b;stroke-opacity:.55;fill:none}
text{font:13px system-ui,sans-serif;fill:#1b1b1b}.title{font-weight:600;font-size:15px}
@media (prefers-color-scheme:dark){
.paper{fill:#16181a}text{fill:#ececec}.rule,.mark,.target,.grid,.other{stroke:#ececec}
.point{fill:#16181a;stroke:#ececec}.over{fill:#f08a7a;stroke:#ececec}
.own{stroke:#7fc1ea}.ownband{fill:#7fc1ea}.expected{fill:#d8b878}}
@media print{.paper{fill:#fff}text{fill:#000}.rule,.mark,.target,.grid,.other{stroke:#000}
.point{fill:#fff;stroke:#000}.own{stroke:#1d5f8a}}
</style>`

// classes are the looks of lines in a picture; a further curve is an other.
var classes = map[Look]string{Own: "own", Target: "target", Limit: "target", Upright: "mark", Grid: "grid",
	Axis: "rule"}

var dashes = []string{"none", "6 3", "2 2", "9 3 2 3"}

// picture is a canvas of SVG.
type picture struct{ strings.Builder }

func (p *picture) Scale() Scale {
	return Scale{Line: 17, Head: 25, Gap: 7, Below: 5, Apart: 14, TickX: 64, TickY: 40, Swatch: 20}
}

// Width is about how wide words are in the fonts of most screens.
func (p *picture) Width(words string) float64 { return 6.8 * float64(len([]rune(words))) }

func (p *picture) put(format string, a ...any) { fmt.Fprintf(p, format+"\n", a...) }

func points(at []XY) string {
	var b strings.Builder
	for _, q := range at {
		fmt.Fprintf(&b, " %.1f,%.1f", q.X, q.Y)
	}
	return strings.TrimPrefix(b.String(), " ")
}

func (p *picture) Area(look Look, edges []Span) {
	class := "expected"
	if look == OwnBand {
		class = "ownband"
	}
	p.put(`<polygon class="%s" points="%s"/>`, class, points(Outline(edges)))
}

// Outline is the edge of an area: forth along its top and back along its bottom.
func Outline(edges []Span) []XY {
	out := make([]XY, 2*len(edges))
	for i, e := range edges {
		out[i], out[len(out)-1-i] = XY{e.X, e.High}, XY{e.X, e.Low}
	}
	return out
}

func (p *picture) Line(look Look, at []XY) {
	if look >= Other {
		p.put(`<polyline class="other" stroke-dasharray="%s" points="%s"/>`, dashes[int(look-Other)%len(dashes)], points(at))
		return
	}
	p.put(`<polyline class="%s" points="%s"/>`, classes[look], points(at))
}

func (p *picture) Dot(look Look, at XY, said string) {
	if look == Over {
		p.put(`<path class="over" d="M%.1f %.1fl5 5l-5 5l-5 -5z"/>`, at.X, at.Y-5)
		return
	}
	class, r, end := "point", 4, "/>"
	if look == Told {
		class, r = "told", 0
	}
	if said != "" {
		end = "><title>" + inXML(said) + "</title></circle>"
	}
	p.put(`<circle class="%s" cx="%.1f" cy="%.1f" r="%d"%s`, class, at.X, at.Y, r, end)
}

func (p *picture) Words(look Look, at XY, align float64, words string) {
	var class, anchor string
	if look == Heading {
		class = ` class="title"`
	}
	switch align {
	case 0.5:
		anchor = ` text-anchor="middle"`
	case 1:
		anchor = ` text-anchor="end"`
	}
	p.put(`<text%s x="%.1f" y="%.1f"%s>%s</text>`, class, at.X, at.Y+4.5, anchor, inXML(words))
}

// SVG draws the chart as a picture of width by height units: good on paper, in a dark page and a light one.
func (c Chart) SVG(width, height int) string {
	p := &picture{}
	about := []string{c.Title}
	for _, p := range c.Panels {
		about = append(about, p.Label)
	}
	p.put(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %[1]d %[2]d" width="%[1]d" height="%[2]d" `+
		`role="img" aria-label="%[3]s"><title>%[3]s</title><desc>%[4]s</desc>`,
		width, height, inXML(strings.Join(about, ", ")), inXML(c.Summary()))
	p.put(style)
	p.put(`<rect class="paper" width="%d" height="%d"/>`, width, height)
	c.Draw(p, 14, 8, float64(width)-30, float64(height)-16)
	p.put(`</svg>`)
	return p.String()
}

// inXML escapes a text; what XML can't hold becomes a replacement character.
func inXML(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // a builder takes all
	return b.String()
}
