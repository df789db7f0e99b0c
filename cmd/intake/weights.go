package intake

import (
	"io"
	"strings"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// Weight is one row of a table of weighings. When is the text of its date or time, ""
// where the table has none; ID is the writer's UUID or "".
type Weight struct {
	Spot
	Tag    string
	Weight quantity.Grams
	When   string
	Note   string
	ID     string
}

// WeightFields are the fields of a table of weighings that people can name.
var WeightFields = []string{"tag", "weight", "unit", "date", "time", "note", "id"}

// weightFields are the fields whose columns a Weight remembers.
var weightFields = []string{"tag", "weight", "date", "id"}

// Columns are those of a weighing's tag, weight, date and id, from 1; 0 where the table has none.
func (w Weight) Columns() [4]int32 { return [4]int32(w.columns[:4]) }

var weightWords = vocabulary(common, map[string]string{
	"date": "date day when at datetime date_time timestamp weighed weighed_at weighed_on datum tag_gewogen gewogen " +
		"gewogen_am pese_le date_pesee date_de_pesee jour data data_pesata pesato_il fecha dia pesado_el",
	"time": "time heure uhrzeit zeit ora hora",
	"id":   "id uuid entry entry_id",
	"unit": "unit units unite einheit unita unidad",
})

// WeightTable is a table of weighings read row by row, however long.
type WeightTable struct{ t *table }

// OpenWeights reads the heading of a table of weighings. Columns are found by their
// heading (tag or wheel; weight, with its unit in the heading or the cell; date, time
// or both; note; id), or as how says; a table without headings is read as tag, weight, date.
func OpenWeights(r io.Reader, how How) (*WeightTable, error) {
	t, err := open(r)
	if err != nil {
		return nil, err
	}
	head, _, err := t.headings(OfWeights, &how)
	if err != nil {
		return nil, err
	}
	if id, ok := t.columns["id"]; ok && !t.has("tag") { // a scale's own name for what it weighs
		t.columns["tag"] = id
		delete(t.columns, "id")
	}
	switch {
	case len(t.columns) == 0 && len(head) >= 2:
		// No headings: the first row must be a weighing already.
		t.columns = map[string]column{"tag": {index: 0}, "weight": {index: 1}}
		t.held = append([]heldRow{t.hold(head)}, t.held...)
		if len(head) > 2 {
			t.columns["date"] = column{index: 2}
		}
		first := row{table: t, cells: head}
		if first.weight("weight"); len(first.bad) > 0 {
			return nil, t.top(NoColumn{Field: "tag", Has: t.head})
		}
	case !t.has("tag"):
		return nil, t.top(NoColumn{Field: "tag", Has: t.head})
	case !t.has("weight"):
		return nil, t.top(NoColumn{Field: "weight", Has: t.head})
	}
	if t.has("time") && !t.has("date") {
		t.columns["date"] = t.columns["time"]
		delete(t.columns, "time")
	}
	return &WeightTable{t}, nil
}

// Next gives the next row, or what is wrong with it; io.EOF at the end. Any other
// error is a table that can't be read on.
func (w *WeightTable) Next() (Weight, []Problem, error) {
	r, err := w.t.row()
	if err != nil {
		return Weight{}, nil, err
	}
	// A tag is kept without the rest of its row.
	out := Weight{Spot: r.spot(weightFields), Tag: strings.Clone(r.text("tag"))}
	out.Note, out.ID = r.text("note"), r.text("id")
	date, clock := r.text("date"), r.text("time")
	if len(r.bad) == 0 {
		if out.Tag == "" {
			r.fail("tag", reason.Missing{What: "wheel"})
		}
		n, given := len(r.bad), false
		if out.Weight, given = r.weight("weight"); !given && len(r.bad) == n {
			r.fail("weight", reason.Missing{What: "weight"})
		}
		out.When = date
		if clock != "" {
			if out.When == "" {
				r.fail("date", NoDate)
			}
			out.When += " " + clock
		}
	}
	r.surplus()
	return out, r.bad, nil
}

// Read is how many bytes of the text were read so far; 0 for a workbook.
func (w *WeightTable) Read() int64 {
	if w.t.rows != nil {
		return 0
	}
	return w.t.r.InputOffset()
}

// Problem is one with a row of the table, by its line and column.
func (w *WeightTable) Problem(line, column int, field string, why reason.Reason) Problem {
	return Problem{Line: line, Column: column, Field: field, Why: why, Sheet: w.t.rows != nil}
}

var ofCurve = Sort{
	words: vocabulary(map[string]string{"weight": common["weight"], "day": "day days t"}), need: []string{"day", "weight"},
}

// Curve reads a table of days and weights for a fit: headings day and weight (or
// weight_g, weight_kg), or two bare columns.
func Curve(in io.Reader) (days, grams []float64, bad []Problem, err error) {
	t, err := open(in)
	if err != nil {
		return nil, nil, nil, err
	}
	head, _, err := t.headings(ofCurve, nil)
	if err != nil {
		return nil, nil, nil, err
	}
	switch {
	case bare(head[0]):
		t.columns, t.width = map[string]column{"day": {index: 0}, "weight": {index: 1}}, 2
		t.held = append([]heldRow{t.hold(head)}, t.held...)
	case !t.has("day"), !t.has("weight"):
		return nil, nil, nil, t.top(NoColumn{Field: "day"})
	}
	for r, err := range t.all() {
		if err != nil {
			return nil, nil, nil, err
		}
		if r.surplus(); len(r.bad) == 0 {
			d, err := quantity.Number(r.figure("day"))
			if err != nil || !(d >= 0 && d < 36525) {
				r.fail("day", reason.Unreadable{What: "day", Word: show(r.text("day"))})
			}
			g, given := r.weight("weight")
			if !given {
				r.fail("weight", reason.Missing{What: "weight"})
			}
			if len(r.bad) == 0 {
				days, grams = append(days, d), append(grams, float64(g))
			}
		}
		bad = append(bad, r.bad...)
	}
	if len(days)+len(bad) == 0 {
		return nil, nil, nil, Problem{Why: NoRows}
	}
	return days, grams, bad, nil
}
