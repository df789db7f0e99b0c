package intake

import (
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"

	"rindkeep/cave/quantity"
)

// Weight is one row of a table of weighings. When is the text of its date or
// time as ParseMoment reads it, "" where the table has none; ID is the
// writer's own UUID or "".
type Weight struct {
	Line   int
	Tag    string
	Weight quantity.Grams
	When   string
	Note   string
	ID     string

	columns [4]int32 // of the fields, in their order; 0: the table has none
	sheet   bool
}

// fields are the columns that a Weight remembers the place of, by the name in
// the table's heading and by the name people are told.
var fields = [4][2]string{{"tag", "tag"}, {"weight", "weight"}, {"when", "date"}, {"id", "id"}}

// Column is where a field (tag, weight, date or id) stood on its line, 0 where
// the table has no such column.
func (w Weight) Column(field string) int {
	for i, f := range fields {
		if f[1] == field {
			return int(w.columns[i])
		}
	}
	return 0
}

// Problem is what is wrong with a field of the row.
func (w Weight) Problem(field, text string) Problem {
	return Problem{Line: w.Line, Column: w.Column(field), Field: field, Text: text, Sheet: w.sheet}
}

var weightNames = map[string]string{
	"tag": "tag", "wheel": "tag", "wheel_tag": "tag", "cheese": "tag", "label": "tag", "wheel_no": "tag", "wheel_id": "tag",
	"weight": "weight", "weight_g": "weight", "weight_kg": "weight", "weight_lb": "weight", "weight_oz": "weight",
	"mass": "weight", "mass_g": "weight", "mass_kg": "weight", "gross": "weight", "gross_g": "weight", "gross_kg": "weight",
	"g": "weight", "kg": "weight", "grams": "weight", "weight_grams": "weight", "gross_weight": "weight",
	"date": "when", "day": "when", "when": "when", "at": "when", "time": "clock", "datetime": "when", "date_time": "when", "timestamp": "when", "weighed": "when", "weighed_at": "when", "weighed_on": "when",
	"note": "note", "notes": "note", "comment": "note", "remarks": "note", "remark": "note",
	"id": "id", "uuid": "id", "entry": "id", "entry_id": "id",
}

func (t *table) weight(row []string, col map[string]int, unit string) (Weight, []Problem) {
	var bad []Problem
	line, _ := t.pos(0)
	problem := func(field string, format string, a ...any) {
		p := Problem{Line: line, Field: field, Text: fmt.Sprintf(format, a...)}
		if i, ok := col[field]; ok && i < len(row) {
			p.Line, p.Column = t.pos(i)
		}
		bad = append(bad, p)
	}
	cell := func(field string) string {
		i, ok := col[field]
		if !ok || i >= len(row) {
			return ""
		}
		if why := clean(row[i]); why != "" {
			problem(field, "%s", why)
			return ""
		}
		return row[i]
	}
	w := Weight{Line: line, Tag: cell("tag"), Note: cell("note"), ID: cell("id"), sheet: t.sheet()}
	for k, f := range fields {
		if i, ok := col[f[0]]; ok && i < len(row) {
			_, c := t.pos(i)
			w.columns[k] = int32(c)
		}
	}
	when, clock := cell("when"), cell("clock")
	raw := cell("weight")
	if len(bad) > 0 {
		return w, bad
	}
	if w.Tag == "" {
		problem("tag", "no wheel is named; give its tag")
	}
	switch {
	case raw == "":
		problem("weight", "no weight is given; write 1942, 1942g or 1.942kg")
	default:
		num := t.point(raw)
		if unit != "" && bare(num) {
			num += unit
		}
		g, err := quantity.ParseWeight(num)
		if err != nil {
			problem("weight", "%s", err)
		}
		w.Weight = g
	}
	w.When = Moment(when)
	if clock != "" {
		if w.When == "" {
			problem("when", "a time without its date; give the date as 2026-11-25")
		}
		w.When += " " + clock
	}
	return w, bad
}

// point turns a decimal comma into a point in files that separate by
// semicolon or tab, where a comma can be nothing else.
func (t *table) point(s string) string {
	if t.decimal == ',' && strings.Count(s, ",") == 1 && !strings.Contains(s, ".") {
		return strings.Replace(s, ",", ".", 1)
	}
	return s
}

func bare(s string) bool {
	_, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	return err == nil
}

var dotted = regexp.MustCompile(`^(\d{1,2})\.(\d{1,2})\.(\d{4})(.*)$`)

// Moment brings a date as spreadsheets write it into the form the calendar
// reads: 25.11.2026 becomes 2026-11-25, 2026/11/25 likewise. 11/25/2026 and
// 25/11/2026 look alike and are left for the calendar to refuse.
func Moment(s string) string {
	s = strings.TrimSpace(s)
	if m := dotted.FindStringSubmatch(s); m != nil {
		return fmt.Sprintf("%s-%02s-%02s%s", m[3], m[2], m[1], m[4])
	}
	if len(s) >= 10 && s[4] == '/' && s[7] == '/' {
		return s[:4] + "-" + s[5:7] + "-" + s[8:]
	}
	return s
}

// show makes a cell safe and short enough for a sentence.
func show(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < 0x20 || r == 0x7f || r >= 0x80 && r < 0xa0 {
			return '·'
		}
		return r
	}, s)
	if len(s) > 40 {
		s = strings.ToValidUTF8(s[:40], "") + "…"
	}
	return s
}

// Curve reads a table of days and weights for a fit: headings day and weight
// (or weight_g, weight_kg), or two bare columns.
func Curve(r io.Reader) (days, grams []float64, bad []Problem, err error) {
	t, err := open(r)
	if err != nil {
		return nil, nil, nil, err
	}
	dayCol, weightCol, unit, columns := 0, 1, "", 2
	for n := 0; ; n++ {
		row, err := t.next()
		if errors.Is(err, io.EOF) {
			if len(days) == 0 && len(bad) == 0 {
				return nil, nil, nil, errors.New("it holds no weighings; give columns day,weight_g")
			}
			return days, grams, bad, nil
		}
		if err != nil {
			return nil, nil, nil, fault(err)
		}
		if n == 0 && !bare(t.point(row[0])) {
			dayCol, weightCol, columns = -1, -1, len(row)
			for i, h := range row {
				switch key := heading(h); {
				case key == "day" || key == "days" || key == "t":
					dayCol = i
				case weightNames[key] == "weight":
					weightCol = i
					if i := strings.LastIndexByte(key, '_'); i >= 0 || key == "kg" {
						unit = strings.TrimPrefix(key[max(i, 0):], "_")
					}
				}
			}
			if dayCol < 0 || weightCol < 0 {
				return nil, nil, nil, errors.New(t.top() + ": head the columns day and weight_g")
			}
			continue
		}
		if s, ok := t.surplus(row, columns); ok {
			bad = append(bad, t.in(s)...)
			continue
		}
		line, _ := t.pos(0)
		if max(dayCol, weightCol) >= len(row) {
			bad = append(bad, t.in(Problem{Line: line, Text: "a row needs a day and a weight"})...)
			continue
		}
		_, dc := t.pos(dayCol)
		_, wc := t.pos(weightCol)
		d, err := strconv.ParseFloat(t.point(row[dayCol]), 64)
		if err != nil || !(d >= 0 && d < 36525) {
			bad = append(bad, t.in(Problem{Line: line, Column: dc, Field: "day", Text: fmt.Sprintf("%q is no day; give 0 or more", show(row[dayCol]))})...)
			continue
		}
		num := t.point(row[weightCol])
		if unit != "" && unit != "weight" && bare(num) {
			num += unit
		}
		g, err := quantity.ParseWeight(num)
		if err != nil {
			bad = append(bad, t.in(Problem{Line: line, Column: wc, Field: "weight", Text: err.Error()})...)
			continue
		}
		days, grams = append(days, d), append(grams, float64(g))
	}
}
