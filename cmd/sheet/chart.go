package sheet

import (
	"codeberg.org/go-pdf/fpdf"

	"rindkeep/cmd/plot"
)

// chart draws a chart over the whole width, high millimetres high with its words. Weights are rings, the own curve
// a thick line in a grey band, what was expected a hatched band, the target a dashed line and days upright dotted
// ones, so that a copy of a copy still reads.
func (p *page) chart(c plot.Chart, high float64) {
	p.repeat = nil
	p.need(high)
	p.font("", p.size)
	c.Title = "" // the sheet has its own
	c.Draw(paper{p}, p.left, p.y, p.width()-1, high-p.lh()*0.4)
	p.y += high
}

// paper is a canvas of millimetres.
type paper struct{ *page }

func (p paper) Scale() plot.Scale {
	lh := p.lh()
	return plot.Scale{
		Line: lh, Head: 1.5 * lh, Gap: 1.5, Below: 1, Apart: lh, TickX: 15 * p.size / plainSize, TickY: 1.6 * lh, Swatch: 9,
	}
}

func (p paper) Width(words string) float64 { return p.wide(words) }

func outline(edges []plot.Span) (out []fpdf.PointType) {
	for _, q := range plot.Outline(edges) {
		out = append(out, fpdf.PointType{X: q.X, Y: q.Y})
	}
	return out
}

func (p paper) Area(look plot.Look, edges []plot.Span) {
	if look == plot.OwnBand {
		p.pdf.SetFillColor(214, 214, 214)
		p.pdf.Polygon(outline(edges), "F")
		return
	}
	shape := outline(edges)
	left, right := edges[0].X, edges[len(edges)-1].X
	top, bottom := p.head.Paper.Height, 0.0
	for _, e := range edges {
		top, bottom = min(top, e.High), max(bottom, e.Low)
	}
	p.pdf.ClipPolygon(shape, false)
	for x := left - (bottom - top); x < right; x += 2 {
		p.line(x, bottom, x+bottom-top, top, 0.18, 90)
	}
	p.pdf.ClipEnd()
	p.pdf.SetDrawColor(90, 90, 90)
	p.pdf.SetLineWidth(0.15)
	p.pdf.Polygon(shape, "D")
}

func (p paper) Line(look plot.Look, at []plot.XY) {
	thick, shade, dash := 0.35, 0, []float64(nil)
	switch look {
	case plot.Grid:
		thick, shade = 0.1, 190
	case plot.Own:
		thick = 0.7
	case plot.Target, plot.Limit:
		thick, dash = 0.45, []float64{3, 1.5}
	case plot.Upright:
		thick, dash = 0.4, []float64{0.4, 1.2}
	}
	p.pdf.SetDrawColor(shade, shade, shade)
	p.pdf.SetLineWidth(thick)
	p.pdf.SetDashPattern(dash, 0)
	p.pdf.MoveTo(at[0].X, at[0].Y)
	for _, q := range at[1:] {
		p.pdf.LineTo(q.X, q.Y)
	}
	p.pdf.DrawPath("D")
	p.pdf.SetDashPattern(nil, 0)
}

func (p paper) Dot(look plot.Look, at plot.XY, _ string) {
	const r = 1.2
	if look == plot.Told {
		return
	}
	p.pdf.SetDrawColor(0, 0, 0)
	p.pdf.SetLineWidth(0.5)
	if look == plot.Over {
		p.pdf.SetFillColor(0, 0, 0)
		p.pdf.Polygon([]fpdf.PointType{{X: at.X, Y: at.Y - r}, {X: at.X + r, Y: at.Y}, {X: at.X, Y: at.Y + r},
			{X: at.X - r, Y: at.Y}}, "FD")
		return
	}
	p.pdf.SetFillColor(255, 255, 255)
	p.pdf.Circle(at.X, at.Y, r, "FD")
}

// Words writes notes on a white ground, so that no line runs through letters.
func (p paper) Words(look plot.Look, at plot.XY, align float64, words string) {
	s := p.fit(words, p.width()*0.6)
	wide, high := p.wide(s), p.size*mmPerPoint
	x := min(max(at.X-align*wide, p.left), p.right-wide)
	if look == plot.Note {
		p.pdf.SetFillColor(255, 255, 255)
		p.pdf.Rect(x-0.5, at.Y-high*0.46, wide+1, high, "F")
	}
	p.put(x, at.Y+high*0.33, s)
}
