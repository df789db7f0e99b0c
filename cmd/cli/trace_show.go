package cli

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/text"
	"rindkeep/store"
	"rindkeep/wheel"
)

func (t *traced) customer(name string) store.Customer { return t.known[strings.ToLower(name)] }

// traceDoc is a trace in JSON.
type traceDoc struct {
	Schema     string          `json:"schema"`
	Asked      traceAskedDoc   `json:"asked"`
	At         string          `json:"at"`
	Totals     traceTotals     `json:"totals"`
	Lots       []traceLotDoc   `json:"lots"`
	Deliveries []deliveryDoc   `json:"deliveries"`
	Customers  []traceCustomer `json:"customers"`
}

type traceAskedDoc struct {
	Kind string   `json:"kind"`
	Of   []string `json:"of"`
	From *string  `json:"from"`
	To   *string  `json:"to"`
}

type traceTotals struct {
	Lots       int `json:"lots"`
	Wheels     int `json:"wheels"`
	Here       int `json:"here"`
	Sent       int `json:"sent"`
	Lost       int `json:"lost"`
	Deliveries int `json:"deliveries"`
	Customers  int `json:"customers"`

	withWheels int // lots that have wheels here
}

type traceLotDoc struct {
	Lot         string           `json:"lot"`
	Reach       string           `json:"reach"`
	Made        string           `json:"made"`
	Variety     string           `json:"variety"`
	Title       string           `json:"variety_title"`
	WheelsOfLot int              `json:"wheels_of_lot"`
	Milk        []traceMilkDoc   `json:"milk"`
	Ingredients []traceIngrDoc   `json:"ingredients"`
	Salt        []traceSaltDoc   `json:"salt"`
	CurdFrom    []traceCurdDoc   `json:"curd_from"`
	CurdInto    []traceCurdDoc   `json:"curd_into"`
	Air         []traceAirDoc    `json:"air"`
	Hands       []traceHandDoc   `json:"hands"`
	Wheels      []tracedWheelDoc `json:"wheels"`
}

type traceMilkDoc struct {
	Source    string   `json:"source"`
	Lot       string   `json:"milk_lot"`
	Species   string   `json:"species"`
	Litres    *float64 `json:"litres"`
	Treatment *string  `json:"treatment"`
	HeatTemp  *float64 `json:"heat_temp_c"`
	HeatFor   *float64 `json:"heat_s"`
}

type traceIngrDoc struct {
	Name   string `json:"name"`
	Kind   string `json:"kind"`
	Lot    string `json:"ingredient_lot"`
	Source string `json:"source"`
	Amount string `json:"amount"`
}

type traceSaltDoc struct {
	Weight *float64 `json:"salt_g"`
	Where  string   `json:"where"`
	Lot    string   `json:"salt_lot"`
}

type traceCurdDoc struct {
	Lot    *string  `json:"lot"`
	Weight *float64 `json:"weight_g"`
	For    string   `json:"for"`
}

type traceRange struct {
	Min  *float64 `json:"min"`
	Mean *float64 `json:"mean"`
	Max  *float64 `json:"max"`
}

type traceAirDoc struct {
	Room     string     `json:"room"`
	From     string     `json:"from"`
	To       string     `json:"to"`
	Days     int        `json:"days"`
	Now      bool       `json:"there_now"`
	Readings int        `json:"readings"`
	Temp     traceRange `json:"temp_c"`
	RH       traceRange `json:"rh_pct"`
	SetPoint bool       `json:"set_point"`
	Wheels   []string   `json:"wheels"`
}

type traceHandDoc struct {
	By      string       `json:"by"`
	Entries int          `json:"entries"`
	First   string       `json:"first"`
	Last    string       `json:"last"`
	Did     []logDoneDoc `json:"did"`
}

type tracedWheelDoc struct {
	Tag    string   `json:"wheel"`
	Here   bool     `json:"here"`
	Place  string   `json:"place"`
	Weight *float64 `json:"weight_g"`
	Held   []string `json:"held"`
	Gone   *string  `json:"gone_on"`
	Lost   bool     `json:"lost"`
	Why    string   `json:"why"`
}

type deliveryDoc struct {
	Wheel    string   `json:"wheel"`
	Lot      string   `json:"lot"`
	Customer string   `json:"customer"`
	Contact  string   `json:"contact"`
	Address  string   `json:"address"`
	Date     string   `json:"date"`
	Weight   *float64 `json:"weight_g"`
	Part     string   `json:"whole_or_piece"`
	Document string   `json:"document"`
	By       string   `json:"by"`
	Note     string   `json:"note"`
}

type traceCustomer struct {
	Name       string `json:"name"`
	Contact    string `json:"contact"`
	Address    string `json:"address"`
	Known      bool   `json:"written_down"`
	Deliveries int    `json:"deliveries"`
}

// totals counts what was found. Lots that only gave curd have no wheels here.
func (t *traced) totals() traceTotals {
	n := traceTotals{Lots: len(t.lots), Deliveries: len(t.deliveries), Customers: len(t.customers())}
	for _, l := range t.lots {
		if len(l.wheels) > 0 {
			n.withWheels++
		}
		for _, w := range l.wheels {
			n.Wheels++
			switch {
			case w.here():
				n.Here++
			case w.lost:
				n.Lost++
			default:
				n.Sent++
			}
		}
	}
	return n
}

// customers are those who had something, by name.
func (t *traced) customers() []traceCustomer {
	out := []traceCustomer{}
	at := map[string]int{}
	for _, d := range t.deliveries {
		k := strings.ToLower(d.customer)
		i, ok := at[k]
		if !ok {
			i = len(out)
			at[k] = i
			c, known := t.known[k]
			out = append(out, traceCustomer{Name: d.customer, Contact: c.Contact, Address: c.Address, Known: known})
		}
		out[i].Deliveries++
	}
	slices.SortStableFunc(out, func(a, b traceCustomer) int { return naturally(a.Name, b.Name) })
	return out
}

func rangeOf(r cave.Range, any bool) traceRange {
	if !any {
		return traceRange{}
	}
	return traceRange{num(r.Min), num(r.Mean), num(r.Max)}
}

func (h hand) done() []logDoneDoc {
	out := []logDoneDoc{}
	for w, n := range h.did {
		out = append(out, logDoneDoc{w, n})
	}
	slices.SortFunc(out, func(a, b logDoneDoc) int { return cmp.Or(b.Count-a.Count, strings.Compare(a.What, b.What)) })
	return out
}

// days counts the days of a spell, the first and the last among them.
func (a airSpell) days() int { return int(a.to-a.from) + 1 }

func wordOrNull(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

func positive(x float64) *float64 {
	if x == 0 {
		return nil
	}
	return num(x)
}

func (s *session) traceDocOf(t *traced) traceDoc {
	d := traceDoc{
		Schema: schema("trace"), Asked: traceAskedDoc{Kind: t.asked.kind, Of: t.asked.words}, At: instant(t.at, t.loc), Totals: t.totals(),
		Lots: []traceLotDoc{}, Deliveries: []deliveryDoc{}, Customers: t.customers(),
	}
	if t.asked.kind == "room" {
		d.Asked.From, d.Asked.To = dateOrNull(t.asked.from), dateOrNull(t.asked.to)
	}
	for _, l := range t.lots {
		d.Lots = append(d.Lots, lotDocOf(l, t.loc))
	}
	for _, x := range t.deliveries {
		c := t.customer(x.customer)
		d.Deliveries = append(d.Deliveries, deliveryDoc{
			x.wheel, x.lot, x.customer, c.Contact, c.Address, x.on.String(), grams(x.entry.Weight), x.part(), x.document, x.entry.By, x.entry.Note,
		})
	}
	return d
}

func lotDocOf(l *tracedLot, loc *time.Location) traceLotDoc {
	d := traceLotDoc{
		Lot: l.make.Lot, Reach: string(l.reach), Made: l.make.Date.String(), Variety: l.make.Variety, Title: l.title, WheelsOfLot: l.of,
		Milk: []traceMilkDoc{}, Ingredients: []traceIngrDoc{}, Salt: []traceSaltDoc{}, CurdFrom: []traceCurdDoc{}, CurdInto: []traceCurdDoc{},
		Air: []traceAirDoc{}, Hands: []traceHandDoc{}, Wheels: []tracedWheelDoc{},
	}
	for _, x := range l.lines {
		g := x.Log
		switch g.What {
		case wheel.LogMilk:
			d.Milk = append(d.Milk, traceMilkDoc{g.Source, g.Lot, g.Species, positive(float64(g.Litres)), wordOrNull(string(g.Treatment)), positive(float64(g.HeatTemp)), positive(g.HeatFor)})
		case wheel.LogIngredient:
			d.Ingredients = append(d.Ingredients, traceIngrDoc{g.Name, g.Kind, g.Lot, g.Source, g.Amount})
		case wheel.LogSalt:
			d.Salt = append(d.Salt, traceSaltDoc{grams(g.Weight), g.Where, g.Lot})
		case wheel.LogFrom:
			d.CurdFrom = append(d.CurdFrom, traceCurdDoc{wordOrNull(g.FromLot), grams(g.Weight), g.For})
		case wheel.LogSetAside:
			d.CurdInto = append(d.CurdInto, traceCurdDoc{wordOrNull(g.ToLot), grams(g.Weight), g.For})
		}
	}
	// What the make was told of itself, where its log says nothing.
	m := l.make
	if milk := m.Milk; len(d.Milk) == 0 && milk != (wheel.Milk{}) {
		d.Milk = append(d.Milk, traceMilkDoc{Species: milk.Species, Litres: positive(float64(milk.Litres)), Treatment: wordOrNull(string(milk.Treatment))})
	}
	if len(d.Salt) == 0 && m.SaltMass > 0 {
		d.Salt = append(d.Salt, traceSaltDoc{Weight: grams(m.SaltMass), Where: m.SaltWhere})
	}
	if len(d.CurdInto) == 0 && m.SetAside > 0 {
		d.CurdInto = append(d.CurdInto, traceCurdDoc{Weight: grams(m.SetAside), For: m.SetAsideFor})
	}
	for _, a := range l.air {
		any := a.readings > 0 || a.setPoint
		d.Air = append(d.Air, traceAirDoc{a.room, a.from.String(), a.to.String(), a.days(), a.now, a.readings, rangeOf(a.temp, any), rangeOf(a.rh, any), a.setPoint, a.wheels})
	}
	for _, h := range l.hands {
		d.Hands = append(d.Hands, traceHandDoc{h.by, h.entries, h.first.String(), h.last.String(), h.done()})
	}
	for _, w := range l.wheels {
		x := tracedWheelDoc{Tag: w.life.Tag, Here: w.here(), Weight: grams(w.life.WeightNow()), Held: []string{}, Lost: w.lost, Gone: dateOrNull(w.life.GoneOn), Why: w.life.GoneWhy}
		if w.here() {
			x.Place = string(w.life.Place)
			for _, h := range w.life.Holds {
				x.Held = append(x.Held, h.Why)
			}
		}
		d.Wheels = append(d.Wheels, x)
	}
	return d
}

// sum says in a line how much a trace found.
func (t *traced) sum() string {
	n := t.totals()
	var parts []string
	for _, x := range []struct {
		n    int
		word string
	}{{n.Here, "here"}, {n.Sent, "sent"}, {n.Lost, "lost"}} {
		if x.n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", x.n, x.word))
		}
	}
	sum := fmt.Sprintf("%s of %s", text.Count(n.Wheels, "wheel"), text.Count(n.withWheels, "lot"))
	if len(parts) > 0 {
		sum += ": " + strings.Join(parts, ", ")
	}
	if n.Deliveries > 0 {
		sum += fmt.Sprintf("; %s to %s", text.Count(n.Deliveries, "delivery", "deliveries"), text.Count(n.Customers, "customer"))
	}
	return sum
}

// traceText prints a trace: what went in, lot by lot, then who had what, what
// is here and what was lost.
func (s *session) traceText(t *traced) {
	bold := s.style("1")
	s.print("%s, as of %s\n", bold("trace of "+text.Safe(t.asked.String())), t.at.In(t.loc).Format("2006-01-02 15:04"))
	s.lines(text.Wrap(t.sum(), s.env.Columns()))

	s.print("\n%s\n", bold("BACK: what went in"))
	for i, l := range t.lots {
		if i > 0 {
			s.print("\n")
		}
		s.traceLot(l)
	}
	s.print("\n%s\n", bold("FORWARD: who had what"))
	if len(t.deliveries) == 0 {
		s.print("  nothing was sent\n")
	}
	s.traceSent(t)
	s.traceHere(t)
	lead := "\n"
	for _, c := range t.customers() {
		if !c.Known {
			s.next("%swrite down who is not: rindkeep customer new %s --contact TEXT --address TEXT", lead, shellWord(c.Name))
			lead = ""
			break
		}
	}
	if len(t.deliveries) > 0 {
		s.next("%sthe recall list as a table: add --recall FILE.csv; on paper: rindkeep sheet recall", lead)
	}
}

// reachWords say why a lot is in a trace that did not ask for it.
var reachWords = map[reach]string{reachInto: "curd of a lot above went into it", reachFrom: "its curd went into a lot above"}

func (s *session) traceLot(l *tracedLot) {
	head := fmt.Sprintf("  %s  %s, made %s", s.style("1")("lot "+l.make.Lot), l.title, l.make.Date)
	s.print("%s\n", head)
	t := text.Table{Indent: 4, Columns: []text.Column{{}, {Wrap: true}}}
	for _, f := range s.lotFacts(l) {
		t.Add(f[0], f[1])
	}
	s.lines(t.Lines(s.env.Columns()))
}

// lotFacts are what went into a lot, its air and its hands, each with its name.
func (s *session) lotFacts(l *tracedLot) [][2]string {
	var out [][2]string
	add := func(name, value string) { out = append(out, [2]string{name, value}) }
	if w := reachWords[l.reach]; w != "" {
		add("here as", w)
	}
	d := lotDocOf(l, s.loc)
	for _, m := range d.Milk {
		add("milk", s.milkWords(m))
	}
	for _, x := range d.Ingredients {
		kind := x.Kind
		if kind == "" {
			kind = "ingredient"
		}
		name := x.Name
		if strings.EqualFold(name, kind) {
			name = ""
		}
		add(text.Safe(kind), clauses(name, tagged("lot", x.Lot), tagged("from", x.Source), x.Amount))
	}
	for _, x := range d.Salt {
		w := ""
		if x.Weight != nil {
			w = saltWeight(s.units, gramsOf(x.Weight))
		}
		where, ok := map[string]string{"curd": "on the curd", "brine": "in the brine", "rub": "rubbed on"}[strings.ToLower(x.Where)]
		if !ok {
			where = tagged("on the", x.Where)
		}
		add("salt", clauses(w, where, tagged("lot", x.Lot)))
	}
	for _, x := range d.CurdFrom {
		add("curd in", s.curdWords(x, "from lot"))
	}
	for _, x := range d.CurdInto {
		add("curd out", s.curdWords(x, "into lot"))
	}
	if l.reach != reachFrom {
		var tags []string
		for _, w := range l.wheels {
			tags = append(tags, w.life.Tag)
		}
		add("wheels", fmt.Sprintf("%d of the lot's %d: %s", len(tags), l.of, text.Tags(tags)))
	}
	for _, a := range l.rooms {
		add("air", s.airWords(a))
	}
	for _, h := range l.hands {
		var did []string
		for _, x := range h.done() {
			if x.What == madeWrote {
				did = append(did, madeWrote)
			} else {
				did = append(did, fmt.Sprintf("%s %d", x.What, x.Count))
			}
		}
		by := text.Safe(h.by)
		if by == "" {
			by = "(no name)"
		}
		add("hands", fmt.Sprintf("%s, %s: %s", by, span(h.first, h.last), strings.Join(did, ", ")))
	}
	return out
}

// clauses joins what was said, the empty left out.
func clauses(parts ...string) string {
	var out []string
	for _, p := range parts {
		if p != "" {
			out = append(out, text.Safe(p))
		}
	}
	if len(out) == 0 {
		return "-"
	}
	return strings.Join(out, ", ")
}

// tagged puts a word before what was said, or gives nothing.
func tagged(word, s string) string {
	if s == "" {
		return ""
	}
	return word + " " + s
}

func gramsOf(x *float64) quantity.Grams {
	if x == nil {
		return 0
	}
	return quantity.Grams(*x)
}

// span writes two dates, or the one.
func span(from, to day.Date) string {
	if from == to {
		return from.String()
	}
	return from.String() + " to " + to.String()
}

func (s *session) milkWords(m traceMilkDoc) string {
	var w []string
	if m.Litres != nil {
		w = append(w, s.units.Volume(quantity.Litres(*m.Litres)))
	}
	if m.Treatment != nil {
		w = append(w, *m.Treatment)
	}
	w = append(w, m.Species)
	heat := ""
	if m.HeatTemp != nil {
		heat = "heated to " + s.units.Temp(quantity.Celsius(*m.HeatTemp))
		if m.HeatFor != nil {
			heat += fmt.Sprintf(" for %.4g s", *m.HeatFor)
		}
	}
	return clauses(strings.TrimSpace(strings.Join(w, " ")), tagged("from", m.Source), tagged("lot", m.Lot), heat)
}

func (s *session) curdWords(c traceCurdDoc, word string) string {
	w := ""
	if c.Weight != nil {
		w = bulk(s.units, gramsOf(c.Weight))
	}
	lot := ""
	if c.Lot != nil {
		lot = tagged(word, *c.Lot)
	}
	return clauses(w, lot, tagged("for", c.For))
}

func (s *session) airWords(a airSpell) string {
	until := a.to.String()
	if a.now {
		until = "now"
	}
	w := fmt.Sprintf("%s, %s to %s", a.room, a.from, until)
	temp := func(x float64) string { return s.units.Temp(quantity.Celsius(x)) }
	switch {
	case a.readings > 0:
		return w + fmt.Sprintf(": %s to %s, mean %s; humidity %.0f to %.0f %%, mean %.0f %%; %s", temp(a.temp.Min), temp(a.temp.Max), temp(a.temp.Mean), a.rh.Min, a.rh.Max, a.rh.Mean, text.Count(a.readings, "reading"))
	case a.setPoint:
		return w + fmt.Sprintf(": not read; set to %s, %.0f %%", temp(a.temp.Mean), a.rh.Mean)
	}
	return w + ": not read"
}

// traceSent prints the deliveries and how to reach who had them.
func (s *session) traceSent(t *traced) {
	if len(t.deliveries) == 0 {
		return
	}
	d := text.Table{Indent: 2, Columns: []text.Column{{Title: "date"}, {Title: "customer", Wrap: true}, {Title: "wheel", Wrap: true}, {Title: "part"}, {Title: "weight", Right: true}, {Title: "document", Wrap: true}}}
	for _, x := range t.deliveries {
		weight := "-"
		if x.entry.Weight > 0 {
			weight = s.units.Weight(x.entry.Weight)
		}
		d.Add(x.on.String(), x.customer, x.wheel, x.part(), weight, text.Safe(x.document))
	}
	s.lines(d.Lines(s.env.Columns()))
	s.print("\n%s\n", s.style("1")("REACH THEM"))
	c := text.Table{Indent: 2, Columns: []text.Column{{Wrap: true}, {Wrap: true}}}
	for _, x := range t.customers() {
		how := clauses(oneLine(x.Contact), oneLine(x.Address))
		if !x.Known {
			how = "not written down"
		}
		c.Add(x.Name, how)
	}
	s.lines(c.Lines(s.env.Columns()))
}

// traceHere prints what is still here, by place, and what was lost and why.
func (s *session) traceHere(t *traced) {
	if here := t.here(); len(here) > 0 {
		s.print("\n%s\n", s.style("1")("STILL HERE"))
		tab := text.Table{Indent: 2, Columns: []text.Column{{}, {Wrap: true}}}
		for _, x := range here {
			tab.Add(x[0], x[1])
		}
		s.lines(tab.Lines(s.env.Columns()))
	}
	lost := text.Table{Indent: 2, Columns: []text.Column{{}, {}, {Wrap: true}}}
	for _, w := range t.lost() {
		lost.Add(w.life.Tag, w.life.GoneOn.String(), text.Safe(w.life.GoneWhy))
	}
	if len(lost.Rows) > 0 {
		s.print("\n%s\n", s.style("1")("LOST"))
		s.lines(lost.Lines(s.env.Columns()))
	}
}

// here are the places where wheels still are, with their tags, those held for
// one reason together.
func (t *traced) here() [][2]string {
	type at struct{ place, held string }
	var order []at
	here := map[at][]string{}
	for _, l := range t.lots {
		for _, w := range l.wheels {
			if !w.here() {
				continue
			}
			k := at{string(w.life.Place), w.held()}
			if here[k] == nil {
				order = append(order, k)
			}
			here[k] = append(here[k], w.life.Tag)
		}
	}
	slices.SortStableFunc(order, func(a, b at) int { return naturally(a.place, b.place) })
	var out [][2]string
	for _, k := range order {
		place := k.place
		if place == "" {
			place = "no place"
		}
		what := text.Tags(here[k])
		if k.held != "" {
			what += "; HELD: " + k.held
		}
		out = append(out, [2]string{place, what})
	}
	return out
}

func (t *traced) lost() []tracedWheel {
	var out []tracedWheel
	for _, l := range t.lots {
		for _, w := range l.wheels {
			if w.lost {
				out = append(out, w)
			}
		}
	}
	return out
}
