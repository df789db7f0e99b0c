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

// pair refuses one of two flags without the other.
func pair(given func(flag string) bool, a, b string) error {
	switch {
	case given(a) && !given(b):
		return console.Usagef("--%s is missing", b)
	case given(b) && !given(a):
		return console.Usagef("--%s is missing", a)
	}
	return nil
}

// figures is a table of a name, a figure and what there is to say of it.
func figures(indent int) text.Table {
	return text.Table{Indent: indent, Columns: []text.Column{{}, {Right: true}, {Wrap: true}}}
}

// airFlags are a room's air as flags.
type airFlags struct {
	drying.Span
	rh string // one or several
}

func (s *airFlags) add(cmd *cobra.Command) {
	f := cmd.Flags()
	console.Figure(f, &s.Air.Temp, console.Temp, "temp", "12C", "air `TEMPERATURE`")
	f.StringVar(&s.rh, "rh", "85%", "relative humidity, `PERCENT`")
	console.Figure(f, &s.Movement, console.As(air.ParseMovement), "air", "gentle", "air movement: `still|gentle|brisk`")
}

// at is the air at one of the humidities.
func (s *airFlags) at(in *console.Figures, rh string) drying.Span {
	at := s.Span
	at.Air.RH = in.Percent("--rh", rh)
	return at
}
