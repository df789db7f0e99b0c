package sheet

import "rindkeep/cmd/text"

// Lot is one lot of a trace: what went into it and what became of it.
type Lot struct {
	Name  string
	What  string
	Facts []Fact
}

// Delivery is one wheel, or a piece of one, that a customer had.
type Delivery struct{ Date, Customer, Wheel, Part, Weight, Document string }

// Gone is one wheel that was lost.
type Gone struct{ Tag, Date, Why string }

// Trace is one step back and one forward.
type Trace struct {
	Of         string   // what it is a trace of
	What       []string // as of when, and the sums
	Lots       []Lot
	Deliveries []Delivery
	Reach      []Fact // customers, and how to reach them
	Here       []Fact // places, and the wheels still there
	Lost       []Gone
}

// TraceSheet lays out a trace.
func TraceSheet(h Head, d Trace) (Doc, error) {
	p := begin(h, "trace of "+d.Of)
	for _, s := range d.What {
		p.block("", s)
	}
	p.y += p.lh() * 0.4
	p.part("BACK: what went in")
	for i, l := range d.Lots {
		if i > 0 {
			p.y += p.lh() * 0.6
		}
		p.repeat = nil
		p.heading("lot "+l.Name, 1.1, 3*p.lh())
		p.block("", l.What)
		p.y += p.lh() * 0.2
		p.rule(p.y, 0.3, 0)
		p.facts(l.Facts, true)
	}
	p.y += p.lh() * 0.6
	p.part("FORWARD: who had what")
	if len(d.Deliveries) == 0 {
		p.block("", "nothing was sent")
	} else {
		t := text.Table{Columns: []text.Column{
			{Title: "date"}, {Title: "customer", Wrap: true, Bold: true}, {Title: "wheel"}, {Title: "part"},
			{Title: "weight", Right: true}, {Title: "document", Wrap: true},
		}}
		for _, x := range d.Deliveries {
			t.Add(x.Date, x.Customer, x.Wheel, x.Part, x.Weight, x.Document)
		}
		p.table(t, 0, nil)
	}
	for _, x := range []struct {
		title string
		facts []Fact
	}{{"How to reach them", d.Reach}, {"Still here", d.Here}} {
		if len(x.facts) > 0 {
			p.y += p.lh() * 0.4
			p.heading(x.title, 1.2, 2*p.lh())
			p.rule(p.y, 0.3, 0)
			p.facts(x.facts, true)
		}
	}
	if len(d.Lost) > 0 {
		p.y += p.lh() * 0.4
		p.heading("Lost", 1.2, 2*p.lh())
		t := text.Table{Columns: []text.Column{{Title: "wheel", Bold: true}, {Title: "date"}, {Title: "why", Wrap: true}}}
		for _, x := range d.Lost {
			t.Add(x.Tag, x.Date, x.Why)
		}
		p.table(t, 0, nil)
	}
	return done(p.pdf)
}

// part is a heading with a thick line under it.
func (p *page) part(s string) {
	p.repeat = nil
	p.heading(s, 1.35, 4*p.lh())
	p.rule(p.y, 0.5, 0)
	p.y += p.lh() * 0.3
}

// facts lists names, bold or not, and what there is to say of each.
func (p *page) facts(fs []Fact, bold bool) {
	t := text.Table{Columns: []text.Column{{Bold: bold}, {Wrap: true}}}
	for _, f := range fs {
		t.Add(f.Name, f.Value)
	}
	p.table(t, 0, nil)
}

// Had is what a customer had on one day with one document.
type Had struct{ Date, What, Weight, Document string }

// Reach is one customer to be reached.
type Reach struct {
	Name    string
	Contact string // "" where it is not written down
	Address string
	Had     []Had
}

// Recall is who is to be reached about what, and what is to be set aside here.
type Recall struct {
	Of      string
	What    []string
	Reach   []Reach
	Here    []Fact // places, and the wheels still there
	Caution []string
}

// RecallSheet lays out a recall: a box to tick for every customer reached, room
// to write by whom and when, and a box for every place where wheels are to be set
// aside.
func RecallSheet(h Head, d Recall) (Doc, error) {
	p := begin(h, "RECALL of "+d.Of)
	for _, s := range d.What {
		p.block("", s)
	}
	p.y += p.lh() * 0.3
	for _, s := range d.Caution { // at the head: it is the first thing to do
		p.block("B", s)
	}
	p.blanks([]blank{{"why", 1}})
	for _, s := range []string{"started by", "authority informed by", "everyone reached, signed"} {
		p.blanks([]blank{{s, 0.6}, {"at", 0.4}})
	}
	p.y += p.lh() * 0.8
	p.part("Reach these customers")
	if len(d.Reach) == 0 {
		p.block("", "nothing was sent, so there is nobody to reach")
	}
	side := p.lh() * 1.7
	for _, x := range d.Reach {
		p.customer(x, side)
	}
	if len(d.Here) > 0 {
		p.y += p.lh() * 0.6
		p.part("Set aside what is still here")
		t := text.Table{Columns: []text.Column{{Bold: true}, {Wrap: true}}}
		for _, f := range d.Here {
			t.Add(f.Name, f.Value)
		}
		p.boxed(t, p.lh()*1.2, p.lh()*1.65, func(int) bool { return false })
	}
	p.repeat = nil
	return done(p.pdf)
}

// blank is a word with a line to write on behind it, that takes a share of the
// width.
type blank struct {
	word  string
	share float64
}

// blanks draws words with lines to write on side by side, high enough for a
// gloved hand.
func (p *page) blanks(bs []blank) {
	high := 1.9 * p.lh()
	p.need(high)
	p.y += high
	p.font("", p.size)
	x, free := p.left, p.width()-gap*float64(len(bs)-1)
	for _, b := range bs {
		p.put(x, p.y-0.8, b.word)
		p.line(x+p.wide(b.word)+1.5, p.y, x+free*b.share, p.y, 0.25, 60)
		x += free*b.share + gap
	}
}

// customer lays out one customer to be reached. It stays on one page where it is
// not very long.
func (p *page) customer(c Reach, side float64) {
	left := p.left
	p.left += side + gap
	t := text.Table{Columns: []text.Column{
		{Title: "date"}, {Title: "what", Wrap: true}, {Title: "weight", Right: true}, {Title: "document", Wrap: true},
	}}
	for _, x := range c.Had {
		t.Add(x.Date, x.What, x.Weight, x.Document)
	}
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
		p.blanks([]blank{{"NO CONTACT DETAILS", 1}})
	}
	if c.Address != "" {
		p.block("", c.Address)
	}
	p.y += p.lh() * 0.2
	p.table(t, 0, nil)
	p.need(write * p.lh())
	p.blanks([]blank{{"reached by", 0.55}, {"at", 0.45}})
	p.blanks([]blank{{"spoke to", 0.5}, {"they still have", 0.5}})
	p.left = left
	p.y += p.lh() * 0.7
	p.rule(p.y, 0.5, 0)
	p.y += p.lh() * 0.5
}
