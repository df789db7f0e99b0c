package console

import (
	"fmt"
	"strings"

	"rindkeep/cmd/intake"
	"rindkeep/cmd/text"
	"rindkeep/cmd/workbook"
	"rindkeep/store/load"
)

// Problems prints the bad rows of a file, those that are alike in a line, and is the error that nothing of it was
// recorded, or nothing more.
func (c *Console) Problems(file string, bad []intake.Problem) error {
	if !c.JSON {
		for _, l := range c.alike(bad) {
			c.Warn("%s %s", SafeWord(file), l)
		}
	}
	rows := text.Count(len(bad), "problem")
	if len(bad) == load.MostProblems { // the rest wasn't read
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

// alike are the lines that say what is wrong with rows.
func (c *Console) alike(bad []intake.Problem) (out []string) {
	for _, p := range intake.Problems(bad).Alike(c.Words.Bare) {
		l := c.Words.Sentence(p.Problem) + andRows(p.Rows)
		if p.More > 0 {
			l += fmt.Sprintf("\n… and %d more of this kind in column %s", p.More, workbook.ColumnName(max(p.Column, 1)))
		}
		out = append(out, l)
	}
	return out
}

// andRows names the other rows of which the same is said.
func andRows(rows []int) string {
	const named = 6
	if len(rows) == 0 {
		return ""
	}
	var w []string
	for _, r := range rows[:min(named, len(rows))] {
		w = append(w, fmt.Sprint(r))
	}
	list := strings.Join(w, ", ")
	if len(rows) > named {
		list += ", …"
	}
	return fmt.Sprintf(" (and in %s: %s)", text.Count(len(rows), "more row"), list)
}
