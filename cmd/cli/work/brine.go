package work

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app/work"
	"rindkeep/cmd/cli/console"
	"rindkeep/wheel"
)

func brineCmd(c *console.Console) *cobra.Command {
	var q work.BrineQuestion
	var soak work.SoakQuestion
	calc := calculator{Console: c}
	cmd := c.Cmd("brine", "Strength of a brine, salt to bring it back, time in it", `
rindkeep work brine --salt 20%                       g per 100 g of brine
rindkeep work brine --salt-per-water 25%             g per 100 g of water
rindkeep work brine --baume 19                       by the hydrometer
rindkeep work brine --salt 20% --volume 80l          to make a new one
rindkeep work brine --volume 80l --now 17% --to 20%  to bring one back
rindkeep work brine --salt 20% --weight 2kg --thickness 8cm
rindkeep work brine --salt 20% --weight 2kg --thickness 8cm --cheese-salt 1.8% --moisture 42%`, console.NoArgs,
		func(cmd *cobra.Command, _ []string) error {
			given := func(flag string) bool { return console.Given(cmd, flag) }
			if err := strengthOnce(given); err != nil {
				return err
			}
			switch {
			case given("now") && !given("volume"):
				return console.Usagef("--volume is missing: how much brine there is, like 80l")
			case given("weight") || given("thickness"):
				q.Soak = &soak
				err := cmp.Or(pair(given, "weight", "thickness"), pair(given, "cheese-salt", "moisture"))
				if err != nil {
					return err
				}
			case given("cheese-salt") || given("moisture"):
				return console.Usagef("--cheese-salt and --moisture are for the time in the brine; " +
					"give --weight and --thickness too")
			}
			r, err := work.BrineOf(q)
			return calc.print(&r, err, func() { printBrine(c, q, r) })
		})
	fl := cmd.Flags()
	strength := func(name, usage string, of func(in *console.Figures, flag, word string) quantity.Fraction) {
		console.Figure(fl, &q.Strength, of, name, "", usage)
	}
	strength("salt", "strength: `PERCENT`, g of salt per 100 g of brine", console.Percent)
	strength("salt-per-water", "the same as `PERCENT`, g of salt per 100 g of water",
		func(in *console.Figures, flag, word string) quantity.Fraction {
			return wheel.OfPerWater(in.Percent(flag, word))
		})
	degrees := console.As(quantity.ParseDegrees)
	strength("baume", "the same in `DEGREES` Baume at 60 °F",
		func(in *console.Figures, flag, word string) quantity.Fraction {
			return wheel.OfBaume(degrees(in, flag, word))
		})
	strength("salometer", "the same in `DEGREES` of the salometer at 60 °F",
		func(in *console.Figures, flag, word string) quantity.Fraction {
			return wheel.OfSalometer(degrees(in, flag, word))
		})
	console.Figure(fl, &q.Volume, console.Volume, "volume", "", "`VOLUME` of brine, to make or to bring back")
	console.Maybe(fl, &q.Now, console.Percent, "now", "strength it has now, `PERCENT` of the brine")
	strength("to", "strength to bring it to, `PERCENT` of the brine", console.Percent)
	console.Figure(fl, &soak.Weight, console.Weight, "weight", "", "a wheel's `WEIGHT`, for its time in the brine")
	console.Figure(fl, &soak.Thick, console.Length, "thickness", "", "the wheel's `LENGTH` through")
	console.Maybe(fl, &soak.Salt, console.Percent, "cheese-salt",
		"`PERCENT` salt wanted in the cheese, for an estimate by diffusion")
	console.Maybe(fl, &soak.Moisture, console.Percent, "moisture", "`PERCENT` moisture of the cheese, for the same")
	calc.flag(cmd)
	return cmd
}

// strengthOnce refuses a strength that is missing or given twice.
func strengthOnce(given func(flag string) bool) error {
	ways := []string{"salt", "salt-per-water", "baume", "salometer", "to"}
	switch ways = slices.DeleteFunc(ways, func(f string) bool { return !given(f) }); {
	case len(ways) == 0 && given("now"):
		return console.Usagef("--to is missing: the strength to bring the brine to, like 20%%")
	case len(ways) == 0:
		return console.Usagef("--salt is missing: g of salt per 100 g of brine, like 20%%")
	case len(ways) > 1:
		return console.Usagef("--%s and --%s both give a strength; give one", ways[0], ways[1])
	case given("to") && !given("now"):
		return console.Usagef("--now is missing: the strength the brine has, like 17%%")
	case given("now") && !given("to"):
		return console.Usagef("--now goes with --to, not with --%s", ways[0])
	}
	return nil
}

func printBrine(c *console.Console, q work.BrineQuestion, r work.Brine) {
	units := c.Units
	bulk := func(g *float64) string { return c.Words.Bulk(quantity.Grams(*g)) }
	if m := r.Back; m != nil {
		what := "nothing"
		switch {
		case *m.Water > 0:
			what = bulk(m.Water) + " of water"
		case *m.Salt > 0:
			what = bulk(m.Salt) + " of salt"
		}
		c.Print("add %s to %s of brine (%s): from %.2f to %.2f %%\n",
			what, units.Volume(q.Volume), bulk(m.Brine), *m.Now, *m.To)
		c.Print("it will be %s then\n\n", units.Volume(quantity.Litres(*m.After)))
	}
	if m := r.New; m != nil {
		c.Print("%s of salt and %s of water make %s of brine\n\n", bulk(m.Salt), bulk(m.Water), units.Volume(q.Volume))
	}
	t := figures(0)
	t.Add("strength", fmt.Sprintf("%.2f %%", *r.Salt), "g of salt per 100 g of brine")
	t.Add("on the water", fmt.Sprintf("%.2f %%", *r.PerWater), "g of salt per 100 g of water")
	t.Add("density", fmt.Sprintf("%.4f g/ml", *r.Density), "at 20 °C")
	t.Add("Baume", fmt.Sprintf("%.1f deg", *r.Baume), fmt.Sprintf("at 60 °F (15.6 °C), specific gravity %.4f", *r.Gravity))
	t.Add("salometer", fmt.Sprintf("%.1f deg", *r.Salometer), "at 60 °F (15.6 °C), 100 is full")
	note := "ice begins to form"
	if r.SaltFirst {
		note = "all is frozen; salt drops out before"
	}
	t.Add("freezing", units.Temp(quantity.Celsius(*r.Freezing)), note)
	c.Table(t)
	if r.Time != nil {
		printSoak(c, *q.Soak, *r.Time)
	}
	c.Print("\n")
	c.Cautions(r.Cautions)
}

func printSoak(c *console.Console, q work.SoakQuestion, r work.Soak) {
	c.Print("\ntime in brine of a wheel of %s, %s through\n", c.Units.Weight(q.Weight), c.Units.Length(q.Thick))
	t := figures(2)
	t.Add("by rule", hours(*r.Rule), "an hour per pound and inch in a nearly full brine (common practice, no source)")
	if d := r.Diffusion; d != nil {
		t.Add("by diffusion", hours(*d.Middle), fmt.Sprintf("%s to %s: an estimate for %.2f %% salt "+
			"at %.1f %% moisture in this brine, over the published range of how fast salt moves",
			hours(*d.Shortest), hours(*d.Longest), *d.Salt, *d.Moisture))
	}
	c.Table(t)
	if r.Diffusion == nil {
		c.Next("for an estimate by diffusion too, add --cheese-salt 1.8%% --moisture 42%%")
	}
	c.Next("start short, weigh, taste and note the result; the salt takes weeks from the rind to the middle")
}

// hours writes a time in a brine with as many figures as it is worth.
func hours(h float64) string {
	if h < 10 {
		return fmt.Sprintf("%.1f h", h)
	}
	return fmt.Sprintf("%.0f h", h)
}
