package wheel

import (
	"bytes"
	"cmp"
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
)

// Correction is the Detail of a Corrected entry: fields of a make's record by their
// JSON names (those of its milk and its composition behind "milk." and "start."), as
// they were and as they should have been. null is no figure.
type Correction struct {
	Was map[string]json.RawMessage `json:"was"`
	Now map[string]json.RawMessage `json:"now"`

	// How many wheels there were and are; both 0 where their number is right.
	WheelsWas int `json:"wheels_was,omitempty"`
	WheelsNow int `json:"wheels_now,omitempty"`
}

// correctable are the fields of a make that a correction may set, and those that hold
// others. The lot code isn't among them: it's on labels.
var correctable = map[string]bool{
	"date": true, "variety": true, "milk": true, "curd_g": true, "set_aside_g": true, "set_aside_for": true,
	"salt_g": true, "salt_rate_fraction": true, "salt_where": true, "start": true, "began": true, "sold_as": true,
	"countries": true, "note": true, "shape": true, "made_before": true,
}

// nests says whether a field holds others.
func nests(field string) bool { return field == "milk" || field == "start" }

// null is no figure, in JSON.
var null = json.RawMessage("null")

// fieldsOf are the correctable fields of a make that aren't empty.
func fieldsOf(m Make) map[string]json.RawMessage {
	out := map[string]json.RawMessage{}
	for name, v := range objectOf(m) {
		switch {
		case !correctable[name]:
		case nests(name):
			for inner, v := range objectOf(v) {
				out[name+"."+inner] = v
			}
		default:
			out[name] = v
		}
	}
	return out
}

// objectOf takes a JSON object apart; what isn't one gives nothing.
func objectOf(v any) (out map[string]json.RawMessage) {
	b, err := json.Marshal(v)
	if err != nil || json.Unmarshal(b, &out) != nil {
		return nil
	}
	return out
}

// CorrectionOf is what makes a make of one record into that of another; ok is false
// where there is no difference.
func CorrectionOf(was, now Make) (c Correction, ok bool) {
	c = Correction{Was: map[string]json.RawMessage{}, Now: map[string]json.RawMessage{}}
	before, after := fieldsOf(was), fieldsOf(now)
	for _, all := range []map[string]json.RawMessage{before, after} {
		for name := range all {
			if !bytes.Equal(before[name], after[name]) {
				c.Was[name], c.Now[name] = orNull(before[name]), orNull(after[name])
			}
		}
	}
	return c, len(c.Now) > 0
}

func orNull(v json.RawMessage) json.RawMessage {
	if v == nil {
		return null
	}
	return v
}

// Detail is the correction as an entry's Detail holds it.
func (c Correction) Detail() string { return encodeDetail(c) }

// ParseCorrection reads what Detail wrote.
func ParseCorrection(detail string) (Correction, error) {
	var c Correction
	if err := decodeDetail(detail, &c, "correction"); err != nil {
		return c, err
	}
	_, err := c.Of(Make{})
	empty := len(c.Now) == 0 && c.WheelsWas == c.WheelsNow
	if err != nil || empty || len(c.Was) != len(c.Now) || min(c.WheelsWas, c.WheelsNow) < 0 {
		return c, reason.Err(reason.Unreadable{What: "correction", Word: detail})
	}
	for name := range c.Now {
		field, _, nested := strings.Cut(name, ".")
		if !correctable[field] || nested != nests(field) || c.Was[name] == nil {
			return c, reason.Err(reason.Unknown{What: "field", Word: name})
		}
	}
	return c, nil
}

// Of is a make with the correction.
func (c Correction) Of(m Make) (Make, error) { return with(m, c.Now) }

// Before is a make with what the correction replaced, all else as it is.
func (c Correction) Before(m Make) (Make, error) { return with(m, c.Was) }

func with(m Make, fields map[string]json.RawMessage) (Make, error) {
	all := objectOf(m)
	for _, name := range slices.Sorted(maps.Keys(fields)) {
		outer, inner, nested := strings.Cut(name, ".")
		if !nested {
			set(all, name, fields[name])
			continue
		}
		within := objectOf(all[outer])
		set(within, inner, fields[name])
		all[outer], _ = json.Marshal(within)
	}
	b, err := json.Marshal(all)
	if err != nil {
		return m, err
	}
	out := Make{Removed: m.Removed}
	return out, decodeDetail(string(b), &out, "correction")
}

// set sets a field of an object; null takes it out.
func set(object map[string]json.RawMessage, name string, v json.RawMessage) {
	if bytes.Equal(v, null) {
		delete(object, name)
	} else if object != nil {
		object[name] = v
	}
}

// Corrections are the entries of a make that correct or remove it and weren't
// cancelled, in the order in which they were written.
func Corrections(es []Entry) []Entry {
	var out []Entry
	for _, e := range es {
		if e.Kind == Corrected || e.Kind == Voided {
			out = append(out, e)
		}
	}
	if len(out) == 0 {
		return nil
	}
	out = slices.DeleteFunc(slices.Clone(Live(es)), func(e Entry) bool { return e.Kind != Corrected && e.Kind != Voided })
	slices.SortStableFunc(out, func(a, b Entry) int {
		return cmp.Or(a.Written.Compare(b.Written), slices.Compare(a.ID[:], b.ID[:]))
	})
	return out
}

// AsCorrected is a make's record with the corrections among its entries.
func (m Make) AsCorrected(es []Entry) Make {
	for _, e := range Corrections(es) {
		if e.Kind == Voided {
			m.Removed = true
			continue
		}
		if c, err := ParseCorrection(e.Detail); err == nil {
			// What another site says may leave it impossible.
			if next, err := c.Of(m); err == nil && (next.Check() == nil || m.Check() != nil) {
				m = next
			}
		}
	}
	return m
}

// Earliest is the earliest date that a make's record and its corrections, cancelled
// ones too, ever gave it.
func (m Make) Earliest(es []Entry) day.Date {
	first := m.Date
	for _, e := range es {
		if e.Kind != Corrected {
			continue
		}
		if c, err := ParseCorrection(e.Detail); err == nil {
			if next, err := c.Of(m); err == nil {
				first = min(first, next.Date)
			}
		}
	}
	return first
}

// OnDate is an instant of one day at the same time of another, in a time zone.
func OnDate(t time.Time, d day.Date, zone *time.Location) time.Time {
	local := t.In(zone)
	y, m, dd := d.Civil()
	return time.Date(y, m, dd, local.Hour(), local.Minute(), local.Second(), local.Nanosecond(), zone).UTC()
}
