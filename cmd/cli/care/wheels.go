package care

import (
	"errors"
	"fmt"
	"runtime/debug"
	"slices"
	"strings"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/care"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/cmd/workbook"
	"rindkeep/store/register"
)

// importWheels takes a table of wheels and weights into the book. On a terminal it shows
// how the table is understood and asks, since strike can't cancel makes and wheels.
func importWheels(c *console.Console, name string, f *console.TableFlags, sure bool) error {
	given, err := f.Given(register.OfWheels)
	if err != nil {
		return err
	}
	t := console.Table{File: name, Flags: f, Take: func(m register.Mapping, try bool) (func() error, error) {
		q := care.Wheels{Sure: sure, Try: try, Kinds: m.Kinds}
		in, err := c.OpenTable(name, name, f.Sheet)
		if err != nil {
			return nil, err
		}
		defer in.Close()
		if q.Table, q.Bad, err = intake.Wheels(in, intake.How{Columns: m.Columns, Unit: m.Unit}); err != nil {
			return nil, app.About(name, intake.In(name, err))
		}
		if len(q.Bad) > 0 && len(q.Table.Rows) == 0 {
			return nil, intake.Problems(q.Bad)
		}
		p := console.Pace{C: c, Of: "rows"}
		if len(q.Table.Rows) > app.RowsAtOnce && !try {
			p.Note = words.InParts
		}
		q.Tell = p.Tell
		defer debug.SetGCPercent(debug.SetGCPercent(150)) // much is made and little of it kept
		d, err := care.ImportWheels(c.Ctx, c.App, c.Caller(), q)
		p.End()
		var u care.Unfinished
		if errors.As(err, &u) {
			c.Committed = true
			c.Note("%s and %s were recorded before that; run the same command again to go on",
				text.Count(u.Taken.Wheels, "new wheel"), text.Count(u.Taken.Weights, "weight"))
		}
		if err != nil {
			return nil, err
		}
		return func() error { return tookWheels(c, d, try) }, nil
	}}
	if c.Env.InTTY && c.Env.OutTTY && name != "-" && !c.JSON && !sure {
		t.Confirm = func(show func() error) error {
			if err := show(); err != nil {
				return err
			}
			return confirmed(c)
		}
	}
	return c.Tabled(given, t)
}

func confirmed(c *console.Console) error {
	const question = "write this into %s? strike can't cancel makes and wheels [no]: "
	answer, _ := c.Ask(fmt.Sprintf(question, console.SafePath(c.Book)))
	if strings.HasPrefix(strings.ToLower(answer), "y") {
		return nil
	}
	if err := c.Ctx.Err(); err != nil {
		return err
	}
	return errors.New("not confirmed; nothing was recorded")
}

// tookWheels shows what came of a table, or would come of it.
func tookWheels(c *console.Console, did app.Did[care.Taken], try bool) error {
	d := did.Result
	if !try {
		var done bool
		var err error
		if d, done, err = console.Saved(c, did, nil); done || err != nil {
			return err
		}
	}
	if c.JSON {
		return c.Document(d)
	}
	if d.Try || !(c.Env.InTTY && c.Env.OutTTY) {
		understood(c, d)
	}
	c.Lines(text.Wrap(c.Words.TakenWheels(d), c.Env.Columns()))
	if d.Try {
		c.Note("nothing was recorded")
		return nil
	}
	for _, l := range c.Words.TakenLacks(d) {
		c.Next("%s", l)
	}
	switch {
	case d.Received+d.TakenOver > 0:
		c.Next("what is due: rindkeep today")
		c.Next("wrong? rindkeep strike TAG: for an entry, rindkeep wheel void WHAT --why TEXT for wheels")
	case d.Weights > 0:
		c.Next("weights wrong? rindkeep strike last --why TEXT")
	}
	return nil
}

// understood shows how a table was understood.
func understood(c *console.Console, d care.Taken) {
	t := text.Table{Indent: 2, Columns: []text.Column{{}, {Wrap: true}}}
	for _, m := range d.Columns {
		column := fmt.Sprintf("column %s, %q", workbook.ColumnName(m.Column), text.Safe(m.Heading))
		if m.Unit != nil {
			column += ", in " + *m.Unit
		}
		t.Add(m.Field, column)
	}
	if len(d.Unused) > 0 {
		t.Add("not used", text.Safe(strings.Join(d.Unused, ", ")))
	}
	c.Print("columns\n")
	c.Table(t)
	c.Print("\nfirst rows, as understood; + is a new wheel\n")
	t = text.Table{Indent: 2, Columns: []text.Column{
		{Title: "wheel"}, {Title: "lot"}, {Title: "made"}, {Title: "variety"}, {Title: "place"},
		{Title: "green", Right: true}, {Title: "weight", Right: true}, {Title: "weighed", Wrap: true},
	}}
	bought := slices.ContainsFunc(d.Sample, func(r care.Sample) bool { return r.Supplier != nil || r.Coat != nil })
	if bought {
		t.Columns = append(t.Columns, text.Column{Title: "supplier", Wrap: true}, text.Column{Title: "coat"})
	}
	weight := func(g *float64) string {
		if g == nil {
			return ""
		}
		return c.Words.Weight(quantity.Grams(*g))
	}
	said := func(s *string) string {
		if s == nil {
			return ""
		}
		return text.Safe(*s)
	}
	for _, r := range d.Sample {
		tag := r.Tag
		if r.New {
			tag = "+" + tag
		}
		cells := []string{
			tag, r.Lot, r.Made, r.Variety, said(r.Place), weight(r.Green), weight(r.Weight), said(r.Weighed),
		}
		if bought {
			cells = append(cells, said(r.Supplier), said(r.Coat))
		}
		t.Add(cells...)
	}
	c.Table(t)
	c.Print("\n")
}
