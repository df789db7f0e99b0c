package page

import (
	"fmt"
	"html/template"
	"slices"
	"strings"
	"time"

	"rindkeep/cmd/app"
	"rindkeep/cmd/words"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

// deskFuncs are what the desk's templates say figures and dates with.
var deskFuncs = template.FuncMap{
	"wheelPage": wheelPage,
	"lotPage":   lotPage,
	"roomPage":  roomPage,
	"findPage":  findPage,
	"tracePage": tracePage,
	"ofPage":    subjectPage,
	"search":    searchPage,
	"day":       shortDate,
	"dayMonth":  dayMonth,
	"time":      clockTime,
	"est":       estimate,
	"about":     about,
	"on":        expected,
	"fig":       figure,
	"lasting":   lasting,
	"count":     count,
	"less":      func(a, b int) int { return a - b },
	"join":      func(xs []string) string { return strings.Join(xs, ", ") },
	"opt":       func(s *string) string { return deref(s) },
	"yes":       func(b bool) string { return map[bool]string{true: "yes", false: "NO"}[b] },
	"keeps":     keeps,
	"bar":       bar,
	"verdict":   func(v string) string { return words.Answer(verdict.Answer(v)) },
	"standing":  func(v string) string { return words.Standing(drying.Verdict(v)) },
	"newest":    newest,
	"has":       strings.Contains,
	"share":     share,
	"score":     scoreWords,
	"card":      func(tag string) string { return addressOf("wheel", tag, "card.pdf") },
	"makeSheet": func(lot string) string { return addressOf("lot", lot, "sheet.pdf") },
	"senses":    func() []string { return []string{"appearance", "colour", "texture", "flavour"} },
	"coats":     func() []string { return []string{"wax", "cloth", "breathable", "foil", "oil", "film"} },
	"checks":    func() []question { return handChecks },
}

func deref[T any](p *T) (zero T) {
	if p == nil {
		return zero
	}
	return *p
}

// shortDate is a date as "Wed 25 Nov 2026", whether it is typed or in text.
func shortDate(date any) string {
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
	s := shortDate(date)
	return s[:max(0, strings.LastIndexByte(s, ' '))]
}

// minute is how an instant is shown.
const minute = "Mon 2 Jan 2006 15:04"

// clockTime is an instant as the book's own clock showed it.
func clockTime(s string) string {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		return s
	}
	return t.Format(minute)
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
		return fmt.Sprintf("%s (from %s, or much later)", shortDate(d.Best), shortDate(d.Low))
	case d.Low == *d.High:
		return shortDate(d.Best)
	}
	return fmt.Sprintf("%s (%s to %s)", shortDate(d.Best), shortDate(d.Low), shortDate(*d.High))
}

// figure is a number, and nothing where there is none.
func figure(digits int, x *float64) string {
	if x == nil {
		return ""
	}
	return number(digits, x)
}

func count(n int, one, many string) string {
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
