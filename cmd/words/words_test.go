package words_test

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/words"
	"rindkeep/schedule"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/shape"
	"rindkeep/wheel/verdict"
)

// fill puts figures into a reason's fields, so that no sentence stays empty.
func fill(v reflect.Value) {
	for i := range v.NumField() {
		f := v.Field(i)
		switch f.Kind() {
		case reflect.Float64:
			f.SetFloat(0.25)
		case reflect.Int, reflect.Int32:
			f.SetInt(20000)
		case reflect.Uint8:
			f.SetUint(uint64(wheel.Yes))
		case reflect.Bool:
			f.SetBool(true)
		case reflect.String:
			f.SetString("thing")
		case reflect.Struct:
			if f.Type() == reflect.TypeFor[time.Time]() {
				f.Set(reflect.ValueOf(time.Unix(1.7e9, 0).UTC()))
			} else {
				fill(f)
			}
		}
	}
}

// Every reason registered by the domain has words, in both units, empty of
// figures and full of them, in full and in brief.
func TestEveryReasonHasWords(t *testing.T) {
	for n := 1; n <= reason.Newest(); n++ {
		empty := reason.Numbered(n)
		if empty == nil {
			continue
		}
		v := reflect.New(reflect.TypeOf(empty)).Elem()
		fill(v)
		for _, r := range []reason.Reason{empty, v.Interface().(reason.Reason)} {
			for _, u := range []quantity.Units{quantity.Metric, quantity.Imperial} {
				p := words.Printer{Units: u}
				if _, said := r.(wheel.Says); said && r == empty {
					continue
				}
				for _, s := range []string{p.Sentence(r), p.Brief(reason.List{r})} {
					untidy := r != empty && s != strings.TrimSpace(s)
					if s == "" || s == r.Code() && !short[s] || untidy || strings.Contains(s, "%!") {
						t.Errorf("%s in %s reads %q", r.Code(), u, s)
					}
				}
			}
		}
	}
}

// short are the codes that are good English as they are.
var short = map[string]bool{"once": true}

// The codes and figures of reasons are published, and the index of a book knows
// them by their numbers: both are only ever added to.
func TestReasonsKeepTheirNumbersCodesAndFigures(t *testing.T) {
	var b strings.Builder
	for n := 1; n <= reason.Newest(); n++ {
		if r := reason.Numbered(n); r != nil {
			j, err := json.Marshal(reason.List{r})
			if err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(&b, "%d %s\n", n, j[1:len(j)-1])
		}
	}
	const name = "testdata/reasons.txt"
	if *update {
		if err := os.WriteFile(name, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), b.String()); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

var update = flag.Bool("update", false, "write the golden file again")

func nov(d int) day.Date { return day.Of(2026, time.November, d) }

// The sentences people read, in the one place that pins them.
func TestReasonsRead(t *testing.T) {
	sound := wheel.HandCheck{DryToTouch: wheel.Yes, Cracks: wheel.No}
	leaks := drying.Leaks{Passes: 0.9, Low: 0.8, High: 1, Usual: 0.28}
	round := shape.Shape{Form: shape.Cylinder, Diameter: 0.15, Height: 0.1}
	for _, c := range []struct {
		l    reason.List
		want string
	}{
		{nil, ""},
		{reason.List{schedule.Every{Days: 1}, schedule.LastDone{On: nov(24)}}, "daily, last Tue 24 Nov"},
		{reason.List{schedule.Every{Days: 7}, schedule.AtStart{}}, "weekly, at the start"},
		{reason.List{schedule.Every{Days: 14}, schedule.After{Event: "coated"}}, "every 2 weeks after coating"},
		{
			reason.List{schedule.Every{Days: 14}, schedule.FromDay{Day: 2}, schedule.After{Event: "drying"}},
			"every 2 weeks, from day 2, since drying began",
		},
		{reason.List{schedule.Every{Days: 3}, schedule.LastSkipped{On: nov(20)}}, "every 3 days, skipped Fri 20 Nov"},
		{reason.List{schedule.Every{Days: 3}, schedule.After{Event: "brush"}}, "every 3 days after it was first brushed"},
		{reason.List{schedule.Once{}, schedule.FromDay{Day: 10}}, "once, from day 10"},
		{
			reason.List{schedule.PerDay{Times: 2}, schedule.DoneOf{Done: 1, Of: 2, On: nov(20)}},
			"twice a day, 1 of 2 done Fri 20 Nov",
		},
		{reason.List{schedule.PerDay{Times: 1}, schedule.LastDone{On: nov(20)}}, "once a day, last Fri 20 Nov"},
		{reason.List{schedule.PerDay{Times: 3}}, "3 times a day"},
		{reason.List{schedule.AtAge{Days: 60}}, "at 60 days"},
		{reason.List{schedule.MakeDay{}, schedule.Rounds{Times: 1}}, "on the make's day, once"},
		{reason.List{schedule.MakeDay{DaysAfter: 1}, schedule.Rounds{Times: 2}}, "the day after the make's, twice"},
		{
			reason.List{schedule.MakeDay{DaysAfter: 2}, schedule.DoneOf{Done: 1, Of: 2, On: day.None}},
			"2 days after the make's, 1 of 2 done",
		},
		{reason.List{wheel.Says{Words: "bitter seen on y"}, schedule.Every{Days: 1}}, "bitter seen on y; daily"},
		{
			reason.List{wheel.FaultSeen{Faults: "gas", Wheels: "261110A-01"}, schedule.Every{Days: 1}},
			"gas seen on 261110A-01; daily",
		},
		{reason.List{verdict.DryAndSound{}, verdict.Lost{Share: 0.031}}, "dry enough, hand check sound, 3.1 % lost"},
		{
			reason.List{verdict.CheckFound{Found: sound}, verdict.BlownOn{On: nov(23)}},
			"the last hand check says dry to the touch, no cracks, blown with gas on Mon 23 Nov",
		},
		{
			reason.List{verdict.Felt{Found: sound, On: nov(24)}, verdict.Stale{}},
			"dry to the touch, no cracks (Tue 24 Nov), out of date",
		},
		{
			reason.List{verdict.FindGas{On: nov(26)}, verdict.CoatedOn{On: nov(25)}},
			"blown with gas Thu 26 Nov: keep it apart and find out why; coated Wed 25 Nov; a sound coat nearly " +
				"stops the loss",
		},
		{
			reason.List{verdict.MendCoat{}, leaks},
			"look for cracks and pinholes in the coat and mend them: it loses 90 % of what it would lose bare " +
				"(80 to 100), where this coat usually lets through 28 %",
		},
		{
			reason.List{verdict.WaitUntil{Days: 1, Until: nov(23)}},
			"the numbers are right early: give the rind its 1 day, until Mon 23 Nov",
		},
		{reason.List{verdict.Share{Share: 0.0248}}, "2.48 %"},
		{reason.List{verdict.Share{Share: 0.025}}, "2.5 %"},
		{reason.List{verdict.AtMost{Share: 0.37}}, "at most 37.0 %"},
		{reason.List{verdict.AtMostOfWet{Share: 0.75}}, "at most 75 %"},
		{
			reason.List{wheel.ByMistake{}, wheel.Says{Words: "four wheels, not five"}},
			"entered by mistake: four wheels, not five",
		},
		{reason.List{wheel.SentTo{Customer: "the shop"}}, "to the shop"},
		{
			reason.List{verdict.OddDensity{Shape: round, Weight: 2e4, Density: 2000}},
			"a cylinder 15 cm across, 10 cm high of 20.00 kg would weigh 2000 kg a cubic metre; cheese weighs " +
				"1000 to 1150",
		},
		{
			reason.List{drying.RindShrinks{RH: 0.8, Flux: 0.981, May: 1, Does: 1.2}},
			"in air at 80 % it would lose 0.98 g/dm2 a day, and rinds crack over 1.00 to 1.20",
		},
		{
			reason.List{drying.AirCracks{RH: 0.5, May: 0.75, Does: 0.65}},
			"the air is at 50 %, and rinds crack under 65 to 75 %",
		},
		{
			reason.List{drying.RindDries{RH: 0.96, Flux: -0.02, May: 0.2, Does: 0.15}},
			"in air at 96 % it would take up water over a month, and rinds turn slimy under 0.15 to 0.20",
		},
		{reason.List{drying.AirNotWet{RH: 0.8, Wet: 0.93}}, "the air is at 80 %, and slime comes from 93 % on"},
		{reason.List{drying.Sealed{Coat: drying.Breathable}}, "sealed under a breathable coat"},
		{
			reason.List{verdict.CracksFrom{Over: 0.12, On: nov(28)}},
			"over 12.0 % of loss cracks are common, and it would pass that about Sat 28 Nov",
		},
		{reason.List{verdict.LostByCoat{Loss: 0.0131, Needs: 0.025}}, "it will have lost 1.3 % by then and needs 2.5 %"},
		{reason.List{verdict.OddCurd{Weight: 2.5}}, "2.5 g of curd looks wrong"},
		{
			reason.List{verdict.Heavier{By: 50, Was: 1936, At: nov(25).Noon(time.UTC)}},
			"it is 50 g heavier than the 1936 g of 2026-11-25 13:00, and a wheel does not gain weight",
		},
		{reason.List{cave.NotRead{Hours: 47}}, "not read for 47 hours"},
		{reason.List{cave.NotRead{Hours: 49}}, "not read for 2 days"},
		{reason.List{cave.TooWarm{Temp: 13.94, Limit: 13}}, "13.9 °C is over its limit of 13.0 °C"},
		{
			reason.List{verdict.HeldByLaw{By: "US", Source: "21 CFR 133.113",
				Milk: wheel.Raw, Counted: 50, Days: 60, Warm: true, AtOver: 1.67}},
			"US, 21 CFR 133.113: raw milk: 50 of 60 days at 1.7 °C or more; check your own law",
		},
		{reason.List{verdict.HeldByLaw{Counted: 12, Days: 60}}, "12 of 60 days; check your own law"},
	} {
		p := words.Printer{Zone: time.FixedZone("", 3600)}
		if got := p.Why(c.l); got != c.want {
			t.Errorf("got  %s\nwant %s", got, c.want)
		}
	}
	p := words.Printer{Units: quantity.Imperial}
	for _, c := range []struct {
		r    reason.Reason
		want string
	}{
		{cave.TooCold{Temp: 10, Limit: 12}, "50.0 °F is under its limit of 53.6 °F"},
		{
			verdict.OddDensity{Shape: round, Weight: 2e4, Density: 2000},
			"a cylinder 5.9 in across, 3.9 in high of 44 lb 1.5 oz would weigh 125 lb a cubic foot; cheese weighs 62 to 72",
		},
		{
			drying.RindShrinks{RH: 0.8, Flux: 1, May: 1, Does: 1.2},
			"in air at 80 % it would lose 0.33 oz/sq ft a day, and rinds crack over 0.33 to 0.39",
		},
		{
			verdict.UnlikeVariety{Variety: "cheddar", Usual: 2000},
			"a usual cheddar is about 4 lb 6.5 oz; a bare number is ounces",
		},
		{wheel.CoatByCurve{Coat: 70}, "the weight of the coat was not taken; the curve puts it at 2.5 oz"},
	} {
		if got := p.Sentence(c.r); got != c.want {
			t.Errorf("got  %s\nwant %s", got, c.want)
		}
	}
}

func TestAHandCheckReads(t *testing.T) {
	yes := wheel.HandCheck{
		DryToTouch: wheel.No, Weeping: wheel.Yes, Cracks: wheel.Yes, Mould: wheel.Yes, Mites: wheel.Yes, Gas: wheel.Yes,
	}
	no := wheel.HandCheck{
		DryToTouch: wheel.Yes, Weeping: wheel.No, Cracks: wheel.No, Mould: wheel.No, Mites: wheel.No, Gas: wheel.No,
	}
	for c, want := range map[wheel.HandCheck]string{
		yes: "still damp, weeping, cracks, mould, mites, blown with gas",
		no:  "dry to the touch, no weeping, no cracks, no mould, no mites, no gas",
		{}:  "nothing",
	} {
		if got := (words.Printer{}).Sentence(c); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

func TestTheBriefFormIsOfTheFirstReason(t *testing.T) {
	for want, l := range map[string]reason.List{
		"":                      nil,
		"BLOWN: keep apart":     {verdict.FindGas{On: nov(26)}, verdict.CoatedOn{On: nov(25)}},
		"coated Wed 25 Nov":     {verdict.CoatedOn{On: nov(25)}},
		"the coat LEAKS":        {verdict.MendCoat{}, drying.Leaks{}},
		"22 %":                  {verdict.OfWetRind{Share: 0.22}},
		"coat it by Fri 27 Nov": {verdict.CoatBy{By: nov(27)}},
		"3.1 % lost":            {verdict.Lost{Share: 0.031}},
	} {
		if got := (words.Printer{}).Brief(l); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}
