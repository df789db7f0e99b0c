package sheet

import (
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/trade"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
)

// Lot is one lot of a trace: what went into it and what became of it.
type Lot struct {
	Name  string
	What  string
	Facts [][2]string
}

// Trace is one step back and one forward.
type Trace struct {
	Of    string   // what it is a trace of
	What  []string // as of when, and the sums
	Lots  []Lot
	Sent  text.Table  // by delivery
	Reach [][2]string // customers, and how to reach them
	Here  [][2]string // places, and the wheels still there
	Lost  text.Table  // by wheel
}

// TraceOf is a trace in words.
func TraceOf(p words.Printer, t trade.Trace) Trace {
	d := Trace{Of: p.TraceOf(t.Asked), What: found(p, t), Sent: p.Sent(t), Reach: p.HowToReach(t), Here: p.StillHere(t),
		Lost: p.Lost(t)}
	for _, l := range t.Lots {
		d.Lots = append(d.Lots, Lot{Name: l.Lot, What: l.Title + ", made " + l.Made.Long(), Facts: p.LotFacts(l)})
	}
	return d
}

// found says of when a trace is and how much it found.
func found(p words.Printer, t trade.Trace) []string {
	out := []string{"as of " + t.Time.Format("Mon 2 Jan 2006 15:04"), p.TraceFound(t.Totals)}
	if len(t.Asked.Of) > 1 {
		out = append([]string{p.TraceOf(t.Asked)}, out...) // the title may have no room for them
	}
	return out
}

// TraceSheet lays out a trace.
func TraceSheet(h Head, d Trace) (Doc, error) {
	p := begin(h, "trace of "+d.Of)
	p.blocks("", d.What)
	p.skip(0.4)
	p.part("BACK: what went in")
	for i, l := range d.Lots {
		if i > 0 {
			p.skip(0.6)
		}
		p.repeat = nil
		p.heading("lot "+l.Name, 1.1, 3*p.lh())
		p.block("", l.What)
		p.skip(0.2)
		p.rule(p.y, 0.3, 0)
		p.facts(l.Facts, true)
	}
	p.skip(0.6)
	p.part("FORWARD: who had what")
	if len(d.Sent.Rows) == 0 {
		p.block("", "nothing was sent")
	} else {
		p.table(d.Sent, 0, nil)
	}
	for _, x := range []struct {
		title string
		facts [][2]string
	}{{"How to reach them", d.Reach}, {"Still here", d.Here}} {
		if len(x.facts) > 0 {
			p.section(x.title, 2)
			p.rule(p.y, 0.3, 0)
			p.facts(x.facts, true)
		}
	}
	if len(d.Lost.Rows) > 0 {
		p.section("Lost", 2)
		p.table(d.Lost, 0, nil)
	}
	return done(p.pdf)
}

// part is a heading with a thick line under it.
func (p *page) part(s string) {
	p.repeat = nil
	p.heading(s, 1.35, 4*p.lh())
	p.rule(p.y, 0.5, 0)
	p.skip(0.3)
}

// facts lists names, bold or not, and what there is to say of each.
func (p *page) facts(fs [][2]string, bold bool) {
	t := text.Facts(0, fs)
	t.Columns[0].Bold = bold
	p.table(t, 0, nil)
}

// Reach is one customer to be reached, and what they had.
type Reach struct {
	Name    string
	Contact string // "" where it isn't in the book
	Address string
	Had     [][]string // date, what, weight, document
}

// Recall is who is to be reached about what, and what is to be set aside here.
type Recall struct {
	Of      string
	What    []string
	Reach   []Reach
	Here    [][2]string // places, and the wheels still there
	Caution []string
}

// RecallOf is a trace as a recall, in words.
func RecallOf(p words.Printer, t trade.Trace) Recall {
	d := Recall{Of: p.TraceOf(t.Asked), What: found(p, t), Here: p.StillHere(t)}
	d.Caution = []string{p.CautionOf(app.Recalling)}
	for _, c := range t.Customers {
		r := Reach{Name: c.Name, Contact: trade.OneLine(c.Contact), Address: trade.OneLine(c.Address)}
		for _, h := range t.Had(c.Name) {
			what, weight := p.Had(h)
			r.Had = append(r.Had, []string{words.DayMonthYear(h.Date), what, weight, h.Document})
		}
		d.Reach = append(d.Reach, r)
	}
	return d
}

// RecallSheet lays out a recall: a box to tick for every customer reached, room to write by whom and when, and a
// box for every place where wheels are to be set aside.
func RecallSheet(h Head, d Recall) (Doc, error) {
	p := begin(h, "RECALL of "+d.Of)
	p.blocks("", d.What)
	p.skip(0.3)
	p.blocks("B", d.Caution) // at the head: it is the first thing to do
	p.blanks("why", 1)
	for _, s := range []string{"started by", "authority informed by", "everyone reached, signed"} {
		p.blanks(s, 0.6, "at")
	}
	p.skip(0.8)
	p.part("Reach these customers")
	if len(d.Reach) == 0 {
		p.block("", "nothing was sent, so there is nobody to reach")
	}
	for _, x := range d.Reach {
		p.customer(x, p.lh()*1.7)
	}
	if len(d.Here) > 0 {
		p.skip(0.6)
		p.part("Set aside what is still here")
		t := text.Facts(0, d.Here)
		t.Columns[0].Bold = true
		p.boxed(t, p.lh()*1.2, p.lh()*1.65, func(int) bool { return false })
	}
	p.repeat = nil
	return done(p.pdf)
}

// blanks draws words with lines to write on side by side, high enough for a
// gloved hand. The first takes a share of the width, the second the rest.
func (p *page) blanks(first string, share float64, second ...string) {
	high := 1.9 * p.lh()
	p.need(high)
	p.y += high
	p.font("", p.size)
	x, free := p.left, p.width()-gap*float64(len(second))
	for _, word := range append([]string{first}, second...) {
		p.put(x, p.y-0.8, word)
		p.line(x+p.wide(word)+1.5, p.y, x+free*share, p.y, 0.25, 60)
		x, share = x+free*share+gap, 1-share
	}
}

// customer lays out one customer to be reached. It stays on one page where it is not very long.
func (p *page) customer(c Reach, side float64) {
	left := p.left
	p.left += side + gap
	t := text.Table{Rows: c.Had, Columns: []text.Column{
		{Title: "date"}, {Title: "what", Wrap: true}, {Title: "weight", Right: true}, {Title: "document", Wrap: true},
	}}
	p.repeat = nil
	const write = 2 * 1.9 // lines to write on, in lines of text
	h := (write+5)*p.lh() + p.tableHeight(t)
	if h > p.bottom-p.top { // it goes on over pages, but for what is to be written
		h = 10 * p.lh()
	}
	p.need(h)
	p.box(left, p.y+p.lh()*0.2, side)
	p.heading(c.Name, 1.3, 0)
	if c.Contact != "" {
		p.block("B", c.Contact)
	} else {
		p.blanks("NO CONTACT DETAILS", 1)
	}
	if c.Address != "" {
		p.block("", c.Address)
	}
	p.skip(0.2)
	p.table(t, 0, nil)
	p.need(write * p.lh())
	p.blanks("reached by", 0.55, "at")
	p.blanks("spoke to", 0.5, "they still have")
	p.left = left
	p.skip(0.7)
	p.rule(p.y, 0.5, 0)
	p.skip(0.5)
}
