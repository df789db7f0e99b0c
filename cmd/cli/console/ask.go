package console

import (
	"bufio"
	"fmt"
	"strings"
)

// Ask asks at a terminal and gives the answer; false where the answers have ended.
func (c *Console) Ask(question string) (answer string, ok bool) {
	fmt.Fprint(c.Env.Err, question)
	if c.answers == nil {
		c.answers = bufio.NewScanner(c.Env.In)
	}
	ok = c.answers.Scan()
	return strings.TrimSpace(c.answers.Text()), ok
}

// Yes asks for a yes.
func (c *Console) Yes(question string) bool {
	answer, _ := c.Ask(question + " Type yes or no: ")
	return strings.EqualFold(answer, "yes")
}

// Choice is a question with the answers to choose from.
type Choice struct {
	Question string
	From     []string
	Default  int                          // what Enter takes, the first being 1; 0: nothing
	None     string                       // when Enter means none of them: "or Enter if ..."; "" is when it gives up
	Other    func(string) (string, error) // hears any other word, where set
}

// Choose asks for one of several, by its number or its name. ok is false where nothing was chosen.
func (c *Console) Choose(q Choice) (chosen string, ok bool) {
	fmt.Fprintln(c.Env.Err, q.Question)
	for i, x := range q.From {
		fmt.Fprintf(c.Env.Err, "  %2d  %s\n", i+1, x)
	}
	how := "type a number"
	if q.Other != nil {
		how += " or another name"
	}
	if how += q.None; q.Default > 0 {
		how += fmt.Sprintf(" [%d]", q.Default)
	}
	for {
		w, more := c.Ask(how + ": ")
		switch {
		case !more || w == "" && q.Default == 0:
			return "", false
		case w == "":
			return q.From[q.Default-1], true
		}
		for i, x := range q.From {
			if w == fmt.Sprint(i+1) || strings.EqualFold(w, x) {
				return x, true
			}
		}
		if q.Other == nil {
			c.Warn("%q isn't one of them", SafeWord(w))
			continue
		}
		heard, err := q.Other(w)
		if err == nil {
			return heard, true
		}
		c.Warn("%s", c.WithHint(err))
	}
}
