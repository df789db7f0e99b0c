package sheet

import (
	"fmt"
	"strings"

	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/app/wheels"
	"rindkeep/cmd/plot"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
)

// Card is what is known of one wheel.
type Card struct {
	Tag     string
	What    []string // what it is and where it is, a line each
	Alert   []string // held, gone, leaking: in bold
	Facts   [][2]string
	Verdict string // "" where there is none
	Advice  string
	Rules   []drying.Rule // of the gate, filled
	Chart   *plot.Chart
	Due     [][]string // job, when, why
	Events  [][]string // mark, when, what, detail, by
	Left    string     // what of the history is not shown; "" where all is
	Caution []string
}

// CardOf is a wheel's card in words, to be laid out with the last entries of its
// history; most 0 is all. The card is filled.
func CardOf(p words.Printer, w wheels.Card, curve plot.Chart, most int) Card {
	where := w.Stage
	if w.Place != "" {
		where += ", at " + w.Place
	}
	d := Card{Tag: w.Tag, Alert: p.WheelAlerts(w), Facts: p.WheelFacts(w), Chart: &curve, What: []string{
		w.Title + ", lot " + w.Lot,
		fmt.Sprintf("made %s, %d days old", w.Of.Life.Make.Date.Long(), w.Age),
		where, "plan " + w.Plan + ", " + w.Shape,
	}}
	if w.Waits() {
		d.verdict(p, w)
	}
	for _, c := range w.Cautions {
		d.Caution = append(d.Caution, unbroken(p.Caution(c)))
	}
	for _, x := range w.Due {
		d.Due = append(d.Due, []string{x.Job, words.DueWhen(x), x.Why})
	}
	last := w.Last(most)
	if len(last) < len(w.Entries) {
		d.Left = fmt.Sprintf("the last %d of %d", len(last), len(w.Entries))
	}
	for _, e := range last {
		when := e.Of.At.In(w.Zone).Format("2 Jan 2006 15:04")
		d.Events = append(d.Events, []string{e.Mark, when, e.What, words.EntryWords(e), e.By})
	}
	return d
}

// verdict adds the answer to "dry enough to coat?".
func (d *Card) verdict(p words.Printer, w wheels.Card) {
	v := w.Of.Dry
	d.Verdict, d.Advice = words.Answer(v.Answer), unbroken(w.Dry.Advice)
	if v.On != nil && !v.Overdue {
		d.Advice += "; expected " + p.Expected(*v.On)
	}
	d.Rules = w.Dry.Rules
}

// unbroken takes the terminal's line breaks out of a text: paper breaks its own lines.
func unbroken(s string) string { return strings.ReplaceAll(s, "\n", " ") }

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
	// The curve before the verdict, or after it where this page has no room for it but has for the verdict.
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
		p.section("Due", 3)
		p.table(text.Table{Rows: d.Due, Columns: []text.Column{{Bold: true}, {}, {Wrap: true}}}, 0, nil)
	}
	p.events("History", d.Events, d.Left)
	p.framed(d.Caution)
	return done(p.pdf)
}

// rules lists the rules of the gate, each with a ticked or an empty box.
func (p *page) rules(rs []drying.Rule) {
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
		t.Add(r.Rule, r.Have, need)
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
	mark := text.Column{Like: "000000"} // no hex digit is wider: an entry's mark doesn't change the lines of the rest
	p.table(text.Table{Rows: es, Columns: []text.Column{mark, {}, {Bold: true}, {Wrap: true}, {}}}, 0, nil)
}
