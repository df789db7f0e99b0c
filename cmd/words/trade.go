package words

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app/trade"
	"rindkeep/cmd/text"
)

// The sentences about customers and traces.
func init() {
	learn(
		form[trade.NoCustomer]("no customer {Name:quoted} is saved"),
		form[trade.RoomOverTime]("[a room is traced over a time: rindkeep trace --room {Room} --from DATE --to "+
			"DATE|it is a room: trace it over some days]"),
		form[trade.LotOfIngredient]("[it is the lot of an ingredient or of milk: rindkeep trace --ingredient "+
			"{Lot:shell}|it is the lot of an ingredient or of milk: trace it as one]"),
		form[trade.LotsLogged]("lot numbers come from the logs of your makes; they name {Count}").
			without("Count", "no make's log names any lot number yet[: rindkeep make log --help]"),
	)
	flats(map[reason.Flat]string{
		trade.NothingAsked: "trace what? Give a tag, a lot, " +
			"[--ingredient LOT, --customer NAME, or --room ROOM --from DATE --to DATE|" +
			"an ingredient's lot, a customer, or a room with its dates]",
		trade.SeveralAsked: "trace one thing at a time: tags and lots, " +
			"[--ingredient, --customer or --room|an ingredient's lot, a customer or a room]",
		trade.RoomNeedsDates: "[--room needs --from DATE and --to DATE|a room needs a first and a last date]",
		trade.DatesNeedRoom: "[--from and --to need --room: trace --room ROOM --from DATE --to DATE|" +
			"the dates are for a room; name it]",
		trade.NotATagOrLot: "that isn't a tag or a lot",
	})
}

// TraceOf says what a trace is of.
func (p Printer) TraceOf(a trade.Asked) string {
	names := strings.Join(a.Of, ", ")
	switch kind := strings.TrimSuffix(a.Kind, "s"); {
	case a.Kind == "ingredient":
		return "ingredient lot " + names
	case a.Kind == "room":
		return fmt.Sprintf("room %s, %s to %s", names, a.From, a.To)
	case a.Kind == "mixed":
		return names
	case len(a.Of) == 1:
		return kind + " " + names
	}
	return a.Kind + " " + names
}

// TraceFound says in a line how much a trace found.
func (p Printer) TraceFound(n trade.Totals) string {
	var parts []string
	for _, x := range []struct {
		n    int
		word string
	}{{n.Here, "here"}, {n.Sent, "sent"}, {n.Lost, "lost"}} {
		if x.n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", x.n, x.word))
		}
	}
	s := fmt.Sprintf("%s of %s", text.Count(n.Wheels, "wheel"), text.Count(n.WithWheels, "lot"))
	if len(parts) > 0 {
		s += ": " + strings.Join(parts, ", ")
	}
	if n.Deliveries > 0 {
		sent := text.Count(n.Deliveries, "delivery", "deliveries")
		s += "; " + sent + " to " + text.Count(n.Customers, "customer")
	}
	return s
}

// viaWords say why a lot is in a trace that did not ask for it.
var viaWords = map[trade.Via]string{
	trade.ViaInto: "curd of a lot above went into it", trade.ViaFrom: "its curd went into a lot above",
}

// LotFacts are what went into a lot of a trace, its air and its hands, each with its
// name.
func (p Printer) LotFacts(l *trade.Lot) [][2]string {
	var out [][2]string
	add := func(name, value string) { out = append(out, [2]string{name, value}) }
	if w := viaWords[l.Reach]; w != "" {
		add("here as", w)
	}
	for _, r := range l.Received {
		add("came", p.received(r))
	}
	if len(l.Received) > 0 {
		add("leaves under", underWhose(l))
	}
	for _, m := range l.Milk {
		add("milk", p.tracedMilk(m))
	}
	for _, x := range l.Ingredients {
		kind, name := x.Kind, x.Name
		if kind == "" {
			kind = "ingredient"
		}
		if strings.EqualFold(name, kind) {
			name = ""
		}
		add(text.Safe(kind), clauses(name, leading("lot", x.Lot), leading("from", x.Source), x.Amount))
	}
	for _, x := range l.Salt {
		where, ok := saltWhere[strings.ToLower(x.Where)]
		if !ok {
			where = leading("on the", x.Where)
		}
		add("salt", clauses(given(x.Weight, p.Salt), where, leading("lot", x.Lot)))
	}
	for _, x := range l.CurdFrom {
		add("curd in", p.tracedCurd(x, "from lot"))
	}
	for _, x := range l.CurdInto {
		add("curd out", p.tracedCurd(x, "into lot"))
	}
	for _, x := range l.Samples {
		add("test", tracedTest(x))
	}
	if l.Reach != trade.ViaFrom {
		var tags []string
		for _, w := range l.Wheels {
			tags = append(tags, w.Tag)
		}
		for _, w := range l.Wheels {
			if len(w.Before) > 0 {
				add("tag", fmt.Sprintf("%s had another before: %s", w.Tag, strings.Join(w.Before, ", ")))
			}
		}
		add("wheels", fmt.Sprintf("%d of the lot's %d: %s", len(tags), l.WheelsOfLot, text.Tags(tags)))
	}
	for _, a := range l.Rooms {
		add("air", p.tracedAir(a))
	}
	for _, h := range l.Hands {
		add("hands", hands(h))
	}
	return out
}

// saltWhere says where salt went.
var saltWhere = map[string]string{"curd": "on the curd", "brine": "in the brine", "rub": "rubbed on"}

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

// leading puts a word before what was said, or gives nothing.
func leading(word, s string) string {
	if s == "" {
		return ""
	}
	return word + " " + s
}

// given writes a figure of JSON that may be null.
func given[T ~float64](x *float64, write func(T) string) string {
	if x == nil {
		return ""
	}
	return write(T(*x))
}

func (p Printer) tracedMilk(m trade.Milk) string {
	treatment := ""
	if m.Treatment != nil {
		treatment = *m.Treatment
	}
	heat := leading("heated to", given(m.HeatTemp, p.Temp))
	if m.HeatFor != nil && heat != "" {
		heat += fmt.Sprintf(" for %.4g s", *m.HeatFor)
	}
	milk := strings.Join(strings.Fields(given(m.Litres, p.Units.Volume)+" "+treatment+" "+m.Species), " ")
	return clauses(milk, leading("from", m.Source), leading("lot", m.Lot), heat)
}

func (p Printer) tracedCurd(c trade.Curd, word string) string {
	lot := ""
	if c.Lot != nil {
		lot = leading(word, *c.Lot)
	}
	return clauses(given(c.Weight, p.Bulk), lot, leading("for", c.For))
}

func (p Printer) tracedAir(a trade.Air) string {
	until := a.To.String()
	if a.Now {
		until = "now"
	}
	if a.Elsewhere {
		where := "at the supplier"
		if a.Own {
			where = "before it was taken over"
		}
		return fmt.Sprintf("%s, %s to %s: not known", where, a.From, until)
	}
	w := fmt.Sprintf("%s, %s to %s", a.Room, a.From, until)
	temp := func(x *float64) string { return given(x, p.Temp) }
	switch {
	case a.Readings > 0:
		return w + fmt.Sprintf(": %s to %s, mean %s; humidity %.0f to %.0f %%, mean %.0f %%; %s", temp(a.Temp.Min),
			temp(a.Temp.Max), temp(a.Temp.Mean), *a.RH.Min, *a.RH.Max, *a.RH.Mean, text.Count(a.Readings, "reading"))
	case a.SetPoint:
		return w + fmt.Sprintf(": not read; set to %s, %.0f %%", temp(a.Temp.Mean), *a.RH.Mean)
	}
	return w + ": not read"
}

func hands(h trade.Hand) string {
	var did []string
	for _, x := range h.Did {
		if x.What == trade.WroteMake {
			did = append(did, x.What)
		} else {
			did = append(did, fmt.Sprintf("%s %d", x.What, x.Count))
		}
	}
	by := text.Safe(h.By)
	if by == "" {
		by = "(no name)"
	}
	return fmt.Sprintf("%s, %s: %s", by, days(h.First, h.Last), strings.Join(did, ", "))
}

// days writes two dates, or the one.
func days(from, to day.Date) string {
	if from == to {
		return from.String()
	}
	return from.String() + " to " + to.String()
}

// HowToReach has a customer's contact and address.
func (p Printer) HowToReach(t trade.Trace) (out [][2]string) {
	for _, c := range t.Customers {
		how := "no contact details"
		if c.Known {
			how = clauses(trade.OneLine(c.Contact), trade.OneLine(c.Address))
		}
		out = append(out, [2]string{c.Name, how})
	}
	return out
}

// StillHere has the places with wheels of a trace, and those wheels.
func (p Printer) StillHere(t trade.Trace) (out [][2]string) {
	for _, h := range t.Here() {
		what := text.Tags(h.Tags)
		if h.Held != "" {
			what += "; HELD: " + text.Safe(h.Held)
		}
		out = append(out, [2]string{cmp.Or(h.Place, "no place"), what})
	}
	return out
}

// Sent has the deliveries of a trace.
func (p Printer) Sent(t trade.Trace) text.Table {
	out := text.Table{Indent: 2, Columns: []text.Column{
		{Title: "date"}, {Title: "customer", Wrap: true, Bold: true}, {Title: "wheel", Wrap: true}, {Title: "part"},
		{Title: "weight", Right: true}, {Title: "document", Wrap: true},
	}}
	for _, d := range t.Deliveries {
		out.Add(d.Date.String(), d.Customer, d.Tag(), d.Part, p.WeightOrNot(d.Weight), text.Safe(d.Document))
	}
	return out
}

// WeightOrNot is a weight in grams, or a dash where nobody weighed.
func (p Printer) WeightOrNot(grams *float64) string {
	if grams == nil {
		return "-"
	}
	return p.Weight(quantity.Grams(*grams))
}

// underWhose says whose code cheese that was bought in leaves under.
func underWhose(l *trade.Lot) string {
	switch without := func(r trade.Receipt) bool { return r.MakerLot == "" }; {
	case l.Transformed:
		return "your own lot code, " + text.Safe(l.Lot)
	case !slices.ContainsFunc(l.Received, without):
		return "the maker's lot code"
	case slices.ContainsFunc(l.Received, func(r trade.Receipt) bool { return !without(r) }):
		return "the maker's lot code; what came without one, under your own, " + text.Safe(l.Lot)
	}
	return "your own lot code, " + text.Safe(l.Lot) + ", as none came with it"
}

// Lost has the wheels of a trace that were lost, and why.
func (p Printer) Lost(t trade.Trace) text.Table {
	out := text.Table{Indent: 2, Columns: []text.Column{
		{Title: "wheel", Bold: true}, {Title: "date"}, {Title: "why", Wrap: true},
	}}
	for _, w := range t.Lost() {
		out.Add(w.Tag, w.Gone.String(), text.Safe(p.Why(w.Reasons)))
	}
	return out
}

// Had says what a customer had, and its weight.
func (p Printer) Had(h trade.Had) (what, weight string) {
	what = "whole: "
	switch {
	case h.Part == "piece":
		what = text.Count(h.Count, "piece") + ": "
	case len(h.Tags) > 1:
		what = fmt.Sprintf("%d whole: ", len(h.Tags))
	}
	what += fmt.Sprintf("%s\n%s, lot %s", text.Tags(h.Tags), h.Title, h.Lot)
	if weight = "-"; h.Weight > 0 {
		weight = p.Units.Weight(h.Weight)
		if h.Unweighed > 0 {
			weight += fmt.Sprintf(" and %d not weighed", h.Unweighed)
		}
	}
	return what, weight
}

// FillTrace writes why wheels are gone.
func (p Printer) FillTrace(t *trade.Trace) {
	for _, l := range t.Lots {
		for i := range l.Wheels {
			l.Wheels[i].Why = p.Why(l.Wheels[i].Reasons)
		}
	}
}
