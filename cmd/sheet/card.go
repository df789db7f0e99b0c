package sheet

import (
	"rindkeep/cmd/plot"
	"rindkeep/cmd/text"
)

// Rule is one rule of the gate.
type Rule struct {
	Met              bool
	Name, Have, Need string
}

// Card is what is known of one wheel.
type Card struct {
	Tag     string
	What    []string // what it is and where it is, a line each
	Alert   []string // held, gone, leaking: in bold
	Facts   [][2]string
	Verdict string // "" where there is none
	Advice  string
	Rules   []Rule
	Chart   *plot.Chart
	Due     [][]string // job, when, why
	Events  [][]string // mark, when, what, detail, by
	Left    string     // what of the history is not shown; "" where all is
	Caution []string
}

// Wheel lays out the card of one wheel.
func Wheel(h Head, d Card) (Doc, error) {
	p := begin(h, d.Tag)
	side := 9 * p.lh() / 1.25
	c, err := codeOf(d.Tag, side)
	if err != nil {
		return Doc{}, err
	}
	c.draw(p.pdf, p.right-side, p.y-p.lh()*0.6, side)
	right, foot := p.right, p.y+side-p.lh()*0.6
	p.right -= side + gap
	p.blocks("", d.What)
	p.blocks("B", d.Alert)
	p.right = right
	p.y = max(p.y, foot)
	p.facts(d.Facts, false)
	// The curve before the verdict, or after it where this page has no room for
	// it but has for the verdict.
	const low, high = 70.0, 96.0
	curve := func() {
		if d.Chart != nil {
			p.skip(0.8)
			left := p.bottom - p.y
			if left < low {
				left = high
			}
			p.chart(*d.Chart, min(high, left))
		}
	}
	after := p.bottom-p.y < low+0.8*p.lh()
	if !after {
		curve()
	}
	if d.Verdict != "" {
		p.skip(0.4)
		p.heading("Dry enough to coat?  "+d.Verdict, 1.2, 3*p.lh())
		p.block("", d.Advice)
		p.rules(d.Rules)
	}
	if after {
		curve()
	}
	if len(d.Due) > 0 {
		p.section("Due", 2)
		p.table(text.Table{Rows: d.Due, Columns: []text.Column{{Bold: true}, {}, {Wrap: true}}}, 0, nil)
	}
	p.events("History", d.Events, d.Left)
	p.framed(d.Caution)
	return done(p.pdf)
}

// rules lists the rules of the gate, each with a ticked or an empty box.
func (p *page) rules(rs []Rule) {
	if len(rs) == 0 {
		return
	}
	p.skip(0.3)
	t := text.Table{Columns: []text.Column{{}, {Wrap: true}, {Wrap: true}}}
	for _, r := range rs {
		need := "needs " + r.Need
		if !r.Met {
			need = "NOT MET, " + need
		}
		t.Add(r.Name, r.Have, need)
	}
	p.boxed(t, p.lh()*0.75, 0, func(row int) bool { return rs[row].Met })
}

// events lists what happened, with what is left out said under the heading.
func (p *page) events(title string, es [][]string, left string) {
	if len(es) == 0 {
		return
	}
	p.section(title, 2)
	if left != "" {
		p.block("", left)
		p.skip(0.3)
	}
	p.table(text.Table{Rows: es, Columns: []text.Column{{}, {}, {Bold: true}, {Wrap: true}, {}}}, 0, nil)
}
