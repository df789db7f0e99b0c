package drying

import (
	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/plot"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	model "rindkeep/wheel/drying"
)

// CurveCmd is curve.
func CurveCmd(c *console.Console) *cobra.Command {
	var pic console.Picture
	var asCSV bool
	var q drying.CurveQuestion
	cmd := c.Cmd("curve TAG|LOT", "Weights against the expected and the own curve", `
rindkeep curve 261120A-03
rindkeep curve 261120A                      the whole lot in one picture
rindkeep curve 261120A-03 --svg curve.svg
rindkeep curve 261120A-03 --csv > curve.csv`, console.Exactly("TAG"), func(_ *cobra.Command, args []string) error {
		switch {
		case asCSV && c.JSON:
			return console.Usagef("give --csv or --json, not both")
		case asCSV && pic.Path == "-":
			return console.Usagef("--csv and a picture both want standard output; name a file for the picture")
		case q.Days < 0 || q.Days > 3650:
			return console.Usagef("--days %d is out of range; give 1 to 3650", q.Days)
		}
		if err := pic.Check(c); err != nil {
			return err
		}
		q.What = args[0]
		cs, err := drying.Draw(c.Ctx, c.App, c.Caller(), q)
		if err != nil {
			return err
		}
		if n := len(cs.Wheels); cs.Left > 0 {
			c.Note("the first %d of %d wheels are drawn", n, n+cs.Left)
		}
		if asCSV {
			return c.WriteTable("-", cs.Table())
		}
		for i := range cs.Wheels {
			c.Words.FillCurve(&cs.Wheels[i])
		}
		if done, err := pic.Put(c, plot.Drying(cs.Wheels).SVG); err != nil || done {
			return err
		}
		switch {
		case c.JSON && len(cs.Wheels) == 1:
			return c.Document(cs.Wheels[0])
		case c.JSON:
			return c.Document(cs)
		}
		ShowCurves(c, cs)
		return nil
	})
	pic.Flags(cmd)
	f := cmd.Flags()
	f.BoolVar(&asCSV, "csv", false, "print the figures as CSV")
	f.IntVar(&q.Days, "days", 0, "`N` days to draw (default: as far as the next steps)")
	return c.CompletesArgs(cmd, func(s *app.Session, _ int, word string) []string {
		return console.WhatWords(s, word)[1:] // but for "all"
	})
}

// ShowCurves draws curves on the terminal, and says of one wheel what comes of it.
func ShowCurves(c *console.Console, cs drying.Curves) {
	d, p, columns := cs.Wheels[0], c.Words, c.Env.Columns()
	about := d.Of.Variety.Title
	if len(cs.Wheels) > 1 {
		about = text.Count(len(cs.Wheels), "wheel")
	}
	ch := plot.Drying(cs.Wheels)
	c.Print("%s  %s\n\n", c.Style("1")(ch.Title), about)
	c.Lines(ch.Text(columns, 16))
	c.Lines(ch.Legend(columns))
	c.Lines(text.Wrap(ch.Summary(), columns))
	if len(cs.Wheels) > 1 {
		return
	}
	c.Print("\n")
	if len(d.Points) == 0 {
		c.Print("no weights yet: the curve is what physics expects of its size, make and room\n")
		return
	}
	for _, a := range d.Ahead {
		c.Print("%-11s loss %s, %s of cheese\n", words.CurveWhen(d, a), words.PctBand(a.Loss), p.Weight(a.Weight))
	}
	if d.Of.Gated && len(d.Of.Life.Coats) == 0 {
		c.Lines(text.Wrap("dry enough to coat? "+p.AnswerLine(d.Of.Dry), columns))
	}
	if len(d.Of.Dry.Leak) > 0 {
		c.Lines(text.Wrap("LEAK: "+p.Why(d.Of.Dry.Leak), columns))
	}
	for _, x := range d.Points {
		if x.Standing == string(model.Unlikely) {
			c.Print("the weight of %s (%.1f %%) is unlikely: weigh again, or strike it\n", x.Date, x.Loss)
		}
	}
}
