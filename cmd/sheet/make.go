package sheet

import (
	"rindkeep/cmd/plot"
	"rindkeep/cmd/text"
)

// MakeWheel is one wheel of a make: where it is, or what became of it.
type MakeWheel struct{ Tag, Place, Green, Now string }

// Make is what is known of one make.
type Make struct {
	Lot     string
	What    []string
	Facts   []Fact
	Wheels  []MakeWheel
	Events  []Event
	Acidity *plot.Chart
	Caution []string
}

// MakeSheet lays out the sheet of one make, with room to write.
func MakeSheet(h Head, d Make) (Doc, error) {
	p := begin(h, "lot "+d.Lot)
	for _, s := range d.What {
		p.block("", s)
	}
	p.y += p.lh() * 0.3
	p.facts(d.Facts, false)
	if len(d.Wheels) > 0 {
		p.y += p.lh() * 0.4
		p.heading("Wheels", 1.2, 4*p.lh())
		t := text.Table{Columns: []text.Column{
			{Title: "tag", Bold: true}, {Title: "place"}, {Title: "green", Right: true}, {Title: "last", Right: true},
			{Title: "weight", Blank: 24}, {Title: "note", Blank: 30},
		}}
		for _, w := range d.Wheels {
			t.Add(w.Tag, w.Place, w.Green, w.Now)
		}
		p.table(t, p.lh()*1.75, nil)
	}
	p.events("Log", d.Events, "")
	if d.Acidity != nil {
		p.y += p.lh() * 0.8
		p.chart(*d.Acidity, 50*float64(len(d.Acidity.Panels)))
	}
	p.y += p.lh() * 0.4
	p.heading("Notes", 1.2, 5*p.lh())
	keep := 0.0
	if len(d.Caution) > 0 {
		for _, c := range d.Caution {
			keep += float64(len(p.bold().wrap(c, p.width()-5))) * p.lh()
		}
		keep += 8
	}
	p.ruled(12, keep)
	p.framed(d.Caution)
	return done(p.pdf)
}
