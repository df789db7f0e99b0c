package care

import (
	"github.com/spf13/cobra"

	"rindkeep/cmd/app/care"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
)

func salvageCmd(c *console.Console) *cobra.Command {
	cmd := c.NowCmd("salvage NEW", "Save what can be read of a damaged book", `
rindkeep book salvage saved.book
rindkeep book check --book saved.book
rindkeep book restore saved.book --replace --altered    puts it in the book's place; the damaged one is kept`,
		console.Exactly("NEW"),
		func(_ *cobra.Command, args []string) error {
			x, err := care.Salvage(c.Ctx, c.App, args[0], c.Env.ZoneName(), c.Words.Gap)
			if err != nil {
				return err
			}
			c.Words.FillSaved(&x)
			if c.JSON {
				return c.Document(x)
			}
			printSaved(c, x)
			return nil
		})
	cmd.Long = cmd.Short + `.

Reads the book page by page, takes every record whose seal is right, and makes a
new book of them. It names every page and record that is lost, and notes what is
lost of a wheel in that wheel's history. The damaged book isn't changed. If you
have a sound backup, restore that instead. The history of the new book begins
again: what was before can no longer be proved, so restoring it takes --altered.`
	return cmd
}

func printSaved(c *console.Console, x care.Saved) {
	for _, p := range x.Pages {
		c.Print("lost: %s\n", text.Safe(p.What))
	}
	for _, f := range x.Lost {
		c.Print("lost: %s: %s\n", text.Safe(f.Where), text.Safe(f.What))
	}
	for _, r := range x.Rooms {
		c.Print("room %s: its record is lost; it has 12 °C and 85 %% now until you set it: rindkeep room set %s --help\n",
			text.Safe(r), text.Safe(r))
	}
	for _, l := range x.Lots {
		date := l.Date.String()
		if l.Guessed {
			date += " or before"
		}
		c.Print("lot %s: its record is lost; it's %s of %s now, until you set it right: rindkeep make correct %s --help\n",
			text.Safe(l.Lot), text.Safe(l.Variety), date, text.Safe(l.Lot))
	}
	if x.NoBook {
		c.Print("the settings of the book are lost: it has this machine's time zone now\n")
	}
	if x.Rest != nil {
		c.Print("%s of wheels, makes or entries that are lost: in %s\n",
			text.Count(x.Unplaced, "more record"), console.SafePath(*x.Rest))
	}
	c.Print("salvaged to %s: %s, %s, %s, %s\n", console.SafePath(x.Path), text.Count(x.Makes, "make"),
		text.Count(x.Wheels, "wheel"), text.Count(x.Entries, "entry", "entries"), megabytes(x.Bytes))
}
