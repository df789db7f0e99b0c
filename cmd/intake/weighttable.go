package intake

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"rindkeep/cave/quantity"
)

// WeightTable is a table of weighings read row by row, however long.
type WeightTable struct {
	t       *table
	col     map[string]int
	unit    string // of bare weights, as the heading says
	columns int
	held    []string // a row that was read and not given yet

	// Where the columns are, -1 where the table has none.
	tag, weight, when, clock, note, id int

	tags    map[string]string // tags seen, so that each is kept once
	lastTag string
}

// tagsKept bounds how many tags a table remembers.
const tagsKept = 1 << 18

// OpenWeights reads the heading of a table of weighings, as Weights does.
func OpenWeights(r io.Reader) (*WeightTable, error) {
	t, err := open(r)
	if err != nil {
		return nil, err
	}
	if !t.sheet() {
		t.r.ReuseRecord = true
	}
	head, err := t.next()
	if errors.Is(err, io.EOF) {
		return nil, errors.New("it holds no rows")
	}
	if err != nil {
		return nil, fault(err)
	}
	w := &WeightTable{t: t, col: map[string]int{}, columns: len(head), tags: map[string]string{}}
	for i, h := range head {
		key := heading(h)
		name, ok := weightNames[key]
		if !ok {
			continue
		}
		if _, twice := w.col[name]; twice {
			line, column := t.pos(i)
			return nil, fmt.Errorf("%s: two columns give the %s (%q); keep one", spot(t.sheet(), line, column), name, show(h))
		}
		w.col[name] = i
		if name == "weight" {
			for _, u := range []string{"kg", "lb", "oz", "g", "grams"} {
				if key == u || strings.HasSuffix(key, "_"+u) {
					w.unit = strings.TrimSuffix(u, "rams")
				}
			}
		}
	}
	switch _, tagged := w.col["tag"]; {
	case len(w.col) == 0 && len(head) >= 2:
		// No headings: the first row must be a weighing already.
		if _, err := quantity.ParseWeight(t.point(head[1])); err != nil {
			return nil, fmt.Errorf("%s: no heading is known and %q is no weight; head the columns tag, weight, date", t.top(), show(head[1]))
		}
		w.col = map[string]int{"tag": 0, "weight": 1}
		if len(head) > 2 {
			w.col["when"] = 2
		}
		w.held = slices.Clone(head)
	case !tagged:
		return nil, errors.New(t.top() + ": no column for the wheel; head it tag")
	default:
		if _, ok := w.col["weight"]; !ok {
			return nil, errors.New(t.top() + ": no column for the weight; head it weight, weight_g or weight_kg")
		}
	}
	if _, ok := w.col["clock"]; ok {
		if _, dated := w.col["when"]; !dated {
			w.col["when"] = w.col["clock"]
			delete(w.col, "clock")
		}
	}
	for name, at := range map[string]*int{"tag": &w.tag, "weight": &w.weight, "when": &w.when, "clock": &w.clock, "note": &w.note, "id": &w.id} {
		*at = -1
		if i, ok := w.col[name]; ok {
			*at = i
		}
	}
	return w, nil
}

// Next gives the next row, or what is wrong with it; io.EOF at the end. Any
// other error is a table that cannot be read on, and says why in one sentence.
func (w *WeightTable) Next() (Weight, []Problem, error) {
	row := w.held
	if w.held = nil; row == nil {
		var err error
		if row, err = w.t.next(); err != nil {
			if errors.Is(err, io.EOF) {
				return Weight{}, nil, io.EOF
			}
			return Weight{}, nil, fault(err)
		}
	}
	if out, ok := w.plain(row); ok {
		return out, nil, nil
	}
	out, bad := w.t.weight(row, w.col, w.unit)
	if p, ok := w.t.surplus(row, w.columns); ok {
		bad = append(bad, p)
	}
	return out, w.t.in(bad...), nil
}

// plain reads a row written in the plainest way; ok is false where it is not,
// and weight must look at it.
func (w *WeightTable) plain(row []string) (out Weight, ok bool) {
	if len(row) > w.columns || w.t.sheet() {
		return out, false
	}
	cell := func(i int) string {
		if i < 0 || i >= len(row) {
			return ""
		}
		return row[i]
	}
	tag, id, note := cell(w.tag), cell(w.id), cell(w.note)
	if tag == "" || len(tag) > MaxCell || len(id) > MaxCell || len(note) > MaxCell || !utf8.ValidString(tag) || !utf8.ValidString(id) || !utf8.ValidString(note) {
		return out, false
	}
	if out.Weight, ok = plainWeight(cell(w.weight), w.unit); !ok {
		return out, false
	}
	when, clock := cell(w.when), cell(w.clock)
	if when != "" && (len(when) < 10 || len(when) > 40 || when[4] != '-' || when[1] == '.' || when[2] == '.' || !utf8.ValidString(when)) {
		return out, false
	}
	if clock != "" {
		if when == "" || len(clock) > 40 || !utf8.ValidString(clock) {
			return out, false
		}
		when += " " + clock
	}
	if tag != w.lastTag {
		t, known := w.tags[tag]
		if !known {
			if len(w.tags) >= tagsKept {
				clear(w.tags)
			}
			t = strings.Clone(tag)
			w.tags[t] = t
		}
		w.lastTag = t
	}
	out.Tag, out.When, out.Note, out.ID = w.lastTag, when, note, id
	out.Line, _ = w.t.pos(0)
	for k, i := range [4]int{w.tag, w.weight, w.when, w.id} {
		if i >= 0 && i < len(row) {
			_, c := w.t.pos(i)
			out.columns[k] = int32(c)
		}
	}
	return out, true
}

var tens = [...]float64{1, 10, 100, 1000, 1e4, 1e5, 1e6}

// plainWeight reads digits, with a point and more digits or without, as
// quantity.ParseWeight does: a whole number under 2^53 over a small power of
// ten is the nearest float64 there is (Clinger 1990).
func plainWeight(b string, unit string) (quantity.Grams, bool) {
	factor := 1.0
	switch unit {
	case "", "g":
	case "kg":
		factor = 1000
	default:
		return 0, false
	}
	if len(b) == 0 || len(b) > 12 {
		return 0, false
	}
	n, point := int64(0), -1
	for i := range len(b) {
		c := b[i]
		switch {
		case c >= '0' && c <= '9':
			n = n*10 + int64(c-'0')
		case c == '.' && point < 0 && i > 0 && i < len(b)-1:
			point = i
		default:
			return 0, false
		}
	}
	x := float64(n)
	if point >= 0 {
		places := len(b) - 1 - point
		if places >= len(tens) {
			return 0, false
		}
		x /= tens[places]
	}
	g := quantity.Grams(x * factor)
	return g, g > 0 && g <= quantity.MaxWeight
}

// Read is how many bytes of the text were read so far; 0 for a workbook.
func (w *WeightTable) Read() int64 {
	if w.t.sheet() {
		return 0
	}
	return w.t.r.InputOffset()
}

// Problem is one with a row of the table, by its line and column.
func (w *WeightTable) Problem(line, column int, field, text string) Problem {
	return w.t.in(Problem{Line: line, Column: column, Field: field, Text: text})[0]
}

// Columns are where a weighing's tag, weight, date and id stood on its line, 0
// where the table has none.
func (w Weight) Columns() [4]int32 { return w.columns }
