package console

import (
	"bufio"
	"errors"
	"fmt"
	"strings"

	"rindkeep/cave/day"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/care"
	"rindkeep/cmd/words"
	"rindkeep/store"
)

// toldOrder asks the person at a terminal which of two dates is meant, where nothing
// is saved yet, and keeps the answer in the book: dates are read by it from then on.
func (c *Console) toldOrder(err error) bool {
	var both day.TwoWays
	if !errors.As(err, &both) || !c.Env.InTTY || c.JSON || c.Committed || c.ID != "" {
		return false
	}
	fmt.Fprintf(c.Env.Err, "Is %s %s, or %s? Type day if you write the day first, month if the month: ",
		SafeWord(both.Word), words.DayMonthYear(both.DayFirst), words.DayMonthYear(both.MonthFirst))
	line := bufio.NewScanner(c.Env.In)
	if !line.Scan() {
		return false
	}
	answers := map[string]string{"day": store.DayFirst, "month": store.MonthFirst}
	order := answers[strings.ToLower(strings.TrimSpace(line.Text()))]
	if order == "" {
		return false
	}
	by := app.Caller{By: c.By, Command: "rindkeep book site"}
	_, err = care.WhichSite(c.Ctx, c.App, by, care.SiteFacts{Dates: order})
	return err == nil
}
