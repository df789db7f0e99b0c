package sheet

import (
	"rindkeep/cmd/plot"
	"rindkeep/cmd/text"
)

// Fact is a figure with its name.
type Fact struct{ Name, Value string }

// Rule is one rule of the gate.
type Rule struct {
	Met              bool
	Name, Have, Need string
}

// Due is one job to come.
type Due struct{ Job, When, Why string }

// Event is one thing that happened.
type Event struct{ Mark, When, What, Detail, By string }

// Card is what is known of one wheel.
type Card struct {
	Tag     string
	What    []string // what it is and where it lies, a line each
	Alert   []string // held, gone, leaking: in bold
	Facts   []Fact
	Verdict string // "" where there is none
	Advice  string
	Rules   []Rule
	Chart   *plot.Chart
	Due     []Due
	Events  []Event
	Left    string // what of the history is not shown; "" where all is
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
	for _, s := range d.What {
		p.block("", s)
	}
	for _, s := range d.Alert {
		p.block("B", s)
	}
	p.right = right
	p.y = max(p.y, foot)
	p.facts(d.Facts, false)
	// The curve before the verdict, or after it where this page has no room for
	// it but has for the verdict.
	const low, high = 70.0, 96.0
	curve := func() {
		if d.Chart != nil {
			p.y += p.lh() * 0.8
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
		p.y += p.lh() * 0.4
		p.heading("Dry enough to coat?  "+d.Verdict, 1.2, 3*p.lh())
		p.block("", d.Advice)
		p.rules(d.Rules)
	}
	if after {
		curve()
	}
	if len(d.Due) > 0 {
		p.y += p.lh() * 0.4
		p.heading("Due", 1.2, 2*p.lh())
		t := text.Table{Columns: []text.Column{{Bold: true}, {}, {Wrap: true}}}
		for _, x := range d.Due {
			t.Add(x.Job, x.When, x.Why)
		}
		p.table(t, 0, nil)
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
	p.y += p.lh() * 0.3
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
func (p *page) events(title string, es []Event, left string) {
	if len(es) == 0 {
		return
	}
	p.y += p.lh() * 0.4
	p.heading(title, 1.2, 2*p.lh())
	if left != "" {
		p.block("", left)
		p.y += p.lh() * 0.3
	}
	t := text.Table{Columns: []text.Column{{}, {}, {Bold: true}, {Wrap: true}, {}}}
	for _, e := range es {
		t.Add(e.Mark, e.When, e.What, e.Detail, e.By)
	}
	p.table(t, 0, nil)
}
