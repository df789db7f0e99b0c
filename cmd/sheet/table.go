package sheet

import "rindkeep/cmd/text"

const (
	gap       = 4.0  // between columns
	leastWide = 25.0 // of a wrapping column, however wide the others are
)

func (p *page) fitted(t text.Table) text.Grid {
	return t.Fit(text.Sheet{
		Plain: p.plain(), Bold: p.bold(), Room: p.width(), Gap: gap, Least: leastWide, Step: 0.25, Tight: true,
	})
}

// table writes rows under headings, which come again on every page it goes on over.
// Rows are at least high; beside draws what stands to the left of a row, if anything.
func (p *page) table(t text.Table, high float64, beside func(row int, y float64)) {
	g := p.fitted(t)
	xs, x := make([]float64, len(t.Columns)), p.left
	for i := range t.Columns {
		if xs[i] = x; g.Widths[i] > 0 {
			x += g.Widths[i] + gap
		}
	}
	cells := func(lines [][]string, bold int) (out []cell) {
		for i, c := range t.Columns {
			one := cell{x: xs[i], lines: lines[i], bold: bold}
			if c.Right {
				one.right = xs[i] + g.Widths[i]
			}
			if c.Bold {
				one.bold = all
			}
			out = append(out, one)
		}
		return out
	}
	head := func() {
		titles := cells(g.Head, all)
		for i := range most(titles) {
			p.lineOf(titles, i)
		}
		p.y += p.lh() * 0.15
		p.rule(p.y, 0.3, 0)
	}
	if !t.Titled() {
		head = func() {}
	}
	p.repeat = nil
	p.need(3 * p.lh())
	head()
	p.repeat = head
	for n, r := range g.Rows {
		p.row(cells(r, 0), high, max(p.lh()*0.35, high-p.lh()), func(y float64) {
			for i, c := range t.Columns {
				if c.Blank > 0 {
					p.line(xs[i]-gap/2, y+0.8, xs[i]-gap/2, y+high-0.8, 0.15, 120)
				}
			}
			if beside != nil {
				beside(n, y)
			}
		})
	}
	p.repeat = nil
}

// boxed is a table whose rows each have a box to tick at their left.
func (p *page) boxed(t text.Table, side, high float64, ticked func(row int) bool) {
	left := p.left
	p.left += side + gap
	p.table(t, high, func(row int, y float64) {
		y += p.lh() * 0.22
		p.box(left, y, side)
		if ticked(row) {
			p.line(left+side*0.15, y+side*0.5, left+side*0.4, y+side*0.85, 0.6, 0)
			p.line(left+side*0.4, y+side*0.85, left+side*1.05, y-side*0.1, 0.6, 0)
		}
	})
	p.left = left
}

// tableHeight is how high a table will be on one page.
func (p *page) tableHeight(t text.Table) float64 {
	h := p.lh() * 1.15
	for _, r := range p.fitted(t).Rows {
		n := 0
		for _, lines := range r {
			n = max(n, len(lines))
		}
		h += (float64(n) + 0.35) * p.lh()
	}
	return h
}
