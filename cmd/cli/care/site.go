package care

import (
	"github.com/spf13/cobra"

	"rindkeep/cmd/app/care"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
)

func siteCmd(c *console.Console) *cobra.Command {
	var name, address, contact, code, dates, note string
	cmd := c.NowCmd("site", "Set or show where the cheese is kept, and whose lot code it leaves under", `
rindkeep book site                              show it
rindkeep book site --name "Hollow Ash Dairy" --address "Elm Hollow" --contact 555-0100
rindkeep book site --lot-code own               bought-in cheese leaves under your own code
rindkeep book site --dates day-first            5/6/2026 is 5 June`, console.NoArgs,
		func(cmd *cobra.Command, _ []string) error {
			q := care.SiteFacts{LotCode: code, Dates: dates, Note: note}
			for flag, x := range map[string]struct {
				to    **string
				value *string
			}{"name": {&q.Name, &name}, "address": {&q.Address, &address}, "contact": {&q.Contact, &contact}} {
				if cmd.Flags().Changed(flag) {
					*x.to = x.value
				}
			}
			return console.Do(c, care.WhichSite, q, site)
		})
	cmd.Long = cmd.Short + `.

The traceability sheet names the site. Cheese that you buy in and sell on leaves under
its maker's lot code. If you ripen, coat or cut it, and your authority calls that a
transformation, it leaves under your own, with the maker's as its input: say --lot-code
own. What you receive from then on gets a code of yours and keeps it. What you send from
then on of lots that came under a code of yours (--own-lot) leaves under that. What was
sent stays sent under the code it had. A lot that is in the book under its maker's code
keeps that code, and leaves under it.

Dates such as 5/6/2026 are read as the countries write them whose law the book follows;
--dates says it where those differ, or where it follows none.`
	f := cmd.Flags()
	f.StringVar(&name, "name", "", "`NAME` of the business")
	f.StringVar(&address, "address", "", "`ADDRESS` of the cave")
	f.StringVar(&contact, "contact", "", "telephone `NUMBER`")
	f.StringVar(&code, "lot-code", "", "`own|maker`: whose code bought-in cheese leaves under")
	f.StringVar(&dates, "dates", "", "`day-first|month-first`: how 5/6/2026 is read")
	f.StringVar(&note, "note", "", "note to save with it: `TEXT`")
	f.SortFlags = false
	return cmd
}

func site(c *console.Console, d care.Site) {
	c.Table(text.Facts(0, c.Words.SiteFacts(d)))
	if len(d.History) > 1 {
		c.Print("\nbefore\n")
		t := text.Table{Indent: 2, Columns: []text.Column{{}, {Wrap: true}, {}}}
		for _, l := range d.History[:len(d.History)-1] {
			t.Add(words.Minute(l.From), words.SiteLine(l), l.By)
		}
		c.Table(t)
	}
}
