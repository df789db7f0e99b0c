package sheet

import (
	"rindkeep/cmd/app/trade"
	"rindkeep/cmd/words"
)

// TraceOf is a trace in words, to be laid out.
func TraceOf(p words.Printer, t trade.Trace) Trace {
	d := Trace{Of: p.TraceOf(t.Asked), What: heading(p, t), Here: stillHere(p, t)}
	for _, l := range t.Lots {
		x := Lot{Name: l.Lot, What: l.Title + ", made " + l.Made.Long()}
		for _, f := range p.LotFacts(l) {
			x.Facts = append(x.Facts, Fact{Name: f[0], Value: f[1]})
		}
		d.Lots = append(d.Lots, x)
	}
	for _, x := range t.Deliveries {
		weight := p.WeightOrNot(x.Weight)
		d.Deliveries = append(d.Deliveries, Delivery{x.Date.String(), x.Customer, x.Wheel, x.Part, weight, x.Document})
	}
	for _, c := range t.Customers {
		d.Reach = append(d.Reach, Fact{Name: c.Name, Value: p.HowToReach(c)})
	}
	for _, w := range t.Lost() {
		d.Lost = append(d.Lost, Gone{Tag: w.Tag, Date: w.Gone.String(), Why: p.Why(w.Reasons)})
	}
	return d
}

// RecallOf is a trace as a recall: whom to reach about it.
func RecallOf(p words.Printer, t trade.Trace) Recall {
	d := Recall{Of: p.TraceOf(t.Asked), What: heading(p, t), Caution: []string{words.RecallCaution}, Here: stillHere(p, t)}
	for _, c := range t.Customers {
		r := Reach{Name: c.Name, Contact: trade.OneLine(c.Contact), Address: trade.OneLine(c.Address)}
		for _, h := range t.Had(c.Name) {
			what, weight := p.Had(h)
			r.Had = append(r.Had, Had{Date: words.DayMonthYear(h.Date), What: what, Weight: weight, Document: h.Document})
		}
		d.Reach = append(d.Reach, r)
	}
	return d
}

// heading says of when a trace is and how much it found.
func heading(p words.Printer, t trade.Trace) []string {
	out := []string{"as of " + t.Time.Format("Mon 2 Jan 2006 15:04"), p.TraceFound(t.Totals)}
	if len(t.Asked.Of) > 1 {
		out = append([]string{p.TraceOf(t.Asked)}, out...) // the title may have no room for them
	}
	return out
}

func stillHere(p words.Printer, t trade.Trace) []Fact {
	var out []Fact
	for _, h := range t.Here() {
		place, what := p.StillHere(h)
		out = append(out, Fact{Name: place, Value: what})
	}
	return out
}
