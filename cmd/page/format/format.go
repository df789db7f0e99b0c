// Package format writes the dates, counts and figures of the page as people read them, and gives its templates the
// functions to do so.
package format

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"
	"time"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/cmd/words/entered"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

// Funcs are the functions of templates, for p's reader.
func Funcs(p words.Printer) template.FuncMap {
	return template.FuncMap{
		"p":          func() words.Printer { return p },
		"waxCaution": func() string { return p.CautionOf(app.HotWax) },
		"airCaution": func() string { return p.CautionOf(app.ClosedRoom) },
		"hourly": func(e app.Est) app.Est {
			return app.Est{Best: p.Hourly(e.Best), Low: p.Hourly(e.Low), High: p.Hourly(e.High)}
		},
		"degrees":  func() string { return Degrees(p) },
		"temp":     func(x *float64) string { return temperature(p, x) },
		"volume":   func(x *float64) string { return p.Units.Volume(quantity.Litres(*x)) },
		"arrival":  func(a *makes.Arrival) string { return p.Arrival(*a) },
		"g":        func(x *float64) string { return weighedOr(p, x) },
		"unit":     func() string { return map[bool]string{true: "oz", false: "g"}[p.Units == quantity.Imperial] },
		"below0":   func(x *float64) bool { return *x < 0 },
		"size":     func(x *float64) *float64 { y := math.Abs(*x); return &y },
		"entered":  entered.Lines,
		"minute":   words.Minute,
		"long":     longDate,
		"num":      number,
		"day":      Date,
		"dayMonth": dayMonth,
		"time":     clockTime,
		"est":      estimate,
		"about":    about,
		"on":       expected,
		"fig":      Figure,
		"lasting":  Lasting,
		"count":    Count,
		"less":     func(a, b int) int { return a - b },
		"join":     func(xs []string) string { return strings.Join(xs, ", ") },
		"opt":      deref[string],
		"yes":      func(b bool) string { return map[bool]string{true: "yes", false: "NO"}[b] },
		"bar":      bar,
		"verdict":  func(v string) string { return words.Answer(verdict.Answer(v)) },
		"standing": func(v string) string { return words.Standing(drying.Verdict(v)) },
		"newest":   newest,
		"has":      strings.Contains,
		"share":    share,
		"score":    scoreWords,
		"senses":   func() []string { return []string{"appearance", "colour", "texture", "flavour"} },
		"coats":    func() []string { return []string{"wax", "cloth", "breathable", "foil", "oil", "film"} },
		"checks":   func() []question { return handChecks },
	}
}

func deref[T any](p *T) (zero T) {
	if p == nil {
		return zero
	}
	return *p
}

// Date is a date as "Wed 25 Nov 2026", whether it is typed or in text.
func Date(date any) string {
	var s string
	switch d := date.(type) {
	case string:
		s = d
	case *string:
		s = deref(d)
	case fmt.Stringer:
		s = d.String()
	}
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return s
	}
	return t.Format("Mon 2 Jan 2006")
}

// dayMonth is a date as "Wed 25 Nov", where the year is said elsewhere.
func dayMonth(date any) string {
	s := Date(date)
	return s[:max(0, strings.LastIndexByte(s, ' '))]
}

// Minute is how an instant is shown.
const Minute = "Mon 2 Jan 2006 15:04"

// clockTime is an instant as the book's own clock showed it.
func clockTime(s string) string {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		return s
	}
	return t.Format(Minute)
}

// estimate is a figure and, where the two differ, its interval.
func estimate(digits int, e app.Est) string {
	if e.Best == nil {
		return "unknown"
	}
	best, low, high := number(digits, e.Best), number(digits, e.Low), number(digits, e.High)
	switch {
	case e.Low == nil && e.High == nil, low == high:
		return best
	case e.High == nil:
		return fmt.Sprintf("%s (%s or more)", best, low)
	}
	return fmt.Sprintf("%s (%s to %s)", best, low, high)
}

// about is an estimate that is computed and not measured.
func about(digits int, e app.Est) string {
	if e.Best == nil {
		return "unknown"
	}
	return "about " + estimate(digits, e)
}

// expected is a day with its interval.
func expected(d *app.Expected) string {
	switch {
	case d == nil:
		return ""
	case d.High == nil:
		return fmt.Sprintf("%s (from %s, or much later)", Date(d.Best), Date(d.Low))
	case d.Low == *d.High:
		return Date(d.Best)
	}
	return fmt.Sprintf("%s (%s to %s)", Date(d.Best), Date(d.Low), Date(*d.High))
}

// Figure is a number, and nothing where there is none.
func Figure(digits int, x *float64) string {
	if x == nil {
		return ""
	}
	return number(digits, x)
}

// Count is so many of something: "1 wheel", "2 wheels".
func Count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// bar is the width of a bar out of 100, for a figure beside the greatest.
func bar(x, greatest *float64) string {
	if x == nil || greatest == nil || *greatest <= 0 {
		return "0"
	}
	return fmt.Sprintf("%.1f", min(100, max(0, 100**x/(*greatest))))
}

// newest are entries, those that happened last before the others.
func newest(es []app.EntryDoc) []app.EntryDoc {
	out := slices.Clone(es)
	slices.SortStableFunc(out, func(a, b app.EntryDoc) int { return b.Of.At.Compare(a.Of.At) })
	return out
}

// question is a field of a form that is one of several alike.
type question struct{ Name, Words string }

var handChecks = []question{
	{"dry_to_touch", "dry to the touch all over"},
	{"cracks", "cracks"},
	{"weeping", "weeping"},
	{"mould", "mould that shouldn't be there"},
	{"mites", "mites"},
	{"gas", "blown by gas"},
}

// share is the width of a bar out of 100 for a part of a whole.
func share(part, whole int) string {
	x, y := float64(part), float64(whole)
	return bar(&x, &y)
}

// scoreWords is the mean score of an attribute with the lowest and the highest.
func scoreWords(a wheel.AgeScores, of string) string {
	x := a.Scores[wheel.Attribute(of)]
	switch {
	case x.N == 0:
		return ""
	case x.Low == x.High:
		return fmt.Sprintf("%.1f", x.Mean)
	}
	return fmt.Sprintf("%.1f (%d to %d)", x.Mean, x.Low, x.High)
}

// longDate is a calendar date 2026-11-25 as "Wednesday 25 November 2026".
func longDate(s string) string {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return s
	}
	return t.Format("Monday 2 January 2006")
}

// number is a figure to so many decimals, "unknown" where there is none.
func number(digits int, x *float64) string {
	if x == nil {
		return "unknown"
	}
	return fmt.Sprintf("%.*f", digits, *x)
}

// weighedOr is a weight in grams in the reader's units.
func weighedOr(p words.Printer, x *float64) string {
	if x == nil {
		return "not weighed"
	}
	return p.Weight(quantity.Grams(*x))
}

// temperature is one in degrees Celsius in the reader's units, "" where there is none.
func temperature(p words.Printer, x *float64) string {
	if x == nil {
		return ""
	}
	return p.Temp(quantity.Celsius(*x))
}

// Degrees is the unit of the reader's temperatures: °C.
func Degrees(p words.Printer) string { return strings.TrimLeft(p.Temp(0), "0123456789. ") }

// Lasting is how long something takes, given in minutes: "3 min"; "" where that isn't known.
func Lasting(minutes *float64) string {
	if minutes == nil || *minutes <= 0 {
		return ""
	}
	return text.Duration(*minutes)
}
