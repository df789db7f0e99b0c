package work

import (
	"fmt"

	"github.com/spf13/cobra"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app/work"
	"rindkeep/cmd/cli/console"
	"rindkeep/wheel"
)

// brineFlags are a brine's strength, in one of five ways, and what is asked of it.
type brineFlags struct {
	salt, perWater, baume, salometer, now, to   string
	volume, weight, thick, cheeseSalt, moisture string
}

func brineCmd(c *console.Console) *cobra.Command {
	var f brineFlags
	calc := calculator{Console: c}
	cmd := c.Cmd("brine", "Strength of a brine, salt to bring it back, time in it", `
rindkeep work brine --salt 20%                       g per 100 g of brine
rindkeep work brine --salt-per-water 25%             g per 100 g of water
rindkeep work brine --baume 19                       by the hydrometer
rindkeep work brine --salt 20% --volume 80l          to make a new one
rindkeep work brine --volume 80l --now 17% --to 20%  to bring one back
rindkeep work brine --salt 20% --weight 2kg --thickness 8cm
rindkeep work brine --salt 20% --weight 2kg --thickness 8cm --cheese-salt 1.8% --moisture 42%`, console.NoArgs,
		func(*cobra.Command, []string) error {
			q, err := f.question(c.Figures())
			if err != nil {
				return err
			}
			r, err := work.BrineOf(q)
			return calc.print(&r, err, func() { printBrine(c, q, r) })
		})
	fl := cmd.Flags()
	fl.StringVar(&f.salt, "salt", "", "strength: `PERCENT`, g of salt per 100 g of brine")
	fl.StringVar(&f.perWater, "salt-per-water", "", "the same as `PERCENT`, g of salt per 100 g of water")
	fl.StringVar(&f.baume, "baume", "", "the same in `DEGREES` Baume at 60 °F")
	fl.StringVar(&f.salometer, "salometer", "", "the same in `DEGREES` of the salometer at 60 °F")
	fl.StringVar(&f.volume, "volume", "", "`VOLUME` of brine, to make or to bring back")
	fl.StringVar(&f.now, "now", "", "strength it has now, `PERCENT` of the brine")
	fl.StringVar(&f.to, "to", "", "strength to bring it to, `PERCENT` of the brine")
	fl.StringVar(&f.weight, "weight", "", "a wheel's `WEIGHT`, for its time in the brine")
	fl.StringVar(&f.thick, "thickness", "", "the wheel's `LENGTH` through")
	fl.StringVar(&f.cheeseSalt, "cheese-salt", "", "`PERCENT` salt wanted in the cheese, for an estimate by diffusion")
	fl.StringVar(&f.moisture, "moisture", "", "`PERCENT` moisture of the cheese, for the same")
	calc.flag(cmd)
	return cmd
}

// question reads the flags.
func (f brineFlags) question(in *console.Figures) (work.BrineQuestion, error) {
	if err := f.strengthOnce(); err != nil {
		return work.BrineQuestion{}, err
	}
	q := work.BrineQuestion{Strength: f.strength(in)}
	switch {
	case f.volume != "":
		q.Volume = in.Volume("--volume", f.volume)
		q.Now = console.Optional(in.Percent, "--now", f.now)
	case f.now != "":
		return q, console.Usagef("--volume is missing: how much brine there is, like 80l")
	}
	switch {
	case f.weight != "" || f.thick != "":
		q.Soak = &work.SoakQuestion{Weight: in.Weight("--weight", f.weight), Thick: in.Length("--thickness", f.thick)}
		if f.cheeseSalt != "" || f.moisture != "" {
			salt, moisture := in.Percent("--cheese-salt", f.cheeseSalt), in.Percent("--moisture", f.moisture)
			q.Soak.Salt, q.Soak.Moisture = &salt, &moisture
		}
	case f.cheeseSalt != "" || f.moisture != "":
		return q, console.Usagef("--cheese-salt and --moisture are for the time in the brine; " +
			"give --weight and --thickness too")
	}
	return q, in.Err
}

// strengthOnce refuses a strength that is missing or given twice.
func (f brineFlags) strengthOnce() error {
	var given []string
	for _, x := range []struct{ flag, value string }{
		{"--salt", f.salt}, {"--salt-per-water", f.perWater}, {"--baume", f.baume},
		{"--salometer", f.salometer}, {"--to", f.to},
	} {
		if x.value != "" {
			given = append(given, x.flag)
		}
	}
	switch {
	case len(given) == 0 && f.now != "":
		return console.Usagef("--to is missing: the strength to bring the brine to, like 20%%")
	case len(given) == 0:
		return console.Usagef("--salt is missing: g of salt per 100 g of brine, like 20%%")
	case len(given) > 1:
		return console.Usagef("%s and %s both give a strength; give one", given[0], given[1])
	case f.to != "" && f.now == "":
		return console.Usagef("--now is missing: the strength the brine has, like 17%%")
	case f.now != "" && f.to == "":
		return console.Usagef("--now goes with --to, not with %s", given[0])
	}
	return nil
}

func (f brineFlags) strength(in *console.Figures) quantity.Fraction {
	switch {
	case f.perWater != "":
		return wheel.OfPerWater(in.Percent("--salt-per-water", f.perWater))
	case f.baume != "":
		return wheel.OfBaume(console.Read(in, "--baume", f.baume, quantity.ParseDegrees))
	case f.salometer != "":
		return wheel.OfSalometer(console.Read(in, "--salometer", f.salometer, quantity.ParseDegrees))
	case f.to != "":
		return in.Percent("--to", f.to)
	}
	return in.Percent("--salt", f.salt)
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
	c.Lines(t.Lines(c.Env.Columns()))
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
	c.Lines(t.Lines(c.Env.Columns()))
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
