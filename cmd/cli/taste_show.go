package cli

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"rindkeep/cave/day"
	uc "rindkeep/cmd/app"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

func (a *app) tasteShowCmd() *cobra.Command {
	c := a.cmd("show "+whatHelp, "Scores over time by age, and faults by how often", `
rindkeep taste show 261120A               a lot, wheels sent long ago with it
rindkeep taste show 261120A-03 --json
rindkeep taste show 261120A 261027B       two lots, by age`, atLeast("WHAT"), func(cmd *cobra.Command, args []string) error {
		return a.view(func(s *session) error { return s.tasteShow(args) })
	})
	return a.completesArgs(c, func(s *session, _ int, word string) []string { return whatWords(s, word) })
}

// tasted is the tastings of some wheels.
type tasted struct {
	asked   []string
	makes   []wheel.Make // of the wheels asked about, each once
	wheels  int          // asked about
	ones    []tastedOne
	samples []wheel.Sample
}

type tastedOne struct {
	wheel.Sample
	lot  string
	at   time.Time
	on   day.Date
	note string
}

// gatherTasted finds the wheels named, those that are gone with their lot, and
// what was tasted of them up to a time.
func (s *session) gatherTasted(args []string, until time.Time) (*tasted, error) {
	t := &tasted{}
	seen := map[uuid.UUID]bool{}
	makes := map[uuid.UUID]wheel.Make{}
	n := 0
	add := func(w wheel.Wheel) error {
		if seen[w.ID] {
			return nil
		}
		seen[w.ID] = true
		if n++; n%64 == 0 && s.ctx.Err() != nil {
			return s.ctx.Err()
		}
		m, ok := makes[w.Make]
		if !ok {
			var err error
			if m, err = s.tx.Make(w.Make); err != nil {
				return err
			}
			makes[w.Make] = m
			t.makes = append(t.makes, m)
		}
		es, err := s.tx.History(w.ID)
		if err != nil {
			return err
		}
		l := wheel.NewLife(w, m, es, s.loc, nil)
		if slices.ContainsFunc(l.Entries, func(e wheel.Entry) bool { return e.Kind == wheel.Voided }) {
			return nil
		}
		t.wheels++
		for _, e := range l.Entries {
			if e.Kind != wheel.Tasted || e.At.After(until) {
				continue
			}
			found, err := wheel.ParseTasting(e.Detail)
			if err != nil {
				return at(l.Tag, err)
			}
			on := day.At(e.At, s.loc)
			t.ones = append(t.ones, tastedOne{wheel.Sample{Wheel: l.Tag, By: e.By, Age: l.Age(on), Found: found}, m.Lot, e.At, on, e.Note})
		}
		return nil
	}
	for _, group := range args {
		for _, word := range strings.Split(group, ",") {
			if word = strings.TrimSpace(word); word == "" {
				continue
			}
			ws, err := s.pickWord(word)
			if err != nil {
				return nil, err
			}
			one := len(ws) == 1 && strings.EqualFold(ws[0].Tag, word)
			if one {
				word = ws[0].Tag
			}
			t.asked = append(t.asked, word)
			for _, st := range ws {
				w, err := s.tx.Wheel(st.Wheel)
				if err != nil {
					return nil, err
				}
				if err := add(w); err != nil {
					return nil, err
				}
			}
			// A lot is all of it, wheels that are gone too.
			if one || !s.safeName(word) {
				continue
			}
			m, err := s.tx.MakeByLot(word)
			if isNotFound(err) {
				continue
			}
			if err != nil {
				return nil, err
			}
			t.asked[len(t.asked)-1] = m.Lot
			all, err := s.tx.WheelsOf(m.ID)
			if err != nil {
				return nil, err
			}
			for _, w := range all {
				if err := add(w); err != nil {
					return nil, err
				}
			}
		}
	}
	if len(t.asked) == 0 {
		return nil, usagef("no wheel is named; give a tag, a lot or a place")
	}
	slices.SortStableFunc(t.ones, func(a, b tastedOne) int {
		if c := a.at.Compare(b.at); c != 0 {
			return c
		}
		return naturally(a.Wheel, b.Wheel)
	})
	for _, x := range t.ones {
		t.samples = append(t.samples, x.Sample)
	}
	return t, nil
}

type tasteShowDoc struct {
	Schema   string          `json:"schema"`
	Asked    []string        `json:"asked"`
	At       string          `json:"at"`
	Wheels   int             `json:"wheels"`
	ByAge    []tasteAgeDoc   `json:"by_age"`
	Faults   []tasteFaultDoc `json:"faults"`
	Tastings []tastingDoc    `json:"tastings"`
}

type tasteAgeDoc struct {
	Age      int        `json:"age_days"`
	Dates    []string   `json:"dates"`
	Tastings int        `json:"tastings"`
	Wheels   int        `json:"wheels"`
	Tasters  int        `json:"tasters"`
	Scores   tasteMeans `json:"scores"`
}

type tasteMeans struct {
	Appearance *tasteMean `json:"appearance"`
	Colour     *tasteMean `json:"colour"`
	Texture    *tasteMean `json:"texture"`
	Flavour    *tasteMean `json:"flavour"`
}

type tasteMean struct {
	Mean  *float64 `json:"mean"`
	Low   int      `json:"low"`
	High  int      `json:"high"`
	Count int      `json:"count"`
}

type tasteFaultDoc struct {
	Fault    string  `json:"fault"`
	Of       *string `json:"said_of"` // null: a word of the maker's own
	Count    int     `json:"count"`
	Wheels   int     `json:"wheels"`
	Youngest int     `json:"from_age_days"`
	Oldest   int     `json:"to_age_days"`
}

type tastingDoc struct {
	Wheel      string   `json:"wheel"`
	Lot        string   `json:"lot"`
	At         string   `json:"at"`
	Age        int      `json:"age_days"`
	By         string   `json:"by"`
	Appearance *int     `json:"appearance"`
	Colour     *int     `json:"colour"`
	Texture    *int     `json:"texture"`
	Flavour    *int     `json:"flavour"`
	Faults     []string `json:"faults"`
	Note       string   `json:"note"`
}

func meanDoc(m wheel.Mean) *tasteMean {
	if m.N == 0 {
		return nil
	}
	return &tasteMean{num(m.Mean), int(m.Low), int(m.High), m.N}
}

func scoreOrNull(v wheel.Score) *int {
	if v == 0 {
		return nil
	}
	n := int(v)
	return &n
}

// datesAt are the days on which wheels of an age were tasted.
func (t *tasted) datesAt(age int) []string {
	var out []string
	for _, x := range t.ones {
		if d := x.on.String(); x.Age == age && !slices.Contains(out, d) {
			out = append(out, d)
		}
	}
	return out
}

func (s *session) tasteShow(args []string) error {
	until, on, err := s.asOf()
	if err != nil {
		return err
	}
	t, err := s.gatherTasted(args, until)
	if err != nil {
		return err
	}
	course, faults := wheel.Course(t.samples), wheel.CountFaults(t.samples)
	if !s.json {
		return s.tasteText(t, course, faults, on)
	}
	d := tasteShowDoc{Schema: schema("taste-show"), Asked: filled(t.asked), At: instant(until, s.loc), Wheels: t.wheels, ByAge: []tasteAgeDoc{}, Faults: []tasteFaultDoc{}, Tastings: []tastingDoc{}}
	for _, c := range course {
		d.ByAge = append(d.ByAge, tasteAgeDoc{c.Age, t.datesAt(c.Age), c.Tastings, c.Wheels, c.Tasters, tasteMeans{
			meanDoc(c.Scores[wheel.Appearance]), meanDoc(c.Scores[wheel.Colour]), meanDoc(c.Scores[wheel.Texture]), meanDoc(c.Scores[wheel.Flavour]),
		}})
	}
	for _, f := range faults {
		d.Faults = append(d.Faults, tasteFaultDoc{f.Fault, uc.OrNull(string(f.Of)), f.Count, f.Wheels, f.Youngest, f.Oldest})
	}
	for _, x := range t.ones {
		d.Tastings = append(d.Tastings, tastingDoc{
			x.Wheel, x.lot, instant(x.at, s.loc), x.Age, x.By, scoreOrNull(x.Found.Appearance), scoreOrNull(x.Found.Colour), scoreOrNull(x.Found.Texture), scoreOrNull(x.Found.Flavour), filled(x.Found.Faults), x.note,
		})
	}
	return s.document(d)
}

// tasteText prints the scores by age, their course as a picture where there are
// two ages or more, and the faults.
func (s *session) tasteText(t *tasted, course []wheel.AgeScores, faults []wheel.FaultCount, on day.Date) error {
	bold := s.style("1")
	head := "tastings of " + text.Safe(strings.Join(t.asked, ", "))
	if len(t.makes) == 1 {
		m := t.makes[0]
		title := m.Variety
		if v, err := s.tx.Variety(m.Variety); err == nil {
			title = v.Title
		} else if !isNotFound(err) {
			return err
		}
		head += fmt.Sprintf(": %s, made %s", title, m.Date)
		if age := int(on - m.Date); age >= 0 {
			head += ", " + text.Count(age, "day") + " old"
		}
	}
	for _, l := range text.Wrap(head, s.env.Columns()) {
		s.print("%s\n", bold(l))
	}
	if len(t.ones) == 0 {
		s.print("not tasted yet\n")
		s.next("record one: rindkeep taste TAG --flavour 4 --texture 5 --fault WORD")
		return nil
	}
	wheels, tasters := wheel.CountTasted(t.samples)
	s.print("%s of %s by %s\n\n", text.Count(len(t.ones), "tasting"), text.Count(wheels, "wheel"), text.Count(tasters, "taster"))

	dated := len(t.makes) == 1 // one age is one date
	tab := text.Table{Columns: []text.Column{{Title: "age", Right: true}}}
	if dated {
		tab.Columns = append(tab.Columns, text.Column{Title: "date"})
	}
	for _, h := range []string{"times", "wheels", "by"} {
		tab.Columns = append(tab.Columns, text.Column{Title: h, Right: true})
	}
	for _, at := range wheel.Attributes {
		tab.Columns = append(tab.Columns, text.Column{Title: string(at), Right: true})
	}
	part := false
	for _, c := range course {
		row := []string{fmt.Sprintf("%d d", c.Age)}
		if dated {
			row = append(row, strings.Join(t.datesAt(c.Age), ", "))
		}
		row = append(row, fmt.Sprint(c.Tastings), fmt.Sprint(c.Wheels), fmt.Sprint(c.Tasters))
		for _, at := range wheel.Attributes {
			m := c.Scores[at]
			switch {
			case m.N == 0:
				row = append(row, "-")
			case m.N < c.Tastings:
				part = true
				row = append(row, fmt.Sprintf("%.1f (%d)", m.Mean, m.N))
			default:
				row = append(row, fmt.Sprintf("%.1f", m.Mean))
			}
		}
		tab.Add(row...)
	}
	s.lines(tab.Lines(s.env.Columns()))
	if ls := tasteChart(course, min(s.env.Columns(), 80)); ls != nil {
		s.print("\n")
		s.lines(ls)
	}
	if len(faults) > 0 {
		s.print("\n%s\n", bold("faults"))
		ft := text.Table{Indent: 2, Columns: []text.Column{{Wrap: true}, {}, {}, {}}}
		for _, f := range faults {
			age := fmt.Sprintf("at %d days", f.Youngest)
			if f.Oldest > f.Youngest {
				age = fmt.Sprintf("at %d to %d days", f.Youngest, f.Oldest)
			}
			of := string(f.Of)
			if of == "" {
				of = "your own word"
			}
			ft.Add(f.Fault, text.Count(f.Count, "time")+" on "+text.Count(f.Wheels, "wheel"), age, of)
		}
		s.lines(ft.Lines(s.env.Columns()))
	}
	words := "\nmeans of scores: 5 meets your own specification, 1 departs from it altogether"
	if part {
		words += "; in brackets how many scored it, where not all did"
	}
	s.next("%s", words)
	return nil
}

// tasteChart draws the means over the age, to half a point, each attribute by
// its first letter; nil where there is one age alone. What falls on one point
// stands side by side.
func tasteChart(course []wheel.AgeScores, width int) []string {
	least, scored := 5.0, false
	for _, c := range course {
		for _, m := range c.Scores {
			if m.N > 0 {
				least, scored = min(least, m.Mean), true
			}
		}
	}
	if len(course) < 2 || !scored {
		return nil
	}
	const gut, letters = 4, 4
	first, last := course[0].Age, course[len(course)-1].Age
	w := max(20, width-gut-letters)
	row := func(mean float64) int { return int(2*(5-mean) + 0.5) }
	grid := make([][]rune, row(float64(max(1, int(least))))+1)
	for i := range grid {
		grid[i] = []rune(strings.Repeat(" ", w+letters))
	}
	axis, ages := []rune(strings.Repeat("─", w+letters)), []rune(strings.Repeat(" ", w+letters+12))
	free, drawn := 0, map[wheel.Attribute]bool{}
	for _, c := range course {
		x := (c.Age - first) * (w - 1) / (last - first)
		axis[x] = '┬'
		if lab := fmt.Sprintf("%d d", c.Age); x >= free {
			copy(ages[x:], []rune(lab))
			free = x + len(lab) + 2
		}
		for _, at := range wheel.Attributes {
			m := c.Scores[at]
			if m.N == 0 {
				continue
			}
			line := grid[row(m.Mean)]
			for k := x; k < min(x+letters, len(line)); k++ {
				if line[k] == ' ' {
					line[k] = rune(strings.ToUpper(string(at))[0])
					break
				}
			}
			drawn[at] = true
		}
	}
	var out []string
	for i, line := range grid {
		lab := "  "
		if i%2 == 0 {
			lab = fmt.Sprintf("%d ", 5-i/2)
		}
		edge := "│"
		if i%2 == 0 {
			edge = "┤"
		}
		out = append(out, strings.TrimRight(lab+edge+string(line), " "))
	}
	out = append(out, "  └"+string(axis), strings.TrimRight("   "+string(ages), " "))
	var legend []string
	for _, at := range wheel.Attributes {
		if drawn[at] {
			legend = append(legend, strings.ToUpper(string(at))[:1]+" "+string(at))
		}
	}
	return append(out, strings.Join(legend, "  "))
}
