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

// columns is a table fitted to the page, and where each of its columns begins.
type columns struct {
	text.Grid
	of []text.Column
	x  []float64
}

func (p *page) columns(t text.Table) columns {
	c := columns{p.fitted(t), t.Columns, make([]float64, len(t.Columns))}
	x := p.left
	for i, wide := range c.Widths {
		if c.x[i] = x; wide > 0 {
			x += wide + gap
		}
	}
	return c
}

// cells are those of a row; bold is how many of their lines are bold in any column.
func (c columns) cells(lines [][]string, bold int) (out []cell) {
	for i, col := range c.of {
		one := cell{x: c.x[i], lines: lines[i], bold: bold}
		if col.Right {
			one.right = c.x[i] + c.Widths[i]
		}
		if col.Bold {
			one.bold = all
		}
		out = append(out, one)
	}
	return out
}

// table writes rows under headings, which come again on every page it goes on over.
// Rows are at least high; beside draws what stands to the left of a row, if anything.
func (p *page) table(t text.Table, high float64, beside func(row int, y float64)) {
	g := p.columns(t)
	head := func() {
		titles := g.cells(g.Head, all)
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
		p.row(g.cells(r, 0), high, max(p.lh()*0.35, high-p.lh()), func(y float64) {
			for i, c := range t.Columns {
				if c.Blank > 0 {
					p.line(g.x[i]-gap/2, y+0.8, g.x[i]-gap/2, y+high-0.8, 0.15, 120)
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
