package work

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app/work"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
)

func pressCmd(c *console.Console) *cobra.Command {
	var q work.PressQuestion
	calc := calculator{Console: c}
	cmd := c.Cmd("press", "Pressure on a cheese from load and lever, or the load for a pressure", `
rindkeep work press --load 10kg --lever 4 --diameter 15cm
rindkeep work press --load 20kg --length 20cm --width 10cm
rindkeep work press --pressure 25kPa --lever 4 --diameter 15cm     the load for it
rindkeep work press --pressure 0.25kg/cm2 --diameter 15cm          or 3.5psi`, console.NoArgs,
		func(cmd *cobra.Command, _ []string) error {
			given := func(flag string) bool { return console.Given(cmd, flag) }
			switch {
			case !given("load") && !given("pressure"):
				return console.Usagef("--load is missing: the weight on the press, like 10kg " +
					"(or --pressure, for the load it needs)")
			case given("load") && given("pressure"):
				return console.Usagef("--load and --pressure follow from each other; give one")
			}
			switch sides := given("length") || given("width"); {
			case given("diameter") && sides:
				return console.Usagef("--diameter is of a round mould, --length and --width of one with sides; " +
					"give the one or the others")
			case !sides && !given("diameter"):
				return console.Usagef("the mould's measures are missing: give --diameter, or --length and --width")
			}
			if err := pair(given, "length", "width"); err != nil {
				return err
			}
			r, err := work.PressOf(q)
			return calc.print(&r, err, func() { printPress(c, q, r) })
		})
	f := cmd.Flags()
	console.Figure(f, &q.Load, console.Bulk, "load", "", "`WEIGHT` on the press")
	console.Figure(f, &q.Pressure, console.Pressure, "pressure", "",
		"`PRESSURE` wanted at the cheese: 25kPa, 0.25kg/cm2, 3.5psi")
	console.Figure(f, &q.Lever, console.As(quantity.ParseRatio), "lever", "1",
		"how many `TIMES` the lever multiplies the load: 4 or 4:1")
	console.Figure(f, &q.Diameter, console.Length, "diameter", "", "`LENGTH` across a round mould")
	console.Figure(f, &q.Length, console.Length, "length", "", "`LENGTH` of a mould with sides")
	console.Figure(f, &q.Width, console.Length, "width", "", "`LENGTH` of its other side")
	calc.flag(cmd)
	return cmd
}

func printPress(c *console.Console, q work.PressQuestion, r work.Press) {
	if q.Load == 0 {
		c.Print("load %s", c.Words.Bulk(quantity.Grams(*r.Load)))
		if q.Lever != 1 {
			c.Print(" on a lever of %.4g to 1", q.Lever)
		}
		c.Print("\n\n")
	}
	t := figures(0)
	t.Add("pressure", fmt.Sprintf("%.2f kPa", *r.KPa), "at the cheese")
	t.Add("", fmt.Sprintf("%.3f kg/cm2", *r.KgPerCm2), "")
	t.Add("", fmt.Sprintf("%.2f psi", *r.Psi), "")
	t.Add("force", fmt.Sprintf("%.1f N", *r.Force), fmt.Sprintf("on %.1f cm2", *r.Face))
	c.Table(t)
	c.Cautions(r.Cautions)
	c.Next("\nthe follower's and the beam's own weight press too: add them to the load. " +
		"Press lightly first and raise it in steps; usual at the end 5 to 40 kPa for washed-curd kinds, " +
		"40 to 200 kPa for cheddar kinds (common practice, no source)")
}

func yieldCmd(c *console.Console) *cobra.Command {
	var q work.YieldQuestion
	var milk string
	calc := calculator{Console: c}
	cmd := c.Cmd("yield", "Cheddar a milk should give, by fat and casein", `
rindkeep work yield --fat 3.6% --casein 2.5% --moisture 37%
rindkeep work yield --fat 3.6% --casein 2.5% --moisture 37% --milk 100l --got 10.2kg
rindkeep work yield --fat 3.9% --protein 3.4% --moisture 38% --milk 1200kg --explain`, console.NoArgs,
		func(cmd *cobra.Command, _ []string) error {
			in, given := c.Figures(), func(flag string) bool { return console.Given(cmd, flag) }
			switch {
			case given("casein") && given("protein"):
				return console.Usagef("--casein and --protein both give the casein; give one")
			case !given("casein") && !given("protein"):
				return console.Usagef("--casein is missing: percent of the milk, like 2.5%% (or --protein)")
			case !given("moisture"):
				return console.Usagef("--moisture is missing")
			case milk == "" && given("got"):
				return console.Usagef("--milk is missing: how much the cheese came from, like 100l or 103kg")
			case isWeight(milk):
				q.Milk = in.Bulk("--milk", milk)
			case milk != "":
				q.Volume = in.Volume("--milk", milk)
			}
			if in.Err != nil {
				return in.Err
			}
			r, err := work.YieldOf(q)
			return calc.print(&r, err, func() { printYield(c, r) })
		})
	fl := cmd.Flags()
	console.Needed(fl, &q.Fat, console.Percent, "fat", "`PERCENT` fat of the milk")
	console.Figure(fl, &q.Casein, console.Percent, "casein", "", "`PERCENT` casein of the milk")
	console.Figure(fl, &q.Protein, console.Percent, "protein", "",
		"`PERCENT` protein of the milk, where casein isn't known")
	console.Figure(fl, &q.Moisture, console.Percent, "moisture", "", "`PERCENT` moisture the cheese will have")
	fl.StringVar(&milk, "milk", "", "`VOLUME` or weight of milk: 100l, 103kg")
	console.Figure(fl, &q.Got, console.Bulk, "got", "", "`WEIGHT` of cheese that came of it, to compare")
	calc.flag(cmd)
	return cmd
}

// isWeight says whether milk is given by weight; else it is a volume.
func isWeight(milk string) bool {
	w := strings.ToLower(strings.TrimSpace(milk))
	for _, u := range []string{"kg", "g", "lb", "lbs", "oz", "t"} {
		if strings.HasSuffix(w, u) {
			return true
		}
	}
	return false
}

func printYield(c *console.Console, r work.Yield) {
	unit := "kg"
	if c.Units == quantity.Imperial {
		unit = "lb"
	}
	c.Lines(text.Wrap(fmt.Sprintf("%.2f %s of cheddar of %.1f %% moisture from 100 %s of milk "+
		"with %.2f %% fat and %.2f %% casein", *r.Yield, unit, *r.Moisture, unit, *r.Fat, *r.Casein), c.Env.Columns()))
	t := figures(0)
	if r.Milk != nil {
		t.Add("milk", c.Words.Bulk(r.MilkMass), "")
		t.Add("expected", c.Words.Bulk(r.Expected), "of cheese, out of the press and salted")
	}
	if r.Got != nil {
		share := fmt.Sprintf("%.2f %% of the milk, %.1f %% of what was expected", *r.GotYield, *r.GotOf)
		t.Add("got", c.Words.Bulk(r.GotMass), share)
	}
	c.Table(t)
	c.Next("the formula is for cheddar from cow's milk; for other kinds compare your own makes with each other")
}
