package makes

import (
	"bufio"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

// asking asks questions on the terminal. After a failure it asks nothing more.
type asking struct {
	*console.Console
	in  *bufio.Scanner
	err error
}

// until asks until an answer is good; an empty one takes the default, shown in
// brackets.
func (a *asking) until(question, def string, good func(string) error) string {
	if def != "" {
		question += " [" + def + "]"
	}
	for a.err == nil {
		if a.err = a.Ctx.Err(); a.err != nil {
			break
		}
		fmt.Fprintf(a.Env.Err, "%s: ", question)
		if !a.in.Scan() {
			if a.err = a.Ctx.Err(); a.err == nil {
				a.err = console.Usagef("the answers ended early; nothing was recorded")
			}
			break
		}
		w := strings.TrimSpace(a.in.Text())
		if w == "" {
			w = def
		}
		err := good(w)
		if err == nil {
			return w
		}
		fmt.Fprintf(a.Env.Err, "  %s\n", err)
	}
	return ""
}

// ask asks for what a make needs.
func ask(c *console.Console, m *newFlags) error {
	a := asking{Console: c, in: bufio.NewScanner(c.Env.In)}
	dates, err := console.Ask(c, func(s *app.Session) (day.Reader, error) { return s.Dates(), nil })
	if err != nil {
		dates.Today = day.At(c.Env.Now(), time.Local)
	}
	names, err := console.Ask(c, func(s *app.Session) ([]string, error) { return library.VarietyNames(s), nil })
	if err != nil {
		names = library.VarietyNames(nil)
	}
	fmt.Fprintln(c.Env.Err, "kinds of cheese:")
	for _, l := range text.Wrap(strings.Join(names, "  "), 76) {
		fmt.Fprintf(c.Env.Err, "  %s\n", l)
	}
	m.variety = a.until("what kind of cheese?", "", func(w string) error {
		if slices.Contains(names, w) {
			return nil
		}
		const how = "no variety %q; take one from the list, or add your own with rindkeep variety add"
		return fmt.Errorf(how, console.SafeWord(w))
	})
	m.date = a.until("made when?", "today", func(w string) error {
		_, err := dates.ParsePast(w)
		return err
	})
	m.wheels, _ = strconv.Atoi(a.until("how many wheels?", "1", func(w string) error {
		if n, err := strconv.Atoi(w); err != nil || n < 1 || n > makes.MaxWheels {
			return fmt.Errorf("give a number from 1 to %d", makes.MaxWheels)
		}
		return nil
	}))
	m.weights = a.until("green weights, one for each or one for all (empty: not weighed)", "", func(w string) error {
		in := c.Figures()
		ws := weightList(in, w)
		if in.Err != nil {
			return in.Err
		}
		if _, err := makes.Each(ws, m.wheels); err != nil {
			return fmt.Errorf("%s", c.Words.Refusal(app.AsRefusal(err)))
		}
		return nil
	})
	m.treatment = a.until("milk raw, thermised or pasteurised? (empty: unknown)", "", orEmpty(wheel.ParseTreatment))
	m.place = a.until("where do they lie? room/rack/shelf (empty: nowhere yet)", "", orEmpty(cave.ParsePlace))
	return a.err
}

// orEmpty takes an empty answer, or one that can be read.
func orEmpty[T any](parse func(string) (T, error)) func(string) error {
	return func(w string) error {
		if w == "" {
			return nil
		}
		_, err := parse(w)
		return err
	}
}
