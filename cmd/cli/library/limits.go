package library

import (
	"github.com/spf13/cobra"

	"rindkeep/cmd/app/library"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
)

func limitListCmd(c *console.Console) *cobra.Command {
	var test string
	cmd := c.NowCmd("list", "The limits, with their sources", `
rindkeep limit list
rindkeep limit list --test Listeria`, console.NoArgs, func(*cobra.Command, []string) error {
		return console.Answer(c, library.Limits, test, limits)
	})
	cmd.Flags().StringVar(&test, "test", "", "only those of this test: `NAME`")
	c.Completes(cmd, "test", library.Tests)
	return cmd
}

func limits(c *console.Console, d library.LimitList) {
	if len(d.Limits) == 0 {
		c.Print("no limit on file; add your own with rindkeep limit add FILE\n")
		return
	}
	t := text.Table{Columns: []text.Column{
		{Title: "limit"}, {Title: "of"}, {Title: "test", Wrap: true}, {Title: "asks", Wrap: true},
		{Title: "source", Wrap: true}, {},
	}}
	for _, l := range d.Limits {
		t.Add(l.Name, words.Countries(l.Countries), l.Test, words.LimitAsks(l), words.LimitSource(l), ownWord(l.Own))
	}
	c.Table(t)
	c.Print("\n")
	c.Caution(lawCaution)
}
