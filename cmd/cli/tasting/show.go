package tasting

import (
	"fmt"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app/tasting"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/plot"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

func showCmd(c *console.Console) *cobra.Command {
	return c.CompletesWhat(c.Cmd("show "+console.What, "Scores by age, and how often each fault was found", `
rindkeep taste show 261120A               a lot, including wheels sent long ago
rindkeep taste show 261120A-03 --json
rindkeep taste show 261120A 261027B       two lots, by age`, console.AtLeast("WHAT"),
		func(_ *cobra.Command, args []string) error {
			return console.Answer(c, tasting.Show, args, shown)
		}))
}

// shown prints the scores by age, their course as a picture where there are two ages
// or more, and the faults.
func shown(c *console.Console, d tasting.Shown) {
	bold := c.Style("1")
	for _, l := range text.Wrap(c.Words.TastedHead(d), c.Env.Columns()) {
		c.Print("%s\n", bold(l))
	}
	if len(d.Tastings) == 0 {
		c.Print("not tasted yet\n")
		c.Next("record one: rindkeep taste TAG --flavour 4 --texture 5 --fault WORD")
		return
	}
	c.Print("%s of %s by %s\n\n", text.Count(len(d.Tastings), "tasting"), text.Count(d.Tasted, "wheel"),
		text.Count(d.Tasters, "taster"))
	part := scores(c, d)
	if ls := plot.Scores(d.ByAge, min(c.Env.Columns(), 80)); ls != nil {
		c.Print("\n")
		c.Lines(ls)
	}
	if len(d.Faults) > 0 {
		c.Print("\n%s\n", bold("faults"))
		faults(c, d)
	}
	note := "\nmean scores: 5 meets your own specification, 1 is far from it"
	if part {
		note += "; in brackets, how many scored it where not everyone did"
	}
	c.Next("%s", note)
}

// scores prints the mean scores by age. part says that somewhere not everyone scored.
func scores(c *console.Console, d tasting.Shown) (part bool) {
	dated := d.Make != nil // one age is one date
	t := text.Table{Columns: []text.Column{{Title: "age", Right: true}}}
	if dated {
		t.Columns = append(t.Columns, text.Column{Title: "date"})
	}
	for _, h := range []string{"times", "wheels", "by"} {
		t.Columns = append(t.Columns, text.Column{Title: h, Right: true})
	}
	for _, at := range wheel.Attributes {
		t.Columns = append(t.Columns, text.Column{Title: string(at), Right: true})
	}
	for _, a := range d.ByAge {
		row := []string{fmt.Sprintf("%d d", a.Age)}
		if dated {
			row = append(row, a.Dates[0].String())
		}
		row = append(row, fmt.Sprint(a.Tastings), fmt.Sprint(a.Wheels), fmt.Sprint(a.Tasters))
		for _, at := range wheel.Attributes {
			m := a.Scores[at]
			mean := fmt.Sprintf("%.1f", m.Mean)
			switch {
			case m.N == 0:
				mean = "-"
			case m.N < a.Tastings:
				part = true
				mean += fmt.Sprintf(" (%d)", m.N)
			}
			row = append(row, mean)
		}
		t.Add(row...)
	}
	c.Table(t)
	return part
}

func faults(c *console.Console, d tasting.Shown) {
	t := text.Table{Indent: 2, Columns: []text.Column{{Wrap: true}, {}, {}, {}}}
	for _, f := range d.Faults {
		age := fmt.Sprintf("at %d days", f.Youngest)
		if f.Oldest > f.Youngest {
			age = fmt.Sprintf("at %d to %d days", f.Youngest, f.Oldest)
		}
		of := "your own word"
		if f.Of != nil {
			of = string(*f.Of)
		}
		t.Add(f.Fault, text.Count(f.Count, "time")+" on "+text.Count(f.Wheels, "wheel"), age, of)
	}
	c.Table(t)
}
