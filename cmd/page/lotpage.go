package page

import (
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/app/tasting"
	"rindkeep/cmd/app/wheels"
	"rindkeep/cmd/page/form"
)

// mostForecast is up to how many wheels a lot's page has each wheel's loss of today
// worked out; above it the loss at the last weighing is shown.
const mostForecast = 60

// lotBody is the page of a make.
type lotBody struct {
	makes.Shown
	Facts            [][2]string
	Diary            []diaryLine
	Here             []lotWheel
	Gone             []wheels.Row
	Most             int // wheels left out of the list
	Forecast         bool
	Taste            tasting.Shown
	Curve, Acidities string
	Correct, Log     form.Form
	Tests            []labLine
	TestNames        []string // to choose from
}

// lotWheel is a wheel of a lot with its loss.
type lotWheel struct {
	wheels.Row
	Now     app.Est
	Verdict string
}

func lotPageOf(c *call) (View, error) {
	m, err := makes.Show(c.ctx, c.app, c.caller, c.name())
	if err != nil {
		return View{}, err
	}
	p, lot := c.words(), m.Make.Lot
	d := lotBody{Shown: m, Facts: p.MakeFacts(m), Diary: diary(p, m), Taste: tastingsOf(c, lot), Tests: labLines(c, m),
		TestNames: testNames(c)}
	p.FillCautions(m)
	o, err := c.offer()
	if err != nil {
		return View{}, err
	}
	d.Correct, d.Log = correctFormOf(c, o, m), o.LogLine(lot)
	list, err := wheels.All(c.ctx, c.app, c.caller, wheels.Listed{What: []string{lot}, Gone: true})
	if err != nil {
		return View{}, err
	}
	by := map[string]drying.Wheel{}
	if d.Forecast = len(list.Wheels) <= mostForecast; d.Forecast {
		dry, err := drying.DryEnough(c.ctx, c.app, c.caller, drying.Which{What: []string{lot}})
		if err != nil {
			return View{}, err
		}
		for _, x := range dry.Wheels {
			by[x.Wheel] = x
		}
	}
	for _, x := range list.Wheels {
		switch {
		case x.Gone != nil:
			d.Gone = append(d.Gone, x)
		case len(d.Here) == 2*sheetful:
			d.Most++
		default:
			d.Here = append(d.Here, lotWheel{x, by[x.Tag].Present, by[x.Tag].Verdict})
		}
	}
	d.Gone = d.Gone[:min(len(d.Gone), 2*sheetful)]
	if len(d.Here) > 0 {
		d.Curve = addressOf("lot", lot, "curve.svg")
	}
	if soured(m) {
		d.Acidities = addressOf("lot", lot, "acidity.svg")
	}
	return View{Template: "lot.html", Title: "Lot " + lot, Here: "makes", Body: d}, nil
}
