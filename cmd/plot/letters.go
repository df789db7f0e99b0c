package plot

import (
	"math"
	"strings"

	"rindkeep/cmd/text"
)

// letters is a canvas of columns and rows.
type letters struct {
	rows  [][]rune
	width int
}

var runes = map[Look]string{Expected: "░", Own: "•", Target: "=", Upright: "¦", Weighed: "O", Over: "◆"}

const otherLetters = "abcdefghijklmnpqrstuvwxyz" // no o: that is a weighing

// runeOf is the letter of a look; "" for the own band, which letters have no room for.
func runeOf(look Look) string {
	if look >= Other {
		i := int(look-Other) % len(otherLetters)
		return otherLetters[i : i+1]
	}
	return runes[look]
}

func (t *letters) Scale() Scale {
	return Scale{Line: 1, Head: 1, Gap: 2, Below: 2, Apart: 3, TickX: 12, TickY: 3}
}

func (t *letters) Width(words string) float64 { return float64(text.Width(words)) }

// put writes a letter, over what is there only where that is one of over, if given.
func (t *letters) put(x, y int, ch, over string) {
	for len(t.rows) <= y {
		t.rows = append(t.rows, nil)
	}
	row := t.rows[y]
	for len(row) <= x {
		row = append(row, ' ')
	}
	if over == "" || strings.ContainsRune(over, row[x]) {
		row[x] = []rune(ch)[0]
	}
	t.rows[y] = row
}

func cell(x float64) int { return int(math.Ceil(x - 0.5)) }

// columns calls fn with every column between the first and the last of the spans, and the interval there.
func columns(edges []Span, fn func(x int, low, high float64)) {
	for i, b := range edges {
		a := edges[max(0, i-1)]
		for x := cell(a.X); x <= cell(b.X); x++ {
			f := 1.0
			if b.X > a.X {
				f = min(max((float64(x)-a.X)/(b.X-a.X), 0), 1)
			}
			fn(x, a.Low+f*(b.Low-a.Low), a.High+f*(b.High-a.High))
		}
	}
}

func (t *letters) Area(look Look, edges []Span) {
	if look != Expected {
		return
	}
	columns(edges, func(x int, low, high float64) {
		for y := cell(high); y <= cell(low); y++ {
			t.put(x, y, "░", " ")
		}
	})
}

func (t *letters) Line(look Look, at []XY) {
	from, to := at[0], at[len(at)-1]
	switch {
	case look == Grid && from.Y == to.Y:
		t.put(cell(from.X)-1, cell(from.Y), "┤", "")
	case look == Grid && from.X == to.X:
		t.put(cell(from.X), cell(to.Y)+1, "┬", "")
	case look == Axis && from.X == to.X:
		for y := cell(from.Y); y <= cell(to.Y); y++ {
			t.put(cell(from.X)-1, y, "│", " ")
		}
		t.put(cell(from.X)-1, cell(to.Y)+1, "└", "")
	case look == Axis:
		for x := cell(from.X); x <= cell(to.X); x++ {
			t.put(x, cell(from.Y)+1, "─", " ")
		}
	case look == Upright:
		for y := cell(from.Y); y <= cell(to.Y); y++ {
			t.put(cell(from.X), y, "¦", " ░")
		}
	case look >= Other:
		for _, q := range at {
			t.put(cell(q.X), cell(q.Y), runeOf(look), "")
		}
	case runeOf(look) != "":
		edges := make([]Span, len(at))
		for i, q := range at {
			edges[i] = Span{q.X, q.Y, q.Y}
		}
		columns(edges, func(x int, y, _ float64) { t.put(x, cell(y), runeOf(look), "") })
	}
}

func (t *letters) Dot(look Look, at XY, _ string) {
	if look != Told {
		t.put(cell(at.X), cell(at.Y), runeOf(look), "")
	}
}

func (t *letters) Words(look Look, at XY, align float64, words string) {
	x, y := cell(at.X)-int(align*t.Width(words)), cell(at.Y)
	switch look {
	case Note: // the legend has them
		return
	case Heading:
		x = 0
	case AxisName: // at the end of the figures where there is room
		x = t.width - cell(t.Width(words))
		if len(t.rows) > y-1 && len(t.rows[y-1])+2 <= x {
			x, y = len(t.rows[y-1])+2, y-1
		}
	}
	for i, r := range []rune(words) {
		t.put(max(0, x)+i, y, string(r), "")
	}
}

// Text draws the chart in the given columns, with that many rows for each panel.
func (c Chart) Text(width, rows int) []string {
	c.Title = "" // the caller has said what it is of
	t := &letters{width: max(24, width)}
	n, s := float64(len(c.Panels)), t.Scale()
	high := n*(float64(max(6, rows)-1)+s.Head) + (n-1)*s.Apart + s.Below + s.Line
	if c.XLabel != "" {
		high += s.Line
	}
	c.Draw(t, 0, 0, float64(t.width-1), high)
	out := make([]string, len(t.rows))
	for i, row := range t.rows {
		out[i] = strings.TrimRight(string(row), " ")
	}
	return out
}

// Legend says what the letters of Text are, in lines of at most width columns.
func (c Chart) Legend(width int) (lines []string) {
	named := map[string]bool{}
	for _, p := range c.sound().Panels {
		for _, s := range p.Series {
			part := runeOf(s.Look) + " " + s.Name
			if runeOf(s.Look) == "" || s.Name == "" || named[part] {
				continue
			}
			named[part] = true
			if n := len(lines) - 1; n >= 0 && text.Width(lines[n]+"   "+part) <= width {
				lines[n] += "   " + part
			} else {
				lines = append(lines, part)
			}
		}
	}
	return lines
}
