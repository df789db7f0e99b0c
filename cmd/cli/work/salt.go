package work

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app/work"
	"rindkeep/cmd/cli/console"
)

func saltCmd(c *console.Console) *cobra.Command {
	var q work.SaltQuestion
	calc := calculator{Console: c}
	cmd := c.Cmd("salt", "Salt for a weight of curd", `
rindkeep work salt --curd 4.2kg --rate 1.8%
rindkeep work salt --curd 4.2kg --rate 1.8% --moisture 37%`, console.NoArgs, func(*cobra.Command, []string) error {
		r, err := work.SaltFor(q)
		return calc.print(&r, err, func() {
			salt := c.Words.Salt(quantity.Grams(*r.Salt))
			c.Print("%s of salt for %s of curd at %.2f %%\n", salt, c.Units.Weight(q.Curd), *r.Rate)
			if r.SM != nil {
				c.Print("salt in moisture %.2f %% (salt over moisture) if the cheese keeps %.0f %% of it\n", *r.SM, *r.Kept)
			}
			c.Next("milled curd is usually given 1.5 to 2.5 %% (common practice, no source) and keeps about half of dry salt: " +
				"weigh, taste, note")
		})
	})
	f := cmd.Flags()
	console.Needed(f, &q.Curd, console.Weight, "curd", "`WEIGHT` of curd")
	console.Needed(f, &q.Rate, console.Percent, "rate", "salt as a `PERCENT` of the curd's weight")
	console.Maybe(f, &q.Moisture, console.Percent, "moisture", "`PERCENT` moisture of the cheese, for salt in moisture")
	console.Figure(f, &q.Kept, console.Percent, "kept", "100%", "`PERCENT` of the salt the cheese keeps")
	calc.flag(cmd)
	return cmd
}

func moistureCmd(c *console.Console) *cobra.Command {
	var q work.MoistureQuestion
	calc := calculator{Console: c}
	cmd := c.Cmd("moisture", "Moisture and its ratios after a loss", `
rindkeep work moisture --start 39% --loss 5%
rindkeep work moisture --start 39% --loss 5% --fat 31% --salt 1.7%`, console.NoArgs,
		func(*cobra.Command, []string) error {
			r, err := work.MoistureAfter(q)
			return calc.print(&r, err, func() { c.Lines(moistureLines(r, c.Env.Columns())) })
		})
	f := cmd.Flags()
	console.Needed(f, &q.Start, console.Percent, "start", "`PERCENT` moisture at the start")
	console.Needed(f, &q.Loss, console.Percent, "loss", "`PERCENT` of weight lost since")
	console.Maybe(f, &q.Fat, console.Percent, "fat", "`PERCENT` fat at the start")
	console.Maybe(f, &q.Salt, console.Percent, "salt", "`PERCENT` salt at the start")
	calc.flag(cmd)
	return cmd
}

func moistureLines(r work.Moisture, columns int) []string {
	t := figures(0)
	t.Add("moisture", fmt.Sprintf("%.2f %%", *r.Moisture), "M = 1 - (1 - M0)/(1 - loss)")
	if r.MFFB != nil {
		firmness := strings.Join(r.Firmness, " or ") + " by the Codex bands"
		t.Add("moisture on fat-free basis", fmt.Sprintf("%.2f %%", *r.MFFB), firmness)
		t.Add("fat in dry matter", fmt.Sprintf("%.2f %%", *r.FDM), *r.FatClass)
	}
	if r.SM != nil {
		t.Add("salt in moisture", fmt.Sprintf("%.2f %%", *r.SM), "salt over moisture")
		t.Add("water activity", fmt.Sprintf("%.3f", *r.Activity), "from the salt alone; drier cheese is lower")
	}
	return t.Lines(columns)
}
