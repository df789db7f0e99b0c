package sheets

import (
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/sheets"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/sheet"
	"rindkeep/cmd/text"
)

func labelsCmd(c *console.Console) *cobra.Command {
	var f Flags
	var stock string
	var start int
	var cut bool
	cmd := c.NowCmd("labels "+console.What, "Labels with the tag, large, and a QR code that carries it", `
rindkeep sheet labels 261120A
rindkeep sheet labels 261120A --start 7              the first six are used up
rindkeep sheet labels drying/A --stock letter-2x5
rindkeep sheet labels 261120A-03 --stock roll-62 --out - | lp -d labels`, console.AtLeast("WHAT"),
		func(_ *cobra.Command, args []string) error {
			k, ok := sheet.FindStock(stock)
			if !ok {
				return console.At("--stock", console.Usagef("no label stock %q; there are %s",
					console.SafeWord(stock), stockNames()))
			}
			if start < 1 || start > k.PerSheet() {
				return console.At("--start", console.Usagef("--start %d is out of range; a sheet of %s has labels 1 to %d",
					start, k.Name, k.PerSheet()))
			}
			return Write(c, &f, func(s *app.Session, h sheet.Head) (Printed, error) {
				ls, err := sheets.Labels(s, args)
				if err != nil {
					return Printed{}, err
				}
				noteLetters(c, ls)
				name := FileName("labels", ls[0].Tag)
				if len(ls) > 1 {
					name = FileName("labels", s.Today.String())
				}
				return Printed{
					Draw: func() (sheet.Doc, error) { return sheet.Labels(h, k, start, cut, ls) },
					Name: name, Paper: k.Name, What: text.Count(len(ls), "label") + ", " + k.What,
					Note: "print it at full size (100 %), not fitted to the page",
				}, nil
			})
		})
	f.where(cmd)
	cmd.Flags().StringVar(&stock, "stock", "a4-3x8", "`NAME` of the label stock: "+stockNames())
	cmd.Flags().IntVar(&start, "start", 1, "begin at the `N`th label of the first sheet, counted along the rows")
	cmd.Flags().BoolVar(&cut, "cut", false, "draw lines to cut along, for plain paper")
	names := app.Each(sheet.Stocks, func(k sheet.Stock) string { return k.Name + "\t" + k.What })
	_ = cmd.RegisterFlagCompletionFunc("stock", cobra.FixedCompletions(names, cobra.ShellCompDirectiveNoFileComp))
	return c.CompletesWhat(cmd)
}

func stockNames() string {
	names := app.Each(sheet.Stocks, func(k sheet.Stock) string { return k.Name })
	return strings.Join(names, ", ")
}

// noteLetters warns of tags that a scanner may read wrong.
func noteLetters(c *console.Console, ls []sheets.Label) {
	for _, l := range ls {
		if strings.IndexFunc(l.Tag, func(r rune) bool { return r >= 0x80 }) >= 0 {
			c.Note("the tag %s holds letters beyond a to z: the code carries it in UTF-8, "+
				"and some scanners read such letters wrong; try yours first", l.Tag)
			return
		}
	}
}
