package care

import (
	"bufio"
	"errors"
	"fmt"
	"runtime/debug"
	"strings"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/care"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/cmd/workbook"
)

// byHeading is --map without a mapping.
const byHeading = "by heading"

// wheelFlags are how a table of wheels is taken.
type wheelFlags struct {
	mapping, sheet string
	kinds          []string
	try, sure      bool
}

// importWheels takes a table of wheels and weights into the book. On a terminal it shows
// how the table is understood and asks, since strike can't cancel makes and wheels.
func importWheels(c *console.Console, name string, f wheelFlags) error {
	q, err := readWheels(c, name, f)
	if err != nil {
		return err
	}
	asks := c.Env.InTTY && c.Env.OutTTY && name != "-" && !c.JSON && !f.sure
	if q.Try = f.try || asks; q.Try {
		if err := takeWheels(c, name, q); err != nil || f.try {
			return err
		}
		if err := confirmed(c); err != nil {
			return err
		}
		q.Try = false
	}
	return takeWheels(c, name, q)
}

// readWheels reads the table.
func readWheels(c *console.Console, name string, f wheelFlags) (care.Wheels, error) {
	q := care.Wheels{Sure: f.sure}
	if f.mapping == byHeading {
		f.mapping = ""
	}
	named, err := intake.Mapping(f.mapping)
	if err != nil {
		return q, app.Misread("map", err)
	}
	q.Kinds = map[string]string{}
	for _, k := range f.kinds {
		word, kind, ok := strings.Cut(k, "=")
		if !ok || strings.TrimSpace(word) == "" {
			const how = "can't read --kinds %q; give it like Bergkäse=tomme"
			return q, console.At("--kinds", console.Usagef(how, console.SafeWord(k)))
		}
		q.Kinds[strings.ToLower(strings.TrimSpace(word))] = strings.TrimSpace(kind)
	}
	in, err := c.OpenTable(name, name, f.sheet)
	if err != nil {
		return q, err
	}
	defer in.Close()
	if q.Table, q.Bad, err = intake.Wheels(in, named); err != nil {
		return q, app.About(name, intake.In(name, err))
	}
	if len(q.Bad) > 0 && len(q.Table.Rows) == 0 {
		return q, c.Problems(name, q.Bad)
	}
	return q, nil
}

func confirmed(c *console.Console) error {
	const question = "write this into %s? strike can't cancel makes and wheels [no]: "
	fmt.Fprintf(c.Env.Err, question, console.SafePath(c.Book))
	line := bufio.NewScanner(c.Env.In)
	if line.Scan() && strings.HasPrefix(strings.ToLower(strings.TrimSpace(line.Text())), "y") {
		return nil
	}
	if err := c.Ctx.Err(); err != nil {
		return err
	}
	return errors.New("not confirmed; nothing was recorded")
}

func takeWheels(c *console.Console, name string, q care.Wheels) error {
	p := console.Pace{C: c, Of: "rows"}
	if len(q.Table.Rows) > app.AtOnce && !q.Try {
		p.Note = words.InParts
	}
	q.Tell = p.Tell
	defer debug.SetGCPercent(debug.SetGCPercent(150)) // much is made and little of it kept
	did, err := care.ImportWheels(c.Ctx, c.App, c.Caller(), q)
	p.End()
	var u care.Unfinished
	if errors.As(err, &u) {
		c.Committed = true
		c.Note("%s and %s were recorded before that; run the same command again to go on",
			text.Count(u.Taken.Wheels, "new wheel"), text.Count(u.Taken.Weights, "weight"))
	}
	var bad intake.Problems
	if errors.As(err, &bad) {
		return c.Problems(name, bad)
	}
	d := did.Result
	if err != nil || !q.Try {
		var done bool
		if d, done, err = console.Saved(c, did, err); done || err != nil {
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
	} else if d.Weights > 0 {
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
	c.Lines(t.Lines(c.Env.Columns()))
	c.Print("\nfirst rows, as understood; + is a new wheel\n")
	t = text.Table{Indent: 2, Columns: []text.Column{
		{Title: "wheel"}, {Title: "lot"}, {Title: "made"}, {Title: "variety"}, {Title: "place"},
		{Title: "green", Right: true}, {Title: "weight", Right: true}, {Title: "weighed", Wrap: true},
	}}
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
		t.Add(tag, r.Lot, r.Made, r.Variety, said(r.Place), weight(r.Green), weight(r.Weight), said(r.Weighed))
	}
	c.Lines(t.Lines(c.Env.Columns()))
	c.Print("\n")
}
