package makes

import (
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
)

func wheelsCmd(c *console.Console) *cobra.Command {
	var b makes.Batch
	var weights string
	var shape console.ShapeFlags
	cmd := c.Cmd("wheels LOT", "Weigh a make's wheels out of the press in one go", `
rindkeep make wheels 261120A --weights 2.1kg,2.05kg,2.08kg --place drying/A/1
rindkeep make wheels 261120A --weights 480,492,476 --diameter 11cm --height 5cm --at 2026-11-21T08:00
rindkeep make wheels 261120A --weights 1.9kg --plan washed-rind       one more, the next number`,
		console.Exactly("LOT"), func(_ *cobra.Command, args []string) error {
			if strings.Trim(weights, ", ;") == "" {
				return console.Usagef("--weights is missing: the green weight of each wheel, like 2.1kg,2.05kg")
			}
			in := c.Figures()
			var err error
			if b.Weights = weightList(in, weights); in.Err != nil {
				return in.Err
			}
			if b.Shape, err = shape.Shape(); err != nil {
				return err
			}
			sure := b.Sure
			did, err := console.AskedAgain(c, func(yes bool) (app.Did[makes.Weighed], error) {
				b.Sure = sure || yes
				return makes.Weigh(c.Ctx, c.App, c.Caller(), args[0], b)
			})
			return console.Done(c, did, err, weighed)
		})
	cmd.Long = `Weigh a make's wheels out of the press in one go.

Wheels of the lot that you saved while they were in their moulds, and that have no
weight yet, get the weights in the order of their tags. Extra weights create new
wheels.`
	f := cmd.Flags()
	f.StringVar(&weights, "weights", "", "green `WEIGHTS`, one for each wheel: 2.1kg,2.05kg or 2100,2050")
	placeFlags(c, cmd, &b.Place, &b.Plan)
	shape.Add(cmd)
	f.BoolVar(&b.Sure, "sure", false, "save it although weights, measures or the place look wrong")
	f.SortFlags = false
	return c.CompletesArgs(cmd, lots)
}

func lots(s *app.Session, nth int, _ string) []string {
	if nth > 0 {
		return nil
	}
	return console.LotNames(s)
}

func weighed(c *console.Console, d makes.Weighed) {
	if d.Same {
		c.Print("no change, lot %s has these wheels already: %s\n", d.Lot, text.Tags(d.Tags()))
		return
	}
	c.Print("lot %s, %s: %s, %s\n", d.Lot, d.Title, text.Count(len(d.Wheels), "wheel"), text.Tags(d.Tags()))
	c.Indented(c.Words.OutOfPress(d.Output))
	c.Cautions(d.Cautions)
	c.Next("plan %s. What is due: rindkeep today", d.Plan)
	c.Next("a wrong weight? rindkeep strike last --why TEXT, then weigh that wheel again")
}
