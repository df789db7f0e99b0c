package register

import (
	"encoding/binary"
	"slices"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/sites"
	"rindkeep/store/table"
	"rindkeep/wheel"
)

// AirSource is where readings of one room come from that were entered on one day: who
// entered them, one by one or as a table. It is never changed.
type AirSource struct {
	Number  uint64    `json:"number"` // from 1
	Room    string    `json:"room"`
	Table   bool      `json:"table,omitempty"`
	Over    bool      `json:"over,omitempty"` // each took the place of a reading
	File    string    `json:"file,omitempty"` // of the table
	Written time.Time `json:"written"`        // the first of them
	By      string    `json:"by,omitempty"`
}

// Check says what is wrong with it.
func (a AirSource) Check() error {
	switch {
	case a.Number == 0:
		return reason.Err(reason.Missing{What: "number"})
	case a.Written.Before(pack.Epoch):
		return reason.Err(refusal.Before1970)
	}
	if err := checkName("person", a.By); err != nil {
		return err
	}
	return wheel.CheckNote(a.File)
}

// Key is the key of its record.
func (a AirSource) Key() []byte { return binary.BigEndian.AppendUint64(nil, a.Number) }

// AirSource is the number of a source, a new one where none like it was written today.
func (t *Writer) AirSource(a AirSource) (uint64, error) {
	a.Number, a.Written = 1, pack.Milli(a.Written)
	today := day.At(a.Written, t.tab.Zone())
	for _, k := range slices.Backward(t.tab.Keys(layout.AirSources)) {
		o, _, err := table.Record[AirSource](t.tab, layout.AirSources, []byte(k), "airsource")
		if err != nil {
			return 0, err
		}
		if o.Number > sites.OwnSources {
			continue // another site's
		}
		a.Number = max(a.Number, o.Number+1)
		if day.At(o.Written, t.tab.Zone()) != today {
			break
		}
		if o.Room == a.Room && o.Table == a.Table && o.Over == a.Over && o.File == a.File && o.By == a.By {
			return o.Number, nil
		}
	}
	if err := a.Check(); err != nil {
		return 0, refusal.Refused{Cause: err}
	}
	_, err := table.PutRecord(t.tab, layout.AirSources, a.Key(), a)
	return a.Number, err
}

// SourceOf is where a reading comes from; the zero one where the book doesn't say.
func (t *Reader) SourceOf(r cave.Reading) (AirSource, error) {
	a, ok, err := table.Record[AirSource](t.tab, layout.AirSources, AirSource{Number: r.Source}.Key(), "airsource")
	if err == nil && !ok && r.Source > 0 { // it may be there under a key that a disk changed
		_, err = t.AirSources()
	}
	return a, err
}

// AirSources lists where readings come from, in the order they were entered.
func (t *Reader) AirSources() ([]AirSource, error) {
	return table.List[AirSource](t.tab, layout.AirSources, "airsource")
}
