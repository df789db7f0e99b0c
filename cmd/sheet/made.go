package sheet

import (
	"strings"

	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/plot"
	"rindkeep/cmd/words"
)

// MakeOf is a make in words, to be laid out.
func MakeOf(p words.Printer, m makes.Shown) Make {
	d := Make{
		Lot:  m.Told.Lot,
		What: []string{m.Title, "made " + m.Told.Date.Long() + ", " + words.DaysAgo(m.DaysAgo)},
	}
	for _, f := range p.MakeFacts(m) {
		d.Facts = append(d.Facts, Fact{Name: f[0], Value: f[1]})
	}
	for _, w := range m.Wheels {
		x := MakeWheel{Tag: w.Tag, Place: w.Place}
		if green := w.Life.Chain.Green; green > 0 {
			gross, _ := w.Life.LastWeight()
			x.Green, x.Now = p.Weight(green), p.Weight(gross)
		}
		if !w.Here {
			x.Place = "gone " + w.Life.GoneOn.String()
		}
		d.Wheels = append(d.Wheels, x)
	}
	for _, e := range m.Events {
		what, said := p.MakeEvent(e)
		when := e.Entry.At.In(m.Zone).Format("2 Jan 2006 15:04")
		d.Events = append(d.Events, Event{Mark: e.Entry.Mark(), When: when, What: what, Detail: said, By: e.Entry.By})
	}
	if c := plot.Acidity(m.Sheet, 2, m.Zone); len(c.Measured) > 0 {
		chart := c.Chart()
		d.Acidity = &chart
	}
	if m.RawMilk != nil {
		d.Caution = []string{strings.ReplaceAll(p.RawMilk(m.RawMilk), "\n", " ")} // paper breaks its own lines
	}
	return d
}
