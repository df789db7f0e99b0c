package intake

import (
	"cmp"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// AirOptions say how a logger writes. The zero value reads what can be read only one way, in UTC and Celsius.
type AirOptions struct {
	Loc  *time.Location // zone of times that name none
	Form string         // auto, ymd, dmy, mdy or unix
	Unit string         // C, F, or "" for what the heading says

	Columns map[string]string // heading or letter of a field's column, where people name it
	Sensor  string            // of several in one table, the one meant; "": there is one
	taken   bool              // Sensor is that of the first row
}

// AirReport is what a logger's file came to.
type AirReport struct {
	Rows   int // readings handed over
	Blank  int // rows without a reading, left out
	Twice  int // readings of a time that the row before had
	Back   int // readings from before the row before
	Gaps   int // steps longer than three times the usual one
	Worst  time.Duration
	Step   time.Duration // the usual step between readings
	First  time.Time
	Last   time.Time
	Suffix string // unit the temperatures were taken in
}

// maxProblems bounds the list of bad rows: a file with more is of another form.
const maxProblems = 200

// Air reads a logger's table row by row and hands each reading over, in the file's order; memory does not grow with
// the file, with its line. Columns are found by what their headings mean (time, or date and time; temperature;
// humidity), after
// any lines a logger puts before them. Bad rows are listed; fn's error ends it.
func Air(
	in io.Reader, o AirOptions, fn func(line int, rd cave.Reading) error,
) (rep AirReport, bad []Problem, err error) {
	t, err := open(in)
	if err != nil {
		return rep, nil, err
	}
	if err := t.airHeading(&o); err != nil {
		return rep, nil, err
	}
	rep.Suffix = o.Unit
	steps := steps{seen: map[time.Duration]int{}}
	for r, err := range t.all() {
		if err != nil {
			return rep, nil, err
		}
		if !r.of(&o) {
			continue
		}
		rd, blank := r.reading(o)
		switch {
		case len(r.bad) > 0:
			switch r.bad[0].Why.(type) {
			case Ambiguous, TwoSensors: // it would be said of every row
				return rep, nil, r.bad[0]
			}
			if bad = append(bad, r.bad...); len(bad) >= maxProblems {
				return rep, bad, nil
			}
			continue
		case blank:
			rep.Blank++
			continue
		}
		rep.add(&steps, rd.At)
		if err := fn(r.line, rd); err != nil {
			return rep, bad, err
		}
	}
	if rep.Rows == 0 && len(bad) == 0 {
		return rep, nil, Problem{Why: NoRows}
	}
	return rep, bad, nil
}

// steps are the steps between readings, counted.
type steps struct {
	seen map[time.Duration]int
	last time.Time
}

// add counts a reading.
func (rep *AirReport) add(s *steps, at time.Time) {
	if rep.Rows++; rep.Rows == 1 {
		rep.First, rep.Last, s.last = at, at, at
		return
	}
	switch d := at.Sub(s.last); {
	case d == 0:
		rep.Twice++
	case d < 0:
		rep.Back++
	default:
		if len(s.seen) < 1000 {
			s.seen[d]++
		}
		// The usual step is the one seen most often; among a thousand kinds it stays.
		for step, n := range s.seen {
			if n > s.seen[rep.Step] || n == s.seen[rep.Step] && step < rep.Step {
				rep.Step = step
			}
		}
		if d > 3*rep.Step {
			rep.Gaps++
			rep.Worst = max(rep.Worst, d)
		}
	}
	s.last = at
	if at.Before(rep.First) {
		rep.First = at
	}
	if at.After(rep.Last) {
		rep.Last = at
	}
}

// reading reads one row. Blank is true for a row in which the logger noted nothing.
func (r *row) reading(o AirOptions) (rd cave.Reading, blank bool) {
	when := strings.TrimSpace(r.text("time") + " " + r.text("clock"))
	// No thousands are marked here, so a comma in a cell is a decimal one.
	point := strings.NewReplacer(",", ".")
	temp, humidity := point.Replace(r.text("temperature")), point.Replace(r.text("humidity"))
	if len(r.bad) > 0 || nothing(temp) || nothing(humidity) {
		return rd, true
	}
	at, wrong := parseWhen(when, o)
	x, notTemp := quantity.Number(strings.TrimRight(temp, " °CcFf"))
	if o.Unit == "F" {
		x = (x - 32) / 1.8
	}
	h, notRH := quantity.Number(strings.TrimRight(humidity, " %"))
	switch {
	case wrong != nil:
		r.fail("time", wrong)
	case notTemp != nil:
		r.fail("temperature", reason.Unreadable{What: "temp", Word: show(temp)})
	case !(x > -40 && x < 80):
		r.fail("temperature", TempOutside{x})
	case notRH != nil || !(h >= 0 && h <= 105):
		r.fail("humidity", reason.Unreadable{What: "humidity", Word: show(humidity)})
	}
	at = at.UTC().Truncate(time.Millisecond)
	return cave.Reading{At: at, Temp: quantity.Celsius(x), RH: quantity.FromPercent(min(h, 100))}, false
}

// nothing says whether a cell is what loggers write for no reading.
func nothing(s string) bool {
	switch strings.ToLower(s) {
	case "", "-", "--", "---", "nan", "null", "n/a", "na", "err", "error", "off":
		return true
	}
	return false
}

var slashed = pattern(`^(\d{1,4})[./-](\d{1,2})[./-](\d{1,4})(?:[ T]+(.*))?$`)

// parseWhen reads a logger's time. Year first is plain, as is day.month.year with
// dots; with slashes the order must be given.
func parseWhen(s string, o AirOptions) (time.Time, reason.Reason) {
	unreadable := reason.Unreadable{What: "time", Word: show(s)}
	if o.Form == "unix" {
		n, err := strconv.ParseFloat(s, 64)
		if err != nil || n < 0 || n > 253402300799 {
			return time.Time{}, reason.Unreadable{What: "unix", Word: show(s)}
		}
		return time.UnixMilli(int64(n * 1000)), nil
	}
	for _, f := range []string{time.RFC3339Nano, "2006-01-02 15:04:05Z07:00", "2006-01-02T15:04Z07:00"} {
		if t, err := time.Parse(f, s); err == nil {
			return t, nil
		}
	}
	m := slashed().FindStringSubmatch(s)
	if m == nil {
		return time.Time{}, unreadable
	}
	y, mo, d := m[1], m[2], m[3]
	switch {
	case len(m[1]) == 4:
	case o.Form == "dmy" || o.Form != "mdy" && strings.Count(s[:min(len(s), 10)], ".") >= 2:
		y, mo, d = m[3], m[2], m[1]
	case o.Form == "mdy":
		y, mo, d = m[3], m[1], m[2]
	default:
		return time.Time{}, Ambiguous{show(s)}
	}
	if len(y) == 2 {
		y = "20" + y
	}
	clock := strings.ToUpper(strings.TrimSpace(m[4]))
	if clock == "" {
		return time.Time{}, NoClock
	}
	date := fmt.Sprintf("%s-%02s-%02s ", y, mo, d)
	for _, f := range []string{"15:04:05", "15:04", "15:04:05.000", "3:04:05 PM", "3:04 PM", "15.04", "15.04.05"} {
		t, err := time.ParseInLocation("2006-01-02 "+f, date+clock, cmp.Or(o.Loc, time.UTC))
		switch {
		case err != nil:
		case t.Unix() < 0:
			return t, Before1970
		default:
			return t, nil
		}
	}
	return time.Time{}, unreadable
}
