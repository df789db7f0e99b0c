package work

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app/work"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/plot"
	"rindkeep/cmd/text"
	"rindkeep/wheel/drying"
)

func curveCmd(c *console.Console) *cobra.Command {
	var q work.CurveQuestion
	var sf console.ShapeFlags
	var af airFlags
	calc := calculator{Console: c}
	cmd := c.Cmd("curve", "The drying curve physics expects of a wheel", `
rindkeep work curve --weight 2kg --diameter 15cm --height 10cm --moisture 38% --temp 12 --rh 80 --days 180
rindkeep work curve --weight 2kg --diameter 15cm --height 10cm --moisture 38% --rh 80,88    side by side
rindkeep work curve --weight 10kg --diameter 30cm --height 13cm --moisture 38% --air brisk --days 60`, console.NoArgs,
		func(*cobra.Command, []string) error {
			var err error
			if q.In.Shape, err = sf.Shape(); err != nil {
				return err
			}
			if !q.In.Shape.Known() {
				return console.Usagef("the wheel's measures are missing: " +
					"give --diameter and --height, or --length, --width and --height")
			}
			in := c.Figures()
			for rh := range strings.SplitSeq(af.rh, ",") {
				q.Airs = append(q.Airs, af.at(in, rh))
			}
			switch {
			case in.Err != nil:
				return in.Err
			case len(q.Airs) > 1:
				r, err := work.CurvesOf(q)
				return calc.print(&r, err, func() { printCurves(c, r) })
			}
			r, err := work.CurveOf(q)
			return calc.print(&r, err, func() { printCurve(c, r) })
		})
	f := cmd.Flags()
	console.Needed(f, &q.In.Weight, console.Weight, "weight", "green `WEIGHT`")
	console.Needed(f, &q.In.Moisture, console.Percent, "moisture", "`PERCENT` moisture at the start")
	console.Figure(f, &q.In.Salt, console.Percent, "salt", "", "`PERCENT` salt at the start")
	console.Figure(f, &q.In.Group, console.As(drying.ParseGroup), "group", "hard", "`GROUP` of varieties that dry alike")
	f.IntVar(&q.In.Days, "days", 90, "`N` days ahead")
	console.NumberVar(f, &q.In.Diffusivity, "diffusivity", 0, "water in the cheese, `M2/S`")
	console.NumberVar(f, &q.In.Transfer, "transfer", 0, "surface to air, `KG/(M2 S PA)`")
	f.BoolVar(&q.In.Linear, "linear", false, "a linear surface law, for checking against the series")
	sf.Add(cmd)
	af.add(cmd)
	calc.flag(cmd)
	return cmd
}

// curveDays are the days that a curve's table shows.
var curveDays = []int{1, 3, 7, 14, 30, 60, 90, 180, 365, 730}

func printCurve(c *console.Console, r work.Curve) {
	units := c.Units
	curve := plot.Series{Look: plot.Own, Name: "expected"}
	band := plot.Series{Look: plot.Expected, Name: "90 % of such wheels"}
	for _, p := range r.Points {
		curve.At = append(curve.At, plot.At(float64(p.Day), *p.Loss.Best))
		band.At = append(band.At, plot.Span{X: float64(p.Day), Low: *p.Loss.Low, High: *p.Loss.High})
	}
	panel := plot.Panel{Label: "loss, % of green weight", Series: []plot.Series{band, curve}}
	ch := plot.Chart{XLabel: "days", Panels: []plot.Panel{panel}}
	c.Lines(ch.Text(c.Env.Columns(), 14))
	c.Lines(ch.Legend(c.Env.Columns()))
	c.Print("\n")
	t := text.Table{Columns: []text.Column{
		{Title: "day", Right: true}, {Title: "loss", Right: true}, {Title: "90 % interval", Right: true},
		{Title: "weight", Right: true},
	}}
	for _, d := range curveDays {
		if d < len(r.Points) {
			l := r.Points[d].Loss
			interval := fmt.Sprintf("%.1f to %.1f", *l.Low, *l.High)
			t.Add(fmt.Sprint(d), fmt.Sprintf("%.2f %%", *l.Best), interval, units.Weight(r.Weights[d]))
		}
	}
	c.Table(t)
	c.Print("\n")
	c.Lines(text.Wrap(fmt.Sprintf("first day %.2f %% a day, then %.2f %% per root day; "+
		"balance moisture %.1f %% in this air",
		*r.First, *r.Root, *r.Balance), c.Env.Columns()))
}

func printCurves(c *console.Console, r work.Curves) {
	units := c.Units
	t := text.Table{Columns: []text.Column{{Title: "day", Right: true}}}
	for _, x := range r.Cases {
		at := fmt.Sprintf("loss at %.0f %%", *x.RH)
		t.Columns = append(t.Columns, text.Column{Title: at, Right: true}, text.Column{Title: "to sell", Right: true})
	}
	for _, d := range work.CompareDays {
		row := []string{fmt.Sprint(d)}
		for _, x := range r.Cases {
			row = append(row, fmt.Sprintf("%.2f %%", *x.Points[d].Loss.Best), units.Weight(x.Weights[d]))
		}
		t.Add(row...)
	}
	c.Table(t)
}
