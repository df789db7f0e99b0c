package care

import (
	"cmp"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app/tables"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
)

func mappingsCmd(c *console.Console) *cobra.Command {
	return c.NowCmd("mappings", "The mappings that say how tables are read", "\nrindkeep book mappings", console.NoArgs,
		func(*cobra.Command, []string) error {
			d, err := tables.Mappings(c.Ctx, c.App, c.Caller())
			return console.Show(c, d, err, mappings)
		})
}

func mappings(c *console.Console, d tables.List) {
	if len(d.Mappings) == 0 {
		c.Print("no mappings\n")
		c.Next("keep one: rindkeep weigh --from FILE --map FIELD=HEADING,.. --mapping NAME")
		return
	}
	t := text.Table{Columns: []text.Column{{Title: "mapping"}, {Title: "for"}, {Title: "says", Wrap: true}}}
	for _, m := range d.Mappings {
		var says []string
		for _, x := range m.Columns {
			says = append(says, x.Field+" is "+strconv.Quote(console.SafeWord(x.Heading)))
		}
		for _, k := range m.Kinds {
			word := "the kind"
			if k.Word != "" {
				word = strconv.Quote(console.SafeWord(k.Word))
			}
			says = append(says, word+" is "+k.Variety)
		}
		for _, x := range []struct {
			what string
			is   *string
		}{{"unit", m.Unit}, {"dates", m.Dates}, {"time zone", m.Zone}, {"sensor", m.Sensor}} {
			if x.is != nil {
				says = append(says, x.what+" "+text.Safe(*x.is))
			}
		}
		t.Add(text.Safe(m.Name), m.Of, cmp.Or(strings.Join(says, "; "), "-"))
	}
	c.Table(t)
}
