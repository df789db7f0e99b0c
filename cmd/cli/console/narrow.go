package console

import (
	"fmt"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/text"
)

// NarrowFlags adds the flags that narrow a list of wheels, the same for each list.
func (c *Console) NarrowFlags(cmd *cobra.Command, q *app.Narrow) {
	f := cmd.Flags()
	f.StringVar(&q.Room, "room", "", "only wheels in this `ROOM`, or room/rack")
	f.StringVar(&q.Rack, "rack", "", "only wheels on this `ROOM/RACK`")
	f.StringVar(&q.Variety, "variety", "", "only wheels of this variety, by its `NAME`")
	f.StringVar(&q.Stage, "stage", "", "only wheels at this `STAGE`: pressing, drying, coated, ripening, ready, gone")
	f.StringVar(&q.Plan, "plan", "", "only wheels on this plan, by its `NAME`")
	f.IntVar(&q.OlderThan, "older-than", 0, "only wheels over so many `DAYS` old")
	f.IntVar(&q.YoungerBy, "younger-than", 0, "only wheels under so many `DAYS` old")
	f.StringVar(&q.ReadyBy, "ready-by", "", "only wheels of the age they're eaten at by this `DATE`")
	f.BoolVar(&q.Held, "held", false, "only wheels that are held, by hand or by law")
	f.BoolVar(&q.Doubtful, "doubtful", false, "only wheels waiting for their coat whose weights look wrong")
	f.StringVar(&q.Supplier, "supplier", "", "only wheels that came from this supplier, by `NAME`")
	f.StringVar(&q.Person, "person", "", "only wheels whose make this person recorded, by `NAME`")
	c.Completes(cmd, "room", RoomNames)
	c.Completes(cmd, "variety", library.VarietyNames)
}

// usualRows is how many rows of a list a terminal is shown where nobody says: our choice.
const usualRows = 200

// MostFlag adds the flag of how many rows a list has at most, the same for each list.
func (c *Console) MostFlag(cmd *cobra.Command, most *int) {
	cmd.Flags().IntVar(most, "most", 0, fmt.Sprintf("list so many at most; 0 for all (on a terminal: %d)", usualRows))
	cmd.PreRun = func(*cobra.Command, []string) {
		if !cmd.Flags().Changed("most") && !c.JSON && c.Env.OutTTY {
			*most = usualRows
		}
	}
}

// Rest says how many things a list left out, if any.
func (c *Console) Rest(more int, thing string) {
	if more > 0 {
		c.Next("%s; --most 0 lists all", text.Count(more, "more "+thing))
	}
}
