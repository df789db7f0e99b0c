package cli

import (
	"fmt"
	"strings"

	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

type makeDoc struct {
	Lot       string   `json:"lot"`
	Date      string   `json:"date"`
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
			s.lines(t.Lines(s.env.width()))
			return nil
		})
	})
	c.Flags().StringVar(&of, "variety", "", "only this `NAME`")
	c.Flags().IntVar(&most, "most", 200, "at most `N` makes; 0 for all")
	a.completes(c, "variety", (*session).varietyNames)
	return c
}

func (a *app) makeShowCmd() *cobra.Command {
	c := a.nowCmd("show LOT", "One make as a sheet", `
rindkeep make show 261120A`, exactly("LOT"), func(cmd *cobra.Command, args []string) error {
		return a.view(func(s *session) error { return s.makeShow(args[0]) })
	})
	return a.completesArgs(c, func(s *session, _ int, _ string) []string { return s.lotNames() })
}

type wheelLine struct {
	Tag   string `json:"tag"`
	Place string `json:"place"`
	Here  bool   `json:"here"`
}

func (s *session) makeShow(lot string) error {
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
		st, err := s.tx.Standing(w.ID)
		if err != nil {
			return err
		}
		lines = append(lines, wheelLine{st.Tag, string(st.Place), st.Here()})
		if st.Here() {
			here = append(here, st.Tag)
		}
	}
	notes, err := s.tx.History(m.ID)
	if err != nil {
		return err
	}
	notes = wheel.Live(notes)
	if s.json {
		var texts []entryDoc
		for _, e := range notes {
			texts = append(texts, s.entryDocOf(e, false))
		}
		return s.document(struct {
			Schema string      `json:"schema"`
			Make   makeDoc     `json:"make"`
			Wheels []wheelLine `json:"wheels"`
			Notes  []entryDoc  `json:"entries"`
		}{schema("make"), s.makeDocOf(m, len(ws)), lines, filled(texts)})
	}
	v, err := s.tx.Variety(m.Variety)
	if err != nil {
		return err
	}
	s.print("%s  %s, made %s (%d days ago)\n\n", s.style("1")("lot "+m.Lot), v.Title, m.Date.Long(), int(s.today-m.Date))
	t := text.Table{Indent: 2, Columns: []text.Column{{}, {Wrap: true}}}
	row := func(name, value string) {
		if value != "" {
			t.Add(name, value)
		}
	}
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
	row("milk", milk)
	if m.Curd > 0 {
		row("curd", s.units.Weight(m.Curd))
	}
	if m.SetAside > 0 {
		row("set aside", strings.TrimSuffix(s.units.Weight(m.SetAside)+" for "+m.SetAsideFor, " for "))
	}
	if m.SaltMass > 0 {
		salt := saltWeight(s.units, m.SaltMass)
		if m.SaltRate > 0 {
			salt += fmt.Sprintf(", %.2f %% of the curd", m.SaltRate.Percent())
		}
		if m.SaltWhere != "" {
			salt += ", on the " + m.SaltWhere
		}
		row("salt", salt)
	}
	from := "usual for the variety"
	if m.Start.Measured {
		from = "measured"
	}
	row("as drying starts", fmt.Sprintf("moisture %.1f %% (sd %.1f), fat %.1f %%, salt %.2f %%; %s", m.Start.Moisture.Percent(), m.Start.MoistureSD.Percent(), m.Start.Fat.Percent(), m.Start.Salt.Percent(), from))
	row("wheels", fmt.Sprintf("%d made, %d here: %s", len(ws), len(here), someOf(here)))
	row("note", m.Note)
	row("written", fmt.Sprintf("%s by %s", m.Written.In(s.loc).Format("2006-01-02 15:04"), m.By))
	for _, e := range notes {
		row(e.At.In(s.loc).Format("2006-01-02"), text.Safe(e.Note)+" ("+e.By+")")
	}
	s.lines(t.Lines(s.env.width()))
	if m.Milk.Treatment == wheel.Raw {
		s.print("\n")
		s.caution(rawCaution(v))
	}
	return nil
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
	c := a.cmd("note LOT TEXT", "Add a note to a make", `
rindkeep make note 261120A "slow acid, cut late"`, exactly("LOT", "TEXT"), func(cmd *cobra.Command, args []string) error {
		return a.update(func(s *session) error {
			m, err := s.lot(args[0])
			if err != nil {
				return err
			}
			return s.noted(m.ID, m.Lot, args[1])
		})
	})
	return a.completesArgs(c, func(s *session, nth int, _ string) []string {
		if nth > 0 {
			return nil
		}
		return s.lotNames()
	})
}

// noted records a note on a make or a wheel.
func (s *session) noted(subject uuid.UUID, name, note string) error {
	when, _, err := s.moment()
	if err != nil {
		return err
	}
	if strings.TrimSpace(note) == "" {
		return usagef("the note is empty")
	}
	res, err := s.tx.Put(s.entry(wheel.Entry{Subject: subject, Kind: wheel.Noted, At: when, Note: note}))
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
