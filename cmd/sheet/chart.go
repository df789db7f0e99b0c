package sheet

import (
	"math"

	"codeberg.org/go-pdf/fpdf"

	"rindkeep/cmd/plot"
)

// chart draws a curve over the whole width, high millimetres high with its
// words. Weights are rings, the own curve a thick line in a grey band, what
// was expected a hatched band, the target a dashed line and days upright dotted
// ones: all of it told apart by shape, so that a copy of a copy still reads.
func (p *page) chart(c plot.Chart, high float64) {
	p.repeat = nil
	p.need(high)
	p.font("", p.size)
	pdf := p.pdf
	x0, y0 := p.left+p.wide("00.0")+2, p.y+p.lh()*1.7
	bands := len(c.OwnBand)+len(c.Expected) > 0 // they need a legend
	foot := p.lh() * 2.5
	if bands {
		foot = p.lh() * 4.2
	}
	w, h := p.right-x0-1, high-p.lh()*1.7-foot
	p.put(p.left, p.y+p.lh()*0.8, p.fit(c.YLabel, p.width()))

	xMax, yMax := 0.0, 0.0
	see := func(x, y float64) {
		if drawable(x, y) {
			xMax, yMax = max(xMax, x), max(yMax, y)
		}
	}
	yMin := c.Floor
	if !drawable(0, yMin) {
		yMin = 0
	}
	for _, q := range append(append([]plot.XY(nil), c.Points...), c.Own...) {
		see(q.X, q.Y)
		if drawable(q.X, q.Y) {
			yMin = min(yMin, q.Y)
		}
	}
	for _, b := range append(append([]plot.Band(nil), c.Expected...), c.OwnBand...) {
		see(b.X, b.High)
	}
	if c.Target > 0 {
		see(0, c.Target*1.05)
	}
	if xMax <= 0 {
		xMax = 1
	}
	yMax = max(yMax, yMin+0.01)
	ys, xs := step(yMax-yMin, 5), step(xMax, 10)
	yMax, yMin = math.Ceil(yMax/ys-1e-9)*ys, math.Floor(yMin/ys+1e-9)*ys
	px := func(x float64) float64 { return x0 + x/xMax*w }
	py := func(y float64) float64 { return y0 + (yMax-y)/(yMax-yMin)*h }

	for y := yMin; y <= yMax+ys/2; y += ys {
		p.line(x0, py(y), x0+w, py(y), 0.1, 190)
		s := latinOf(figure(y))
		p.put(x0-p.wide(s)-1.5, py(y)+p.lh()*0.28, s)
	}
	for x := 0.0; x <= xMax*(1+1e-9); x += xs {
		p.line(px(x), y0+h, px(x), y0+h+1.2, 0.25, 0)
		s := latinOf(figure(x))
		p.put(min(px(x)-p.wide(s)/2, p.right-p.wide(s)), y0+h+p.lh()*1.1, s)
	}
	s := p.fit(c.XLabel, w)
	p.put(x0+(w-p.wide(s))/2, y0+h+p.lh()*2.1, s)

	pdf.ClipRect(x0, y0, w, h, false)
	band := func(bs []plot.Band) []fpdf.PointType {
		var up, down []fpdf.PointType
		for _, b := range bs {
			if drawable(b.X, b.Low) && drawable(b.X, b.High) {
				up = append(up, fpdf.PointType{X: px(b.X), Y: py(b.High)})
				down = append(down, fpdf.PointType{X: px(b.X), Y: py(b.Low)})
			}
		}
		for i := len(down) - 1; i >= 0; i-- {
			up = append(up, down[i])
		}
		return up
	}
	if own := band(c.OwnBand); len(own) > 2 {
		pdf.SetFillColor(214, 214, 214)
		pdf.Polygon(own, "F")
	}
	if exp := band(c.Expected); len(exp) > 2 {
		p.hatch(exp, x0, y0, w, h)
	}
	stroke := func(xy []plot.XY) {
		drew := false
		for _, q := range xy {
			if !drawable(q.X, q.Y) {
				continue
			}
			if !drew {
				pdf.MoveTo(px(q.X), py(q.Y))
			} else {
				pdf.LineTo(px(q.X), py(q.Y))
			}
			drew = true
		}
		if drew {
			pdf.DrawPath("D")
		}
	}
	pdf.SetDrawColor(0, 0, 0)
	pdf.SetLineWidth(0.7)
	stroke(c.Own)
	if c.Target > 0 && drawable(c.Target, 0) {
		pdf.SetDashPattern([]float64{3, 1.5}, 0)
		p.line(x0, py(c.Target), x0+w, py(c.Target), 0.45, 0)
		pdf.SetDashPattern(nil, 0)
	}
	for _, m := range c.Marks {
		if drawable(m.X, 0) && m.X >= 0 && m.X <= xMax {
			pdf.SetDashPattern([]float64{0.4, 1.2}, 0)
			p.line(px(m.X), y0, px(m.X), y0+h, 0.4, 0)
			pdf.SetDashPattern(nil, 0)
		}
	}
	pdf.ClipEnd()
	p.line(x0, y0, x0, y0+h, 0.35, 0)
	p.line(x0, y0+h, x0+w, y0+h, 0.35, 0)
	pdf.SetFillColor(255, 255, 255)
	pdf.SetDrawColor(0, 0, 0)
	pdf.SetLineWidth(0.5)
	for _, q := range c.Points {
		if drawable(q.X, q.Y) {
			pdf.Circle(px(q.X), py(q.Y), 1.2, "FD")
		}
	}
	if c.Target > 0 && drawable(c.Target, 0) {
		s := p.fit(c.TargetAs+" "+figure(c.Target)+" %", w)
		p.onWhite(x0+w-p.wide(s)-1, py(c.Target)-1.3, s)
	}
	for i, m := range c.Marks {
		if !drawable(m.X, 0) || m.X < 0 || m.X > xMax {
			continue
		}
		s := p.fit(m.Word, w*0.6)
		x := px(m.X) + 1.5
		if x+p.wide(s) > x0+w {
			x = px(m.X) - 1.5 - p.wide(s)
		}
		p.onWhite(max(x, x0), y0+h-2-float64(i%4)*p.lh(), s)
	}
	if bands {
		p.legend(c, y0+h+p.lh()*3.4)
	}
	p.y += high
}

// onWhite writes over a white ground, so that lines do not run through letters.
func (p *page) onWhite(x, y float64, s latin) {
	p.pdf.SetFillColor(255, 255, 255)
	p.pdf.Rect(x-0.5, y-p.size*mmPerPoint*0.76, p.wide(s)+1, p.size*mmPerPoint, "F")
	p.put(x, y, s)
}

// hatch fills a shape with slanted lines.
func (p *page) hatch(shape []fpdf.PointType, x, y, w, h float64) {
	p.pdf.ClipPolygon(shape, false)
	for d := -h; d < w; d += 2 {
		p.line(x+d, y+h, x+d+h, y, 0.18, 90)
	}
	p.pdf.ClipEnd()
	p.pdf.SetDrawColor(90, 90, 90)
	p.pdf.SetLineWidth(0.15)
	p.pdf.Polygon(shape, "D")
}

func (p *page) legend(c plot.Chart, y float64) {
	pdf := p.pdf
	x := p.left
	const sw, sh = 9.0, 3.6
	p.font("", p.size)
	entry := func(have bool, word latin, draw func(x, y float64)) {
		if !have {
			return
		}
		if x+sw+2+p.wide(word) > p.right {
			x = p.left
			y += p.lh()
		}
		draw(x, y-sh+0.6)
		p.put(x+sw+2, y, word)
		x += sw + 2 + p.wide(word) + 6
	}
	entry(len(c.Points) > 0, "weighed", func(x, y float64) {
		pdf.SetFillColor(255, 255, 255)
		pdf.SetDrawColor(0, 0, 0)
		pdf.SetLineWidth(0.5)
		pdf.Circle(x+sw/2, y+sh/2, 1.2, "FD")
	})
	entry(len(c.Own) > 0, "own curve, 90 %", func(x, y float64) {
		pdf.SetFillColor(214, 214, 214)
		pdf.Rect(x, y, sw, sh, "F")
		p.line(x, y+sh/2, x+sw, y+sh/2, 0.7, 0)
	})
	entry(len(c.Expected) > 0, "expected before weighing, 90 %", func(x, y float64) {
		p.hatch([]fpdf.PointType{{X: x, Y: y}, {X: x + sw, Y: y}, {X: x + sw, Y: y + sh}, {X: x, Y: y + sh}}, x, y, sw, sh)
	})
}

// drawable says whether a point can be drawn: an unknown estimate is no number,
// and its high end may be infinite.
func drawable(x, y float64) bool { return math.Abs(x) <= 1e9 && math.Abs(y) <= 1e9 }

// step is 1, 2 or 5 times a power of ten that cuts a span into at most n parts.
func step(span float64, n int) float64 {
	p := math.Pow(10, math.Floor(math.Log10(span/float64(n))))
	for _, k := range []float64{1, 2, 5} {
		if k*p*float64(n) >= span*(1-1e-9) {
			return k * p
		}
	}
	return 10 * p
}
