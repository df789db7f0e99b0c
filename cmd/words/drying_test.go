package words_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	uc "rindkeep/cmd/app/drying"
	"rindkeep/cmd/words"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

func TestRisksReadWorstFirstAndInBriefWhereUnlikely(t *testing.T) {
	dry := reason.List{drying.AirCracks{RH: 0.5, May: 0.75, Does: 0.65}}
	airy := reason.List{drying.AirNotWet{RH: 0.5, Wet: 0.93}}
	waxed := reason.List{drying.Sealed{Coat: drying.Wax}}
	for _, c := range []struct {
		list []uc.Risk
		want []string
	}{
		{nil, nil},
		{
			[]uc.Risk{{Of: uc.Cracks, Level: drying.HighRisk, Reasons: dry}, {Of: uc.Slime, Reasons: airy}},
			[]string{
				"cracks LIKELY: the air is at 50 %, and rinds crack under 65 to 75 %", "slime unlikely (the air is at 50 %)",
			},
		},
		{
			[]uc.Risk{
				{Of: uc.Cracks, Reasons: waxed}, {Of: uc.Slime, Reasons: waxed},
				{Of: uc.Weeps, Level: drying.SomeRisk, Reasons: reason.List{verdict.LostByCoat{Loss: 0.02, Needs: 0.025}}},
			},
			[]string{
				"weeping possible: it will have lost 2.0 % by then and needs 2.5 %",
				"cracks unlikely (sealed under wax), slime unlikely (sealed under wax)",
			},
		},
	} {
		if diff := cmp.Diff(c.want, words.Printer{}.Risks(c.list)); diff != "" {
			t.Errorf("(-want +got)\n%s", diff)
		}
	}
}

func TestSistersOfWhichTheSameIsSaidShareALine(t *testing.T) {
	judged := func(lot, tag string, weighed bool, loss quantity.Fraction, rate float64, by day.Date) app.Judged {
		j := app.Judged{Gated: true, Dry: verdict.Dry{
			Answer: verdict.DryEnough, Loss: loss, Rate: quantity.Exactly(rate), Advice: reason.List{verdict.CoatBy{By: by}},
		}}
		j.Life = wheel.Life{Tag: tag, Make: wheel.Make{Lot: lot}}
		if weighed {
			j.Dry.Weighings = 3
		}
		return j
	}
	rows, tags := words.Printer{}.DryRows([]app.Judged{
		judged("A", "A-01", true, 0.0204, 0.00241, nov(26)), judged("A", "A-02", true, 0.021, 0.0024, nov(26)),
		judged("A", "A-03", true, 0.0201, 0.0024, nov(26)), judged("B", "B-01", true, 0.0201, 0.0024, nov(26)),
		judged("B", "B-02", false, 0, 0, nov(27)), judged("B", "B-03", false, 0, 0, nov(27)),
	})
	row := func(lot, loss, rate, by string) words.DryRow {
		return words.DryRow{Lot: lot, Answer: "DRY ENOUGH", Loss: loss, Rate: rate, Next: "coat it by " + by, Ready: true}
	}
	wantRows := []words.DryRow{
		row("A", "2.0 %", "0.24 %", "Thu 26 Nov"), row("A", "2.1 %", "0.24 %", "Thu 26 Nov"),
		row("B", "2.0 %", "0.24 %", "Thu 26 Nov"), row("B", "-", "-", "Fri 27 Nov"),
	}
	if diff := cmp.Diff(wantRows, rows); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
	if diff := cmp.Diff([][]string{{"A-01", "A-03"}, {"A-02"}, {"B-01"}, {"B-02", "B-03"}}, tags); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

func TestAWhatIfNamesThePlanThatChangesNothing(t *testing.T) {
	w := uc.WhatIf{Wheels: []uc.Choice{{Cases: []uc.Case{
		{Risks: []uc.Risk{{Of: uc.Slime, Reasons: reason.List{drying.AirNotWet{RH: 0.8, Wet: 0.93}}}}}, {Air: "coat=wax"},
	}}}}
	words.Printer{}.FillWhatIf(&w)
	cases := w.Wheels[0].Cases
	if cases[0].Air != "as it is" || cases[1].Air != "coat=wax" {
		t.Errorf("%q, %q", cases[0].Air, cases[1].Air)
	}
	if got := cases[0].Risks[0].Why; got != "the air is at 80 %, and slime comes from 93 % on" {
		t.Errorf("%q", got)
	}
}
