package sheet

// column is one column of a table.
type column struct {
	title string
	wrap  bool    // takes what width the others leave
	bold  bool    // its cells in bold
	blank float64 // least width of an empty column to write in; 0: a column with text
}

const gap = 3.0 // between columns

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
	pad := p.lh() * 0.35
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
				if c.blank > 0 && high > 0 {
					p.line(xs[i], y+high-1.2, xs[i]+w[i], y+high-1.2, 0.25, 60)
				}
			}
		})
	}
	p.repeat = nil
}

// widths shares the width of the text among columns: each its longest cell,
// where there is room for all, or else the wrapping ones what the others leave.
func (p *page) widths(cols []column, rows [][]string) []float64 {
	w := make([]float64, len(cols))
	free := p.width() - gap*float64(len(cols)-1)
	wraps := 0.0
	for i, c := range cols {
		p.font("B", p.size)
		w[i] = max(p.wide(latinOf(c.title)), c.blank)
		if !c.bold {
			p.font("", p.size)
		}
		for _, r := range rows {
			if i < len(r) {
				w[i] = max(w[i], p.wide(latinOf(r[i]))+0.1)
			}
		}
		if c.wrap {
			wraps += w[i]
			continue
		}
		if c.blank == 0 {
			w[i] = min(w[i], p.width()*0.36)
		}
		free -= w[i]
	}
	free = max(free, 20)
	grow := 0
	for i, c := range cols {
		if c.wrap && wraps > free {
			w[i] *= free / wraps
		}
		if c.blank > 0 {
			grow++
		}
	}
	// What is left over is room to write.
	if rest := free - wraps; rest > 0 && grow > 0 {
		for i, c := range cols {
			if c.blank > 0 {
				w[i] += rest / float64(grow)
			}
		}
	}
	return w
}
