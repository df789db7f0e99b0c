package cli

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/plot"
	"rindkeep/cmd/text"
	"rindkeep/store"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

func (a *app) curveCmd() *cobra.Command {
	var pic console.Picture
	var asCSV bool
	var days int
	c := a.cmd("curve TAG|LOT", "Weights against the expected and the own curve", `
rindkeep curve 261120A-03
rindkeep curve 261120A                      the whole lot in one picture
rindkeep curve 261120A-03 --svg curve.svg
rindkeep curve 261120A-03 --csv > curve.csv`, exactly("TAG"), func(cmd *cobra.Command, args []string) error {
		if asCSV && a.json {
			return usagef("give --csv or --json, not both")
		}
		if asCSV && pic.Path == "-" {
			return usagef("--csv and a picture both want standard output; name a file for the picture")
		}
		if err := pic.Check(a.Console); err != nil {
			return err
		}
		if days < 0 || days > 3650 {
			return usagef("--days %d is out of range; give 1 to 3650", days)
		}
		return a.view(func(s *session) error { return s.curve(args[0], &pic, asCSV, days) })
	})
	pic.Flags(c)
	f := c.Flags()
	f.BoolVar(&asCSV, "csv", false, "print the figures as CSV")
	f.IntVar(&days, "days", 0, "`N` days to draw (default: as far as the next steps)")
	return a.completesArgs(c, func(s *session, _ int, word string) []string { return whatWords(s, word)[1:] })
}

type curvePoint struct {
	Day  float64 `json:"day"`
	Date string  `json:"date"`
	Loss float64 `json:"loss_pct"`
	Note string  `json:"standing"`
}

type curveBand struct {
	Day  float64 `json:"day"`
	Loss est     `json:"loss_pct"`
}

type curveSheet struct {
	Schema   string       `json:"schema"`
	Wheel    string       `json:"wheel"`
	Began    *string      `json:"began"`
	Points   []curvePoint `json:"points"`
	Expected []curveBand  `json:"expected"`
	Own      []curveBand  `json:"own"`
	Basis    string       `json:"basis"`
	Target   *float64     `json:"target_loss_pct"`
	On       *expectedDoc `json:"expected_on"`
}

// drawn is a wheel's curve ready to print.
type drawn struct {
	c        verdict.Case
	f        drying.Forecast
	v        verdict.Dry
	gated    bool
	horizon  float64
	points   []curvePoint
	expected []curveBand
	own      []curveBand
	target   float64 // percent; NaN: none
}

func (s *session) drawnOf(st store.WheelState, days int) (drawn, error) {
	at, _, err := s.asOf()
	if err != nil {
		return drawn{}, err
	}
	c, gated, err := s.gatedCase(st, at)
	if err != nil {
		return drawn{}, err
	}
	f := c.Forecast()
	d := drawn{c: c, f: f, v: c.DryBy(f, at), gated: gated, target: math.NaN()}
	now := math.Max(c.Day(at), 0)
	d.horizon = math.Ceil(math.Max(14, now*1.3+3))
	if gated && len(c.Life.Coats) == 0 {
		d.target = c.TargetLoss().Percent()
		if d.v.On != nil {
			d.horizon = math.Max(d.horizon, math.Min(math.Ceil(c.Day(d.v.On.Best.Noon(s.loc)))+4, now+120))
		}
	}
	if days > 0 {
		d.horizon = float64(days)
	}
	ss := f.Standings()
	for i, p := range c.Life.Chain.Points {
		l := rounded(p.Loss().Percent(), 10)
		d.points = append(d.points, curvePoint{rounded(p.Day, 6), day.At(p.At, s.loc).String(), l, string(ss[i].Verdict)})
	}
	// Fine enough that the first days show their bend, whole days among them.
	step := 0.25
	for d.horizon/step > 240 {
		step *= 2
	}
	for x := 0.0; x <= d.horizon; x += step {
		d.expected = append(d.expected, curveBand{x, pctEst(f.Expected(x))})
		d.own = append(d.own, curveBand{x, pctEst(f.Loss(x))})
	}
	return d, nil
}

func (s *session) curve(word string, pic *console.Picture, asCSV bool, days int) error {
	ws, err := s.pick([]string{word})
	if err != nil {
		return err
	}
	if len(ws) == 0 {
		return fmt.Errorf("no wheel of %s is here any more; name one by its tag", safeWord(word))
	}
	var all []drawn
	for _, w := range ws {
		d, err := s.drawnOf(w, days)
		if err != nil {
			return err
		}
		all = append(all, d)
		if len(all) == 26 {
			break
		}
	}
	if len(ws) > len(all) {
		s.note("the first %d of %d wheels are drawn", len(all), len(ws))
	}
	if asCSV {
		return s.curveCSV(all)
	}
	ch := chartOf(all, s.loc)
	done, err := pic.Put(s.Console, ch.SVG)
	if err != nil || done {
		return err
	}
	if s.json && len(ws) == 1 {
		return s.document(sheetOf(all[0]))
	}
	if s.json {
		docs := []curveSheet{}
		for _, d := range all {
			docs = append(docs, sheetOf(d))
		}
		return s.document(struct {
			Schema string       `json:"schema"`
			Wheels []curveSheet `json:"wheels"`
		}{schema("curve-lot"), docs})
	}
	s.curveText(all, ch)
	return nil
}

func sheetOf(d drawn) curveSheet {
	doc := curveSheet{Schema: schema("curve"), Wheel: d.c.Life.Tag, Points: filled(d.points), Expected: filled(d.expected), Own: filled(d.own), Basis: string(d.f.Basis()), Target: num(d.target)}
	if d.c.Life.Chain.Green > 0 {
		t := d.c.Life.Chain.Began.In(d.c.Loc).Format(time.RFC3339)
		doc.Began = &t
	}
	if d.v.On != nil {
		doc.On = expectedOf(d.v.On)
	}
	return doc
}

// chartOf lays out one wheel with its bands, or several wheels' weights.
func chartOf(all []drawn, loc *time.Location) plot.Chart {
	d := all[0]
	ch := plot.Chart{Title: d.c.Life.Tag, XLabel: "days since drying began"}
	panel := plot.Panel{Label: "loss, % of green weight"}
	add := func(look plot.Look, name string, at ...plot.Span) {
		panel.Series = append(panel.Series, plot.Series{Look: look, Name: name, At: at})
	}
	weights := func(d drawn) (at []plot.Span) {
		for _, p := range d.points {
			at = append(at, plot.At(p.Day, p.Loss))
		}
		return at
	}
	band := func(list []curveBand) (at []plot.Span) {
		for _, b := range list {
			at = append(at, plot.Span{X: b.Day, Low: *b.Loss.Low, High: *b.Loss.High})
		}
		return at
	}
	if len(all) == 1 {
		add(plot.OwnBand, "90 %", band(d.own)...)
	}
	add(plot.Expected, "expected before weighing, 90 %", band(d.expected)...)
	if d.gated {
		add(plot.Target, "loss to coat at", plot.At(0, d.target))
	}
	for _, k := range d.c.Life.Coats {
		add(plot.Upright, "coated with "+k.Coat, plot.At(d.c.Day(k.At), 0))
	}
	if len(all) > 1 {
		ch.Title = "lot " + d.c.Life.Make.Lot
		for i, o := range all {
			add(plot.Other+plot.Look(i), o.c.Life.Tag, weights(o)...)
		}
	} else {
		if d.v.On != nil {
			add(plot.Upright, "expected dry enough "+d.v.On.Best.Short(), plot.At(d.c.Day(d.v.On.Best.Noon(loc)), 0))
		}
		var own []plot.Span
		for _, b := range d.own {
			own = append(own, plot.At(b.Day, *b.Loss.Best))
		}
		add(plot.Own, "own curve", own...)
		add(plot.Weighed, "weighed", weights(d)...)
	}
	ch.Panels = []plot.Panel{panel}
	return ch
}

func (s *session) curveText(all []drawn, ch plot.Chart) {
	d := all[0]
	about := d.c.Variety.Title
	if len(all) > 1 {
		about = text.Count(len(all), "wheel")
	}
	s.print("%s  %s\n\n", s.style("1")(ch.Title), about)
	s.lines(ch.Text(s.env.Columns(), 16))
	s.lines(ch.Legend(s.env.Columns()))
	if len(all) > 1 {
		return
	}
	s.print("\n")
	if len(d.points) == 0 {
		s.print("no weights yet: the curve is what physics expects of its size, make and room\n")
		return
	}
	green := d.c.Life.Chain.Green
	if now, day := d.c.Life.Chain.Present(); now > 0 && slices.ContainsFunc(d.c.Life.Entries, func(e wheel.Entry) bool { return e.Kind.Reweighs() && e.Kind != wheel.CoatedOn }) {
		green = now / quantity.Grams(1-d.f.Loss(day).Best) // of what is left of it
	}
	now := math.Max(d.c.Day(s.now), 0)
	for _, ahead := range []float64{0, 7, 30} {
		e := d.f.Loss(now + ahead)
		when := "now"
		if ahead > 0 {
			when = fmt.Sprintf("in %.0f days", ahead)
		}
		s.print("%-11s loss %.1f %% (%.1f to %.1f), %s of cheese\n", when, 100*e.Best, 100*e.Low, 100*e.High, s.units.Weight(net(green, e.Best)))
	}
	if d.gated && len(d.c.Life.Coats) == 0 {
		s.lines(text.Wrap("dry enough to coat? "+s.answerLine(d.v), s.env.Columns()))
	}
	if len(d.v.Leak) > 0 {
		s.lines(text.Wrap("LEAK: "+s.printer().Why(d.v.Leak), s.env.Columns()))
	}
	for _, p := range d.points {
		if p.Note == string(drying.Unlikely) {
			s.print("the weight of %s (%.1f %%) is unlikely: weigh again, or strike it\n", p.Date, p.Loss)
		}
	}
}

func (s *session) curveCSV(all []drawn) error {
	w := text.NewCSV(s.env.Out, s.loc)
	err := w.Row("wheel", "what", "day", "date", "loss_pct", "low_pct", "high_pct")
	row := func(cells ...any) { err = errors.Join(err, w.Row(cells...)) }
	digits := func(p *float64) any {
		if p == nil {
			return nil
		}
		x, _ := strconv.ParseFloat(fmt.Sprintf("%.6g", *p), 64)
		return x
	}
	for _, d := range all {
		for _, p := range d.points {
			row(d.c.Life.Tag, "weighed", digits(&p.Day), p.Date, digits(&p.Loss), nil, nil)
		}
		for _, set := range []struct {
			name string
			list []curveBand
		}{{"expected", d.expected}, {"own", d.own}} {
			for _, b := range set.list {
				on := day.At(d.c.Time(b.Day), s.loc)
				row(d.c.Life.Tag, set.name, digits(&b.Day), on, digits(b.Loss.Best), digits(b.Loss.Low), digits(b.Loss.High))
			}
		}
	}
	return errors.Join(err, w.Close())
}
