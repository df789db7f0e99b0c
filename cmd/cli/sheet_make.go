package cli

import (
	"fmt"
	"strings"

	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"rindkeep/cave/day"
	"rindkeep/cmd/cli/sheets"
	"rindkeep/cmd/sheet"
	"rindkeep/wheel"
)

func (a *app) sheetMakeCmd() *cobra.Command {
	var f sheets.Flags
	c := a.nowCmd("make LOT", "One make with its wheels, and room to write", `
rindkeep sheet make 261120A
rindkeep sheet make 261120A --paper letter --large`, exactly("LOT"), func(cmd *cobra.Command, args []string) error {
		return a.sheet(&f, func(s *session, h sheet.Head) (sheets.Printed, error) {
			return s.sheetMake(h, args[0])
		})
	})
	f.Add(c)
	return a.completesArgs(c, func(s *session, _ int, _ string) []string { return s.lotNames() })
}

func (s *session) sheetMake(h sheet.Head, lot string) (sheets.Printed, error) {
	m, err := s.lot(lot)
	if err != nil {
		return sheets.Printed{}, err
	}
	v, err := s.tx.Variety(m.Variety)
	if err != nil {
		return sheets.Printed{}, err
	}
	ws, err := s.tx.WheelsOf(m.ID)
	if err != nil {
		return sheets.Printed{}, err
	}
	log, err := s.tx.MakeSheet(m.ID)
	if err != nil {
		return sheets.Printed{}, err
	}
	told := log.FromLog()
	if told.Milk, err = s.tx.MilkOf(m.ID); err != nil {
		return sheets.Printed{}, err
	}
	g, err := s.greenOf(m)
	if err != nil {
		return sheets.Printed{}, err
	}
	d := sheet.Make{
		Lot:  m.Lot,
		What: []string{v.Title, fmt.Sprintf("made %s, %s", m.Date.Long(), daysAgo(int(s.today-m.Date)))},
	}
	for _, f := range s.makeSums(log, told, g) {
		d.Facts = append(d.Facts, sheet.Fact{Name: f[0], Value: f[1]})
	}
	here := 0
	for _, w := range ws {
		l, err := s.tx.Life(w.ID)
		if err != nil {
			return sheets.Printed{}, err
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
	d.Facts = append(d.Facts, sheet.Fact{Name: "wheels", Value: fmt.Sprintf("%d made, %d here", len(ws), here)})
	if m.Note != "" {
		d.Facts = append(d.Facts, sheet.Fact{Name: "note", Value: m.Note})
	}
	d.Facts = append(d.Facts, sheet.Fact{Name: "written", Value: fmt.Sprintf("%s by %s", m.Written.In(s.loc).Format("2006-01-02 15:04"), m.By)})
	if d.Events, err = s.makeEvents(m, log); err != nil {
		return sheets.Printed{}, err
	}
	if c := s.acidityCourse(log, 2); len(c.Measured) > 0 {
		ch := c.Chart()
		d.Acidity = &ch
	}
	if told.Milk.Treatment == wheel.Raw {
		w, err := s.rawCautionOf(m)
		if err != nil {
			return sheets.Printed{}, err
		}
		d.Caution = []string{spaced(w)}
	}
	draw := func() (sheet.Doc, error) { return sheet.MakeSheet(h, d) }
	return sheets.Printed{Draw: draw, Name: sheets.FileName("make", m.Lot)}, nil
}

// makeEvents are a make's log and notes in the order they happened.
func (s *session) makeEvents(m wheel.Make, log wheel.MakeSheet) ([]sheet.Event, error) {
	es, err := s.tx.History(m.ID)
	if err != nil {
		return nil, err
	}
	lines := map[uuid.UUID]int{}
	for i, l := range log.Lines {
		lines[l.Entry.ID] = i
	}
	var out []sheet.Event
	for _, e := range wheel.Live(es) {
		x := s.sheetEvent(e, false)
		switch i, ok := lines[e.ID]; {
		case ok:
			x.What, x.Detail = string(log.Lines[i].Log.What), s.logWords(log, i)
			if e.Note != "" {
				x.Detail = strings.TrimPrefix(x.Detail+"; "+e.Note, "; ")
			}
		case e.Kind != wheel.Noted:
			continue // half of a setting aside whose other half was struck
		}
		out = append(out, x)
	}
	return out, nil
}
