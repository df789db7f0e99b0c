package cli

import (
	"fmt"
	"math"
	"strings"

	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"rindkeep/cave/day"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/plot"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

type makeDoc struct {
	Lot       string   `json:"lot"`
	Date      string   `json:"date"`
	Began     *string  `json:"began"`
	Countries []string `json:"countries"`
	Variety   string   `json:"variety"`
	Wheels    int      `json:"wheels"`
	Species   *string  `json:"milk_species"`
	Litres    *float64 `json:"milk_l"`
	Treatment *string  `json:"milk_treatment"`
	MilkFat   *float64 `json:"milk_fat_pct"`
	Protein   *float64 `json:"milk_protein_pct"`
	Curd      *float64 `json:"curd_g"`
	Aside     *float64 `json:"set_aside_g"`
	AsideFor  string   `json:"set_aside_for"`
	Salt      *float64 `json:"salt_g"`
	SaltRate  *float64 `json:"salt_rate_pct"`
	SaltWhere string   `json:"salt_where"`
	Moisture  *float64 `json:"start_moisture_pct"`
	Fat       *float64 `json:"start_fat_pct"`
	CheeseSt  *float64 `json:"start_salt_pct"`
	Measured  bool     `json:"start_measured"`
	Note      string   `json:"note"`
	By        string   `json:"by"`
	ID        string   `json:"id"`
}

func (s *session) makeDocOf(m wheel.Make, wheels int) makeDoc {
	d := makeDoc{
		Lot: m.Lot, Date: m.Date.String(), Variety: m.Variety, Wheels: wheels, Curd: grams(m.Curd), Aside: grams(m.SetAside), AsideFor: m.SetAsideFor,
		Salt: grams(m.SaltMass), SaltWhere: m.SaltWhere, Moisture: pctNum(m.Start.Moisture), Fat: pctNum(m.Start.Fat), CheeseSt: pctNum(m.Start.Salt),
		Measured: m.Start.Measured, Note: m.Note, By: m.By, ID: m.ID.String(),
	}
	d.Countries = filled(strings.Fields(m.Countries))
	if !m.Began.IsZero() {
		t := instant(m.Began, s.loc)
		d.Began = &t
	}
	if m.Milk.Species != "" {
		d.Species = &m.Milk.Species
	}
	if m.Milk.Treatment != "" {
		t := string(m.Milk.Treatment)
		d.Treatment = &t
	}
	if m.Milk.Litres > 0 {
		d.Litres = num(float64(m.Milk.Litres))
	}
	if m.Milk.Fat > 0 {
		d.MilkFat = pctNum(m.Milk.Fat)
	}
	if m.Milk.Protein > 0 {
		d.Protein = pctNum(m.Milk.Protein)
	}
	if m.SaltRate > 0 {
		d.SaltRate = pctNum(m.SaltRate)
	}
	return d
}

func (a *app) makeListCmd() *cobra.Command {
	var of string
	var most int
	c := a.nowCmd("list", "The makes, newest first", `
rindkeep make list
rindkeep make list --variety tomme`, none, func(cmd *cobra.Command, _ []string) error {
		return a.view(func(s *session) error {
			doc := struct {
				Schema string    `json:"schema"`
				Makes  []makeDoc `json:"makes"`
			}{schema("make-list"), []makeDoc{}}
			t := text.Table{Columns: []text.Column{{Title: "lot"}, {Title: "made"}, {Title: "variety", Wrap: true}, {Title: "milk"}, {Title: "wheels here", Right: true}, {Title: "age", Right: true}}}
			for m, err := range s.tx.Makes() {
				if err != nil {
					return err
				}
				if of != "" && m.Variety != of {
					continue
				}
				if most > 0 && len(t.Rows) == most {
					a.note("the newest %d; --most 0 lists all", most)
					break
				}
				here, err := s.standingsOf(m.ID)
				if err != nil {
					return err
				}
				sheet, err := s.tx.MakeSheet(m.ID)
				if err != nil {
					return err
				}
				m := sheet.FromLog()
				if m.Milk, err = s.tx.MilkOf(m.ID); err != nil {
					return err
				}
				doc.Makes = append(doc.Makes, s.makeDocOf(m, len(here)))
				milk := strings.TrimSpace(m.Milk.Species + " " + string(m.Milk.Treatment))
				t.Add(m.Lot, m.Date.String(), m.Variety, milk, fmt.Sprint(len(here)), fmt.Sprintf("%d d", int(s.today-m.Date)))
			}
			if s.json {
				return s.document(doc)
			}
			if len(t.Rows) == 0 {
				s.print("no makes yet\n")
				return nil
			}
			s.lines(t.Lines(s.env.Columns()))
			return nil
		})
	})
	c.Flags().StringVar(&of, "variety", "", "only this `NAME`")
	c.Flags().IntVar(&most, "most", 200, "at most `N` makes; 0 for all")
	a.completes(c, "variety", (*session).varietyNames)
	return c
}

func (a *app) makeShowCmd() *cobra.Command {
	var pic console.Picture
	c := a.nowCmd("show LOT", "One make as a sheet", `
rindkeep make show 261120A
rindkeep make show 261120A --svg acidity.svg             the course of its acidity
rindkeep make show 261120A --json                        the log, the yield and all the rest`, exactly("LOT"), func(cmd *cobra.Command, args []string) error {
		if err := pic.Check(a.Console); err != nil {
			return err
		}
		return a.view(func(s *session) error { return s.makeShow(args[0], &pic) })
	})
	pic.Flags(c)
	return a.completesArgs(c, func(s *session, _ int, _ string) []string { return s.lotNames() })
}

type wheelLine struct {
	Tag   string `json:"tag"`
	Place string `json:"place"`
	Here  bool   `json:"here"`
}

func (s *session) makeShow(lot string, pic *console.Picture) error {
	m, err := s.lot(lot)
	if err != nil {
		return err
	}
	ws, err := s.tx.WheelsOf(m.ID)
	if err != nil {
		return err
	}
	lines := []wheelLine{}
	var here []string
	for _, w := range ws {
		st, err := s.tx.State(w.ID)
		if err != nil {
			return err
		}
		lines = append(lines, wheelLine{st.Tag, string(st.Place), st.Here()})
		if st.Here() {
			here = append(here, st.Tag)
		}
	}
	es, err := s.tx.History(m.ID)
	if err != nil {
		return err
	}
	es = wheel.Live(es)
	sheet, err := s.tx.MakeSheet(m.ID)
	if err != nil {
		return err
	}
	if done, err := pic.Put(s.Console, s.acidityCourse(sheet, 1).Chart().SVG); err != nil || done {
		return err
	}
	told := sheet.FromLog()
	if told.Milk, err = s.tx.MilkOf(m.ID); err != nil {
		return err
	}
	g, err := s.greenOf(m)
	if err != nil {
		return err
	}
	if s.json {
		var texts []entryDoc
		for _, e := range es {
			texts = append(texts, s.entryDocOf(e, false))
		}
		log := []logLineDoc{}
		for i := range sheet.Lines {
			log = append(log, s.logLineOf(sheet, i))
		}
		return s.document(struct {
			Schema string        `json:"schema"`
			Make   makeDoc       `json:"make"`
			Wheels []wheelLine   `json:"wheels"`
			Salt   doseDoc       `json:"salt"`
			Green  *float64      `json:"green_weight_g"`
			Log    []logLineDoc  `json:"log"`
			Yield  *makeYieldDoc `json:"yield"`
			Notes  []entryDoc    `json:"entries"`
		}{schema("make"), s.makeDocOf(told, len(ws)), lines, doseDocOf(sheet.Dose()), grams(g.total), log, s.yieldDocOf(sheet, g), filled(texts)})
	}
	v, err := s.tx.Variety(m.Variety)
	if err != nil {
		return err
	}
	s.print("%s  %s, made %s (%s)\n\n", s.style("1")("lot "+m.Lot), v.Title, m.Date.Long(), daysAgo(int(s.today-m.Date)))
	t := text.Table{Indent: 2, Columns: []text.Column{{}, {Wrap: true}}}
	for _, f := range s.makeSums(sheet, told, g) {
		t.Add(f[0], f[1])
	}
	t.Add("wheels", strings.TrimSuffix(fmt.Sprintf("%d made, %d here: %s", len(ws), len(here), someOf(here)), ": "))
	if m.Note != "" {
		t.Add("note", m.Note)
	}
	t.Add("written", fmt.Sprintf("%s by %s", m.Written.In(s.loc).Format("2006-01-02 15:04"), m.By))
	s.lines(t.Lines(s.env.Columns()))
	s.makeDiary(sheet, es)
	s.acidityCurves(sheet)
	if told.Milk.Treatment == wheel.Raw && !s.quiet {
		s.print("\n")
		w, err := s.rawCautionOf(m)
		if err != nil {
			return err
		}
		s.caution(w)
	}
	return nil
}

func daysAgo(n int) string {
	if n == 0 {
		return "today"
	}
	return text.Count(n, "day") + " ago"
}

// makeSums are what is known of a make as a whole, name and value.
func (s *session) makeSums(sheet wheel.MakeSheet, m wheel.Make, g green) [][2]string {
	var out [][2]string
	row := func(name, value string) {
		if value != "" {
			out = append(out, [2]string{name, value})
		}
	}
	if b := sheet.Make.Began; !b.IsZero() {
		row("began", b.In(s.loc).Format("15:04"))
	}
	row("follows the law of", strings.ReplaceAll(m.Countries, " ", ", "))
	milk := strings.TrimSpace(strings.Join([]string{string(m.Milk.Treatment), m.Milk.Species}, " "))
	if m.Milk.Litres > 0 {
		milk = strings.TrimSpace(s.units.Volume(m.Milk.Litres) + " " + milk)
	}
	if m.Milk.Fat > 0 {
		milk += fmt.Sprintf(", fat %.2f %%", m.Milk.Fat.Percent())
	}
	if m.Milk.Protein > 0 {
		milk += fmt.Sprintf(", protein %.2f %%", m.Milk.Protein.Percent())
	}
	if sheet.Milk().Litres == 0 && milk != "" && sheet.Curd().Came > 0 {
		milk += ", as that of the lots its curd came from"
	}
	row("milk", milk)
	var from, into []string
	for _, l := range sheet.Lines {
		switch x := l.Log; {
		case x.FromLot != "":
			from = append(from, fmt.Sprintf("%s of lot %s", bulk(s.units, x.Weight), x.FromLot))
		case x.ToLot != "":
			into = append(into, fmt.Sprintf("%s into lot %s", bulk(s.units, x.Weight), x.ToLot))
		}
	}
	if len(from) > 0 {
		row("curd came from", strings.Join(from, ", "))
	}
	if m.Curd > 0 {
		row("curd", bulk(s.units, m.Curd))
	}
	if m.SetAside > 0 {
		aside := strings.TrimSuffix(bulk(s.units, m.SetAside)+" for "+m.SetAsideFor, " for ")
		if len(into) > 0 {
			aside += "; " + strings.Join(into, ", ")
		}
		row("set aside", aside)
	}
	if m.SaltMass > 0 {
		salt := saltWeight(s.units, m.SaltMass) + map[string]string{"curd": " on the curd", "brine": " in the brine", "rub": " rubbed on"}[strings.ToLower(m.SaltWhere)]
		row("salt", salt+s.doseWords(sheet.Dose()))
	}
	row("yield", s.yieldWords(sheet, g))
	start := "usual for the variety"
	if m.Start.Measured {
		start = "measured"
	}
	row("as drying starts", fmt.Sprintf("moisture %.1f %% (sd %.1f), fat %.1f %%, salt %.2f %%; %s", m.Start.Moisture.Percent(), m.Start.MoistureSD.Percent(), m.Start.Fat.Percent(), m.Start.Salt.Percent(), start))
	return out
}

// makeDiary prints a make's log and notes in the order they happened, each
// with its mark.
func (s *session) makeDiary(sheet wheel.MakeSheet, es []wheel.Entry) {
	words := map[uuid.UUID][2]string{}
	for i, l := range sheet.Lines {
		words[l.Entry.ID] = [2]string{string(l.Log.What), s.logWords(sheet, i)}
	}
	t := text.Table{Indent: 2, Columns: []text.Column{{}, {}, {}, {Wrap: true}, {}}}
	last := day.None
	for _, e := range es {
		w, ok := words[e.ID]
		switch {
		case ok && e.Note != "":
			w[1] = strings.TrimPrefix(w[1]+"; "+text.Safe(e.Note), "; ")
		case !ok && e.Kind == wheel.Noted:
			w = [2]string{"note", text.Safe(e.Note)}
		case !ok:
			continue // half of a setting aside whose other half was struck
		}
		date := ""
		if d := day.At(e.At, s.loc); d != last {
			date, last = d.Short(), d
		}
		t.Add(date, e.At.In(s.loc).Format("15:04"), w[0], w[1], e.Mark())
	}
	if len(t.Rows) == 0 {
		return
	}
	s.print("\nlog (the last column is each line's mark, for strike)\n")
	s.lines(t.Lines(s.env.Columns()))
}

// acidityCurves draws the course of the acidity, where there are two figures of a
// kind or more.
func (s *session) acidityCurves(sheet wheel.MakeSheet) {
	c := s.acidityCourse(sheet, 2)
	if len(c.Measured) == 0 {
		return
	}
	s.print("\n")
	for _, l := range c.Chart().Text(min(60, s.env.Columns()-2), 9) {
		s.print("%s\n", strings.TrimRight("  "+l, " "))
	}
	for _, m := range c.Measured {
		var w []string
		for _, x := range m.Moments {
			w = append(w, strings.TrimSpace(fmt.Sprintf("%.4g %s", x.Y, x.Word)))
		}
		s.indented(m.Name + ": " + strings.Join(w, ", "))
	}
}

// acidityCourse is the course of a make's acidity: the kinds of figure that were
// taken so many times or more.
func (s *session) acidityCourse(sheet wheel.MakeSheet, times int) plot.Course {
	c := plot.Course{Title: "acidity of lot " + sheet.Make.Lot, Loc: s.loc}
	for _, x := range []struct {
		name string
		rs   []wheel.Reading
	}{{"pH", sheet.PH()}, {"titratable acidity, % lactic acid", sheet.Acid()}} {
		m := plot.Measured{Name: x.name, Low: math.NaN(), High: math.NaN()}
		for _, r := range x.rs {
			m.Moments = append(m.Moments, plot.Moment{At: r.At, Y: r.Value, Word: r.Stage})
		}
		if len(x.rs) >= times {
			c.Measured = append(c.Measured, m)
		}
	}
	return c
}

// lot finds a make by its lot code, or by the tag of one of its wheels.
func (s *session) lot(word string) (wheel.Make, error) {
	if len(word) > maxWord || text.Safe(word) != word {
		return wheel.Make{}, at("LOT", fmt.Errorf("that is no lot code"))
	}
	m, err := s.tx.MakeByLot(word)
	if err == nil || !isNotFound(err) {
		return m, err
	}
	if w, werr := s.tx.WheelByTag(word); werr == nil {
		return s.tx.Make(w.Make)
	}
	return m, at(word, err)
}

func (a *app) makeNoteCmd() *cobra.Command {
	var photo string
	c := a.cmd("note LOT TEXT", "Add a note to a make", `
rindkeep make note 261120A "slow acid, cut late"
rindkeep make note 261120A "the curd at cutting" --photo curd.jpg`, exactly("LOT", "TEXT"), func(cmd *cobra.Command, args []string) error {
		keep, err := a.pictured(photo)
		if err != nil {
			return err
		}
		return a.update(func(s *session) error {
			m, err := s.lot(args[0])
			if err != nil {
				return err
			}
			detail, err := keep(s)
			if err != nil {
				return err
			}
			return s.noted(m.ID, m.Lot, args[1], detail)
		})
	})
	photoFlag(c, &photo)
	return a.completesArgs(c, func(s *session, nth int, _ string) []string {
		if nth > 0 {
			return nil
		}
		return s.lotNames()
	})
}

// noted records a note on a make or a wheel.
func (s *session) noted(subject uuid.UUID, name, note, detail string) error {
	when, _, err := s.moment()
	if err != nil {
		return err
	}
	if strings.TrimSpace(note) == "" {
		return usagef("the note is empty")
	}
	res, err := s.write.Put(s.entry(wheel.Entry{Subject: subject, Kind: wheel.Noted, At: when, Note: note, Detail: detail}))
	if err != nil {
		return err
	}
	if s.json {
		return s.document(struct {
			Schema string `json:"schema"`
			Of     string `json:"of"`
			Note   string `json:"note"`
			Same   bool   `json:"no_change"`
		}{schema("note"), name, note, res.Written == 0})
	}
	if res.Written == 0 {
		s.print("no change, noted already\n")
		return nil
	}
	s.print("noted on %s\n", name)
	return nil
}
