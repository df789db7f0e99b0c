// Package plot draws a drying curve: points, a band, lines and a target, as
// characters for a terminal or as an SVG picture. Both tell their parts by
// shape and word, never by colour alone.
package plot

import (
	"fmt"
	"math"
	"strings"
)

// XY is one point of a line.
type XY struct{ X, Y float64 }

// Band is an interval of Y at X.
type Band struct{ X, Low, High float64 }

// Chart is what is drawn. X runs in days, Y in percent. Target is drawn where
// it is a number.
type Chart struct {
	Title    string
	XLabel   string
	YLabel   string
	Points   []XY
	Own      []XY // the wheel's own curve
	OwnBand  []Band
	Expected []Band // what was expected before any weight
	Others   []Line // further curves: the sisters of a lot
	Target   float64
	TargetAs string
	Marks    []Mark  // upright lines at a day, with a word
	Floor    float64 // least Y shown, where the figures do not go lower
}

// Line is a further curve with its name.
type Line struct {
	Name string
	XY   []XY
}

// Mark is an upright line at X with a word.
type Mark struct {
	X    float64
	Word string
}

// The figures that can be drawn: a span under least is taken as nothing, a
// figure over most as unknown.
const (
	least = 1e-6
	most  = 1e9
)

func drawable(xs ...float64) bool {
	for _, x := range xs {
		if !(math.Abs(x) <= most) {
			return false
		}
	}
	return true
}

// sound is the chart without what is no figure: an unknown estimate is NaN,
// its high end may be infinite.
func (c Chart) sound() Chart {
	xy := func(ps []XY) (out []XY) {
		for _, p := range ps {
			if drawable(p.X, p.Y) {
				out = append(out, p)
			}
		}
		return out
	}
	bands := func(bs []Band) (out []Band) {
		for _, b := range bs {
			if drawable(b.X, b.Low, b.High) {
				out = append(out, b)
			}
		}
		return out
	}
	c.Points, c.Own, c.OwnBand, c.Expected = xy(c.Points), xy(c.Own), bands(c.OwnBand), bands(c.Expected)
	others := make([]Line, len(c.Others))
	for i, l := range c.Others {
		others[i] = l
		others[i].XY = xy(l.XY)
	}
	c.Others = others
	if !drawable(c.Target) {
		c.Target = math.NaN()
	}
	if !drawable(c.Floor) {
		c.Floor = 0
	}
	return c
}

// bounds are the ends of a sound chart's axes.
func (c Chart) bounds() (xMax, yMin, yMax float64) {
	yMin = c.Floor
	see := func(x, y float64) {
		xMax, yMax, yMin = math.Max(xMax, x), math.Max(yMax, y), math.Min(yMin, y)
	}
	for _, p := range c.Points {
		see(p.X, p.Y)
	}
	for _, p := range c.Own {
		see(p.X, p.Y)
	}
	for _, b := range c.Expected {
		see(b.X, b.High)
	}
	for _, b := range c.OwnBand {
		see(b.X, b.High)
	}
	for _, l := range c.Others {
		for _, p := range l.XY {
			see(p.X, p.Y)
		}
	}
	if !math.IsNaN(c.Target) && c.Target > 0 {
		see(0, c.Target*1.05)
	}
	if xMax < least {
		xMax = 1
	}
	if yMax-yMin < least*math.Max(1, math.Abs(yMin)) {
		yMax = yMin + math.Max(1, math.Abs(yMin)/1000)
	}
	return xMax, yMin, yMax
}

// nice is a step of 1, 2 or 5 times a power of ten that cuts span into at most
// n parts.
func nice(span float64, n int) float64 {
	raw := span / float64(n)
	p := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, k := range []float64{1, 2, 5, 10} {
		if k*p >= raw*(1-1e-9) {
			return k * p
		}
	}
	return 10 * p
}

// Text draws the chart in the given columns and rows. The weighings are o, the
// own curve is a line of dashes and dots at two heights a row, the expected
// band is shaded, the target a row of equals signs.
func (c Chart) Text(width, height int) []string {
	c = c.sound()
	xMax, yMin, yMax := c.bounds()
	step := nice(yMax-yMin, max(2, height/3))
	yTop := math.Ceil(yMax/step-1e-9) * step
	yBot := math.Floor(yMin/step+1e-9) * step
	label := func(y float64) string { return fmt.Sprintf("%.4g", round(y)) }
	gut := 0
	for y := yBot; y <= yTop+step/2; y += step {
		gut = max(gut, len(label(y)))
	}
	w := max(20, width-gut-2)
	h := max(6, height)
	grid := make([][]rune, h)
	for i := range grid {
		grid[i] = []rune(strings.Repeat(" ", w))
	}
	// The first cell is the top of the chart, its lower edge the axis: loss
	// grows downwards in weight but upwards here, as people expect of a curve.
	row := func(y float64) float64 { return (yTop - y) / (yTop - yBot) * float64(h-1) }
	col := func(x float64) int { return int(math.Round(x / xMax * float64(w-1))) }
	inX := func(i int) bool { return i >= 0 && i < w }
	put := func(i int, r float64, ch rune) {
		k := int(math.Round(r))
		if inX(i) && k >= 0 && k < h {
			grid[k][i] = ch
		}
	}
	at := func(band []Band, x float64) (lo, hi float64, ok bool) {
		for j := 1; j < len(band); j++ {
			a, b := band[j-1], band[j]
			if x >= a.X && x <= b.X {
				f := 0.0
				if b.X > a.X {
					f = (x - a.X) / (b.X - a.X)
				}
				return a.Low + f*(b.Low-a.Low), a.High + f*(b.High-a.High), true
			}
		}
		return 0, 0, false
	}
	for i := range w {
		x := float64(i) / float64(w-1) * xMax
		if lo, hi, ok := at(c.Expected, x); ok {
			for k := max(0, int(math.Round(row(hi)))); k <= min(h-1, int(math.Round(row(lo)))); k++ {
				grid[k][i] = '░'
			}
		}
	}
	if !math.IsNaN(c.Target) && c.Target > 0 {
		for i := range w {
			put(i, row(c.Target), '=')
		}
	}
	for _, m := range c.Marks {
		if !drawable(m.X) {
			continue
		}
		for k := range h {
			if i := col(m.X); inX(i) && (grid[k][i] == ' ' || grid[k][i] == '░') {
				grid[k][i] = '¦'
			}
		}
	}
	line := func(xy []XY, ch rune) {
		if len(xy) == 0 {
			return
		}
		band := make([]Band, len(xy))
		for i, p := range xy {
			band[i] = Band{p.X, p.Y, p.Y}
		}
		for i := range w {
			if y, _, ok := at(band, float64(i)/float64(w-1)*xMax); ok {
				put(i, row(y), ch)
			}
		}
	}
	letters := []rune("abcdefghijklmnpqrstuvwxyz")
	for i, l := range c.Others {
		for _, p := range l.XY {
			put(col(p.X), row(p.Y), letters[i%len(letters)])
		}
	}
	line(c.Own, '•')
	for _, p := range c.Points {
		put(col(p.X), row(p.Y), 'O')
	}
	var out []string
	if c.YLabel != "" {
		out = append(out, c.YLabel)
	}
	ticks := map[int]float64{}
	for y := yBot; y <= yTop+step/2; y += step {
		ticks[int(math.Round(row(y)))] = y
	}
	for k := range h {
		lab, edge := strings.Repeat(" ", gut), "│"
		if y, ok := ticks[k]; ok {
			lab, edge = fmt.Sprintf("%*s", gut, label(y)), "┤"
		}
		out = append(out, strings.TrimRight(lab+" "+edge+string(grid[k]), " "))
	}
	axis := []rune(strings.Repeat("─", w))
	words := []rune(strings.Repeat(" ", w+8))
	xs := nice(xMax, max(2, w/12))
	for x := 0.0; x <= xMax*(1+1e-9); x += xs {
		i := col(x)
		axis[i] = '┬'
		lab := []rune(fmt.Sprintf("%.4g", round(x)))
		start := i - len(lab)/2
		if start < 0 {
			start = 0
		}
		copy(words[start:], lab)
	}
	out = append(out, strings.Repeat(" ", gut)+" └"+string(axis))
	ticksLine := strings.TrimRight(strings.Repeat(" ", gut+2)+string(words), " ")
	if n := width - len([]rune(ticksLine)) - len([]rune(c.XLabel)) - 2; n >= 0 {
		return append(out, ticksLine+"  "+c.XLabel)
	}
	return append(out, ticksLine, strings.Repeat(" ", max(0, width-len([]rune(c.XLabel))))+c.XLabel)
}

func round(x float64) float64 {
	if math.Abs(x) < 1e-9 {
		return 0
	}
	return math.Round(x*1e6) / 1e6
}

// Legend says in one line what the marks of Text are.
func (c Chart) Legend() string {
	var w []string
	if len(c.Points) > 0 {
		w = append(w, "O weighed")
	}
	if len(c.Own) > 0 {
		w = append(w, "• own curve")
	}
	if len(c.Expected) > 0 {
		w = append(w, "░ expected (90 %)")
	}
	if !math.IsNaN(c.Target) && c.Target > 0 {
		w = append(w, "= "+c.TargetAs)
	}
	for _, m := range c.Marks {
		w = append(w, "¦ "+m.Word)
	}
	return strings.Join(w, "   ")
}
