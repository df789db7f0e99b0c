package console

import (
	"cmp"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/care"
	"rindkeep/cmd/words"
	"rindkeep/store/register"
)

// cleared asks the person at a terminal what was meant, where an argument or a flag can
// be read in two ways and nothing is saved yet; true where the command can run again.
func (c *Console) cleared(cmd *cobra.Command, args []string, err error) bool {
	var two day.TwoWays
	var kg quantity.Kilograms
	switch {
	case err == nil || !c.Env.InTTY || c.JSON || c.Committed || c.ID != "":
	case errors.As(err, &two):
		return c.toldOrder(two)
	case errors.As(err, &kg) && reworded(cmd, args, kg.Word, ""):
		if c.answer("Did you mean %s kg? Type yes or no: ", kg.Figure) != "yes" {
			return false
		}
		return reworded(cmd, args, kg.Word, kg.Meant())
	}
	return false
}

// answer asks a question on the terminal; the answer is in lower case, "" if none.
func (c *Console) answer(format string, v ...any) string {
	fmt.Fprintf(c.Env.Err, format, v...)
	var line []byte
	for one := make([]byte, 1); len(line) < 80; line = append(line, one[0]) { // no more: another question may follow
		if n, err := c.Env.In.Read(one); n == 0 || err != nil || one[0] == '\n' {
			break
		}
	}
	return strings.ToLower(strings.TrimSpace(string(line)))
}

// reworded puts one word of the command line in place of another, in arguments and in
// flags' lists; with "" it changes nothing. It says whether the word is there.
func reworded(cmd *cobra.Command, args []string, was, is string) (found bool) {
	put := func(s string) string {
		list := strings.Split(s, ",")
		if s == was {
			list = []string{s} // a decimal comma
		}
		for i, w := range list {
			if strings.TrimSpace(w) == was {
				found = true
				list[i] = cmp.Or(is, w)
			}
		}
		return strings.Join(list, ",")
	}
	for i, a := range args {
		args[i] = put(a)
	}
	cmd.Flags().Visit(func(f *pflag.Flag) {
		if f.Value.Type() == "string" {
			_ = f.Value.Set(put(f.Value.String())) // text takes any
		}
	})
	return found
}

// toldOrder asks which of two dates is meant, and keeps the answer in the book: dates are read by it from then on.
func (c *Console) toldOrder(both day.TwoWays) bool {
	word := c.answer("Is %s %s, or %s? Type day if you write the day first, month if the month: ",
		SafeWord(both.Word), words.DayMonthYear(both.DayFirst), words.DayMonthYear(both.MonthFirst))
	answers := map[string]string{"day": register.DayFirst, "month": register.MonthFirst}
	order := answers[word]
	if order == "" {
		return false
	}
	by := app.Caller{By: c.By, Command: "rindkeep book site"}
	_, err := care.WhichSite(c.Ctx, c.App, by, care.SiteFacts{Dates: order})
	return err == nil
}
