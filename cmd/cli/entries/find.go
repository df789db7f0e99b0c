package entries

import (
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app/entries"
	"rindkeep/cmd/app/find"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
)

// usualFound is how much of each sort is listed where nobody says: our choice.
const usualFound = 20

func findCmd(c *console.Console) *cobra.Command {
	var q find.Question
	cmd := c.NowCmd("find WORDS...", "Find makes, wheels, customers and notes by words", `
rindkeep find edam                        every make of that kind
rindkeep find fern F17                    what came from a supplier under its own lot code
rindkeep find blue spot                   notes with both words, and the wheels they're on
rindkeep find edam cellar/B --most 0      all wheels of a kind at a place`, console.AtLeast("WORDS"),
		func(cmd *cobra.Command, args []string) error {
			q.Words = args
			if c.JSON && !cmd.Flags().Changed("most") {
				q.Most = 0
			}
			d, err := find.Words(c.Ctx, c.App, c.Caller(), q)
			c.Words.FillLog(&entries.Log{Entries: d.Notes})
			return console.Show(c, d, err, showFound)
		})
	cmd.Flags().IntVar(&q.Most, "most", usualFound,
		"list so many of each sort at most; 0 for all; with --json the default is all")
	return cmd
}

func showFound(c *console.Console, d find.Found) {
	if !d.Any() {
		c.Print("nothing has all of these words: %s\n", text.Safe(strings.Join(d.Words, " ")))
		if len(d.Near) > 0 {
			c.Next("did you mean %s?", text.Safe(strings.Join(d.Near, ", ")))
		}
		return
	}
	makes := [][]string{}
	for _, m := range d.Makes {
		from := ""
		if len(m.Suppliers) > 0 {
			from = "from " + strings.Join(m.Suppliers, ", ")
		}
		makes = append(makes, []string{m.Lot, m.Title, m.Made, text.Count(m.Here, "wheel") + " here", from})
	}
	part(c, "makes", d.Matched.Makes, makes)
	wheels := [][]string{}
	for _, w := range d.Wheels {
		at := w.Place
		if w.Gone != nil {
			at = "gone " + *w.Gone
		}
		wheels = append(wheels, []string{w.Tag, w.Variety, at})
	}
	part(c, "wheels", d.Matched.Wheels, wheels)
	customers := [][]string{}
	for _, x := range d.Customers {
		customers = append(customers, []string{text.Safe(x.Name), text.Safe(x.Contact), text.Safe(x.Address)})
	}
	part(c, "customers", d.Matched.Customers, customers)
	notes := [][]string{}
	for _, e := range d.Notes {
		notes = append(notes, []string{words.Minute(e.At), e.Subject, c.Words.EntryLine(e), text.Safe(e.By), e.Mark})
	}
	part(c, "notes and other entries", d.Matched.Notes, notes)
}

// part prints what was found of one sort; all counts what matched.
func part(c *console.Console, title string, all int, rows [][]string) {
	if all == 0 {
		return
	}
	c.Print("%s\n", c.Style("1")(title))
	t := text.Table{Indent: 2, Columns: []text.Column{{}, {Wrap: true}, {Wrap: true}, {}, {}}[:len(rows[0])]}
	for _, r := range rows {
		t.Add(r...)
	}
	c.Table(t)
	if all > len(rows) {
		c.Print("  and %d more\n", all-len(rows))
	}
}
