package makes

import (
	"bufio"
	"errors"
	"fmt"
	"slices"
	"strings"

	"rindkeep/cmd/app"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
)

// question is one thing that a command asks at a terminal, and the flag that answers it too.
type question struct {
	flag  string // without its dashes
	label string // in the summary

	ask    func() (text, def string)         // def is what Enter means; text "": it isn't asked now
	must   bool                              // it has no answer that Enter can mean
	hear   func(word string) (string, error) // checks an answer and keeps it; gives it for the summary
	gather func() string                     // asks for several answers instead, where set
	before func()                            // shows what can be answered, where set

	canon    string // what hear heard, where the answer itself can't be heard again
	word     string // the answer, as typed here or as the flag's value
	answered bool
	shown    string // the answer, for the summary
}

// interview asks questions at a terminal, or takes the flags that answer them. After a
// failure it asks nothing more.
type interview struct {
	*console.Console
	in  *bufio.Scanner
	err error
	qs  []*question
}

func newInterview(c *console.Console) *interview {
	return &interview{Console: c, in: bufio.NewScanner(c.Env.In)}
}

// say shows a person what was wrong with an answer, without the flag that would give it.
func (v *interview) say(err error) {
	s := err.Error()
	if u := new(console.Usage); !errors.As(err, u) {
		s = v.Words.Refusal(app.AsRefusal(err))
	}
	if flag, rest, ok := strings.Cut(s, " "); ok && strings.HasPrefix(flag, "--") {
		s = rest
	}
	for line := range strings.SplitSeq(s, "\n") {
		for _, l := range text.Wrap(line, v.Env.Columns()-2) {
			fmt.Fprintf(v.Env.Err, "  %s\n", l)
		}
	}
}

// until asks until an answer is good; an empty one takes the default, shown in brackets.
func (v *interview) until(text, def string, good func(string) error) string {
	if def != "" {
		text += " [" + def + "]"
	}
	for v.err == nil {
		if v.err = v.Ctx.Err(); v.err != nil {
			break
		}
		fmt.Fprintf(v.Env.Err, "%s: ", text)
		if !v.in.Scan() {
			if v.err = v.Ctx.Err(); v.err == nil {
				v.err = console.Usagef("the answers ended early; nothing was recorded")
			}
			break
		}
		w := strings.TrimSpace(v.in.Text())
		if w == "" {
			w = def
		}
		err := good(w)
		if err == nil {
			return w
		}
		v.say(err)
	}
	return ""
}

// take gets an answer to every question that has none: from its flag, at the terminal, or
// else what Enter would mean. Answers that were given are heard again, since what they mean
// may depend on one that was changed.
func (v *interview) take() error {
	var missing []string
	for _, q := range v.qs {
		text, def := q.ask()
		if text == "" && q.word == "" {
			q.shown, q.answered = "", false
			continue
		}
		if q.answered || q.word != "" {
			word := q.word
			if word == "" {
				word = def
			}
			var err error
			if q.shown, err = q.hear(word); err == nil {
				q.answered = true
				continue
			}
			if !v.Env.InTTY {
				return console.At("--"+q.flag, err)
			}
			v.say(err)
		}
		switch {
		case v.Env.InTTY:
			v.put(q, text, def)
		case q.must:
			missing = append(missing, "--"+q.flag)
		default:
			if q.shown, v.err = q.hear(def); v.err != nil {
				return console.At("--"+q.flag, v.err)
			}
			q.answered = true
		}
		if v.err != nil {
			return v.err
		}
	}
	if len(missing) > 0 {
		return v.lacks(missing)
	}
	return nil
}

// put asks one question.
func (v *interview) put(q *question, text, def string) {
	hear := func(w string) (err error) {
		if w == "" && q.must {
			return console.Usagef("this needs an answer; Ctrl-C ends without saving anything")
		}
		q.shown, err = q.hear(w)
		return err
	}
	if q.before != nil {
		q.before()
	}
	if q.answered = true; q.gather != nil {
		if q.word = q.gather(); v.err == nil {
			v.err = hear(q.word)
		}
		return
	}
	q.canon = ""
	q.word = v.until(text, def, hear)
	if q.canon != "" {
		q.word = q.canon
	}
	if q.word == def {
		q.word = "" // so that it follows the default
	}
}

// lacks is the usage error of a command that can ask nobody.
func (v *interview) lacks(missing []string) error {
	var others []string
	for _, q := range v.qs {
		if f := "--" + q.flag; q.word == "" && !slices.Contains(missing, f) {
			others = append(others, f)
		}
	}
	name := strings.TrimPrefix(v.Command, "rindkeep ")
	err := console.Usagef("%s asks at a terminal; here it needs %s", name, strings.Join(missing, ", "))
	return console.Hint(err, "it also takes %s", strings.Join(others, ", "))
}

// again forgets the answer to a question, so that it's asked again.
func (v *interview) again(flag string) bool {
	for _, q := range v.qs {
		if q.flag == flag {
			q.word, q.answered = "", false
			return true
		}
	}
	return false
}

// confirm asks for a yes or a no.
func (v *interview) confirm(text, def string) bool {
	return strings.HasPrefix(strings.ToLower(v.until(text, def, func(w string) error {
		if w = strings.ToLower(w); w == "y" || w == "yes" || w == "n" || w == "no" {
			return nil
		}
		return console.Usagef("type yes or no")
	})), "y")
}
