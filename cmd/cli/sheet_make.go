package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cave/day"
	"rindkeep/cmd/sheet"
	"rindkeep/wheel"
)

func (a *app) sheetMakeCmd() *cobra.Command {
	var f *sheetFlags
	c := a.cmd("make LOT", "One make with its wheels, and room to write", `
rindkeep sheet make 261120A
rindkeep sheet make 261120A --paper letter --large`, exactly("LOT"), func(cmd *cobra.Command, args []string) error {
		return a.sheet(f, func(s *session, h sheet.Head) (printed, error) {
			if err := s.asNow("sheet make"); err != nil {
				return printed{}, err
			}
			return s.sheetMake(h, args[0])
		})
	})
	f = a.sheetFlags(c)
	return a.completesArgs(c, func(s *session, _ int, _ string) []string { return s.lotNames() })
}

func (s *session) sheetMake(h sheet.Head, lot string) (printed, error) {
	m, err := s.lot(lot)
	if err != nil {
		return printed{}, err
	}
	v, err := s.tx.Variety(m.Variety)
	if err != nil {
		return printed{}, err
	}
	ws, err := s.tx.WheelsOf(m.ID)
	if err != nil {
		return printed{}, err
	}
	d := sheet.Make{
		Lot:  m.Lot,
		What: []string{v.Title, fmt.Sprintf("made %s, %d days ago", m.Date.Long(), int(s.today-m.Date))},
	}
	here := 0
	for _, w := range ws {
		l, err := s.tx.Life(w.ID)
		if err != nil {
			return printed{}, err
		}
		x := sheet.MakeWheel{Tag: l.Tag, Place: string(l.Place)}
		if l.Chain.Green > 0 {
			x.Green = s.units.Weight(l.Chain.Green)
			gross, _ := l.LastWeight()
			x.Now = s.units.Weight(gross)
		}
		if l.GoneOn == day.None {
			here++
		} else {
			x.Place = "gone " + l.GoneOn.String()
		}
		d.Wheels = append(d.Wheels, x)
	}
	d.Facts = s.makeFacts(m, len(ws), here)
	notes, err := s.tx.History(m.ID)
	if err != nil {
		return printed{}, err
	}
	for _, e := range wheel.Live(notes) {
		d.Events = append(d.Events, s.sheetEvent(e, false))
	}
	if m.Milk.Treatment == wheel.Raw {
		d.Caution = []string{spaced(rawCaution(v))}
	}
	doc, err := sheet.MakeSheet(h, d)
	return printed{doc, fileName("make", m.Lot), h.Paper.Name, h.Paper.Name, ""}, err
}

// makeFacts are what a make was told of itself, for its sheet.
func (s *session) makeFacts(m wheel.Make, made, here int) []sheet.Fact {
	var out []sheet.Fact
	add := func(name, value string) {
		if value != "" {
			out = append(out, sheet.Fact{Name: name, Value: value})
		}
	}
	milk := strings.TrimSpace(string(m.Milk.Treatment) + " " + m.Milk.Species)
	if m.Milk.Litres > 0 {
		milk = strings.TrimSpace(s.units.Volume(m.Milk.Litres) + " " + milk)
	}
	if m.Milk.Fat > 0 {
		milk += fmt.Sprintf(", fat %.2f %%", m.Milk.Fat.Percent())
	}
	if m.Milk.Protein > 0 {
		milk += fmt.Sprintf(", protein %.2f %%", m.Milk.Protein.Percent())
	}
	add("milk", milk)
	if m.Curd > 0 {
		add("curd", s.units.Weight(m.Curd))
	}
	if m.SetAside > 0 {
		add("set aside", strings.TrimSuffix(s.units.Weight(m.SetAside)+" for "+m.SetAsideFor, " for "))
	}
	if m.SaltMass > 0 {
		salt := saltWeight(s.units, m.SaltMass)
		if m.SaltRate > 0 {
			salt += fmt.Sprintf(", %.2f %% of the curd", m.SaltRate.Percent())
		}
		if m.SaltWhere != "" {
			salt += ", on the " + m.SaltWhere
		}
		add("salt", salt)
	}
	from := "usual for the variety"
	if m.Start.Measured {
		from = "measured"
	}
	add("as drying starts", fmt.Sprintf("moisture %.1f %% (sd %.1f), fat %.1f %%, salt %.2f %%; %s", m.Start.Moisture.Percent(), m.Start.MoistureSD.Percent(), m.Start.Fat.Percent(), m.Start.Salt.Percent(), from))
	add("wheels", fmt.Sprintf("%d made, %d here", made, here))
	add("note", m.Note)
	add("written", fmt.Sprintf("%s by %s", m.Written.In(s.loc).Format("2006-01-02 15:04"), m.By))
	return out
}
