package plot

import (
	"cmp"
	"slices"
	"time"
)

// Canvas is what a chart is drawn on, in its own unit (columns and rows, pixels, millimetres); y runs down.
type Canvas interface {
	Scale() Scale
	// Width is how wide words are drawn.
	Width(words string) float64
	Area(look Look, edges []Span)
	Line(look Look, at []XY)
	Dot(look Look, at XY, said string) // said is what to tell of it when it's touched; "": nothing
	// Words writes with the middle of the letters at at.Y; of the words' width,
	// align is the share that goes to the left of at.X.
	Words(look Look, at XY, align float64, words string)
}

// Scale is how large things are on a canvas.
type Scale struct {
	Line         float64 // height of a line of words
	Head         float64 // height of a panel's heading
	Gap          float64 // between figures and the axis
	Below        float64 // between the axis and the figures under it
	Apart        float64 // between two panels
	TickX, TickY float64 // least room between two ticks
	Swatch       float64 // width of a sample in the key; 0: the canvas has no key
}

// layout is a sound chart on its way to a canvas.
type layout struct {
	Chart
	Scale
	to                       Canvas
	left, right, top, bottom float64 // of the panel that is drawn
	end, low, high           float64 // X at right, Y at bottom and at top
}

type tick struct {
	x    float64
	word string
}

// Draw lays the chart out in a rectangle of the canvas.
func (c Chart) Draw(to Canvas, x, y, w, h float64) {
	l := &layout{Chart: c.sound(), Scale: to.Scale(), to: to}
	if !slices.ContainsFunc(l.Panels, func(p Panel) bool { return len(p.Series) > 0 }) {
		to.Words(Heading, XY{x, y + l.Line/2}, 0, "nothing was measured")
		return
	}
	keys := l.keyRows(x, x+w)
	foot := l.Below + l.Line
	if l.XLabel != "" {
		foot += l.Line
	}
	if len(keys) > 0 {
		foot += l.Line * (0.4 + float64(len(keys)))
	}
	n := float64(len(l.Panels))
	tall := max(l.Line, (h-foot-n*l.Head-(n-1)*l.Apart)/n)
	ticks, wide := make([][]float64, len(l.Panels)), 0.0
	for i, p := range l.Panels {
		ticks[i] = p.ticks(max(2, int(tall/l.TickY)))
		for _, t := range ticks[i] {
			wide = max(wide, to.Width(figure(t)))
		}
	}
	l.left = x + wide + l.Gap
	l.right = max(l.left+l.TickX, x+w-l.namesWidth())
	l.end = l.last()
	ticksX := l.ticksX()
	for i, p := range l.Panels {
		l.top, l.bottom = y+l.Head, y+l.Head+tall
		l.low, l.high = ticks[i][0], ticks[i][len(ticks[i])-1]
		to.Words(Heading, XY{l.left, y + l.Line/2}, 0, l.heading(p, x+w))
		l.frame(ticks[i], ticksX, i == len(l.Panels)-1)
		l.panel(p)
		y = l.bottom + l.Apart
	}
	y = l.bottom + l.Below + l.Line*1.5
	if l.XLabel != "" {
		to.Words(AxisName, XY{(l.left + l.right) / 2, y}, 0.5, l.XLabel)
		y += l.Line
	}
	for _, row := range keys {
		for _, k := range row {
			l.key(k, y+l.Line*0.4)
		}
		y += l.Line
	}
}

// heading is a panel's label, after the chart's title where there is room.
func (l *layout) heading(p Panel, right float64) string {
	long := l.Title + ": " + p.Label
	if l.Title == "" || len(l.Panels) > 1 || l.left+l.to.Width(long)*1.3 > right {
		return p.Label // what is around it has the title
	}
	return long
}

func (l *layout) px(x float64) float64 { return l.left + x/l.end*(l.right-l.left) }

func (l *layout) py(y float64) float64 {
	return l.top + (l.high-min(max(y, l.low), l.high))/(l.high-l.low)*(l.bottom-l.top)
}

// frame draws the axes, with the figures of the horizontal one under the last panel.
func (l *layout) frame(ticks []float64, ticksX []tick, last bool) {
	for _, t := range ticks {
		l.to.Line(Grid, []XY{{l.left, l.py(t)}, {l.right, l.py(t)}})
		l.to.Words(Tick, XY{l.left - l.Gap, l.py(t)}, 1, figure(t))
	}
	for _, t := range ticksX {
		l.to.Line(Grid, []XY{{l.px(t.x), l.top}, {l.px(t.x), l.bottom}})
		if last {
			l.to.Words(Tick, XY{l.px(t.x), l.bottom + l.Below + l.Line/2}, 0.5, t.word)
		}
	}
	l.to.Line(Axis, []XY{{l.left, l.top}, {l.left, l.bottom}})
	l.to.Line(Axis, []XY{{l.left, l.bottom}, {l.right, l.bottom}})
}

// panel draws the series of a panel, and then the words among them.
func (l *layout) panel(p Panel) {
	var ends []endName
	var notes []func()
	uprights := 0
	for _, s := range p.Series {
		spans, at := make([]Span, len(s.At)), make([]XY, len(s.At))
		for i, q := range s.At {
			spans[i] = Span{l.px(q.X), l.py(q.Low), l.py(q.High)}
			at[i] = XY{spans[i].X, spans[i].High}
		}
		first, last := at[0], at[len(at)-1]
		switch s.Look {
		case Expected, OwnBand:
			l.to.Area(s.Look, spans)
		case Target, Limit:
			l.to.Line(s.Look, []XY{{l.left, first.Y}, {l.right, first.Y}})
			if s.Look == Target {
				notes = append(notes, func() {
					word := s.Name + " " + figure(s.At[0].High) + " %"
					l.to.Words(Note, XY{l.right - l.Gap/2, first.Y - l.Line*0.55}, 1, word)
				})
			}
		case Upright:
			if first.X < l.left || first.X > l.right {
				continue
			}
			y := l.bottom - l.Line*(0.7+float64(uprights%4))
			uprights++
			l.to.Line(Upright, []XY{{first.X, l.top}, {first.X, l.bottom}})
			notes = append(notes, func() { l.beside(first.X, y, s.Name) })
		case Weighed, Over, Told:
			for i, q := range at {
				said := ""
				if i < len(s.Said) {
					said = s.Said[i]
				}
				l.to.Dot(s.Look, q, said)
			}
		default:
			l.to.Line(s.Look, at)
			if s.Look >= Other {
				ends = append(ends, endName{s.Name, last, last.Y})
			}
		}
		notes = append(notes, func() {
			for i, w := range s.Words {
				l.beside(at[i].X, max(l.top+l.Line*0.5, at[i].Y-l.Line*0.65), w)
			}
		})
	}
	for _, note := range notes {
		note()
	}
	l.endNames(ends)
}

// beside writes a word to the right of x, or where that has no room to its left, or as far right as it goes.
func (l *layout) beside(x, y float64, word string) {
	wide, gap := l.to.Width(word), l.Gap*0.8
	switch {
	case word == "":
	case x+gap+wide <= l.right:
		l.to.Words(Note, XY{x + gap, y}, 0, word)
	case x-gap-wide >= l.left:
		l.to.Words(Note, XY{x - gap, y}, 1, word)
	default:
		l.to.Words(Note, XY{l.right, y}, 1, word)
	}
}

func (l *layout) namesWidth() (w float64) {
	for _, p := range l.Panels {
		for _, s := range p.Series {
			if s.Look >= Other && l.Swatch > 0 {
				w = max(w, l.to.Width(s.Name)+l.Gap*2)
			}
		}
	}
	return w
}

// endName is the name of one of several curves at the right edge, its middle at y, and the end of the curve.
type endName struct {
	name string
	end  XY
	y    float64
}

// endNames puts names at the right edge, each as near to its curve's end as the others leave room for.
func (l *layout) endNames(names []endName) {
	if l.Swatch == 0 {
		return
	}
	slices.SortStableFunc(names, func(a, b endName) int { return cmp.Compare(a.y, b.y) })
	step := min(l.Line*0.95, (l.bottom-l.top)/float64(max(1, len(names))))
	for i := 1; i < len(names); i++ {
		names[i].y = max(names[i].y, names[i-1].y+step)
	}
	limit := l.bottom
	for _, n := range slices.Backward(names) {
		n.y = min(n.y, limit)
		limit = n.y - step
		l.to.Words(Note, XY{l.right + l.Gap*1.5, n.y}, 0, n.name)
		l.to.Line(Grid, []XY{n.end, {l.right + l.Gap, n.y}})
	}
}

// entry is one entry of the key: the looks that share it, and where it begins.
type entry struct {
	looks []Look
	word  string
	x     float64
}

// entries are those of the key in the order of the series; the band around the own curve shares the curve's.
func (c Chart) entries() (out []entry) {
	for _, p := range c.Panels {
		for _, s := range p.Series {
			i := slices.IndexFunc(out, func(e entry) bool {
				return slices.Contains(e.looks, s.Look) || s.Look == Own && slices.Contains(e.looks, OwnBand)
			})
			switch {
			case s.Name == "" || s.Look >= Other || s.Look == Target || s.Look == Upright:
			case i < 0:
				out = append(out, entry{[]Look{s.Look}, s.Name, 0})
			case !slices.Contains(out[i].looks, s.Look):
				out[i].looks, out[i].word = append(out[i].looks, s.Look), s.Name+", "+out[i].word
			}
		}
	}
	return out
}

// keyRows lays the key out between two edges.
func (l *layout) keyRows(left, right float64) (rows [][]entry) {
	if l.Swatch == 0 {
		return nil
	}
	x := right
	for _, e := range l.entries() {
		wide := l.Swatch + l.Gap + l.to.Width(e.word)
		if rows == nil || x+wide > right {
			rows, x = append(rows, nil), left
		}
		e.x = x
		rows[len(rows)-1] = append(rows[len(rows)-1], e)
		x += wide + l.Gap*3
	}
	return rows
}

func (l *layout) key(e entry, y float64) {
	high := l.Line * 0.4
	for _, look := range e.looks {
		switch look {
		case Expected, OwnBand:
			l.to.Area(look, []Span{{e.x, y + high, y - high}, {e.x + l.Swatch, y + high, y - high}})
		case Own:
			l.to.Line(look, []XY{{e.x, y}, {e.x + l.Swatch, y}})
		default:
			l.to.Dot(look, XY{e.x + l.Swatch/2, y}, "")
		}
	}
	l.to.Words(Key, XY{e.x + l.Swatch + l.Gap, y}, 0, e.word)
}

// ticksX are the figures of the horizontal axis.
func (l *layout) ticksX() (out []tick) {
	n := max(2, int((l.right-l.left)/l.TickX))
	if !l.Start.IsZero() {
		return clockTicks(l.Start, l.Start.Add(time.Duration(l.end*float64(time.Hour))), min(n, 8))
	}
	step := nice(l.end, min(n, 10))
	for k := 0.0; k*step <= l.end*(1+1e-9); k++ {
		out = append(out, tick{k * step, figure(k * step)})
	}
	return out
}
