package work

import (
	"cmp"
	"fmt"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app/work"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/text"
	"rindkeep/wheel/drying"
)

func fitCmd(c *console.Console) *cobra.Command {
	var q work.FitQuestion
	var from, prior string
	var sf console.ShapeFlags
	var af airFlags
	calc := calculator{Console: c}
	cmd := c.Cmd("fit", "Fit a drying curve to weights in a file", `
rindkeep work fit --from weights.csv
rindkeep work fit --from weights.csv --prior none       plain least squares
rindkeep work fit --from - < weights.csv`, console.NoArgs, func(*cobra.Command, []string) error {
		if from == "" {
			return console.Usagef("--from is missing: a CSV with the columns day,weight_g, or - for standard input")
		}
		if q.Prior = prior == "physics"; !q.Prior && prior != "none" {
			return console.At("--prior", console.Usagef("no prior %q; give physics or none", console.SafeWord(prior)))
		}
		file, err := c.OpenFile(from)
		if err != nil {
			return err
		}
		defer file.Close()
		var bad []intake.Problem
		if q.Days, q.Weights, bad, err = intake.Curve(file); err != nil {
			return console.At(from, err)
		}
		if len(bad) > 0 {
			return c.Problems(from, bad)
		}
		if q.Prior {
			in := c.Figures()
			q.Air = af.at(in, af.rh)
			if q.Cheese.Shape, err = sf.Shape(); err != nil || in.Err != nil {
				return cmp.Or(err, in.Err)
			}
		}
		r, err := work.FitOf(q)
		if err != nil {
			return console.At(from, err)
		}
		r.Why = c.Words.Why(r.Reasons)
		return calc.print(&r, nil, func() { printFit(c, r) })
	})
	f := cmd.Flags()
	f.StringVar(&from, "from", "", "CSV `FILE` with columns day,weight_g; - for standard input")
	f.StringVar(&prior, "prior", "physics", "what is known beforehand: `physics|none`")
	console.Figure(f, &q.Cheese.Moisture, console.Percent, "moisture", "",
		"`PERCENT` moisture at the start, for the physics")
	console.Figure(f, &q.Cheese.Group, console.As(drying.ParseGroup), "group", "hard",
		"`GROUP` of varieties that dry alike, for the physics")
	sf.Add(cmd)
	af.add(cmd)
	calc.flag(cmd)
	return cmd
}

func printFit(c *console.Console, r work.Fit) {
	t := text.Table{Columns: []text.Column{{}, {Right: true}, {}}}
	add := func(name string, v, se *float64, unit string) {
		switch {
		case v == nil:
			t.Add(name, "the weights don't say", "")
		case se == nil:
			t.Add(name, fmt.Sprintf("%.4g %s", *v, unit), "± unknown")
		default:
			t.Add(name, fmt.Sprintf("%.4f %s", *v, unit), fmt.Sprintf("± %.2g", *se))
		}
	}
	add("green weight", r.Green, r.SE.Green, "g")
	add("first-day rate", r.First, r.SE.First, "% a day")
	add("root-day rate", r.Root, r.SE.Root, "% per root day")
	if r.Residual != nil {
		t.Add("scatter of the weights", fmt.Sprintf("%.1f g", *r.Residual), "")
	}
	c.Table(t)
	c.Print("%s, %s", text.Count(r.Points, "weighing"), r.Status)
	if r.Why != "" {
		c.Print(": %s", r.Why)
	}
	c.Print("\n")
}
