package tables

import (
	"errors"
	"fmt"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/care"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/tables"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/words"
	"rindkeep/store/load"
)

// mostWhere is how many rows of a group are named: our choice.
const mostWhere = 6

// faulty tells what is wrong with the table; another error stays.
func (t *taking) faulty(err error) error {
	var bad intake.Problems
	var one intake.Problem
	switch {
	case errors.As(err, &bad):
	case errors.As(err, &one):
		bad = intake.Problems{one}
	default:
		return err
	}
	f := Faulty{Headings: t.out.Headings, Fields: t.out.Fields, Problems: []Group{}, Questions: []Question{}}
	n := fmt.Sprintf("%d problems", len(bad))
	switch {
	case len(bad) == 1:
		n = "1 problem"
	case len(bad) >= load.MostProblems:
		n = "at least " + n
	}
	f.Words = fmt.Sprintf("%s has %s; nothing was recorded", t.Name, n)
	for _, p := range bad.Alike(t.words.Bare) {
		g := Group{Words: t.words.Bare(p.Problem), Rows: 1 + len(p.Rows), More: p.More, Code: p.Code()}
		if w := p.Where(); w != "" {
			g.Where = append(g.Where, w)
		}
		for _, l := range p.Rows[:min(len(p.Rows), mostWhere)] {
			q := p.Problem
			q.Line = l
			g.Where = append(g.Where, q.Where())
		}
		if r, ok := p.Why.(*app.Refusal); ok {
			g.Sure = r.Sure
		}
		f.Problems = append(f.Problems, g)
		f.ask(t, p.Problem)
	}
	return f
}

// kindOf asks what a word for a kind of cheese means; "": rows without one.
func (t *taking) kindOf(word, words, near string) Question {
	q := Question{Name: "kinds." + word, Words: words, Value: near}
	d, _ := library.Varieties(t.ctx, t.app, t.caller) // without them, nothing can be chosen
	for _, v := range d.Varieties {
		q.Options = append(q.Options, [2]string{v.Name, v.Title})
	}
	return q
}

// columnOf asks which column has a field.
func columnOf(field string, from []string) Question {
	q := Question{Name: "columns." + field, Words: words.TableField(field) + " is in"}
	for _, h := range from {
		q.Options = append(q.Options, [2]string{h, h})
	}
	return q
}

// ask adds the question that would settle a problem, once.
func (f *Faulty) ask(t *taking, p intake.Problem) {
	why := p.Why
	if r, ok := why.(*app.Refusal); ok && r.Why != nil {
		why = r.Why
	}
	var q Question
	switch w := why.(type) {
	case tables.NoKind:
		q = t.kindOf(w.Word, "“"+w.Word+"” is", w.Near)
	case care.NewNeeds:
		if p.Column > 0 || w.What != "variety" {
			return
		}
		q = t.kindOf("", "they’re all", "")
	case intake.NoAirColumns:
		q = columnOf(w.Missing[0], w.Has)
	case intake.TwoColumns:
		q = columnOf(w.Field, []string{w.First, w.Heading})
	case intake.NoColumn:
		if len(f.Headings) > 0 || len(w.Has) == 0 {
			return // a field can be chosen for each column
		}
		q = columnOf(w.Field, w.Has)
	case intake.Ambiguous:
		q = Question{Name: "dates", Words: w.Word + " is", Options: [][2]string{{"dmy", "day first"}, {"mdy", "month first"}}}
	case intake.TwoSensors:
		q = Question{Name: "sensor", Words: "the sensor in this room is", Options: [][2]string{
			{w.First, w.First}, {w.Second, w.Second},
		}}
	case intake.NeedsUnit:
		q = Question{Name: "unit", Words: "its weights are in", Options: [][2]string{
			{"kg", "kg"}, {"g", "g"}, {"lb", "lb"}, {"oz", "oz"},
		}}
	case intake.TempOutside:
		q = Question{Name: "unit", Words: "its temperatures are in", Value: "F", Options: [][2]string{
			{"F", "°F"}, {"C", "°C"},
		}}
	default:
		return
	}
	for _, x := range f.Questions {
		if x.Name == q.Name {
			return
		}
	}
	f.Questions = append(f.Questions, q)
}
