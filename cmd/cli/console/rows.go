package console

import (
	"fmt"

	"rindkeep/cmd/intake"
	"rindkeep/cmd/text"
	"rindkeep/store"
)

// mostProblems is how many bad rows are printed.
const mostProblems = 200

// Problems prints every bad row of a file, and is the error that nothing of it was recorded, or nothing more.
func (c *Console) Problems(file string, bad []intake.Problem) error {
	for i, p := range bad {
		if c.JSON {
			break
		}
		if i == mostProblems {
			fmt.Fprintf(c.Env.Err, "… and %d more\n", len(bad)-mostProblems)
			break
		}
		fmt.Fprintf(c.Env.Err, "%s %s\n", SafeWord(file), c.Words.Sentence(p))
	}
	rows := text.Count(len(bad), "problem")
	if len(bad) == store.MostProblems { // the rest wasn't read
		rows = "at least " + rows
	}
	if c.JSON {
		rows += "; the first: " + c.Words.Sentence(bad[0])
	}
	nothing := "nothing"
	if c.Committed {
		nothing = "nothing more"
	}
	err := fmt.Errorf("%s has %s; %s was recorded", SafeWord(file), rows, nothing)
	return At(fmt.Sprintf("%s:%d", file, bad[0].Line), err)
}
