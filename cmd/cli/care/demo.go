package care

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app/care"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/cli/drying"
	"rindkeep/cmd/cli/round"
	"rindkeep/cmd/text"
)

// DemoCmd is demo.
func DemoCmd(c *console.Console) *cobra.Command {
	var q care.Demo
	cmd := c.Cmd("demo", "An invented cave to look around in: today's list, one wheel, who is dry enough", `
rindkeep demo                                  on a temporary book
rindkeep demo --book demo.book                 on a book to keep
rindkeep demo --wheels 100000 --book big.book  a warehouse`, console.NoArgs,
		func(cmd *cobra.Command, _ []string) error {
			if q.Wheels < 0 || q.Wheels > care.MaxDemo {
				return console.Usagef("--wheels %d is out of range; give 1 to %d", q.Wheels, care.MaxDemo)
			}
			if !cmd.Flags().Changed("book") {
				dir, err := os.MkdirTemp("", "rindkeep-demo-")
				if err != nil {
					return fmt.Errorf("no room for a temporary book: %s", console.PlainOS(err))
				}
				c.Book = filepath.Join(dir, "demo.book")
				c.App.Book = c.Book
			}
			q.Zone = c.Env.ZoneName()
			if err := care.Invent(c.Ctx, c.App, q); err != nil {
				return err
			}
			c.Committed = true
			t, err := care.Look(c.Ctx, c.App, c.Caller(), c.JSON)
			if err != nil {
				return err
			}
			c.Words.FillToday(&t.Today)
			if c.JSON {
				for i := range t.Dry {
					c.Words.FillVerdict(&t.Dry[i])
				}
				return c.Document(t)
			}
			tour(c, t)
			return nil
		})
	cmd.Flags().IntVar(&q.Wheels, "wheels", 0, "`N` wheels (default: a small creamery's sixty or so)")
	cmd.Flags().Uint64Var(&q.Seed, "seed", 1, "`N` that decides the invented chance")
	return cmd
}

// tour prints the three answers that the program is for.
func tour(c *console.Console, t care.Tour) {
	bold := c.Style("1")
	c.Print("%s\n\n", bold(t.Name+": nothing here is real"))
	if l := t.Today.List; t.Many { // a list nobody reads to its end
		c.Print("a book of %s at %s\n", text.Count(t.Wheels, "wheel"), c.Book)
		c.Print("due today: %s, %s, about %s; see them with rindkeep today --room ROOM\n", text.Count(l.Wheels, "wheel"),
			text.Count(len(l.Lines), "job"), text.Duration(l.Minutes))
	} else {
		c.Print("%s\n", bold("1. Today's turning list (rindkeep today --only turn)"))
		round.ShowDay(c, t.Today)
		c.Print("\n%s\n", bold("2. One wheel, its weights and its curve (rindkeep curve "+t.Wheel+")"))
		drying.ShowCurves(c, t.Curves)
		c.Print("\n%s\n", bold("3. Who is dry enough to wax? (rindkeep dry)"))
		drying.DryTable(c, t.Verdicts)
	}
	c.Print("\nGo on with this book:\n")
	c.Print("  export RINDKEEP_BOOK=%s\n", c.Book)
	c.Print("  rindkeep today                        everything due, not only the turning\n")
	if t.Wheel != "" {
		c.Print("  rindkeep weigh %s WEIGHT       a weight, and what it means\n", t.Wheel)
		c.Print("  rindkeep dry %s                rule by rule\n", t.Wheel)
	}
	c.Print("  rindkeep wheel list                   who is here\n")
	c.Print("(run as go run ./cmd/rindkeep instead of rindkeep until it is installed)\n")
}
