package console

import (
	"fmt"
	"strings"

	"rindkeep/cmd/intake"
	"rindkeep/cmd/text"
	"rindkeep/cmd/workbook"
	"rindkeep/store"
)

// mostAlike is how many problems of one kind in one column are printed.
const mostAlike = 5

// Problems prints the bad rows of a file, those that are alike in a line, and is the error that nothing of it was
// recorded, or nothing more.
func (c *Console) Problems(file string, bad []intake.Problem) error {
	if !c.JSON {
		for _, l := range c.alike(bad) {
			c.Warn("%s %s", SafeWord(file), l)
		}
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

// alike are the lines that say what is wrong with rows. What is said of several rows in the same words is a line with
// their number; of problems of one kind in one column, the first few are told.
func (c *Console) alike(bad []intake.Problem) []string {
	type kind struct {
		column      int
		field, code string
	}
	bare := func(p intake.Problem) string { return c.Words.Sentence(intake.Problem{Field: p.Field, Why: p.Why}) }
	var first []intake.Problem
	rows := map[string][]int{}
	kinds := map[kind]int{}
	for _, p := range bad {
		said := fmt.Sprint(p.Column, bare(p))
		if len(rows[said]) == 0 {
			first = append(first, p)
		}
		rows[said] = append(rows[said], p.Line)
	}
	var out []string
	last := map[kind]int{} // of each kind, the line that tells how many more there are
	for _, p := range first {
		k := kind{p.Column, p.Field, p.Code()}
		more := rows[fmt.Sprint(p.Column, bare(p))][1:]
		if kinds[k]++; kinds[k] <= mostAlike {
			last[k] = len(out)
			out = append(out, c.Words.Sentence(p)+andRows(more))
		}
	}
	for k, n := range kinds {
		if n > mostAlike {
			out[last[k]] += fmt.Sprintf("\n… and %d more of this kind in column %s", n-mostAlike,
				workbook.ColumnName(max(k.column, 1)))
		}
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
