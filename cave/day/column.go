package day

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

// TwoWays is the error of a date in figures of which nobody knows whether the day or
// the month is first.
type TwoWays struct {
	Word                 string
	DayFirst, MonthFirst Date
}

// Error names both dates, and how to write each.
func (e TwoWays) Error() string {
	return fmt.Sprintf("%q could be %s or %s; write %s or %s", e.Word, e.DayFirst.utc().Format("2 January"),
		e.MonthFirst.utc().Format("2 January 2006"), e.DayFirst, e.MonthFirst)
}

// Column reads the dates of one column of a table. A date that can only be read one
// way, such as 21/11/2026, shows the order of all of them; else it is the Reader's.
type Column struct {
	Reader
	shown Order // by dates that can be read one way
	taken Order // for dates that could be read two ways
	mixed bool

	dotted bool // a date with dots showed that the day is first in those
}

// Learn takes note of the order that a date shows, if it does.
func (c *Column) Learn(word string) {
	date, _, _ := strings.Cut(strings.TrimSpace(word), " ")
	first, _, slashed := strings.Cut(date, "/")
	if d, _, dotted := strings.Cut(date, "."); dotted && !slashed {
		n, isDay := digits(d, 1, 2)
		c.dotted = c.dotted || isDay && n > 12
	}
	a, isDay := digits(first, 1, 2)
	d, err := Reader{Today: c.Today}.figures(date)
	_, m, n := d.Civil()
	if !slashed || !isDay || err != nil || int(m) == n {
		return
	}
	order := MonthFirst
	if a == n {
		order = DayFirst
	}
	c.mixed = c.mixed || c.shown != Unclear && c.shown != order
	c.shown = order
}

// For gives the reader of the next word of the column. The error is a word that shows
// another order than those were read in that came before.
func (c *Column) For(word string) (Reader, error) {
	c.Learn(word)
	r := c.Reader
	if c.shown != Unclear {
		r.Order = c.shown
	}
	if c.mixed {
		r.Order = Unclear
	}
	if date, _, _ := strings.Cut(word, " "); c.dotted && strings.Count(date, ".") == 2 {
		r.Order = DayFirst
	}
	var both TwoWays
	if _, _, err := (Reader{Today: r.Today}).ParseMoment(word, time.UTC); errors.As(err, &both) {
		c.taken = r.Order
	} else if c.taken != Unclear && c.shown != Unclear && c.taken != c.shown {
		return r, fmt.Errorf("%q has its day and month the other way round than dates before it were read; "+
			"write all dates as 2026-11-25", word)
	}
	return r, nil
}
