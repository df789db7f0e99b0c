// Package work has the calculators, which need no book.
package work

import (
	"github.com/spf13/cobra"

	"rindkeep/cave/air"
	"rindkeep/cmd/app/work"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/wheel/drying"
)

// Command is the group of calculators.
func Command(c *console.Console) *cobra.Command {
	return console.Group("work", "Calculators (no book needed): salt, brine, press, yield, moisture, air, curves",
		saltCmd(c), brineCmd(c), pressCmd(c), yieldCmd(c), moistureCmd(c), airCmd(c), curveCmd(c), fitCmd(c))
}

// answer is any of the calculators' answers.
type answer interface{ Explanation() *work.Basis }

// calculator adds a calculator's flag --explain and prints its answer.
type calculator struct {
	*console.Console
	explain bool
}

func (c *calculator) flag(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&c.explain, "explain", false, "print the formulas and their sources")
}

// print prints an answer as JSON, or as show does, with its formulas where they were
// asked for.
func (c *calculator) print(a answer, err error, show func()) error {
	if err != nil {
		return err
	}
	b := a.Explanation()
	if c.explain {
		c.Words.Explain(b)
	}
	if c.JSON {
		return c.Document(a)
	}
	c.ReaderUnits() // no book was opened
	show()
	if len(b.Explain) > 0 {
		c.Print("\nhow it's calculated\n")
	}
	for _, x := range b.Explain {
		c.Indented(x.Formula)
		for _, l := range text.Wrap("source: "+x.Source, c.Env.Columns()-4) {
			c.Print("    %s\n", l)
		}
	}
	return nil
}

// figures is a table of a name, a figure and what there is to say of it.
func figures(indent int) text.Table {
	return text.Table{Indent: indent, Columns: []text.Column{{}, {Right: true}, {Wrap: true}}}
}

// airFlags are a room's air as flags.
type airFlags struct{ temp, rh, movement string }

func (s *airFlags) add(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&s.temp, "temp", "12C", "air `TEMPERATURE`")
	f.StringVar(&s.rh, "rh", "85%", "relative humidity, `PERCENT`")
	f.StringVar(&s.movement, "air", "gentle", "air movement: `still|gentle|brisk`")
}

// given reads the air at one of the humidities.
func (s *airFlags) given(in *console.Figures, rh string) drying.Span {
	return drying.Span{
		Air:      air.State{Temp: in.Temp("--temp", s.temp), RH: in.Percent("--rh", rh)},
		Movement: console.Read(in, "--air", s.movement, air.ParseMovement),
	}
}
