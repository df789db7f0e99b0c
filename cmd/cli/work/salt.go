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
	var curd, rate, moisture, kept string
	calc := calculator{Console: c}
	cmd := c.Cmd("salt", "Salt for a weight of curd", `
rindkeep work salt --curd 4.2kg --rate 1.8%
rindkeep work salt --curd 4.2kg --rate 1.8% --moisture 37%`, console.NoArgs, func(*cobra.Command, []string) error {
		in := c.Figures()
		q := work.SaltQuestion{
			Curd: in.Weight("--curd", curd), Rate: in.Percent("--rate", rate), Kept: in.Percent("--kept", kept),
			Moisture: console.Optional(in.Percent, "--moisture", moisture),
		}
		if in.Err != nil {
			return in.Err
		}
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
	f.StringVar(&curd, "curd", "", "`WEIGHT` of curd")
	f.StringVar(&rate, "rate", "", "salt as a `PERCENT` of the curd's weight")
	f.StringVar(&moisture, "moisture", "", "`PERCENT` moisture of the cheese, for salt in moisture")
	f.StringVar(&kept, "kept", "100%", "`PERCENT` of the salt the cheese keeps")
	calc.flag(cmd)
	return cmd
}

func moistureCmd(c *console.Console) *cobra.Command {
	var start, loss, fat, salt string
	calc := calculator{Console: c}
	cmd := c.Cmd("moisture", "Moisture and its ratios after a loss", `
rindkeep work moisture --start 39% --loss 5%
rindkeep work moisture --start 39% --loss 5% --fat 31% --salt 1.7%`, console.NoArgs,
		func(*cobra.Command, []string) error {
			in := c.Figures()
			q := work.MoistureQuestion{
				Start: in.Percent("--start", start), Loss: in.Percent("--loss", loss),
				Fat: console.Optional(in.Percent, "--fat", fat), Salt: console.Optional(in.Percent, "--salt", salt),
			}
			if in.Err != nil {
				return in.Err
			}
			r, err := work.MoistureAfter(q)
			return calc.print(&r, err, func() { c.Lines(moistureLines(r, c.Env.Columns())) })
		})
	f := cmd.Flags()
	f.StringVar(&start, "start", "", "`PERCENT` moisture at the start")
	f.StringVar(&loss, "loss", "", "`PERCENT` of weight lost since")
	f.StringVar(&fat, "fat", "", "`PERCENT` fat at the start")
	f.StringVar(&salt, "salt", "", "`PERCENT` salt at the start")
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
