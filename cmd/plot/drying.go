package plot

import (
	"rindkeep/cmd/app/drying"
)

// Drying is the curve of one wheel with its bands, or the weights of several.
func Drying(all []drying.Curve) Chart {
	d := all[0]
	j := d.Of
	var series []Series
	add := func(look Look, name string, at ...Span) {
		series = append(series, Series{Look: look, Name: name, At: at})
	}
	if len(all) == 1 {
		add(OwnBand, "90 %", bands(d.Own)...)
	}
	add(Expected, "expected before weighing, 90 %", bands(d.Expected)...)
	if d.Target != nil {
		add(Target, "loss to coat at", At(0, *d.Target))
	}
	for _, k := range j.Life.Coats {
		add(Upright, "coated with "+k.Coat, At(j.Day(k.At), 0))
	}
	title := j.Life.Tag
	if len(all) > 1 {
		title = "lot " + j.Life.Make.Lot
		for i, o := range all {
			add(Other+Look(i), o.Wheel, weights(o)...)
			add(Told, "", weights(o)...)
			told := &series[len(series)-1]
			for _, p := range o.Points {
				told.Said = append(told.Said, o.Wheel+", "+p.Said)
			}
		}
	} else {
		if e := j.Dry.On; e != nil {
			add(Upright, "expected dry enough "+e.Best.Short(), At(j.Day(e.Best.Noon(j.Loc)), 0))
		}
		var own []Span
		for _, b := range d.Own {
			own = append(own, At(b.Day, *b.Loss.Best))
		}
		add(Own, "own curve", own...)
		add(Weighed, "weighed", weights(d)...)
		for _, p := range d.Points {
			if p.Said != "" {
				series[len(series)-1].Said = append(series[len(series)-1].Said, p.Said)
			}
		}
	}
	days, loss := "days since drying began", "loss, % of green weight"
	if j.Life.Aged() {
		days, loss = "days since it was first weighed here", "loss since, % of that weight"
	}
	return Chart{Title: title, InWords: curveInWords(all), XLabel: days, Panels: []Panel{{Label: loss, Series: series}}}
}

func weights(d drying.Curve) (at []Span) {
	for _, p := range d.Points {
		at = append(at, At(p.Day, p.Loss))
	}
	return at
}

func bands(list []drying.Band) (at []Span) {
	for _, b := range list {
		at = append(at, Span{X: b.Day, Low: *b.Loss.Low, High: *b.Loss.High})
	}
	return at
}
