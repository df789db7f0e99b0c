package makes

import (
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cave/day"
	"rindkeep/cmd/app"
	"rindkeep/cmd/cli/console"
	"rindkeep/wheel"
)

// lineQuestions are what a terminal asks for the flags of make log.
var lineQuestions = map[string]string{
	"source": "where is the milk from?", "species": "milk of cow, goat, sheep or buffalo?", "litres": "how much milk?",
	"treatment": "raw, thermised or pasteurised?", "heat": "heated to what temperature?",
	"heat-for": "for how long? 15s, 30min", "fat": "fat, %?", "protein": "protein, %?", "lot": "its lot number?",
	"kind": "culture, rennet, salt, colour, calcium or other?", "name": "its name?", "supplier": "from which supplier?",
	"amount": "how much, as measured? 2 g, 4 ml", "ph": "pH?", "acid": "titratable acidity, % of lactic acid?",
	"stage": "at what stage, in your words? cutting, scalding", "temp": "what temperature?", "weight": "what weight?",
	"for": "what is it for?", "into": "into which lot, saved before?", "rate": "rate wanted, % of the curd?",
	"where": "where does it go? curd, brine or rub", "load": "what weight is on the press?",
	"lever": "ratio of the lever?", "diameter": "how wide is the mould?",
	"turned":   "turned and redressed before? yes or no",
	"moisture": "moisture, %?", "sd": "standard deviation of the moisture, %?", "salt": "salt, %?",
}

// asks says whether the person at a terminal is asked for a line: nothing about it was
// given but the lot, or the lot and the kind of line.
func (l *lineFlags) asks(c *console.Console, cmd *cobra.Command, args []string) bool {
	given := len(args) > 2 || !c.Env.InTTY || c.JSON
	for flag := range lineQuestions {
		given = given || cmd.Flags().Changed(flag)
	}
	return !given
}

// ask asks for the lot, the kind of line and what it has, and again where that can't be
// right together.
func (l *lineFlags) ask(c *console.Console, cmd *cobra.Command, args []string) (
	lot string, m wheel.MakeLog, err error,
) {
	v := newInterview(c)
	last, err := console.Ask(c, func(s *app.Session) (lot string, err error) {
		newest := day.None
		for m, err := range s.Tx.Makes() {
			if err != nil {
				return lot, err
			}
			if m.Date >= newest {
				newest, lot = m.Date, m.Lot
			}
		}
		return lot, nil
	})
	if err != nil {
		return "", m, err
	}
	if lot = append(args, "")[0]; lot == "" {
		lot = v.until("which lot?", last, func(w string) error {
			_, err := console.Ask(c, func(s *app.Session) (wheel.Make, error) { return s.Tx.MakeByLot(w) })
			return err
		})
	}
	word := append(args, "", "")[1]
	if word == "" {
		word = v.until("what happened? "+strings.Join(subjects(), ", "), "", func(w string) error {
			_, err := kindOfLine(w)
			return err
		})
	}
	if v.err != nil {
		return lot, m, v.err
	}
	what, err := kindOfLine(word)
	for err == nil {
		for _, flag := range takes[what] {
			v.flag(cmd, flag)
		}
		if v.err != nil {
			return lot, m, v.err
		}
		if m, err = l.line(cmd, word); err == nil {
			return lot, m, nil
		}
		v.say(err)
		err = nil
	}
	return lot, m, err
}

// flag asks for one flag; Enter leaves it out, or as it was.
func (v *interview) flag(cmd *cobra.Command, name string) {
	f := cmd.Flags().Lookup(name)
	def := ""
	if f.Changed {
		def = f.Value.String()
	}
	v.until(lineQuestions[name], def, func(w string) error {
		if f.Value.Type() == "bool" {
			yes := strings.EqualFold(w, "yes") || w == "true"
			if !yes && w != "" && !strings.EqualFold(w, "no") {
				return console.Usagef("type yes or no")
			}
			w = map[bool]string{true: "true"}[yes]
		}
		if w == "" {
			return nil
		}
		if err := cmd.Flags().Set(name, w); err != nil {
			return console.FlagProblem(cmd, err)
		}
		err := v.ReadFigures(cmd)
		if err != nil {
			_ = f.Value.Set(f.DefValue)
			f.Changed = false
		}
		return err
	})
}
