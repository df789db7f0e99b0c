package rooms

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/schedule"
)

func stockCmd(c *console.Console) *cobra.Command {
	var q rooms.InStock
	cmd := c.Cmd("stock", "What is here: wheels, kilograms, held, ready", `
rindkeep stock
rindkeep stock --room cellar
rindkeep stock --variety cheddar-waxed --on +30d      what it will weigh then`, console.NoArgs,
		func(*cobra.Command, []string) error {
			return console.Answer(c, rooms.Count, q, showStock)
		})
	c.NarrowFlags(cmd, &q.Narrow)
	c.MostFlag(cmd, &q.Most)
	return cmd
}

func showStock(c *console.Console, s rooms.Stock) {
	where := "here"
	switch {
	case s.Room != nil:
		where = "in " + *s.Room
	case s.AllSites:
		where = "at all sites"
	}
	if len(s.Lots) == 0 {
		c.Print("no wheels %s\n", where)
		return
	}
	bold, p := c.Style("1"), c.Words
	c.Print("%s\n\n", bold(fmt.Sprintf("stock %s, %s", where, s.On.Long())))
	right := func(title string) text.Column { return text.Column{Title: title, Right: true} }
	t := text.Table{Indent: 2, Heads: map[int]string{},
		Columns: []text.Column{{Title: "lot"}, {Title: "made"}, right("wheels"), right(p.MassUnit()),
			{Title: "(90 %)"}, right("held"), right("ready"), right("free")}}
	head := func(title string) { t.Heads[len(t.Rows)] = bold(text.Cut(title, c.Env.Columns())) }
	row := func(name, made string, x schedule.Stock) {
		t.Add(name, made, strconv.Itoa(x.Wheels), p.BareMass(x.Mass.Best),
			fmt.Sprintf("(%s to %s)",
				p.BareMass(x.Mass.Low), p.BareMass(x.Mass.High)), dashed(x.Held), dashed(x.Ready), dashed(x.Free))
	}
	for i := 0; i < len(s.All); {
		var sum schedule.Stock
		head(s.All[i].Title)
		j := i
		for ; j < len(s.All) && s.All[j].Variety == s.All[i].Variety; j++ {
			l := s.All[j]
			sum.Plus(l.Stock)
			if j < len(s.Lots) {
				row(l.Lot, l.Made, l.Stock)
			}
		}
		if j > i+1 || i >= len(s.Lots) {
			row("together", "", sum)
		}
		i = j
	}
	head("All")
	total := s.Total.Stock
	row("", "", total)
	c.Table(t)
	c.Rest(s.More, "lot")
	c.Next("\nweights are of the cheese without its coats; ready is the age its variety is eaten at; " +
		"free is ready and not held, so free to send")
	if total.OnTheWay > 0 {
		var of []string
		for _, l := range s.All {
			if l.OnTheWay > 0 {
				of = append(of, fmt.Sprintf("%d of %s", l.OnTheWay, text.Safe(l.Lot)))
			}
		}
		c.Next("counted above, but on the way between sites and in no room: %s; rindkeep sites lists them",
			strings.Join(of, ", "))
	}
	if total.ByLaw > 0 {
		c.Next("held by law: %s; check your own law", text.Count(total.ByLaw, "wheel"))
	}
	if n := total.Wheels - total.Weighed; n > 0 {
		c.Next("never weighed, taken at the usual weight: %s", text.Count(n, "wheel"))
	}
}

func dashed(n int) string {
	if n == 0 {
		return "-"
	}
	return strconv.Itoa(n)
}
