package console

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/care"
	"rindkeep/cmd/app/tables"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/store/register"
)

// TableFlags say how a table is read.
type TableFlags struct {
	Map, Mapping, Sheet, Unit string

	Kinds []string
	Try   bool
}

// ByHeading is --map without a mapping.
const ByHeading = "by heading"

// Add adds the flags that every table has; with says what they go with, like "with --from: ".
func (f *TableFlags) Add(fl *pflag.FlagSet, with string) {
	fl.StringVar(&f.Mapping, "mapping", "",
		with+"`NAME` of a mapping in the book; what --map and answers add is kept in it")
	fl.StringVar(&f.Sheet, "sheet", "", with+"`NAME` of the workbook's sheet (default: its first)")
	fl.BoolVar(&f.Try, "dry-run", false, with+"show what would be recorded, and record nothing")
}

// MapFlag is how columns are named.
func (f *TableFlags) MapFlag(fl *pflag.FlagSet, with string) {
	fl.StringVar(&f.Map, "map", "", with+"its columns, `FIELD=HEADING,..`; a letter where it has no headings")
}

// UnitFlag is the unit of weights.
func (f *TableFlags) UnitFlag(fl *pflag.FlagSet, with string) {
	fl.StringVar(&f.Unit, "unit", "", with+"unit of weights that the table gives none: `g|kg|lb|oz`")
}

// Given is what the flags say of a table about something.
func (f *TableFlags) Given(of string) (m register.Mapping, err error) {
	m = register.Mapping{Name: strings.TrimSpace(f.Mapping), Of: of, Unit: strings.ToLower(f.Unit)}
	if f.Map != ByHeading {
		if m.Columns, err = intake.Mapping(f.Map, tables.Sorts[of].Fields); err != nil {
			return m, app.Misread("map", err)
		}
	}
	if !slices.Contains([]string{"", "g", "kg", "lb", "oz"}, m.Unit) {
		return m, At("--unit", Usagef("no unit %q; give g, kg, lb or oz", SafeWord(f.Unit)))
	}
	for _, k := range f.kinds() {
		word, kind, ok := strings.Cut(k, "=")
		if !ok {
			word, kind = "", k
		}
		if strings.TrimSpace(kind) == "" || ok && strings.TrimSpace(word) == "" {
			return m, At("--kinds", Usagef("can't read --kinds %q; give it like Bergkäse=tomme", SafeWord(k)))
		}
		add(&m.Kinds, strings.ToLower(strings.TrimSpace(word)), strings.TrimSpace(kind))
	}
	return m, nil
}

// kinds are what the flags say of words for kinds, one by one. A word may have commas: Cheddar, waxed=cheddar-waxed.
func (f *TableFlags) kinds() (out []string) {
	for _, v := range f.Kinds {
		word := ""
		for k := range strings.SplitSeq(v, ",") {
			if word += k; strings.Contains(k, "=") {
				out, word = append(out, word), ""
			} else {
				word += ","
			}
		}
		if word = strings.Trim(word, ", "); word != "" {
			out = append(out, word)
		}
	}
	return out
}

func add(to *map[string]string, k, v string) {
	if *to == nil {
		*to = map[string]string{}
	}
	(*to)[k] = v
}

// Table is a table on its way into the book.
type Table struct {
	File    string
	Flags   *TableFlags
	Confirm func(show func() error) error // shows what would be recorded and asks, where set

	// Take reads the table as a mapping says and records it; with try it records nothing. show
	// prints what came of it.
	Take func(m register.Mapping, try bool) (show func() error, err error)
}

// Tabled takes a table: as given says, and as the mapping that it names has it. At a terminal it asks what neither they
// nor the headings say. What was said is kept in the mapping before the table is taken.
func (c *Console) Tabled(given register.Mapping, t Table) error {
	m, err := tables.Find(c.Ctx, c.App, c.Caller(), given)
	if err != nil {
		return err
	}
	asks, asked := c.Env.InTTY && t.File != "-" && !c.JSON, false
	news := given.Name != "" && !tables.Empty(given)
	for {
		try := t.Flags.Try || t.Confirm != nil || news || asked
		show, err := t.Take(m, try)
		if err != nil && asks && c.answered(err, &m) {
			asked = true
			continue
		}
		var bad intake.Problems
		switch {
		case errors.As(err, &bad):
			return c.Problems(t.File, bad)
		case err != nil:
			return err
		case !try, t.Flags.Try:
			return show()
		}
		if t.Confirm != nil {
			if err := t.Confirm(show); err != nil {
				return err
			}
		}
		if err := c.keepMapping(m, asked, news); err != nil {
			return err
		}
		if show, err = t.Take(m, false); err != nil {
			if errors.As(err, &bad) {
				return c.Problems(t.File, bad)
			}
			return err
		}
		return show()
	}
}

// keepMapping keeps what was said and answered, under the name it was given or asked for.
func (c *Console) keepMapping(m register.Mapping, asked, news bool) error {
	if asked && m.Name == "" {
		m.Name, _ = c.Ask("keep these answers for the next table like it? Type a name, or Enter for no: ")
	}
	if m.Name == "" || !asked && !news {
		return nil
	}
	d, err := tables.Keep(c.Ctx, c.App, c.Caller(), m)
	if err == nil && d.Result.Changed {
		c.Note("mapping %s is kept: give --mapping %s with the next such table", m.Name, words.Shell(m.Name))
	}
	return err
}

// answered asks about the first thing that a table leaves open; false where there is none, or nobody knew.
func (c *Console) answered(err error, m *register.Mapping) bool {
	var all intake.Problems
	if !errors.As(err, &all) {
		if p, ok := app.AsRefusal(err).Why.(intake.Problem); ok {
			all = intake.Problems{p}
		} else if p := new(intake.Problem); errors.As(err, p) {
			all = intake.Problems{*p}
		}
	}
	for _, p := range all {
		why := p.Why
		if r, ok := why.(*app.Refusal); ok {
			why = r.Why
		}
		if asked, ok := c.ask(p, why, m); asked {
			return ok
		}
	}
	return false
}

// ask asks about one problem; asked is false where no answer would help.
func (c *Console) ask(p intake.Problem, why reason.Reason, m *register.Mapping) (asked, ok bool) {
	switch w := why.(type) {
	case intake.NoColumn:
		return c.askColumn(m, w.Field, w.Has, "")
	case intake.TwoColumns:
		return c.askColumn(m, w.Field, []string{w.First, w.Heading}, "")
	case intake.NoAirColumns:
		return c.askColumn(m, w.Missing[0], w.Has, "")
	case intake.NoAirHeading:
		if w.Proposal == "" {
			return false, false
		}
		if ok = c.Yes("the table has no headings. Are its columns these: " + w.Proposal + "?"); ok {
			m.Columns, _ = intake.Mapping(w.Proposal, intake.AirFields) // its own proposal can be read
		}
		return true, ok
	case intake.TwoSensors:
		m.Sensor, ok = c.Choose(Choice{
			Question: "the rows are of several sensors; which one is in this room?", From: []string{w.First, w.Second},
			Other: func(s string) (string, error) { return s, nil },
		})
		return true, ok
	case intake.Ambiguous:
		first, ok := c.Choose(Choice{Question: "which comes first in " + w.Word + "?", From: []string{"day", "month"}})
		m.Dates = map[string]string{"day": "dmy", "month": "mdy"}[first]
		return true, ok
	case intake.NeedsUnit:
		m.Unit, ok = c.Choose(Choice{
			Question: "the table gives its weights no unit. What is " + w.Word + " in?",
			From:     []string{"kg", "g", "lb", "oz"},
		})
		return true, ok
	case tables.NoKind:
		def := 0
		if w.Near != "" {
			def = 1
		}
		kind, ok := c.Choose(Choice{
			Question: "the table has " + text.Word(w.Word, 40) + " as a kind of cheese; which is that?",
			From:     w.Nearest, Default: def, Other: c.kind,
		})
		if ok {
			add(&m.Kinds, strings.ToLower(w.Word), kind)
		}
		return true, ok
	case care.NewNeeds:
		if p.Column > 0 {
			return false, false
		}
		return c.askColumn(m, string(w.What), w.Unused, string(w.What))
	}
	return false, false
}

// kind is the variety that a person means.
func (c *Console) kind(word string) (string, error) {
	name, err := tables.KindOf(c.Ctx, c.App, c.Caller(), word)
	if err != nil {
		if no, ok := app.AsRefusal(err).Why.(tables.NoKind); ok {
			err = fmt.Errorf("no kind of cheese is called %q; the nearest: %s", SafeWord(word), strings.Join(no.Nearest, ", "))
		}
	}
	return name, err
}

// askColumn asks which column gives a field. Where no column says the kind of cheese, one kind may stand for all.
func (c *Console) askColumn(m *register.Mapping, field string, from []string, missing string) (asked, ok bool) {
	taken := slices.Collect(maps.Values(m.Columns))
	from = slices.DeleteFunc(slices.Clone(from), func(h string) bool {
		return slices.ContainsFunc(taken, func(t string) bool { return strings.EqualFold(t, h) })
	})
	if len(from) > 0 {
		h, ok := c.Choose(Choice{
			Question: "which column has " + words.TableField(field) + "?", From: from, None: ", or Enter if none has",
		})
		if ok {
			add(&m.Columns, field, h)
			return true, true
		}
	}
	if missing != "variety" {
		return len(from) > 0, false
	}
	w, _ := c.Ask("no column has the kind of cheese. Which kind are they all? ")
	if w == "" {
		return true, false
	}
	kind, err := c.kind(w)
	if err != nil {
		c.Warn("%s", c.WithHint(err))
		return true, false
	}
	add(&m.Kinds, "", kind)
	return true, true
}
