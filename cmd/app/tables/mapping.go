// Package tables keeps how the tables that people bring are read, so that what their headings don't say has to be said
// only once.
package tables

import (
	"cmp"
	"context"
	"maps"
	"slices"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/intake"
	"rindkeep/store/register"
)

// Sorts are the sorts of table, by what it's about.
var Sorts = map[string]intake.Sort{
	register.OfWheels: intake.OfWheels, register.OfWeights: intake.OfWeights, register.OfAir: intake.OfAir,
	register.OfResults: intake.OfResults,
}

// OtherSort refuses a mapping for another sort of table.
type OtherSort struct {
	Name string `json:"mapping"`
	Of   string `json:"of"`   // what it's for
	Want string `json:"want"` // what the table is about
}

// NothingMapped refuses to keep a mapping that says nothing.
const NothingMapped reason.Flat = "mapping-says-nothing"

// Code implements reason.Reason.
func (OtherSort) Code() string { return "mapping-of-other-tables" }

// Mapping is how tables of one origin are read.
type Mapping struct {
	Name    string   `json:"name"`
	Of      string   `json:"of"` // wheels, weights, air or results
	Columns []Column `json:"columns"`
	Kinds   []Kind   `json:"kinds"`
	Unit    *string  `json:"unit"`
	Dates   *string  `json:"dates"`
	Zone    *string  `json:"zone"`
	Sensor  *string  `json:"sensor"`
	Written string   `json:"written"`
	By      string   `json:"by"`
}

// Column is the column of a field, by its heading or its letter.
type Column struct {
	Field   string `json:"field"`
	Heading string `json:"heading"`
}

// Kind is what a table calls a kind of cheese; Word is "" for rows that don't say.
type Kind struct {
	Word    string `json:"word"`
	Variety string `json:"variety"`
}

// List is the mappings that the book keeps.
type List struct {
	Schema   string    `json:"schema"`
	Mappings []Mapping `json:"mappings"`
}

// Mappings lists the mappings by name.
func Mappings(ctx context.Context, a *app.App, c app.Caller) (List, error) {
	return app.Ask(ctx, a, c, func(s *app.Session) (List, error) {
		all, err := s.Tx.Mappings()
		d := List{Schema: app.Schema("book-mappings"), Mappings: []Mapping{}}
		for _, m := range all {
			d.Mappings = append(d.Mappings, shown(s, m))
		}
		return d, err
	})
}

func shown(s *app.Session, m register.Mapping) Mapping {
	d := Mapping{
		Name: m.Name, Of: m.Of, Columns: []Column{}, Kinds: []Kind{}, Unit: app.OrNull(m.Unit), Dates: app.OrNull(m.Dates),
		Zone: app.OrNull(m.Zone), Sensor: app.OrNull(m.Sensor), Written: app.Instant(m.Written, s.Zone), By: m.By,
	}
	for _, f := range Sorts[m.Of].Fields {
		if h := m.Columns[f]; h != "" {
			d.Columns = append(d.Columns, Column{f, h})
		}
	}
	for _, w := range slices.Sorted(maps.Keys(m.Kinds)) {
		d.Kinds = append(d.Kinds, Kind{w, m.Kinds[w]})
	}
	return d
}

// Find gives a mapping as the book keeps it, with what is given in place of what it says. given names it and what the
// table is about; a name that the book doesn't have is refused if given says nothing itself.
func Find(ctx context.Context, a *app.App, c app.Caller, given register.Mapping) (register.Mapping, error) {
	if given.Name == "" {
		return given, nil
	}
	return app.Ask(ctx, a, c, func(s *app.Session) (register.Mapping, error) {
		m, err := s.Tx.Mapping(given.Name)
		switch {
		case app.IsNotFound(err) && !Empty(given):
			return given, nil
		case err != nil:
			return m, app.AsRefusal(err).In("mapping")
		case m.Of != given.Of:
			return m, app.Refuse(OtherSort{m.Name, m.Of, given.Of}).In("mapping")
		}
		return over(m, given), nil
	})
}

// over puts what is given in the place of what a mapping says. A column that is given to
// another field is taken from the first.
func over(m, given register.Mapping) register.Mapping {
	columns := map[string]string{}
	for f, h := range m.Columns {
		taken := slices.ContainsFunc(slices.Collect(maps.Values(given.Columns)), func(g string) bool {
			return strings.EqualFold(g, h)
		})
		if !taken {
			columns[f] = h
		}
	}
	maps.Copy(columns, given.Columns)
	kinds := map[string]string{}
	maps.Copy(kinds, m.Kinds)
	maps.Copy(kinds, given.Kinds)
	m.Columns, m.Kinds = columns, kinds
	m.Unit, m.Dates = cmp.Or(given.Unit, m.Unit), cmp.Or(given.Dates, m.Dates)
	m.Zone, m.Sensor = cmp.Or(given.Zone, m.Zone), cmp.Or(given.Sensor, m.Sensor)
	return m
}

// Empty says whether a mapping says nothing.
func Empty(m register.Mapping) bool {
	return len(m.Columns)+len(m.Kinds) == 0 && m.Unit+m.Dates+m.Zone+m.Sensor == ""
}

// Kept is a mapping as it was kept.
type Kept struct {
	Schema  string `json:"schema"`
	Changed bool   `json:"changed"`
	Mapping
}

// Keep keeps a mapping under its name, in the place of the one that had it.
func Keep(ctx context.Context, a *app.App, c app.Caller, m register.Mapping) (app.Did[Kept], error) {
	return app.Act(ctx, a, c, func(s *app.Session) (Kept, error) {
		if Empty(m) {
			return Kept{}, app.Refuse(NothingMapped).In("mapping")
		}
		if len(m.Columns) == 0 { // as it's read back
			m.Columns = nil
		}
		if len(m.Kinds) == 0 {
			m.Kinds = nil
		}
		m.ID, m.Written, m.By = s.NextID(), s.Time, s.Who
		changed, err := s.Write.PutMapping(m)
		return Kept{app.Schema("book-mapping"), changed, shown(s, m)}, err
	})
}
