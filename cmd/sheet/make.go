package sheet

import "rindkeep/cmd/plot"

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
	var facts [][]string
	for _, f := range d.Facts {
		facts = append(facts, []string{f.Name, f.Value})
	}
	p.table([]column{{}, {wrap: true}}, facts, 0)
	if len(d.Wheels) > 0 {
		p.y += p.lh() * 0.4
		p.heading("Wheels", 1.2, 4*p.lh())
		var rows [][]string
		for _, w := range d.Wheels {
			rows = append(rows, []string{w.Tag, w.Place, w.Green, w.Now})
		}
		p.table([]column{{title: "tag", bold: true}, {title: "place"}, {title: "green"}, {title: "last"},
			{title: "weight", blank: 24}, {title: "note", blank: 30}}, rows, p.lh()*1.75)
	}
	p.events("Log", d.Events, "")
	if d.Acidity != nil {
		p.y += p.lh() * 0.8
		p.chart(*d.Acidity, 50*float64(len(d.Acidity.Panels)))
	}
	p.y += p.lh() * 0.4
	p.heading("To write", 1.2, 5*p.lh())
	keep := 0.0
	if len(d.Caution) > 0 {
		p.font("B", p.size)
		for _, c := range d.Caution {
			keep += float64(len(p.wrap(c, p.width()-5))) * p.lh()
		}
		keep += 8
	}
	p.ruled(12, keep)
	p.framed(d.Caution)
	return done(p.pdf)
}
