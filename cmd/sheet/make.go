package sheet

import (
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/plot"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
)

// Make is what is known of one make.
type Make struct {
	Lot     string
	What    []string
	Facts   [][2]string
	Wheels  [][]string // tag, place or what became of it, green weight, last weight
	Events  [][]string // as those of Card
	Acidity *plot.Chart
	Caution []string
}

// MakeOf is a make in words.
func MakeOf(p words.Printer, m makes.Shown) Make {
	d := Make{
		Lot: m.Told.Lot, What: []string{m.Title, "made " + m.Told.Date.Long() + ", " + words.DaysAgo(m.DaysAgo)},
		Facts: p.MakeFacts(m),
	}
	for _, w := range m.Wheels {
		x := []string{w.Tag, w.Place, "", ""}
		if green := w.Life.Chain.Green; green > 0 {
			gross, _ := w.Life.LastWeight()
			x[2], x[3] = p.Weight(green), p.Weight(gross)
		}
		if !w.Here {
			x[1] = "gone " + w.Life.GoneOn.String()
		}
		d.Wheels = append(d.Wheels, x)
	}
	for _, e := range m.Events {
		what, said := p.MakeEvent(e)
		when := e.Entry.At.In(m.Zone).Format("2 Jan 2006 15:04")
		d.Events = append(d.Events, []string{e.Entry.Mark(), when, what, said, e.Entry.By})
	}
	if c := plot.Acidity(m.Sheet, 2, m.Zone); len(c.Measured) > 0 {
		chart := c.Chart()
		d.Acidity = &chart
	}
	for _, c := range m.Cautions {
		d.Caution = append(d.Caution, unbroken(p.Caution(c)))
	}
	return d
}

// MakeSheet lays out the sheet of one make, with room to write.
func MakeSheet(h Head, d Make) (Doc, error) {
	p := begin(h, "lot "+d.Lot)
	p.blocks("", d.What)
	p.skip(0.3)
	p.facts(d.Facts, false)
	if len(d.Wheels) > 0 {
		p.section("Wheels", 4)
		p.table(text.Table{Rows: d.Wheels, Columns: []text.Column{
			{Title: "tag", Bold: true}, {Title: "place"}, {Title: "green", Right: true}, {Title: "last", Right: true},
			{Title: "weight", Blank: 24}, {Title: "note", Blank: 30},
		}}, p.lh()*1.75, nil)
	}
	p.events("Log", d.Events, "")
	if d.Acidity != nil {
		p.skip(0.8)
		p.chart(*d.Acidity, 50*float64(len(d.Acidity.Panels)))
	}
	p.section("Notes", 5)
	keep := 0.0
	if len(d.Caution) > 0 {
		keep = p.frameHeight(d.Caution) + 3
	}
	p.ruled(12, keep)
	p.framed(d.Caution)
	return done(p.pdf)
}
