package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	uc "rindkeep/cmd/app"
	dryinguc "rindkeep/cmd/app/drying"
	"rindkeep/cmd/cli/sheets"
	"rindkeep/cmd/plot"
	"rindkeep/cmd/sheet"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/store"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

func (a *app) sheetWheelCmd() *cobra.Command {
	var f sheets.Flags
	var most int
	c := a.nowCmd("wheel TAG", "One wheel's card: figures, curve, verdict, what is due, history", `
rindkeep sheet wheel 261120A-03
rindkeep sheet wheel 261120A-03 --history 0 --paper letter`, exactly("TAG"), func(cmd *cobra.Command, args []string) error {
		return a.sheet(&f, func(s *session, h sheet.Head) (sheets.Printed, error) {
			ws, err := s.pick(args)
			if err != nil {
				return sheets.Printed{}, err
			}
			if len(ws) != 1 || !strings.EqualFold(ws[0].Tag, args[0]) {
				return sheets.Printed{}, usagef("print one wheel by its tag")
			}
			return s.sheetWheel(h, ws[0], most)
		})
	})
	f.Add(c)
	c.Flags().IntVar(&most, "history", 12, "the last `N` entries; 0 for all")
	return a.completesArgs(c, func(s *session, _ int, word string) []string { return whatWords(s, word)[1:] })
}

func (s *session) sheetWheel(h sheet.Head, st store.WheelState, most int) (sheets.Printed, error) {
	row, l, err := s.rowOf(st)
	if err != nil {
		return sheets.Printed{}, err
	}
	j, err := s.S.Judge(st, s.now)
	if err != nil {
		return sheets.Printed{}, err
	}
	dr, err := dryinguc.CurveOf(s.S, st, 0)
	if err != nil {
		return sheets.Printed{}, err
	}
	all, err := s.tx.History(st.Wheel)
	if err != nil {
		return sheets.Printed{}, err
	}
	tasks, err := s.tx.TasksOf(st.Wheel)
	if err != nil {
		return sheets.Printed{}, err
	}
	d := sheet.Card{Tag: l.Tag, Facts: s.cardFacts(j)}
	where := row.Stage
	if row.Place != "" {
		where += ", at " + row.Place
	}
	d.What = []string{
		fmt.Sprintf("%s, lot %s", j.Variety.Title, l.Make.Lot),
		fmt.Sprintf("made %s, %d days old", l.Make.Date.Long(), row.Age),
		where, fmt.Sprintf("plan %s, %s", l.Plan, shapeWords(l)),
	}
	if l.GoneOn != day.None {
		d.Alert = append(d.Alert, fmt.Sprintf("GONE since %s: %s", l.GoneOn, s.printer().Why(l.GoneWhy)))
	}
	for _, x := range l.Holds {
		d.Alert = append(d.Alert, fmt.Sprintf("HELD since %s: %s", x.On, x.Why))
	}
	for _, x := range j.LawHolds(s.now) {
		if l.GoneOn == day.None {
			d.Alert = append(d.Alert, "HELD by law: "+s.printer().Sentence(x.Reason()))
		}
	}
	if e, ok := l.Blown(); ok && l.GoneOn == day.None {
		d.Alert = append(d.Alert, fmt.Sprintf("BLOWN with gas, %s: do not coat it; keep it apart and find out why", day.At(e.At, s.loc).Short()))
	}
	if len(j.Dry.Leak) > 0 {
		d.Alert = append(d.Alert, "LEAK: "+s.printer().Why(j.Dry.Leak))
	}
	if len(dr.Points) > 0 || len(dr.Expected) > 0 {
		ch := plot.Drying([]dryinguc.Curve{dr})
		d.Chart = &ch
	}
	if j.Gated && len(l.Coats) == 0 && row.Gone == nil {
		p := s.printer()
		d.Verdict, d.Advice = words.Answer(j.Dry.Answer), spaced(p.Why(j.Dry.Advice))
		if j.Dry.On != nil && !j.Dry.Overdue {
			d.Advice += "; expected " + s.printer().Expected(*j.Dry.On)
		}
		for _, r := range j.Dry.Rules {
			d.Rules = append(d.Rules, sheet.Rule{Met: r.Met, Name: words.Rule(r.Code), Have: p.Why(r.Have), Need: p.Why(r.Need)})
		}
		if j.Dry.Answer == verdict.DryEnough || j.Dry.Answer == verdict.CheckByHand {
			d.Caution = []string{words.HotWax}
		}
	}
	if l.Make.Milk.Treatment == wheel.Raw {
		r, err := s.S.RawMilk(l.Make, wheel.Raw)
		if err != nil {
			return sheets.Printed{}, err
		}
		d.Caution = append(d.Caution, spaced(s.printer().RawMilk(r)))
	}
	for _, x := range tasks {
		when := x.Due.Short()
		if on, ok := x.On(s.today); ok {
			when = "today"
			if on.LateDays > 0 {
				when = "LATE " + text.Count(on.LateDays, "day")
			}
		}
		d.Due = append(d.Due, []string{string(x.Job), when, s.printer().Why(x.Why)})
	}
	if most > 0 && len(all) > most {
		d.Left = fmt.Sprintf("the last %d of %d", most, len(all))
	}
	alive := map[[16]byte]bool{}
	for _, e := range wheel.Live(all) {
		alive[e.ID] = true
	}
	if d.Left != "" {
		all = all[len(all)-most:]
	}
	for _, e := range all {
		d.Events = append(d.Events, s.sheetEvent(e, e.Kind != wheel.Struck && !alive[e.ID]))
	}
	draw := func() (sheet.Doc, error) { return sheet.Wheel(h, d) }
	return sheets.Printed{Draw: draw, Name: sheets.FileName("wheel", l.Tag)}, nil
}

// cardFacts are a wheel's figures for its card.
func (s *session) cardFacts(j uc.Judged) [][2]string {
	l := j.Life
	var out [][2]string
	add := func(name, format string, a ...any) {
		out = append(out, [2]string{name, fmt.Sprintf(format, a...)})
	}
	loss := quantity.Fraction(0)
	if j.Dry.Weighings > 0 {
		loss = j.Dry.Loss
	} else if j.Dry.Present.Known() {
		loss = quantity.Fraction(j.Dry.Present.Best)
	}
	now := l.Make.Start.After(loss)
	if p, ok := l.Chain.Last(); ok {
		add("weight", "%s", s.weightWords(l))
		add("green weight", "%s on %s", s.units.Weight(l.Chain.Green), l.Chain.Began.In(s.loc).Format("Mon 2 Jan 2006"))
		add("loss", "%.1f %% then; now about %.1f %% (%.1f to %.1f)", p.Loss().Percent(), 100*j.Dry.Present.Best, 100*j.Dry.Present.Low, 100*j.Dry.Present.High)
		basis := s.printer().Basis(j.Dry.Basis, j.Dry.Weighings)
		add("losing", "%.2f %% a day (%.2f to %.2f); from %s", 100*j.Dry.Rate.Best, 100*j.Dry.Rate.Low, 100*j.Dry.Rate.High, basis)
	} else {
		add("weight", "never weighed")
	}
	add("moisture", "about %.1f %% (%.1f to %.1f)", 100*now.Moisture.Best, 100*now.Moisture.Low, 100*now.Moisture.High)
	add("fat in dry matter", "about %.1f %%; moisture on fat-free basis %.1f %% (%s)", 100*now.FDM.Best, 100*now.MFFB.Best, or(wheel.Firmness(quantity.Fraction(now.MFFB.Best))))
	add("salt in moisture", "about %.1f %%", 100*now.SaltInMoisture.Best)
	lims := s.limits(j, now)
	for _, m := range lims {
		word := "within"
		if !m.Met {
			word = "NOT YET within"
		}
		add("limit", "%s: %s, %s", m.Limit, m.Have, word)
	}
	if len(lims) > 0 {
		add("", "limits for information, no promise: %s", lims[0].Source)
	}
	for _, n := range l.Chain.Notes {
		add("note", "%s", s.printer().Sentence(n))
	}
	return out
}

// sheetEvent is an entry as a sheet shows it.
func (s *session) sheetEvent(e wheel.Entry, struck bool) []string {
	words := s.detail(e)
	if e.Note != "" {
		words = strings.TrimPrefix(words+"; "+e.Note, "; ")
	}
	if struck {
		words = "STRUCK " + words
	}
	return []string{e.Mark(), e.At.In(s.loc).Format("2 Jan 2006 15:04"), e.Word(), words, e.By}
}
