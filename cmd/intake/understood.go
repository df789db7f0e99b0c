package intake

import (
	"io"
	"slices"

	"rindkeep/cmd/workbook"
)

// Kind is what a table is of.
type Kind string

// The kinds of table.
const (
	OfWheels  Kind = "wheels"
	OfWeights Kind = "weights"
	OfAir     Kind = "air"
	OfResults Kind = "results"
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
func Understood(in io.Reader, k Kind, named map[string]string) ([]Heading, error) {
	t, err := open(in)
	if err != nil {
		return nil, err
	}
	var head []string
	switch k {
	case OfAir:
		err = t.airHeading(&AirOptions{Columns: named})
	case OfWheels:
		head, _, err = t.headings(wheelWords, &How{Columns: named}, "tag")
	case OfWeights:
		head, _, err = t.headings(weightWords, &How{Columns: named}, "tag", "weight")
	default:
		head, _, err = t.headings(labWords, &How{Columns: named}, "sample", "result")
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
		if k != OfAir || f == "temperature" {
			h.Unit = c.unit
		}
	}
	return slices.DeleteFunc(out, func(h Heading) bool { return h.Heading == "" }), nil
}
