package intake

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"rindkeep/cave/quantity"
)

// WheelRow is one row of a table of wheels: a wheel, and what it weighed. What
// the table does not say is "" or 0. Made and Weighed are the texts of dates.
type WheelRow struct {
	Line    int
	Tag     string
	Lot     string
	Made    string
	Variety string
	Place   string
	Green   quantity.Grams
	Weight  quantity.Grams
	Weighed string
	Note    string

	at    map[string]int // field -> column on its line
	sheet bool
}

// Column is where a field stood on its line, 0 where the table has none.
func (r WheelRow) Column(field string) int { return r.at[field] }

// Problem is what is wrong with a field of the row.
func (r WheelRow) Problem(field, text string) Problem {
	return Problem{Line: r.Line, Column: r.Column(field), Field: field, Text: text, Sheet: r.sheet}
}

// Weighing is the row's weight as a row of a table of weights; ok is false
// where it has none.
func (r WheelRow) Weighing() (w Weight, ok bool) {
	w = Weight{Line: r.Line, Tag: r.Tag, Weight: r.Weight, When: r.Weighed, Note: r.Note, sheet: r.sheet}
	w.columns = [4]int32{int32(r.at["tag"]), int32(r.at["weight"]), int32(r.at["date weighed"]), 0}
	return w, r.Weight > 0
}

// GreenWeighing is the same for the green weight, which was taken when the
// wheel was made.
func (r WheelRow) GreenWeighing() (w Weight, ok bool) {
	w = Weight{Line: r.Line, Tag: r.Tag, Weight: r.Green, When: r.Made, Note: "green weight", sheet: r.sheet}
	w.columns = [4]int32{int32(r.at["tag"]), int32(r.at["green weight"]), int32(r.at["made"]), 0}
	return w, r.Green > 0
}

// WheelColumn says which column of a table a field was read from.
type WheelColumn struct {
	Field   string
	Heading string
	Column  int    // from 1
	Unit    string // of a weight, where the heading says
}

// WheelTable is a table of wheels as it was understood.
type WheelTable struct {
	Rows    []WheelRow
	Columns []WheelColumn
	Unused  []string // headings that mean nothing here
	Sheet   bool     // of a workbook
}

// WheelFields are the fields a table of wheels may have, as people are told.
var WheelFields = []string{"tag", "lot", "made", "variety", "place", "green weight", "weight", "date weighed", "note"}

var wheelHeadings = map[string]string{
	"tag": "tag", "wheel": "tag", "wheel_tag": "tag", "cheese": "tag", "label": "tag", "wheel_no": "tag", "wheel_number": "tag", "wheel_id": "tag", "cheese_no": "tag", "id": "tag",
	"lot": "lot", "lot_code": "lot", "lot_no": "lot", "lot_number": "lot", "batch": "lot", "batch_no": "lot", "batch_number": "lot", "batch_code": "lot", "make": "lot", "vat": "lot",
	"made": "made", "made_on": "made", "make_date": "made", "date_made": "made", "produced": "made", "production_date": "made", "date_of_make": "made",
	"variety": "variety", "kind": "variety", "type": "variety", "cheese_type": "variety", "style": "variety", "recipe": "variety",
	"place": "place", "location": "place", "shelf": "place", "position": "place", "room": "place", "where": "place",
	"green": "green weight", "green_weight": "green weight", "start_weight": "green weight", "starting_weight": "green weight", "initial_weight": "green weight", "first_weight": "green weight", "weight_at_make": "green weight",
	"weight": "weight", "mass": "weight", "gross": "weight", "gross_weight": "weight", "current_weight": "weight", "weight_now": "weight", "last_weight": "weight", "kg": "weight", "g": "weight", "grams": "weight",
	"date_weighed": "date weighed", "weighed": "date weighed", "weighed_on": "date weighed", "weighed_at": "date weighed", "weighing_date": "date weighed", "weight_date": "date weighed", "date": "date weighed", "last_weighed": "date weighed",
	"note": "note", "notes": "note", "comment": "note", "comments": "note", "remark": "note", "remarks": "note",
}

var headingUnits = []string{"kg", "lb", "oz", "g", "grams"}

// meaning finds what a heading means and which unit it names.
func meaning(h string) (field, unit string) {
	key := heading(h)
	for _, u := range headingUnits {
		if key == u {
			return "weight", strings.TrimSuffix(u, "rams")
		}
		if short, ok := strings.CutSuffix(key, "_"+u); ok {
			if f := wheelHeadings[short]; f == "weight" || f == "green weight" {
				return f, strings.TrimSuffix(u, "rams")
			}
		}
	}
	return wheelHeadings[key], ""
}

// Mapping reads which field is in which column, as a person says it: "tag=Cheese
// no, weight=kg now". Fields are those of WheelFields, a space or a dash in them.
func Mapping(spec string) (map[string]string, error) {
	out := map[string]string{}
	for _, part := range strings.Split(spec, ",") {
		if strings.TrimSpace(part) == "" {
			continue
		}
		field, head, ok := strings.Cut(part, "=")
		field = strings.ReplaceAll(strings.ToLower(strings.TrimSpace(field)), "-", " ")
		if !ok || strings.TrimSpace(head) == "" {
			return nil, fmt.Errorf("%q names no column; write it like tag=Cheese no", show(part))
		}
		if !slices.Contains(WheelFields, field) {
			return nil, fmt.Errorf("no field %q; fields are %s", show(field), strings.Join(WheelFields, ", "))
		}
		if out[field] != "" {
			return nil, fmt.Errorf("field %s is given two columns; keep one", field)
		}
		head = strings.TrimSpace(head)
		for f, h := range out {
			if strings.EqualFold(h, head) {
				return nil, fmt.Errorf("column %q is given to both %s and %s", show(head), min(f, field), max(f, field))
			}
		}
		out[field] = head
	}
	return out, nil
}

// Wheels reads a table of wheels with a heading line. Columns are found by what
// their heading means, or as named says (field to heading). Every bad cell is
// listed; err says in a sentence why the table cannot be read at all.
func Wheels(r io.Reader, named map[string]string) (tb WheelTable, bad []Problem, err error) {
	t, err := open(r)
	if err != nil {
		return tb, nil, err
	}
	tb.Sheet = t.sheet()
	head, err := t.next()
	if errors.Is(err, io.EOF) {
		return tb, nil, errors.New("it holds no rows")
	}
	if err != nil {
		return tb, nil, fault(err)
	}
	col := map[string]WheelColumn{}
	found := map[string]bool{}
	for i, h := range head {
		field, unit := meaning(h)
		if named[field] != "" {
			field = "" // another column was named for it
		}
		for f, n := range named {
			if strings.EqualFold(n, h) {
				field, found[f] = f, true
				if f != "weight" && f != "green weight" {
					unit = ""
				}
			}
		}
		if field == "" {
			if h != "" {
				tb.Unused = append(tb.Unused, show(h))
			}
			continue
		}
		if _, twice := col[field]; twice {
			line, column := t.pos(i)
			return tb, nil, fmt.Errorf("%s: two columns give the %s (%q is the second); say which with --map=%q", spot(t.sheet(), line, column), field, show(h), strings.ReplaceAll(field, " ", "-")+"=HEADING")
		}
		col[field] = WheelColumn{field, show(h), i + 1, unit}
	}
	for _, f := range WheelFields {
		if named[f] != "" && !found[f] {
			return tb, nil, fmt.Errorf("%s: no column is headed %q", t.top(), show(named[f]))
		}
		if c, ok := col[f]; ok {
			tb.Columns = append(tb.Columns, c)
		}
	}
	if _, ok := col["tag"]; !ok {
		return tb, nil, errors.New(t.top() + ": no column for the wheel; head it tag")
	}
	for {
		row, err := t.next()
		if errors.Is(err, io.EOF) {
			return tb, bad, nil
		}
		if err != nil {
			return tb, nil, fault(err)
		}
		w, p := t.wheelRow(row, col)
		if s, ok := t.surplus(row, len(head)); ok {
			p = append(p, s)
		}
		if len(p) > 0 {
			bad = append(bad, t.in(p...)...)
			continue
		}
		tb.Rows = append(tb.Rows, w)
	}
}

func (t *table) wheelRow(row []string, col map[string]WheelColumn) (WheelRow, []Problem) {
	var bad []Problem
	line, _ := t.pos(0)
	w := WheelRow{Line: line, at: map[string]int{}, sheet: t.sheet()}
	for f, c := range col {
		if c.Column <= len(row) {
			_, w.at[f] = t.pos(c.Column - 1)
		}
	}
	problem := func(field, format string, a ...any) {
		bad = append(bad, Problem{Line: line, Column: w.at[field], Field: field, Text: fmt.Sprintf(format, a...)})
	}
	cell := func(field string) string {
		c, ok := col[field]
		if !ok || c.Column > len(row) {
			return ""
		}
		if why := clean(row[c.Column-1]); why != "" {
			problem(field, "%s", why)
			return ""
		}
		return row[c.Column-1]
	}
	weight := func(field string) quantity.Grams {
		raw := cell(field)
		if raw == "" {
			return 0
		}
		num := t.point(raw)
		if u := col[field].Unit; u != "" && bare(num) {
			num += u
		}
		g, err := quantity.ParseWeight(num)
		if err != nil {
			problem(field, "%s", err)
		}
		return g
	}
	w.Tag, w.Lot, w.Variety, w.Place, w.Note = cell("tag"), cell("lot"), cell("variety"), cell("place"), cell("note")
	w.Made, w.Weighed = Moment(cell("made")), Moment(cell("date weighed"))
	if t.sheet() { // a date in a cell that shows its time too
		w.Made = strings.TrimSuffix(w.Made, " 00:00")
	}
	w.Green, w.Weight = weight("green weight"), weight("weight")
	if w.Tag == "" && len(bad) == 0 {
		problem("tag", "no wheel is named; give its tag")
	}
	return w, bad
}
