package plot

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/text"
)

// Summary says in words what the chart shows, for people who can't see it.
func (c Chart) Summary() string {
	if c.InWords != "" {
		return c.InWords
	}
	c = c.sound()
	var out []string
	for _, p := range c.Panels {
		if said := c.said(p); len(said) > 0 {
			out = append(out, p.Label+": "+strings.Join(said, "; ")+".")
		}
	}
	return strings.Join(out, " ")
}

// said is what there is to say of a sound panel. A line that gaps break is told as one.
func (c Chart) said(p Panel) (out []string) {
	var line []Span
	for _, s := range p.Series {
		switch s.Look {
		case Own:
			line = append(line, s.At...)
		case Over:
			out = append(out, fmt.Sprintf("%d %s", len(s.At), s.Name))
		case Expected:
			end := s.At[len(s.At)-1]
			out = append(out, fmt.Sprintf("%s: %s to %s", s.Name, short(end.Low), short(end.High)))
		}
	}
	if len(line) == 0 {
		return out
	}
	first, last := line[0], line[len(line)-1]
	return append(out, fmt.Sprintf("from %s on %s to %s on %s", short(first.High), c.when(first), short(last.High),
		c.when(last)))
}

func (c Chart) when(q Span) string {
	if c.Start.IsZero() {
		return fmt.Sprintf("day %.0f", q.X)
	}
	return c.Start.Add(time.Duration(q.X * float64(time.Hour))).Format("2 Jan 15:04")
}

// short writes a figure with three digits, as many as a listener keeps.
func short(x float64) string {
	if math.Abs(x) >= 100 {
		return strconv.FormatFloat(x, 'f', 0, 64)
	}
	y, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 3, 64), 64) // just formatted
	return figure(y)
}

// curveInWords says where a wheel's loss began, where it is and where it goes; of
// several wheels, between which figures they are.
func curveInWords(all []drying.Curve) string {
	if len(all) > 1 {
		return lotInWords(all)
	}
	d, out := all[0], ""
	j := d.Of
	if n := len(d.Points); n > 0 {
		last := d.Points[n-1]
		out = fmt.Sprintf("Loss went from %.1f %% on day %.0f to %.1f %% on day %.0f", d.Points[0].Loss, d.Points[0].Day,
			last.Loss, last.Day)
		if b, ok := lastBand(d.Own); ok {
			out += fmt.Sprintf(" and should be %.1f %% on day %.0f", *b.Loss.Best, b.Day)
		}
	} else if b, ok := lastBand(d.Expected); ok {
		out = fmt.Sprintf("Not weighed yet; loss should be %.1f to %.1f %% on day %.0f", *b.Loss.Low, *b.Loss.High, b.Day)
	} else {
		return "Not weighed yet."
	}
	for _, k := range j.Life.Coats {
		out += fmt.Sprintf(". Coated with %s on day %.0f", k.Coat, j.Day(k.At))
	}
	if d.Target != nil {
		out += fmt.Sprintf(". It needs %.1f %% to be coated", *d.Target)
		if e := j.Dry.On; e != nil {
			out += ", expected " + e.Best.Short()
		}
	}
	return out + "."
}

func lotInWords(all []drying.Curve) string {
	low, high, weighed := math.Inf(1), math.Inf(-1), 0
	for _, d := range all {
		if n := len(d.Points); n > 0 {
			low, high = min(low, d.Points[n-1].Loss), max(high, d.Points[n-1].Loss)
			weighed++
		}
	}
	if weighed == 0 {
		return text.Count(len(all), "wheel") + ", none weighed yet."
	}
	return fmt.Sprintf("%s; at the last weighing loss was %.1f to %.1f %%.", text.Count(weighed, "weighed wheel"),
		low, high)
}

func lastBand(list []drying.Band) (b drying.Band, ok bool) {
	if n := len(list); n > 0 && list[n-1].Loss.Best != nil {
		return list[n-1], true
	}
	return b, false
}
