package intake

import (
	"io"
	"slices"

	"rindkeep/cmd/workbook"
)

// Sort is a sort of table: the fields it may have, as people name them, and what its headings mean.
type Sort struct {
	Fields []string
	words  func() map[string]string // nil: a logger's
	need   []string
}

// The sorts of table.
var (
	OfWheels  = Sort{WheelFields, wheelWords, []string{"tag"}}
	OfWeights = Sort{WeightFields, weightWords, []string{"tag", "weight"}}
	OfAir     = Sort{AirFields, nil, airNeeds}
	OfResults = Sort{LabFields, labWords, []string{"sample", "result"}}
)

// Heading is a column as it was understood; Field is "" where it isn't used.
type Heading struct {
	Column  string `json:"column"` // letters
	Heading string `json:"heading"`
	Field   string `json:"field"`
	Unit    string `json:"unit"` // where the heading says one
}

// Understood is how the headings of a table are understood, with columns as they are
// named (field to heading). A table without headings has none.
func (s Sort) Understood(in io.Reader, named map[string]string) ([]Heading, error) {
	t, err := open(in)
	if err != nil {
		return nil, err
	}
	var head []string
	if s.words == nil {
		err = t.airHeading(&AirOptions{Columns: named})
	} else {
		head, _, err = t.headings(s, &How{Columns: named})
	}
	if err != nil || len(t.columns) == 0 {
		return nil, err
	}
	out := make([]Heading, len(head))
	for i, h := range head {
		out[i] = Heading{Column: workbook.ColumnName(i + 1), Heading: show(h)}
	}
	for f, c := range t.columns {
		for len(out) <= c.index {
			out = append(out, Heading{Column: workbook.ColumnName(len(out) + 1)})
		}
		h := &out[c.index]
		h.Heading, h.Field = show(c.heading), f
		if s.words != nil || f == "temperature" {
			h.Unit = c.unit
		}
	}
	return slices.DeleteFunc(out, func(h Heading) bool { return h.Heading == "" }), nil
}
