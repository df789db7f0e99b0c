package cli

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	uc "rindkeep/cmd/app"
	dryinguc "rindkeep/cmd/app/drying"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/store"
	"rindkeep/wheel"
)

type entryDoc = uc.EntryDoc

func (s *session) entryDocOf(e wheel.Entry, struck bool) entryDoc {
	d := s.S.EntryDoc(e, struck)
	d.Detail = s.detail(e)
	return d
}

func (s *session) detail(e wheel.Entry) string { return s.printer().EntryDetail(e) }

func (a *app) wheelShowCmd() *cobra.Command {
	var most int
	c := a.nowCmd("show TAG", "One wheel's card", `
rindkeep wheel show 261120A-03
rindkeep wheel show 261120A-03 --history 100`, exactly("TAG"), func(cmd *cobra.Command, args []string) error {
		return a.view(func(s *session) error {
			ws, err := s.pick(args)
			if err != nil {
				return err
			}
			if len(ws) != 1 || !strings.EqualFold(ws[0].Tag, args[0]) {
				return usagef("show one wheel by its tag; wheel list %s lists several", safeWord(args[0]))
			}
			return s.card(ws[0], most)
		})
	})
	c.Flags().IntVar(&most, "history", 12, "the last `N` entries; 0 for all")
	return a.completesArgs(c, func(s *session, _ int, word string) []string { return whatWords(s, word)[1:] })
}

type cardDoc struct {
	Schema string `json:"schema"`
	wheelRow
	Title       string            `json:"variety_title"`
	Made        string            `json:"made"`
	Shape       string            `json:"shape"`
	Green       *float64          `json:"green_weight_g"`
	Began       *string           `json:"drying_began"`
	Tare        *float64          `json:"coat_g"`
	Composition compositionDoc    `json:"composition"`
	Limits      []limitDoc        `json:"limits"`
	Holds       []string          `json:"holds"`
	Law         []library.LawHold `json:"law"`
	Labels      []library.Label   `json:"labels"`
	Dry         *dryinguc.Wheel   `json:"dry"`
	Due         []dueDoc          `json:"due"`
	Notes       []string          `json:"notes"`
	NotesWhy    reason.List       `json:"notes_reasons"`
	Entries     []entryDoc        `json:"entries"`
}

// shapeWords are a wheel's measures, and where they come from if nobody took
// them.
func shapeWords(l wheel.Life) string {
	sh, reckoned := l.Shape()
	if !reckoned {
		return sh.String()
	}
	return sh.String() + ", reckoned from its weight"
}

type compositionDoc struct {
	Moisture est `json:"moisture_pct"`
	MFFB     est `json:"mffb_pct"`
	FDM      est `json:"fdm_pct"`
	SM       est `json:"salt_in_moisture_pct"`
	AW       est `json:"water_activity"`
}

type limitDoc struct {
	Limit  string `json:"limit"`
	Have   string `json:"have"`
	Met    bool   `json:"met"`
	Source string `json:"source"`
}

type dueDoc struct {
	Job     string      `json:"job"`
	Due     string      `json:"due"`
	Late    int         `json:"late_days"`
	Why     string      `json:"why"`
	Reasons reason.List `json:"reasons"`
	Coat    string      `json:"coat"`
}

func (s *session) card(st store.WheelState, most int) error {
	row, l, err := s.rowOf(st)
	if err != nil {
		return err
	}
	j, err := s.S.Judge(st, s.now)
	if err != nil {
		return err
	}
	all, err := s.tx.History(st.Wheel)
	if err != nil {
		return err
	}
	alive := map[[16]byte]bool{}
	for _, e := range wheel.Live(all) {
		alive[e.ID] = true
	}
	tasks, err := s.tx.TasksOf(st.Wheel)
	if err != nil {
		return err
	}
	loss := quantity.Fraction(0)
	if j.Dry.Weighings > 0 {
		loss = j.Dry.Loss
	} else if j.Dry.Present.Known() {
		loss = quantity.Fraction(j.Dry.Present.Best)
	}
	now := l.Make.Start.After(loss)
	lims := s.limits(j, now)
	if s.json {
		d := cardDoc{
			Schema: schema("wheel"), wheelRow: row, Title: j.Variety.Title, Made: l.Make.Date.String(), Shape: shapeWords(l), Green: grams(l.Chain.Green), Tare: grams(l.Chain.Tare),
			Composition: compositionDoc{pctEst(now.Moisture), pctEst(now.MFFB), pctEst(now.FDM), pctEst(now.SaltInMoisture), estOf(now.WaterActivity)},
			Limits:      filled(lims), Holds: []string{}, Law: s.printer().FillLaw(library.LawHolds(j.LawDays(s.now))), Labels: library.Labels(j.Labels()), Due: []dueDoc{}, Notes: s.printer().All(l.Chain.Notes), NotesWhy: l.Chain.Notes, Entries: []entryDoc{},
		}
		if l.Chain.Green > 0 {
			t := instant(l.Chain.Began, s.loc)
			d.Began = &t
		}
		for _, h := range l.Holds {
			d.Holds = append(d.Holds, h.Why)
		}
		if j.Gated {
			dw := dryinguc.WheelOf(j)
			s.Words.FillVerdict(&dw)
			d.Dry = &dw
		}
		for _, t := range tasks {
			late := 0
			if on, ok := t.On(s.today); ok {
				late = on.LateDays
			}
			d.Due = append(d.Due, dueDoc{string(t.Job), t.Due.String(), late, s.printer().Why(t.Why), t.Why, t.Coat})
		}
		for _, e := range all {
			d.Entries = append(d.Entries, s.entryDocOf(e, e.Kind != wheel.Struck && !alive[e.ID]))
		}
		return s.document(d)
	}
	s.print("%s  %s, lot %s, made %s, %d days old\n", s.style("1")(l.Tag), j.Variety.Title, l.Make.Lot, l.Make.Date, row.Age)
	s.print("%s", row.Stage)
	if row.Place != "" {
		s.print(", at %s", row.Place)
	}
	s.print(", plan %s, %s\n", l.Plan, shapeWords(l))
	if l.GoneOn != day.None {
		s.print("gone since %s: %s\n", l.GoneOn, text.Safe(s.printer().Why(l.GoneWhy)))
	}
	for _, h := range l.Holds {
		s.print("HELD since %s: %s\n", h.On, text.Safe(h.Why))
	}
	for _, h := range j.LawHolds(s.now) {
		if l.GoneOn == day.None {
			s.caution("HELD by law: " + s.printer().Sentence(h.Reason()))
		}
	}
	s.print("\n")
	t := text.Table{Indent: 2, Columns: []text.Column{{}, {Wrap: true}}}
	if p, ok := l.Chain.Last(); ok {
		t.Add("weight", s.weightWords(l))
		t.Add("green weight", fmt.Sprintf("%s on %s", s.units.Weight(l.Chain.Green), l.Chain.Began.In(s.loc).Format("Mon 2 Jan 2006")))
		t.Add("loss", fmt.Sprintf("%.1f %% then; now about %.1f %% (%.1f to %.1f)", p.Loss().Percent(), 100*j.Dry.Present.Best, 100*j.Dry.Present.Low, 100*j.Dry.Present.High))
	} else {
		t.Add("weight", "never weighed")
	}
	t.Add("moisture", fmt.Sprintf("about %.1f %% (%.1f to %.1f)", 100*now.Moisture.Best, 100*now.Moisture.Low, 100*now.Moisture.High))
	t.Add("fat in dry matter", fmt.Sprintf("about %.1f %%; moisture on fat-free basis %.1f %% (%s)", 100*now.FDM.Best, 100*now.MFFB.Best, or(wheel.Firmness(quantity.Fraction(now.MFFB.Best)))))
	t.Add("salt in moisture", fmt.Sprintf("about %.1f %%", 100*now.SaltInMoisture.Best))
	for _, m := range lims {
		word := "within"
		if !m.Met {
			word = "NOT YET within"
		}
		t.Add("limit", fmt.Sprintf("%s: %s, %s", m.Limit, m.Have, word))
	}
	if len(lims) > 0 {
		var from []string
		for _, m := range lims {
			if !slices.Contains(from, m.Source) {
				from = append(from, m.Source)
			}
		}
		t.Add("", "limits for information, no promise: "+strings.Join(from, "; "))
	}
	for _, r := range library.Labels(j.Labels()) {
		t.Add("law", s.Words.Label(r))
	}
	if j.Gated && len(l.Coats) == 0 && row.Gone == nil {
		t.Add("dry enough?", s.printer().AnswerLine(j.Dry))
	}
	if len(j.Dry.Leak) > 0 {
		t.Add("LEAK", s.printer().Why(j.Dry.Leak))
	}
	for _, n := range l.Chain.Notes {
		t.Add("note", s.printer().Sentence(n))
	}
	s.lines(t.Lines(s.env.Columns()))
	if len(tasks) > 0 {
		s.print("\ndue\n")
		t := text.Table{Indent: 2, Columns: []text.Column{{}, {}, {Wrap: true}}}
		for _, x := range tasks {
			when := x.Due.Short()
			if on, ok := x.On(s.today); ok {
				when = "today"
				if on.LateDays > 0 {
					when = "LATE " + text.Count(on.LateDays, "day")
				}
			}
			t.Add(string(x.Job), when, s.printer().Why(x.Why))
		}
		s.lines(t.Lines(s.env.Columns()))
	}
	s.history(all, alive, most)
	return nil
}

func (s *session) history(all []wheel.Entry, alive map[[16]byte]bool, most int) {
	if len(all) == 0 {
		return
	}
	s.print("\nhistory")
	from := 0
	if most > 0 && len(all) > most {
		from = len(all) - most
		s.print(" (the last %d of %d; --history 0 for all)", most, len(all))
	}
	s.print("\n")
	t := text.Table{Indent: 2, Columns: []text.Column{{}, {}, {}, {Wrap: true}, {}}}
	for _, e := range all[from:] {
		words := s.detail(e)
		if e.Note != "" {
			words = strings.TrimPrefix(words+"; "+text.Safe(e.Note), "; ")
		}
		if e.Kind != wheel.Struck && !alive[e.ID] {
			words = "STRUCK " + words
		}
		t.Add(e.Mark(), e.At.In(s.loc).Format("2006-01-02 15:04"), e.Word(), words, e.By)
	}
	s.lines(t.Lines(s.env.Columns()))
}

// limits compares a wheel with what a standard asks of its variety, for
// information and never as a promise.
func (s *session) limits(j uc.Judged, now wheel.Now) []limitDoc {
	l := j.Variety.Limits
	var out []limitDoc
	if l.MaxMoisture > 0 {
		out = append(out, limitDoc{fmt.Sprintf("moisture at most %.1f %%", l.MaxMoisture.Percent()), fmt.Sprintf("about %.1f %%", 100*now.Moisture.Best), now.Moisture.Best <= float64(l.MaxMoisture), l.Source})
	}
	if l.MinFatInSolids > 0 {
		out = append(out, limitDoc{fmt.Sprintf("fat in solids at least %.0f %%", l.MinFatInSolids.Percent()), fmt.Sprintf("about %.1f %%", 100*now.FDM.Best), now.FDM.Best >= float64(l.MinFatInSolids), l.Source})
	}
	age := j.Life.Age(s.today)
	if l.MinDays > 0 {
		out = append(out, limitDoc{fmt.Sprintf("age at least %d days", l.MinDays), fmt.Sprintf("%d days", age), age >= l.MinDays, l.Source})
	}
	if len(j.Law.Countries) > 0 {
		for _, h := range j.LawDays(s.now) {
			asks := s.Words.RuleAsks(h.Rule)
			if len(h.By) > 0 {
				asks = strings.Join(h.By, ", ") + ", " + asks
			}
			out = append(out, limitDoc{asks, fmt.Sprintf("%.0f days", math.Floor(h.Have)), !h.Open(), h.Rule.Cite() + ", " + words.RuleRead(h.Rule.Read) + "; check your own law"})
		}
		return out
	}
	if l.RawMinDays > 0 && j.Life.Make.Milk.Treatment == wheel.Raw {
		h, open := j.RawMilk(s.now)
		have := fmt.Sprintf("%d days", l.RawMinDays)
		if open {
			have = fmt.Sprintf("%.0f days", math.Floor(h.Have))
		}
		out = append(out, limitDoc{fmt.Sprintf("raw milk: at least %d days at %.1f C or more", l.RawMinDays, float64(l.RawMinTemp)), have, !open, l.Source})
	}
	return out
}

// weightWords is a wheel's last weight, what pieces took off it since, and how
// much of it is coat.
func (s *session) weightWords(l wheel.Life) string {
	gross, on := l.LastWeight()
	w := fmt.Sprintf("%s on %s", s.units.Weight(gross), on.In(s.loc).Format("Mon 2 Jan"))
	if sent := l.PiecesSince(); sent > 0 && sent < gross {
		w += fmt.Sprintf("; %s sent in pieces since, about %s left", s.units.Weight(sent), s.units.Weight(gross-sent))
	}
	if l.Chain.Tare > 0 {
		w += fmt.Sprintf(", %s of it coat", s.units.Weight(l.Chain.Tare))
	}
	return w
}
