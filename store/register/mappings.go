package register

import (
	"cmp"
	"reflect"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/store/layout"
	"rindkeep/store/lines"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/table"
	"rindkeep/wheel"
)

// What a table is about.
const (
	OfWheels  = "wheels"
	OfWeights = "weights"
	OfAir     = "air"
	OfResults = "results"
)

var mappingSorts = []string{OfWheels, OfWeights, OfAir, OfResults}

// Mapping says how tables of one origin are read, where their headings don't say it. What
// they say, it leaves out.
type Mapping struct {
	ID      uuid.UUID         `json:"id"`
	Name    string            `json:"name"`
	Of      string            `json:"of"`                // OfWheels, OfWeights, OfAir or OfResults
	Columns map[string]string `json:"columns,omitempty"` // field -> heading, or the column's letter
	Kinds   map[string]string `json:"kinds,omitempty"`   // the table's word for a kind, in lower case -> variety
	Unit    string            `json:"unit,omitempty"`    // of bare weights: g, kg, lb, oz; of temperatures: C, F
	Dates   string            `json:"dates,omitempty"`   // a logger's: ymd, dmy, mdy, unix
	Zone    string            `json:"zone,omitempty"`    // IANA, of a logger's times
	Sensor  string            `json:"sensor,omitempty"`  // of several, the one meant
	Written time.Time         `json:"written"`
	By      string            `json:"by,omitempty"`
}

// Check says what is wrong with what the mapping says. Who wrote it and when comes later.
func (m Mapping) Check() error {
	if err := cave.CheckName("mapping", m.Name); err != nil {
		return err
	}
	if !slices.Contains(mappingSorts, m.Of) {
		return reason.Err(reason.Unknown{What: "sort", Word: lines.Short(m.Of), Known: strings.Join(mappingSorts, ", ")})
	}
	words := []string{m.Unit, m.Dates, m.Zone, m.Sensor}
	for _, list := range []map[string]string{m.Columns, m.Kinds} {
		for k, v := range list {
			words = append(words, k, v)
		}
	}
	for _, w := range words {
		if err := wheel.CheckNote(w); err != nil {
			return err
		}
	}
	return nil
}

// Key is the key of its record.
func (m Mapping) Key() []byte { return layout.Fold(m.Name) }

// PutMapping adds a mapping, or puts it in the place of the one of that name, in any case.
// written is false where the book has it so already.
func (t *Writer) PutMapping(m Mapping) (written bool, err error) {
	m.Written = pack.Milli(m.Written)
	if err := cmp.Or(m.Check(), checkWritten(m.ID, m.Written, m.By)); err != nil {
		return false, refusal.Refused{Cause: err}
	}
	old, ok, err := table.Record[Mapping](t.tab, layout.Mappings, m.Key(), "mapping")
	if err != nil {
		return false, err
	}
	if ok {
		m.ID = old.ID
		same := m
		same.Written, same.By = old.Written, old.By
		if reflect.DeepEqual(same, old) {
			return false, nil
		}
	}
	return table.PutRecord(t.tab, layout.Mappings, m.Key(), m)
}

// Mapping gives a mapping by name, in any case. The error may be a NotFound with names that
// may have been meant.
func (t *Reader) Mapping(name string) (Mapping, error) {
	m, ok, err := table.Record[Mapping](t.tab, layout.Mappings, layout.Fold(name), "mapping")
	if ok || err != nil {
		return m, err
	}
	all, err := t.Mappings()
	names := make([]string, len(all))
	for i, x := range all {
		names[i] = x.Name
	}
	if err != nil {
		return m, err
	}
	return m, refusal.NotFound{Thing: "mapping", Name: name, Near: refusal.Nearest(name, names)}
}

// Mappings lists the mappings by name.
func (t *Reader) Mappings() ([]Mapping, error) {
	return table.List[Mapping](t.tab, layout.Mappings, "mapping")
}
