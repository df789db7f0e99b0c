package cli

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/text"
	"rindkeep/schedule"
)

func (s *session) aheadText(p *prospect, days int, file string) {
	bold := s.style("1")
	s.print("%s\n", bold(fmt.Sprintf("%s to %s", p.from.Long(), p.to.Long())))
	where := ""
	if p.room != "" {
		where = " in " + p.room
	}
	if p.wheels == 0 {
		s.print("no wheels%s: nothing to do\n", where)
		return
	}
	var due, after, most float64
	peak, peakDue := 0.0, 0.0
	for i := range p.days {
		d, _, _, _ := p.day(i)
		due, after = due+d.minutesDue, after+d.minutes
		peak, peakDue = math.Max(peak, d.minutes), math.Max(peakDue, d.minutesDue)
		most = math.Max(most, math.Max(d.minutes, d.minutesDue))
	}
	s.lines(text.Wrap(fmt.Sprintf("%s%s, about %s of work; fullest day %s, %s before levelling", text.Count(p.wheels, "wheel"), where, text.Duration(after), text.Duration(peak), text.Duration(peakDue)), s.env.Columns()))
	s.print("\n")
	t := text.Table{Columns: []text.Column{{Title: "day"}, {Title: "wheels", Right: true}, {Title: "as due", Right: true}, {Title: "levelled", Right: true}, {}}}
	for i := range p.days {
		on := p.from + day.Date(i)
		d, late, _, _ := p.day(i)
		mark := ""
		if most > 0 {
			mark = strings.Repeat("#", int(math.Ceil(barWide*d.minutes/most-1e-9)))
		}
		if p.rest.On(on) {
			mark = strings.TrimSpace("rest " + mark)
		}
		if late > 0 {
			mark += fmt.Sprintf("  %d late", late)
		}
		t.Add(on.Short(), fmt.Sprint(d.wheels), text.Duration(d.minutesDue), text.Duration(d.minutes), mark)
	}
	s.lines(t.Lines(s.env.Columns()))

	s.appointments(p.timed)
	s.becomes("Dry enough to coat", byDay(p.dry), dryWhen)
	s.becomes("To taste", p.taste, func(h *happening) string { return shortDate(h.on) })
	s.becomes("Old enough by the limits on file", p.lawful, func(h *happening) string { return shortDate(h.on) })
	if len(p.lawful) > 0 {
		s.caution("CAUTION: " + s.ageCaution(p.lawful))
	}
	if p.tooCold > 0 {
		s.print("\n")
		s.caution(fmt.Sprintf("CAUTION: raw milk: %s in air too cold for the days to count.", text.Count(p.tooCold, "wheel lies", "wheels lie")))
	}
	s.becomes("Ready", p.ready, func(h *happening) string { return shortDate(h.on) })

	s.print("\n")
	k := text.Table{Columns: []text.Column{{}, {Title: "today", Wrap: true}, {Title: "by " + shortDate(p.to), Wrap: true}}}
	sum := func(n int, e quantity.Estimate) string {
		if n == 0 {
			return "none"
		}
		return fmt.Sprintf("%s, %s", text.Count(n, "wheel"), s.kilos(e))
	}
	for _, x := range []struct {
		name string
		s    standing
	}{{"dry enough", p.waiting}, {"old enough", p.isLawful}, {"ready", p.isReady}} {
		if x.s.wheelsEnd > 0 {
			k.Add(x.name, sum(x.s.wheels, x.s.mass), sum(x.s.wheelsEnd, x.s.massEnd))
		}
	}
	if len(k.Rows) > 0 {
		s.lines(k.Lines(s.env.Columns()))
		s.print("\n")
	}
	r := text.Table{Columns: []text.Column{{Title: "room"}, {Title: "wheels", Right: true}, {Title: "free", Right: true}, {Title: "come", Right: true}, {Title: "leave", Right: true}, {Title: "free then", Right: true}, {Title: "ready then", Right: true}, {Title: "water", Right: true}, {Title: "in a week", Right: true}}}
	for _, x := range p.rooms {
		free, then := "-", "-"
		if x.capacity > 0 {
			free, then = fmt.Sprint(x.capacity-x.used), fmt.Sprint(x.capacity-x.used-x.come+x.left)
		}
		name := x.name
		if name == "" {
			name = "no place"
		}
		r.Add(name, fmt.Sprint(x.used), free, fmt.Sprint(x.come), fmt.Sprint(x.left), then, fmt.Sprint(x.ready), fmt.Sprintf("%.1f g/h", x.water.Now.Best), fmt.Sprintf("%.1f g/h", x.water.InAWeek.Best))
	}
	s.lines(r.Lines(s.env.Columns()))
	if p.unweighed > 0 {
		s.next("%s never weighed: taken at the usual weight", text.Count(p.unweighed, "wheel is", "wheels are"))
	}
	if file != "" {
		return
	}
	also := ""
	if off := p.rest.Days(); len(off) > 0 {
		also += " --rest " + strings.Join(off, ",")
	}
	if p.room != "" {
		also += " --room " + safeWord(p.room)
	}
	s.next("\nin a calendar: rindkeep ahead --days %d%s --ics cave.ics", days, also)
}

// appointments prints the jobs of the makes' days that have their time.
func (s *session) appointments(list []*appointment) {
	if len(list) == 0 {
		return
	}
	s.print("\n%s\n", s.style("1")("At their time"))
	t := text.Table{Indent: 2, Columns: []text.Column{{}, {}, {}, {Wrap: true}, {Wrap: true}}}
	for _, a := range list[:min(len(list), mostListed)] {
		who := someOf(a.tags())
		if len(a.wheels) > 3 {
			who = fmt.Sprintf("%d: %s", len(a.wheels), who)
		}
		t.Add(day.At(a.at, s.loc).Short(), a.at.In(s.loc).Format("15:04"), string(a.job), who, a.wheels[0].variety.Title)
	}
	s.lines(t.Lines(s.env.Columns()))
	if n := len(list) - mostListed; n > 0 {
		s.print("  and %d more\n", n)
	}
}

// byDay puts the wheels of a lot that are expected on one day in one line, with
// the widest of their intervals.
func byDay(list []*happening) []*happening {
	var out []*happening
	for _, h := range list {
		k := slices.IndexFunc(out, func(o *happening) bool {
			return o.on == h.on && o.now == h.now && o.wheels[0].life.Make.ID == h.wheels[0].life.Make.ID
		})
		if k < 0 {
			one := *h
			one.wheels = slices.Clone(h.wheels)
			out = append(out, &one)
			continue
		}
		o := out[k]
		o.wheels = append(o.wheels, h.wheels...)
		slices.SortStableFunc(o.wheels, func(a, b *coming) int { return naturally(a.life.Tag, b.life.Tag) })
		o.mass, o.low = schedule.Sum(o.mass, h.mass), min(o.low, h.low)
		if o.high != day.None {
			o.high = max(o.high, h.high)
		}
		if h.high == day.None {
			o.high = day.None
		}
	}
	return out
}

// dryWhen is the day a coat is expected, with its interval: 26 Nov (25 to 28).
func dryWhen(h *happening) string {
	if h.now {
		return "now"
	}
	year, month, _ := h.on.Civil()
	part := func(d day.Date) string {
		switch y, m, n := d.Civil(); {
		case y != year:
			return fmt.Sprintf("%s %d", shortDate(d), y)
		case m == month:
			return fmt.Sprint(n)
		}
		return shortDate(d)
	}
	switch {
	case h.high == day.None:
		return fmt.Sprintf("%s (%s or later)", shortDate(h.on), part(h.low))
	case h.low == h.high:
		return shortDate(h.on)
	}
	return fmt.Sprintf("%s (%s to %s)", shortDate(h.on), part(h.low), part(h.high))
}

func shortDate(d day.Date) string { return strings.TrimSpace(d.Short()[4:]) }

// mostListed is how many lines a list has on a terminal; the rest is in the
// JSON document.
const mostListed = 20

// becomes prints a list of what becomes of the wheels.
func (s *session) becomes(title string, list []*happening, when func(*happening) string) {
	if len(list) == 0 {
		return
	}
	s.print("\n%s\n", s.style("1")(title))
	t := text.Table{Indent: 2, Columns: []text.Column{{}, {Wrap: true}, {Wrap: true}, {Right: true}}}
	for i, h := range list {
		if i == mostListed {
			break
		}
		who := text.Tags(h.tags())
		if text.Width(who) > 60 {
			who = someOf(h.tags())
		}
		if len(h.wheels) > 3 {
			who = fmt.Sprintf("%d: %s", len(h.wheels), who)
		}
		what := h.wheels[0].variety.Title
		if n, _ := h.held(); n > 0 {
			what += fmt.Sprintf(", %d on hold", n)
		}
		if h.limit.Days > 0 {
			what += fmt.Sprintf(", %d days", h.limit.Days)
			if h.limit.RawMilk {
				what += ", raw milk"
			}
			if h.limit.Unsaid {
				what += "?"
			}
			if h.limit.By != "" {
				what += " (" + h.limit.By + ")"
			}
		}
		t.Add(when(h), who, what, s.kilos(h.mass))
	}
	s.lines(t.Lines(s.env.Columns()))
	if n := len(list) - mostListed; n > 0 {
		s.print("  and %s more\n", text.Count(n, "lot"))
	}
}

// ageCaution says what an age by the calendar is worth.
func (s *session) ageCaution(list []*happening) string {
	c := "these are the days of a standard, counted by age, and no leave to sell: check your own law."
	for _, h := range list {
		if h.limit.RawMilk {
			c += fmt.Sprintf(" Of cheese of raw milk only days at %s or above count.", s.units.Temp(h.limit.MinTemp))
			if h.limit.Unsaid {
				c += " Where nobody recorded the milk's treatment it is taken as raw."
			}
			break
		}
	}
	return c
}

// kilos writes a mass with its interval.
func (s *session) kilos(e quantity.Estimate) string {
	unit, per := "kg", 1000.0
	if s.units == quantity.Imperial {
		unit, per = "lb", 453.59237
	}
	if unit == "kg" && e.Best >= 1e7 {
		unit, per = "t", 1e6
	}
	digits := 1
	if e.Best >= 100*per {
		digits = 0
	}
	return fmt.Sprintf("%.*f %s (%.*f to %.*f)", digits, e.Best/per, unit, digits, e.Low/per, digits, e.High/per)
}
