package words

import (
	"fmt"
	"slices"
	"strings"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/wheels"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words/entered"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// FillWheel puts a wheel's card into words.
func (p Printer) FillWheel(d *wheels.Card) {
	p.FillCautions(d)
	sh, scaled := d.Of.Life.Shape()
	if d.Shape = sh.In(p.Units); scaled {
		d.Shape += ", worked out from its weight"
	}
	for i := range d.Limits {
		p.fillLimit(&d.Limits[i])
	}
	p.FillLaw(d.Law)
	if d.Dry != nil {
		p.FillVerdict(d.Dry)
	}
	for i := range d.Due {
		d.Due[i].Why = p.Why(d.Due[i].Reasons)
	}
	d.Notes = p.All(d.NotesWhy)
	p.FillEntries(d.Entries)
}

func (p Printer) fillLimit(l *wheels.Limit) {
	days := func(x float64) string { return fmt.Sprintf("%.0f days", x) }
	l.Have = days(*l.Value)
	switch l.Code {
	case wheels.MostMoisture:
		l.Limit, l.Have = fmt.Sprintf("moisture at most %.1f %%", l.Bound), fmt.Sprintf("about %.1f %%", *l.Value)
	case wheels.LeastFat:
		l.Limit, l.Have = fmt.Sprintf("fat in solids at least %.0f %%", l.Bound), fmt.Sprintf("about %.1f %%", *l.Value)
	case wheels.LeastAge:
		l.Limit = "age at least " + days(l.Bound)
	case wheels.UsualAge:
		l.Limit = "usual ripening " + days(l.Bound)
	case wheels.LawDays:
		l.Limit = strings.Join(append(slices.Clone(l.By), p.RuleAsks(l.Rule)), ", ")
		if l.Rule.Read != "" {
			l.Source += ", " + RuleRead(l.Rule.Edition, l.Rule.Read)
		}
		l.Source += "; " + checkYourOwn
		if l.Unread > 0 {
			l.Have += fmt.Sprintf(", %d of them without a reading", l.Unread)
		}
	}
}

// WheelFacts are a wheel's figures, name and value. Its card is filled.
func (p Printer) WheelFacts(d wheels.Card) (out [][2]string) {
	add := func(name, format string, a ...any) { out = append(out, [2]string{name, fmt.Sprintf(format, a...)}) }
	l, v, now := d.Of.Life, d.Of.Dry, d.Now
	if a := d.Arrival; a != nil && a.Supplier != "" {
		add("came", "%s", p.Arrival(*a))
	} else if a != nil {
		add("taken over", "%s", *a.On)
	}
	if last, ok := l.Chain.Last(); ok {
		add("weight", "%s", p.lastWeight(d))
		first, since := "green weight", "then"
		if l.Aged() {
			first, since = "first weight here", "since that"
		}
		add(first, "%s on %s", p.Weight(l.Chain.Green), l.Chain.Began.In(d.Zone).Format("Mon 2 Jan 2006"))
		add("loss", "%s %% %s; now about %s", tenths(last.Loss()), since, PctBand(v.Present))
		const losing = "%.2f %% a day (%.2f to %.2f); from %s"
		add("losing", losing, 100*v.Rate.Best, 100*v.Rate.Low, 100*v.Rate.High, p.Basis(v.Basis, v.Weighings))
	} else {
		add("weight", "never weighed")
	}
	if l.Aged() {
		add("loss before", "unknown; by the drying model alone about %s", PctBand(d.Of.Forecast.Before()))
	}
	add("moisture", "about %s", PctBand(now.Moisture))
	add("fat in dry matter", "about %.1f %%; moisture on fat-free basis %.1f %% (%s)", 100*now.FDM.Best, 100*now.MFFB.Best,
		strings.Join(wheel.Firmness(quantity.Fraction(now.MFFB.Best)), " or "))
	add("salt in moisture", "about %.1f %%", 100*now.SaltInMoisture.Best)
	if len(d.AirBy) > 0 {
		add("air entered by", "%s", entered.Readers(d.AirBy))
	}
	var sources []string
	for _, m := range d.Limits {
		switch {
		case m.Code == wheels.UsualAge:
			add("for information", "%s: %s so far", m.Limit, m.Have)
		case m.Met:
			add("limit", "%s: %s, within", m.Limit, m.Have)
		default:
			add("limit", "%s: %s, NOT YET within", m.Limit, m.Have)
		}
		if !slices.Contains(sources, m.Source) {
			sources = append(sources, m.Source)
		}
	}
	if len(sources) > 0 {
		add("", "limits are for information only: %s", strings.Join(sources, "; "))
	}
	for _, r := range d.Labels {
		add("law", "%s", p.Label(r))
	}
	for _, n := range d.Notes {
		add("note", "%s", n)
	}
	return out
}

// lastWeight is a wheel's last weight, what pieces took off it since, and how much of
// it is coat.
func (p Printer) lastWeight(d wheels.Card) string {
	l := d.Of.Life
	gross, on := l.LastWeight()
	w := p.Weight(gross) + " on " + on.In(d.Zone).Format("Mon 2 Jan")
	if sent := l.PiecesSince(); sent > 0 && sent < gross {
		w += fmt.Sprintf("; %s sent in pieces since, about %s left", p.Weight(sent), p.Weight(gross-sent))
	}
	if l.Chain.Tare > 0 {
		w += ", " + p.Weight(l.Chain.Tare) + " of it coat"
	}
	return w
}

// WheelAlerts are what keeps a wheel from leaving or from its coat: gone, held,
// blown, leaking.
func (p Printer) WheelAlerts(d wheels.Card) (out []string) {
	l := d.Of.Life
	here := l.GoneOn == day.None
	if !here {
		out = append(out, fmt.Sprintf("GONE since %s: %s", l.GoneOn, text.Safe(p.Why(l.GoneWhy))))
	}
	for _, h := range l.Holds {
		out = append(out, HoldAlert(h))
	}
	if here {
		for _, h := range p.All(d.Of.Held) {
			out = append(out, "HELD by law: "+h)
		}
		if slices.ContainsFunc(d.Of.Held, func(r reason.Reason) bool { _, ok := r.(verdict.MilkUnknown); return ok }) {
			out = append(out, p.SayMilk(l.Make.Lot))
		}
	}
	if e, ok := l.Blown(); ok && here {
		const what = "BLOWN with gas, %s: don't coat it; keep it apart and find out why"
		out = append(out, fmt.Sprintf(what, day.At(e.At, d.Zone).Short()))
	}
	if leak := p.Why(d.Of.Dry.Leak); leak != "" {
		out = append(out, "LEAK: "+leak)
	}
	return out
}

// DueWhen is when a job is due: "today", "LATE 2 days", "Mon 14 Sep".
func DueWhen(d wheels.Due) string {
	switch {
	case d.Late > 0:
		return "LATE " + count(d.Late, "day")
	case d.Today:
		return "today"
	}
	return d.On.Short()
}

// EntryWords are what an entry holds, with its note. Its words are filled.
func EntryWords(e app.EntryDoc) string {
	w := e.Detail
	if e.Note != "" {
		w = strings.TrimPrefix(w+"; "+text.Safe(e.Note), "; ")
	}
	if e.Struck {
		w = "STRUCK " + w
	}
	return w
}
