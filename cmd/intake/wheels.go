package intake

import (
	"cmp"
	"io"
	"slices"
	"strings"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// WheelRow is one row of a table of wheels: a wheel, and what it weighed. What the
// table does not say is "" or 0. Made and Weighed are the texts of dates.
type WheelRow struct {
	Spot
	Tag     string
	Lot     string
	Made    string
	Variety string
	Place   string
	Green   quantity.Grams
	Weight  quantity.Grams
	Weighed string
	Note    string

	// How it came, of one that was bought in, and what was done with it before.
	Supplier, Maker, SupplierLot, Document string
	Arrived                                string // the text of a date
	Arrival                                quantity.Grams
	Temp, Price                            string
	Milk, Treatment                        string
	Coat, Coated                           string // Coated is the text of a date
	Last                                   []LastDone
}

// Weighing is the row's weight as a row of a table of weights; ok is false where it has none.
func (r WheelRow) Weighing() (w Weight, ok bool) {
	return r.weighing(r.Weight, "weight", r.Weighed, "date weighed", r.Note)
}

// GreenWeighing is the same for the green weight, which was taken when the wheel was made.
func (r WheelRow) GreenWeighing() (w Weight, ok bool) {
	return r.weighing(r.Green, "green weight", r.Made, "made", "green weight")
}

// ArrivalWeighing is the same for the weight on arrival.
func (r WheelRow) ArrivalWeighing() (w Weight, ok bool) {
	return r.weighing(r.Arrival, "arrival weight", r.Arrived, "arrived", "on arrival")
}

func (r WheelRow) weighing(g quantity.Grams, field, when, date, note string) (Weight, bool) {
	w := Weight{
		Spot: Spot{r.Line, r.Sheet, weightFields, make([]int32, len(weightFields))}, Tag: r.Tag, Weight: g, When: when,
		Note: note,
	}
	for i, f := range []string{"tag", field, date} {
		w.columns[i] = int32(r.Column(f))
	}
	return w, g > 0
}

// WheelColumn says which column of a table a field was read from.
type WheelColumn struct {
	Field   string  `json:"field"`
	Heading string  `json:"heading"`
	Column  int     `json:"column"` // from 1
	Unit    *string `json:"unit"`   // of a weight, where the heading says
}

// WheelTable is a table of wheels as it was understood.
type WheelTable struct {
	Rows    []WheelRow
	Columns []WheelColumn
	Unused  []string // headings that mean nothing here
	Sheet   bool     // of a workbook
}

// WheelFields are the fields a table of wheels may have, as people see them.
var WheelFields = []string{"tag", "lot", "made", "variety", "place", "green weight", "weight", "date weighed", "note",
	"supplier", "maker", "supplier lot", "document", "arrived", "arrival weight", "temperature", "price", "milk",
	"treatment", "coat", "coated", "last turn", "last brush", "last wash", "last rub"}

// LastDone says when a job was last done: a date as text.
type LastDone struct{ Field, Job, On string }

// Mapping reads which field is in which column, as a person says it: "tag=Cheese
// no, weight=kg now". The fields are given; people may write a dash for a space in them.
func Mapping(spec string, fields []string) (map[string]string, error) {
	out := map[string]string{}
	for _, part := range strings.Split(spec, ",") {
		if strings.TrimSpace(part) == "" {
			continue
		}
		field, head, ok := strings.Cut(part, "=")
		field = strings.ReplaceAll(strings.ToLower(strings.TrimSpace(field)), "-", " ")
		if !ok || strings.TrimSpace(head) == "" {
			return nil, reason.Err(reason.Unreadable{What: "mapping", Word: show(part)})
		}
		if !slices.Contains(fields, field) {
			known := strings.Join(fields, ", ")
			return nil, reason.Err(reason.Unknown{What: "field", Word: show(field), Known: known})
		}
		if out[field] != "" {
			return nil, reason.Err(TwoColumns{field, show(head), false, out[field]})
		}
		head = strings.TrimSpace(head)
		for f, h := range out {
			if strings.EqualFold(h, head) {
				return nil, reason.Err(TwoFields{show(head), min(f, field), max(f, field)})
			}
		}
		out[field] = head
	}
	return out, nil
}

// Wheels reads a table of wheels with a heading line. Columns are found by what their heading means, or as how
// says. Every bad cell is listed; err is why the table can't be read at all.
func Wheels(in io.Reader, how How) (tb WheelTable, bad []Problem, err error) {
	t, err := open(in)
	if err != nil {
		return tb, nil, err
	}
	if _, tb.Unused, err = t.headings(OfWheels, &how); err != nil {
		return tb, nil, err
	}
	if !t.has("tag") {
		return tb, nil, t.top(NoColumn{Field: "tag", Has: t.head})
	}
	if c, ok := t.columns["maker"]; ok && !t.has("supplier") && how.Columns["maker"] == "" { // who made it sent it
		t.columns["supplier"] = c
		delete(t.columns, "maker")
	}
	tb.Sheet = t.rows != nil
	for _, f := range WheelFields {
		if c, ok := t.columns[f]; ok {
			w := WheelColumn{f, c.heading, c.index + 1, nil}
			if unit := cmp.Or(c.unit, how.Unit); unit != "" && strings.HasSuffix(f, "weight") {
				w.Unit = &unit
			}
			tb.Columns = append(tb.Columns, w)
		}
	}
	for r, err := range t.all() {
		if err != nil {
			return tb, nil, err
		}
		if w := r.wheel(); len(r.bad) == 0 {
			tb.Rows = append(tb.Rows, w)
		}
		bad = append(bad, r.bad...)
	}
	return tb, bad, nil
}

func (r *row) wheel() WheelRow {
	w := WheelRow{
		Spot: r.spot(WheelFields), Tag: r.text("tag"), Lot: r.text("lot"), Variety: r.text("variety"),
		Place: r.text("place"), Made: r.text("made"), Weighed: r.text("date weighed"), Note: r.text("note"),
	}
	w.Green, _ = r.weight("green weight")
	w.Weight, _ = r.weight("weight")
	w.Supplier, w.Maker = r.text("supplier"), r.text("maker")
	w.SupplierLot, w.Document = r.text("supplier lot"), r.text("document")
	w.Arrival, _ = r.weight("arrival weight")
	w.Arrived, w.Temp, w.Price = r.text("arrived"), r.temperature(), r.price()
	w.Milk, w.Treatment = r.milk()
	w.Coat, w.Coated = meant(coatWords(), r.text("coat")), r.text("coated")
	for _, j := range []string{"turn", "brush", "wash", "rub"} {
		if on := r.text("last " + j); on != "" {
			w.Last = append(w.Last, LastDone{"last " + j, j, on})
		}
	}
	if w.Sheet { // a date in a cell that shows its time too
		for _, d := range []*string{&w.Made, &w.Arrived, &w.Coated} {
			*d = strings.TrimSuffix(*d, " 00:00")
		}
		for i := range w.Last {
			w.Last[i].On = strings.TrimSuffix(w.Last[i].On, " 00:00")
		}
	}
	if w.Tag == "" && len(r.bad) == 0 {
		r.fail("tag", reason.Missing{What: "wheel"})
	}
	r.surplus()
	return w
}
