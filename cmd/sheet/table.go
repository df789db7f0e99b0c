package sheet

import "strings"

// column is one column of a table.
type column struct {
	title string
	wrap  bool    // takes what width the others leave
	bold  bool    // its cells in bold
	blank float64 // least width of an empty column to write in; 0: a column with text
}

const gap = 4.0 // between columns

// table writes rows under headings, which come again on every page it goes on
// over. Rows are at least high.
func (p *page) table(cols []column, rows [][]string, high float64) {
	w := p.widths(cols, rows)
	xs := make([]float64, len(cols))
	x := p.left
	titled := false
	for i, c := range cols {
		xs[i] = x
		x += w[i] + gap
		titled = titled || c.title != ""
	}
	pad := max(p.lh()*0.35, high-p.lh())
	head := func() {
		if !titled {
			return
		}
		p.font("B", p.size)
		for i, c := range cols {
			p.put(xs[i], p.y+p.lh()*0.8, p.fit(c.title, w[i]))
		}
		p.y += p.lh() * 1.15
		p.rule(p.y, 0.3, 0)
	}
	p.repeat = nil
	p.need(3 * p.lh())
	head()
	p.repeat = head
	for _, r := range rows {
		var cells []cell
		for i, c := range cols {
			if i >= len(r) || c.blank > 0 {
				continue
			}
			cl := cell{x: xs[i]}
			if c.bold {
				p.font("B", p.size)
				cl.bold = 1 << 30
			} else {
				p.font("", p.size)
			}
			cl.lines = p.wrap(r[i], w[i])
			cells = append(cells, cl)
		}
		p.row(cells, high, pad, func(y float64) {
			for i, c := range cols {
				if c.blank > 0 {
					p.line(xs[i]-gap/2, y+0.8, xs[i]-gap/2, y+high-0.8, 0.15, 120)
				}
			}
		})
	}
	p.repeat = nil
}

// tableHeight is how high a table will be on one page.
func (p *page) tableHeight(cols []column, rows [][]string) float64 {
	w := p.widths(cols, rows)
	h := p.lh() * 1.15
	for _, r := range rows {
		n := 0
		for i, c := range cols {
			if i < len(r) && c.blank == 0 {
				p.font("", p.size)
				if c.bold {
					p.font("B", p.size)
				}
				n = max(n, len(p.wrap(r[i], w[i])))
			}
		}
		h += (float64(n) + 0.35) * p.lh()
	}
	return h
}

// least is the width a wrapping column is left, however wide the others are.
const least = 25.0

// widths shares the width of the text among columns: each its longest cell
// where there is room for all. Where there is not, the wrapping ones take what
// the others leave, and the widest of the others are narrowed first.
func (p *page) widths(cols []column, rows [][]string) []float64 {
	w := make([]float64, len(cols))
	free := p.width() - gap*float64(len(cols)-1)
	fixed, wraps, kept, blanks := 0.0, 0.0, 0.0, 0
	for i, c := range cols {
		p.font("B", p.size)
		w[i] = max(p.wide(latinOf(c.title)), c.blank)
		if !c.bold {
			p.font("", p.size)
		}
		for _, r := range rows {
			if i >= len(r) {
				continue
			}
			for _, l := range strings.Split(string(latinOf(r[i])), "\n") {
				w[i] = max(w[i], p.wide(latin(l))+0.1)
			}
		}
		switch {
		case c.blank > 0:
			blanks++
			kept += w[i]
		case c.wrap:
			wraps += w[i]
			kept += min(least, w[i])
		default:
			fixed += w[i]
		}
	}
	for fixed > free-kept { // the widest comes down to the next, or to what is needed
		wide, next, many := 0.0, 0.0, 0
		for i, c := range cols {
			switch {
			case c.blank > 0 || c.wrap:
			case w[i] > wide:
				wide, next, many = w[i], wide, 1
			case w[i] == wide:
				many++
			default:
				next = max(next, w[i])
			}
		}
		to := max(next, wide-(fixed-(free-kept))/float64(many))
		for i, c := range cols {
			if c.blank == 0 && !c.wrap && w[i] == wide {
				w[i] = to
			}
		}
		if to == wide {
			break
		}
		fixed -= (wide - to) * float64(many)
		if fixed <= free-kept+1e-6 {
			break
		}
	}
	left := free - fixed
	for i, c := range cols {
		if c.blank > 0 {
			left -= w[i]
		}
	}
	if wraps > left {
		p.squeeze(cols, rows, w, wraps, left)
	}
	// What is left over is room to write.
	if left -= wraps; left > 0 && blanks > 0 {
		for i, c := range cols {
			if c.blank > 0 {
				w[i] += left / float64(blanks)
			}
		}
	}
	return w
}

// squeeze shares what room there is among the wrapping columns: first to each
// its title and its longest word, where there is room for those, then the rest in
// proportion to what they lack.
func (p *page) squeeze(cols []column, rows [][]string, w []float64, wraps, room float64) {
	floor := make([]float64, len(cols))
	kept, lack := 0.0, 0.0
	for i, c := range cols {
		if !c.wrap || c.blank > 0 {
			continue
		}
		p.font("B", p.size)
		floor[i] = p.wide(latinOf(c.title))
		if !c.bold {
			p.font("", p.size)
		}
		for _, r := range rows {
			if i < len(r) {
				for _, word := range strings.Fields(string(latinOf(r[i]))) {
					floor[i] = max(floor[i], p.wide(latin(word))+0.1)
				}
			}
		}
		floor[i] = min(floor[i], w[i])
		kept += floor[i]
		lack += w[i] - floor[i]
	}
	for i, c := range cols {
		switch {
		case !c.wrap || c.blank > 0:
		case kept > room || lack <= 0:
			w[i] *= room / wraps
		default:
			w[i] = floor[i] + (w[i]-floor[i])*(room-kept)/lack
		}
	}
}
