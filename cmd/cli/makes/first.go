package makes

import (
	"errors"
	"io/fs"
	"os"

	"github.com/spf13/cobra"

	"rindkeep/cmd/cli/console"
)

// FirstSteps shows what somebody without a book can do first; false where there is a book.
func FirstSteps(c *console.Console, cmd *cobra.Command) bool {
	if err := c.ReadFlags(cmd); err != nil || c.JSON {
		return false
	}
	if _, err := os.Stat(c.Book); !errors.Is(err, fs.ErrNotExist) {
		return false
	}
	c.Print(`rindkeep keeps the book of a cheese-ripening cave: every wheel, what to do today,
and when a wheel is dry enough to wax. You have no book yet.

Look around in an invented cave:
  rindkeep demo

Start a book with cheese you've made; it asks, and ends with today's list:
  rindkeep start

Take over a cave that's full already:
  rindkeep start                           wheels of your own, make by make
  rindkeep make receive --help             wheels you bought
  rindkeep room new cellar                 for a spreadsheet of wheels: each of its
  rindkeep book import wheels.csv --map    rooms first, then the table

All commands: rindkeep --help
`)
	return true
}
