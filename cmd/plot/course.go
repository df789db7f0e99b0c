package plot

import (
	"cmp"
	"slices"
	"time"
)

// Course is what was measured as time went, one quantity over the other.
type Course struct {
	Title    string
	Loc      *time.Location // whose midnights and hours the axis shows
	Measured []Measured
}

// Measured is one quantity. Low and High are its limits, NaN where there is none; what is beyond them is marked by
// shape. Where nothing was measured for longer than Gap the line is broken; 0: never.
type Measured struct {
	Name    string
	Unit    string // "": the name says it
	Low     float64
	High    float64
	Gap     time.Duration
	Moments []Moment // in order of time
}

// Moment is one figure, with a word to stand beside it or none.
type Moment struct {
	At   time.Time
	Y    float64
	Word string
}

// few is up to how many figures each has its ring, and mostTold how many a picture tells of when they're touched:
// our choice, for a finger's width.
const (
	few      = 60
	mostTold = 200
)

// Chart is the course as a chart over the clock.
func (c Course) Chart() Chart {
	var from, to time.Time
	for _, s := range c.Measured {
		for _, m := range s.Moments {
			if from.IsZero() || m.At.Before(from) {
				from = m.At
			}
			if m.At.After(to) {
				to = m.At
			}
		}
	}
	if to.Sub(from) < time.Minute {
		from, to = from.Add(-30*time.Minute), to.Add(30*time.Minute)
	}
	out := Chart{Title: c.Title, Start: from.In(cmp.Or(c.Loc, time.UTC))}
	for _, s := range c.Measured {
		out.Panels = append(out.Panels, s.panel(out.Start, to.Sub(from).Hours()))
	}
	return out
}

func (s Measured) panel(from time.Time, end float64) Panel {
	p := Panel{Label: s.Label(), Tight: true}
	if !slices.ContainsFunc(s.Moments, func(m Moment) bool { return drawable(m.Y) }) {
		return p
	}
	name := "" // a line alone needs no key
	if s.Low <= s.High {
		name = "read"
		within := []Span{{0, s.Low, s.High}, {end, s.Low, s.High}}
		p.Series = append(p.Series, Series{Look: Expected, Name: "within limits", At: within})
	}
	for _, y := range []float64{s.Low, s.High} {
		p.Series = append(p.Series, Series{Look: Limit, At: []Span{At(0, y), At(end, y)}})
	}
	rings, over, told := Series{Look: Weighed}, Series{Look: Over, Name: "out of limits"}, Series{Look: Told}
	every := 1 + (len(s.Moments)-1)/mostTold
	var line Series
	for i, m := range s.Moments {
		q := At(m.At.Sub(from).Hours(), m.Y)
		if i > 0 && s.Gap > 0 && m.At.Sub(s.Moments[i-1].At) > s.Gap {
			p.Series, line.At = append(p.Series, line), nil
		}
		line = Series{Look: Own, Name: name, At: append(line.At, q)}
		if i%every == 0 {
			told.At, told.Said = append(told.At, q), append(told.Said, s.told(m, from.Location()))
		}
		to := &rings
		if m.Y < s.Low || m.Y > s.High {
			to = &over
		}
		to.At, to.Words = append(to.At, q), append(to.Words, m.Word)
	}
	if p.Series = append(p.Series, line, over, told); len(s.Moments) <= few {
		p.Series = append(p.Series, rings)
	}
	return p
}

// Label is the name with its unit: "humidity, %".
func (s Measured) Label() string {
	if s.Unit == "" {
		return s.Name
	}
	return s.Name + ", " + s.Unit
}

// told is what to tell of a figure: "Wed 25 Nov 08:00: humidity 84 %, cutting".
func (s Measured) told(m Moment, loc *time.Location) string {
	said := m.At.In(loc).Format("Mon 2 Jan 15:04") + ": " + s.Name + " " + figure(m.Y)
	if s.Unit != "" {
		said += " " + s.Unit
	}
	if m.Word != "" {
		said += ", " + m.Word
	}
	return said
}

// clockTicks are at most n moments of a span that fall on the marks of a clock or a
// calendar, hours by their time and days by their date; x is in hours from the start.
func clockTicks(from, to time.Time, n int) (out []tick) {
	var hours int
	for _, hours = range []int{1, 2, 3, 6, 12, 24, 48, 96, 168, 336, 672, 1344, 2688, 5376, 10752} {
		if to.Sub(from).Hours()/float64(hours) <= float64(n) {
			break
		}
	}
	if to.Sub(from) < 2*time.Hour {
		minutes := []int{5, 10, 15, 30}
		k := slices.IndexFunc(minutes, func(m int) bool { return to.Sub(from).Minutes()/float64(m) <= float64(n) })
		if k >= 0 {
			step := time.Duration(minutes[k]) * time.Minute
			for t := from.Truncate(step); !t.After(to); t = t.Add(step) {
				if !t.Before(from) {
					out = append(out, tick{t.Sub(from).Hours(), t.Format("15:04")})
				}
			}
			return out
		}
	}
	y, m, d := from.Date()
	for i := 0; len(out) < 4*n+4; i += hours {
		t := time.Date(y, m, d, i, 0, 0, 0, from.Location())
		if hours >= 24 {
			t = time.Date(y, m, d+i/24, 0, 0, 0, 0, from.Location())
		}
		if t.After(to) {
			break
		}
		if t.Before(from) {
			continue
		}
		word := t.Format("15:04")
		if t.Hour() == 0 && t.Minute() == 0 {
			word = t.Format("2 Jan")
		}
		out = append(out, tick{t.Sub(from).Hours(), word})
	}
	return out
}
