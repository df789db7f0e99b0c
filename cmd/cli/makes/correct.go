package makes

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
)

func correctCmd(c *console.Console) *cobra.Command {
	var m newFlags
	var q makes.Correction
	cmd := c.NowCmd("correct LOT", "Correct what the book says of a make", `
rindkeep make correct 261120A --date 2026-11-19 --why "written down a day late"
rindkeep make correct 261120A --variety tomme --treatment raw --why "wrong line of the list"
rindkeep make correct 261120A --litres 80 --sold-as "Fell Tomme" --why "misread"
rindkeep make correct 261120A --wheels 4 --why "four wheels, not five"      the last one was never made
rindkeep make correct 261120A --void 261120A-02 --why "four wheels, not five"
rindkeep make correct 261120A --note "" --why "belongs to another lot"      empties it`,
		console.Exactly("LOT"), func(cmd *cobra.Command, args []string) error {
			var err error
			q.Of, q.New, q.Given, q.Wheels = args[0], m.New, changed(cmd), &m.wheels
			if q.Shape, err = m.shape.Shape(); err != nil {
				return err
			}
			did, err := console.Surely(c, makes.Correct, &q, &q.Lifts)
			return console.Done(c, did, err, corrected)
		})
	cmd.Long = `Correct what the book says of a make.

Give what should have been said; an empty value ("") empties it. The first version
stays in the book, and make show says who corrected it, when and why. What follows
from the make follows from the corrected one: what is due, ages, laws, yields, the
traceability sheet. The lot code and the tags stay: they are on labels.

With another date, green weights that came with the make move along if only the date
was known. With another variety, wheels on its plan go on the new one's. More
wheels get the next numbers; with fewer, the last ones or those of --void
are removed, if nothing else was recorded of them.`
	f := cmd.Flags()
	f.StringVar(&q.Why, "why", "", "the `REASON`")
	f.BoolVar(&q.Lifts, "sure", false, "correct it although that ends a safety hold")
	f.IntVar(&m.wheels, "wheels", 0, "`N` wheels were made")
	console.ListFlag(f, &q.Drop, "void", "`TAGS` of the wheels that were never made")
	f.StringVar(&m.Place, "place", "", "`ROOM/RACK/SHELF` of wheels that are added (default: that of the last)")
	m.addRecord(c, cmd)
	f.Lookup("date").Usage, f.Lookup("note").Usage = "make `DATE`", "note of the make: `TEXT`"
	f.SortFlags = false
	c.Completes(cmd, "place", console.RoomNames)
	return c.CompletesArgs(cmd, lots)
}

// notFields are the flags of correct that are no field of a make.
var notFields = []string{"why", "void", "place", "sure"}

// changed are the fields of a request whose flags were given.
func changed(cmd *cobra.Command) (out []string) {
	cmd.Flags().Visit(func(f *pflag.Flag) {
		if cmd.InheritedFlags().Lookup(f.Name) == nil && !slices.Contains(notFields, f.Name) {
			out = append(out, strings.ReplaceAll(f.Name, "-", "_"))
		}
	})
	return out
}

func corrected(c *console.Console, d makes.Corrected) {
	if d.Same {
		c.Print("lot %s says that already; nothing changed\n", d.Lot)
		return
	}
	c.Print("corrected lot %s\n", d.Lot)
	for _, x := range d.Changes {
		if w := c.Words.Changes([]makes.Change{x}); w != "" {
			c.Indented(w)
		}
	}
	for _, x := range []struct {
		tags []string
		what string
	}{
		{d.Added, "added"}, {d.Removed, "removed"}, {d.Planned, "now on plan " + d.Plan},
		{d.Weights, "green weight moved to the new date"},
	} {
		if len(x.tags) > 0 {
			c.Indented(x.what + ": " + c.Words.Tags(x.tags))
		}
	}
	if len(d.Added) > 0 {
		c.Next("weigh them: rindkeep make wheels %s --weights WEIGHTS", d.Lot)
	}
	c.Next("wrong? rindkeep strike last --why TEXT")
}

func voidCmd(c *console.Console) *cobra.Command {
	var q makes.Removal
	cmd := c.NowCmd("void LOT", "Remove a make entered by mistake, with its wheels", `
rindkeep make void 261120A --why "entered twice"`, console.Exactly("LOT"), func(_ *cobra.Command, args []string) error {
		q.Lot = args[0]
		did, err := console.Surely(c, makes.Void, &q, &q.Lifts)
		return console.Done(c, did, err, func(c *console.Console, d makes.Removed) {
			c.Print("removed lot %s and %s", d.Lot, text.Count(len(d.Wheels), "wheel"))
			if len(d.Wheels) > 0 {
				c.Print(": %s", c.Words.Tags(d.Wheels))
			}
			c.Print("\n")
			c.Next("it stays in the log and in exports, and its lot code stays taken. Wrong? rindkeep strike last --why TEXT")
		})
	})
	cmd.Flags().StringVar(&q.Why, "why", "", "the `REASON`")
	cmd.Flags().BoolVar(&q.Sure, "sure", false, "remove it although its wheels were looked after, or are held for safety")
	return c.CompletesArgs(cmd, lots)
}
