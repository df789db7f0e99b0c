package intake

import (
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
)

// AirOptions say how a logger writes. The zero value reads what can be read
// only one way, in UTC and Celsius.
type AirOptions struct {
	Loc  *time.Location // zone of times that name none
	Form string         // auto, ymd, dmy, mdy or unix
	Unit string         // C, F, or "" for what the heading says
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

// Air reads a logger's table row by row and hands each reading over, in the
// file's order; memory does not grow with the file. Columns are found by their
// heading's meaning (time, or date and time; temperature; humidity), after any
// lines a logger puts before them. Bad rows are listed; fn's error ends it.
func Air(r io.Reader, o AirOptions, fn func(cave.Reading) error) (AirReport, []Problem, error) {
	var rep AirReport
	t, err := open(r)
	if err != nil {
		return rep, nil, err
	}
	cols, err := t.airHeading(&o)
	if err != nil {
		return rep, nil, err
	}
	rep.Suffix = o.Unit
	var bad []Problem
	steps := map[time.Duration]int{}
	var last time.Time
	for len(bad) < maxProblems {
		row, err := t.next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return rep, nil, fault(err)
		}
		rd, blank, p := t.reading(row, cols, o)
		if p != nil && p.Field == "time" && strings.Contains(p.Text, "--time-format dmy or mdy") {
			return rep, nil, errors.New(t.in(*p)[0].String()) // it would be said of every row
		}
		switch {
		case p != nil:
			bad = append(bad, t.in(*p)...)
			continue
		case blank:
			rep.Blank++
			continue
		}
		if rep.Rows == 0 {
			rep.First, rep.Last = rd.At, rd.At
		} else {
			switch d := rd.At.Sub(last); {
			case d == 0:
				rep.Twice++
			case d < 0:
				rep.Back++
			default:
				if len(steps) < 1000 {
					steps[d]++
				}
				if usual := usualStep(steps, rep.Step); usual > 0 {
					rep.Step = usual
					if d > 3*usual {
						rep.Gaps++
						rep.Worst = max(rep.Worst, d)
					}
				}
			}
		}
		last = rd.At
		if rd.At.Before(rep.First) {
			rep.First = rd.At
		}
		if rd.At.After(rep.Last) {
			rep.Last = rd.At
		}
		rep.Rows++
		if err := fn(rd); err != nil {
			return rep, bad, err
		}
	}
	if rep.Rows == 0 && len(bad) == 0 {
		return rep, nil, errors.New("it holds no readings")
	}
	return rep, bad, nil
}

// usualStep is the step seen most often; was is kept once a thousand kinds
// have been seen.
func usualStep(steps map[time.Duration]int, was time.Duration) time.Duration {
	best := was
	for d, n := range steps {
		if n > steps[best] || n == steps[best] && d < best {
			best = d
		}
	}
	return best
}

type airCols struct{ when, clock, temp, rh int }

var (
	whenWord = regexp.MustCompile(`^(date_?_?time|datetime|timestamp|time_?stamp|date_and_time|date|when|at|time)(_|$)`)
	tempWord = regexp.MustCompile(`(^|_)(temp|temperature|t|c|f|celsius|fahrenheit|°c|°f)(_|$)|temp`)
	rhWord   = regexp.MustCompile(`(^|_)(rh|humidity|hum|h|relative_humidity)(_|$)|humid`)
	dewWord  = regexp.MustCompile(`dew|abs`)
)

// airHeading finds the heading row and its columns.
func (t *table) airHeading(o *AirOptions) (airCols, error) {
	for n := 0; n < 40; n++ {
		row, err := t.next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return airCols{}, fault(err)
		}
		c := airCols{-1, -1, -1, -1}
		unit := ""
		for i, h := range row {
			if clean(h) != "" {
				break
			}
			key := heading(h)
			switch {
			case dewWord.MatchString(key):
			case c.rh < 0 && (rhWord.MatchString(key) || strings.Contains(h, "%")):
				c.rh = i
			case whenWord.MatchString(key):
				if key == "time" && c.when >= 0 {
					c.clock = i
				} else if c.when < 0 {
					c.when = i
				}
			case c.temp < 0 && tempWord.MatchString(key):
				c.temp = i
				if strings.Contains(key, "fahrenheit") || strings.HasSuffix(key, "_f") || key == "f" || strings.HasSuffix(key, "°f") {
					unit = "F"
				} else {
					unit = "C"
				}
			}
		}
		if c.when >= 0 && c.temp >= 0 && c.rh >= 0 {
			if o.Unit == "" {
				o.Unit = unit
			}
			return c, nil
		}
	}
	return airCols{}, errors.New("no heading row was found; head the columns time, temp_c and rh")
}

// reading reads one row. Blank is true for a row in which the logger noted
// nothing.
func (t *table) reading(row []string, c airCols, o AirOptions) (rd cave.Reading, blank bool, p *Problem) {
	problem := func(i int, field, format string, a ...any) *Problem {
		line, col := t.pos(0)
		if i < len(row) {
			line, col = t.pos(i)
		}
		return &Problem{Line: line, Column: col, Field: field, Text: fmt.Sprintf(format, a...)}
	}
	cell := func(i int) string {
		if i < 0 || i >= len(row) {
			return ""
		}
		return row[i]
	}
	for _, i := range []int{c.when, c.clock, c.temp, c.rh} {
		if why := clean(cell(i)); why != "" {
			return rd, false, problem(i, "", "%s", why)
		}
	}
	if nothing(cell(c.temp)) || nothing(cell(c.rh)) {
		return rd, true, nil
	}
	when := strings.TrimSpace(cell(c.when) + " " + cell(c.clock))
	at, err := parseWhen(when, o)
	if err != nil {
		return rd, false, problem(c.when, "time", "%s", err)
	}
	temp := strings.TrimRight(t.point(cell(c.temp)), " °CcFf")
	x, err := strconv.ParseFloat(temp, 64)
	if err != nil {
		return rd, false, problem(c.temp, "temperature", "%q is not a temperature", show(cell(c.temp)))
	}
	if o.Unit == "F" {
		x = (x - 32) / 1.8
	}
	if !(x > -40 && x < 80) {
		return rd, false, problem(c.temp, "temperature", "%.4g C is out of range; is it in F? say so with --unit F", x)
	}
	h, err := strconv.ParseFloat(strings.TrimRight(t.point(cell(c.rh)), " %"), 64)
	if err != nil || !(h >= 0 && h <= 105) {
		return rd, false, problem(c.rh, "humidity", "%q is not a humidity; give percent from 0 to 100", show(cell(c.rh)))
	}
	return cave.Reading{At: at.UTC().Truncate(time.Millisecond), Temp: quantity.Celsius(x), RH: quantity.FromPercent(min(h, 100))}, false, nil
}

// nothing says whether a cell is what loggers write for no reading.
func nothing(s string) bool {
	switch strings.ToLower(s) {
	case "", "-", "--", "---", "nan", "null", "n/a", "na", "err", "error", "off":
		return true
	}
	return false
}

var slashed = regexp.MustCompile(`^(\d{1,4})[./-](\d{1,2})[./-](\d{1,4})(?:[ T]+(.*))?$`)

// parseWhen reads a logger's time. Year first is plain, as is day.month.year
// with dots; with slashes the order must be said.
func parseWhen(s string, o AirOptions) (time.Time, error) {
	loc := o.Loc
	if loc == nil {
		loc = time.UTC
	}
	if o.Form == "unix" {
		n, err := strconv.ParseFloat(s, 64)
		if err != nil || n < 0 || n > 253402300799 {
			return time.Time{}, fmt.Errorf("%q is not a unix time in seconds", show(s))
		}
		return time.UnixMilli(int64(n * 1000)), nil
	}
	for _, f := range []string{time.RFC3339Nano, "2006-01-02 15:04:05Z07:00", "2006-01-02T15:04Z07:00"} {
		if t, err := time.Parse(f, s); err == nil {
			return t, nil
		}
	}
	m := slashed.FindStringSubmatch(s)
	if m == nil {
		return time.Time{}, fmt.Errorf("%q is not a time; write it like 2026-11-25 08:30, or say its form with --time-format", show(s))
	}
	y, mo, d := m[1], m[2], m[3]
	switch {
	case len(m[1]) == 4:
	case o.Form == "dmy" || o.Form != "mdy" && strings.Contains(s, ".") && strings.Count(s[:min(len(s), 10)], ".") >= 2:
		y, mo, d = m[3], m[2], m[1]
	case o.Form == "mdy":
		y, mo, d = m[3], m[1], m[2]
	default:
		return time.Time{}, fmt.Errorf("%q may be day/month or month/day; say which with --time-format dmy or mdy", show(s))
	}
	if len(y) == 2 {
		y = "20" + y
	}
	clock := strings.TrimSpace(m[4])
	if clock == "" {
		return time.Time{}, fmt.Errorf("%q has no time of day", show(s))
	}
	date := fmt.Sprintf("%s-%02s-%02s", y, mo, d)
	for _, f := range []string{"15:04:05", "15:04", "15:04:05.000", "3:04:05 PM", "3:04 PM", "15.04", "15.04.05"} {
		if t, err := time.ParseInLocation("2006-01-02 "+f, date+" "+strings.ToUpper(clock), loc); err == nil {
			if t.Unix() < 0 {
				return t, fmt.Errorf("%q is before 1970", show(s))
			}
			return t, nil
		}
	}
	return time.Time{}, fmt.Errorf("%q is not a time; write it like 2026-11-25 08:30", show(s))
}
