package sheet

import "rindkeep/cmd/plot"

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
	var facts [][]string
	for _, f := range d.Facts {
		facts = append(facts, []string{f.Name, f.Value})
	}
	p.table([]column{{}, {wrap: true}}, facts, 0)
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
		var rows [][]string
		for _, x := range d.Due {
			rows = append(rows, []string{x.Job, x.When, x.Why})
		}
		p.table([]column{{bold: true}, {}, {wrap: true}}, rows, 0)
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
	names := 0.0
	for _, r := range rs {
		p.font("", p.size)
		names = max(names, p.wide(latinOf(r.Name)))
	}
	names = min(names, p.width()*0.25)
	box := p.lh() * 0.75
	x := p.left + box + gap
	have := x + names + gap
	need := have + (p.right-have)*0.52
	for _, r := range rs {
		p.font("", p.size)
		word := "needs " + r.Need
		if !r.Met {
			word = "NOT MET, " + word
		}
		p.row([]cell{
			{x: x, lines: p.wrap(r.Name, names+0.1)},
			{x: have, lines: p.wrap(r.Have, need-have-gap)},
			{x: need, lines: p.wrap(word, p.right-need)},
		}, 0, p.lh()*0.3, func(y float64) {
			y += p.lh() * 0.25
			p.box(p.left, y, box)
			if r.Met {
				p.line(p.left+box*0.15, y+box*0.5, p.left+box*0.4, y+box*0.85, 0.6, 0)
				p.line(p.left+box*0.4, y+box*0.85, p.left+box*1.05, y-box*0.1, 0.6, 0)
			}
		})
	}
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
	var rows [][]string
	for _, e := range es {
		rows = append(rows, []string{e.Mark, e.When, e.What, e.Detail, e.By})
	}
	p.table([]column{{}, {}, {bold: true}, {wrap: true}, {}}, rows, 0)
}
