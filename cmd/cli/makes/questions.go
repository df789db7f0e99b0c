package makes

import (
	"fmt"
	"strconv"
	"strings"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/app/start"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
	"rindkeep/wheel/variety"
)

// answers are what was answered, and what there is to ask about.
type answers struct {
	*interview
	start.Ground

	kind      variety.Variety
	made      day.Date // None: nobody knows
	wheels    int
	weights   []quantity.Grams // 0: not weighed
	treatment wheel.Treatment
	place     cave.Place
	offered   []variety.Variety // by number, where an answer was not clear
}

// older is true of wheels that are taken over: their weight is no green weight.
func (f *answers) older() bool { return f.Older(f.made) }

// kindQuestion asks for the kind of cheese, by any words of its name.
func (f *answers) kindQuestion() *question {
	q := &question{
		flag: "variety", label: "cheese", must: true,
		ask: func() (string, string) { return "what kind of cheese?", "" },
		before: func() {
			names := app.Each(f.Kinds, func(k variety.Variety) string { return k.Name })
			fmt.Fprintln(f.Env.Err, "kinds of cheese:")
			for _, l := range text.Wrap(strings.Join(names, "  "), f.Env.Columns()-2) {
				fmt.Fprintf(f.Env.Err, "  %s\n", l)
			}
		},
	}
	q.hear = func(w string) (string, error) {
		v, err := f.kindOf(w)
		if err == nil {
			f.kind, f.offered, q.canon = v, nil, v.Name
		}
		return v.Title, err
	}
	return q
}

// kindOf is the one kind that words mean, or the number of one that was offered.
func (f *answers) kindOf(w string) (v variety.Variety, err error) {
	if n, err := strconv.Atoi(w); err == nil && n >= 1 && n <= len(f.offered) {
		return f.offered[n-1], nil
	}
	meant, near := library.Match(f.Kinds, w)
	if len(meant) == 1 {
		return meant[0], nil
	}
	said, like := fmt.Sprintf("%q could be any of these", console.SafeWord(w)), len(meant)
	if f.offered = meant; like == 0 {
		f.offered, like = near, len(near)
		other, _ := library.Match(f.Kinds, library.OtherKind)
		f.offered = append(f.offered, other...)
		said = fmt.Sprintf("no kind is called %q; the nearest are these, the last one for any pressed cheese",
			console.SafeWord(w))
		if like == 0 {
			said = fmt.Sprintf("no kind is called %q, and none is like it; for any pressed cheese there is this",
				console.SafeWord(w))
		}
	}
	return v, f.choice(said)
}

// choice offers kinds: by number at a terminal.
func (f *answers) choice(said string) error {
	var names []string
	for i, k := range f.offered {
		name := k.Name + " (" + k.Title + ")"
		if f.Env.InTTY {
			name = fmt.Sprintf("%2d  %s", i+1, name)
		}
		names = append(names, name)
	}
	if f.Env.InTTY {
		return console.Usagef("%s; type a number or a name:\n%s", said, strings.Join(names, "\n"))
	}
	return console.Hint(console.Usagef("%s: %s", said, strings.Join(names, ", ")),
		"rindkeep variety list shows every kind; rindkeep variety add takes your own")
}

// unknown are the answers of somebody who doesn't know.
func unknown(w string) bool {
	w = strings.ToLower(w)
	return w == "?" || w == "unknown" || w == "no idea" || strings.HasPrefix(w, "don")
}

// madeQuestion asks for the make date.
func (f *answers) madeQuestion(flag, ask string, mayNotKnow bool) *question {
	return &question{
		flag: flag, label: "made",
		ask: func() (string, string) { return ask, "today" },
		hear: func(w string) (string, error) {
			if mayNotKnow && unknown(w) {
				f.made = day.None
				return "nobody knows when", nil
			}
			d, err := f.pastDate(w)
			if f.made = d; err != nil {
				return "", err
			}
			return fmt.Sprintf("%s (%s)", d.Long(), agoWords(int(f.Today-d))), nil
		},
	}
}

func (f *answers) pastDate(w string) (day.Date, error) {
	d, err := f.Dates.ParsePast(w)
	switch {
	case err != nil:
		return d, console.Misread(err)
	case d > f.Today:
		return d, app.Refuse(app.FutureDate{On: d})
	}
	return d, nil
}

func agoWords(days int) string {
	switch days {
	case 0:
		return "today"
	case 1:
		return "yesterday"
	}
	return fmt.Sprintf("%d days ago", days)
}

// countQuestion asks how many wheels there are.
func (f *answers) countQuestion(def string) *question {
	return &question{
		flag: "wheels", label: "wheels", must: def == "",
		ask: func() (string, string) { return "how many wheels?", def },
		hear: func(w string) (string, error) {
			n, err := strconv.Atoi(w)
			if err != nil || n < 1 || n > makes.MaxWheels {
				return "", console.Usagef("give a number from 1 to %d", makes.MaxWheels)
			}
			f.wheels = n
			return strconv.Itoa(n), nil
		},
	}
}

// weightsQuestion asks for weights: all in a line, or one by one with each.
func (f *answers) weightsQuestion(ask func() string) *question {
	return &question{
		flag: "weights", label: "weights",
		ask:  func() (string, string) { return ask(), "" },
		hear: f.hearWeights,
	}
}

func (f *answers) hearWeights(w string) (string, error) {
	in := f.Figures()
	ws := f.listed(in, w)
	if in.Err != nil {
		return "", in.Err
	}
	ws, err := makes.Each(ws, f.wheels)
	if err != nil {
		return "", err
	}
	f.weights = ws
	return f.weightsSaid(), nil
}

// weightsSaid sums the weights up: each of a few wheels, or the first of many.
func (f *answers) weightsSaid() string {
	const shown = 6
	var said []string
	blank := 0
	for _, g := range f.weights {
		switch {
		case g == 0 && len(f.weights) <= shown:
			said = append(said, "not weighed")
		case g == 0:
			blank++
		default:
			said = append(said, f.Words.Weight(g))
		}
	}
	if len(said)+blank == 0 {
		return "not weighed"
	}
	if n := len(said) - shown; n > 0 {
		said = append(said[:shown], fmt.Sprintf("and %d more", n))
	}
	if blank > 0 {
		said = append(said, fmt.Sprintf("%d not weighed", blank))
	}
	return strings.Join(said, ", ")
}

// listed reads weights, one after the other; a blank between two commas or semicolons is a
// wheel that wasn't weighed.
func (f *answers) listed(in *console.Figures, w string) (ws []quantity.Grams) {
	if strings.Trim(w, ",; ") == "" {
		return nil
	}
	for _, part := range quantity.WeightWords(w) {
		if part == "" {
			ws = append(ws, 0)
			continue
		}
		for _, one := range strings.Fields(part) {
			ws = append(ws, in.Weight("--weights", one))
		}
	}
	return ws
}

// treatmentQuestion asks how the milk was treated.
func (f *answers) treatmentQuestion() *question {
	return &question{
		flag: "treatment", label: "milk",
		ask: func() (string, string) { return "milk raw, thermised or pasteurised? (Enter: not known)", "" },
		hear: func(w string) (shown string, err error) {
			if f.treatment = ""; w == "" || unknown(w) {
				return "not known how it was treated", nil
			}
			f.treatment, err = wheel.ParseTreatment(w)
			return string(f.treatment), err
		},
	}
}

// ask asks for what make new needs.
func ask(c *console.Console, m *newFlags) error {
	f := &answers{interview: newInterview(c)}
	var err error
	if f.Ground, err = start.Survey(c.Ctx, c.App, c.Caller(), c.Env.ZoneName()); err != nil {
		return err
	}
	made := f.madeQuestion("date", "made when?", false)
	f.qs = []*question{f.kindQuestion(), made, f.countQuestion("1"), f.weightsQuestion(func() string {
		return "green weights, one for each or one for all (Enter: not weighed)"
	}), f.treatmentQuestion(), {
		flag: "place", label: "place",
		ask: func() (string, string) { return "where are they stored? room/rack/shelf (Enter: nowhere yet)", "" },
		hear: func(w string) (_ string, err error) {
			if f.place = ""; w != "" {
				f.place, err = cave.NamePlace(w)
			}
			return string(f.place), err
		},
	}}
	if err := f.take(); err != nil {
		return err
	}
	m.Variety, m.Date, m.wheels, m.Weights = f.kind.Name, f.made.String(), f.wheels, f.weights
	m.Milk.Treatment, m.Place = f.treatment, string(f.place)
	return nil
}
