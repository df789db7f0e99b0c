package verdict

import (
	"math"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/variety"
)

// 21 CFR 133.113: cheddar of raw milk is cured at least 60 days at not less
// than 35 F (1.67 C); only time at or above it counts.
func TestRawMilkDaysCountOnlyWhileTheAirIsWarmEnough(t *testing.T) {
	made := day.Of(2026, 9, 1)
	v := variety.Variety{Limits: variety.Limits{RawMinDays: 60, RawMinTemp: 1.67, Source: "21 CFR 133.113"}}
	at := func(days float64) time.Time {
		return made.Start(time.UTC).Add(time.Duration(days * 24 * float64(time.Hour)))
	}
	kept := func(from float64, temp quantity.Celsius) Kept { return Kept{From: at(from), Temp: temp, Read: true} }
	for _, c := range []struct {
		name string
		milk wheel.Treatment
		kept []Kept
		day  float64
		have float64
		held bool
	}{
		{"pasteurised milk is not held", wheel.Pasteurised, []Kept{kept(0, 11)}, 5, 0, false},
		{"raw milk is held for sixty days", wheel.Raw, []Kept{kept(0, 11)}, 59, 59, true},
		{"and free after them", wheel.Raw, []Kept{kept(0, 11)}, 60, 60, false},
		{"days in a colder room do not count", wheel.Raw, []Kept{kept(0, 11), kept(20, 1), kept(30, 11)}, 61, 51,
			true},
		{"exactly the lawful temperature counts", wheel.Raw, []Kept{kept(0, 1.67)}, 60, 60, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			k := Case{Life: wheel.Life{Make: wheel.Make{Date: made, Milk: wheel.Milk{Treatment: c.milk}}}, Variety: v,
				Kept: c.kept, Loc: time.UTC}
			var h LawHold
			for _, h = range k.LawDays(at(c.day)) {
			}
			held := h.Open()
			if held != c.held || c.milk == wheel.Raw && math.Abs(h.Have-c.have) > 1e-9 {
				t.Errorf("held %v with %.3f days, want %v with %.3f", held, h.Have, c.held, c.have)
			}
		})
	}
}

func TestEveryCountryFollowedHoldsByItsOwnDays(t *testing.T) {
	made := day.Of(2026, 9, 1)
	at := func(days float64) time.Time {
		return made.Start(time.UTC).Add(time.Duration(days * 24 * float64(time.Hour)))
	}
	cheddar, _ := variety.Find("cheddar-waxed")
	emmental, _ := variety.Find("emmental")
	kept := []Kept{{at(0), 11, true, false}, {at(10), 1.8, true, false}, {at(20), 11, true, false}}
	for _, c := range []struct {
		name      string
		v         variety.Variety
		milk      wheel.Treatment
		countries []string
		day       float64
		want      []reason.Reason
		labels    int
	}{
		// Ten days lay at 1.8 C: warm enough for 35 F (1.67 C), too cold for 2 C.
		{"the US counts the days at 1.8 C", cheddar, wheel.Raw, []string{"US"}, 50,
			[]reason.Reason{HeldByLaw{"US", "21 CFR 133.113", wheel.Raw, 50, 60, true, 1.67}}, 0},
		{"Canada does not", cheddar, wheel.Raw, []string{"CA"}, 50, []reason.Reason{HeldByLaw{"CA",
			"Food and Drug Regulations (Canada) B.08.030, B.08.043 and B.08.044", wheel.Raw, 40, 60, true, 2}}, 0},
		{"of both, the one that is not served", cheddar, wheel.Raw, []string{"CA", "US"}, 65, []reason.Reason{HeldByLaw{"CA",
			"Food and Drug Regulations (Canada) B.08.030, B.08.043 and B.08.044", wheel.Raw, 55, 60, true, 2}}, 0},
		{"thermised milk is not pasteurised", cheddar, wheel.Thermised, []string{"US"}, 9,
			[]reason.Reason{HeldByLaw{"US", "21 CFR 133.113", wheel.Thermised, 9, 60, true, 1.67}}, 0},
		{"milk nobody spoke of is held until somebody does", cheddar, "", []string{"US"}, 400,
			[]reason.Reason{MilkUnknown{"US", "21 CFR 133.113"}}, 0},
		{"nor where the law asks for no days of raw milk", cheddar, "", []string{"FR"}, 400,
			[]reason.Reason{MilkUnknown{"FR", "Regulation (EC) No 853/2004 Annex III, Section IX, Chapter IV"}}, 0},
		{"pasteurised milk is free", cheddar, wheel.Pasteurised, []string{"CA", "US"}, 1, nil, 0},
		{"a standard of any milk", emmental, wheel.Pasteurised, []string{"US"}, 12,
			[]reason.Reason{HeldByLaw{By: "US", Source: "21 CFR 133.195", Counted: 12, Days: 60}}, 0},
		{"the European Union asks for a label and no days", cheddar, wheel.Raw, []string{"FR"}, 1, nil, 1},
	} {
		k := Case{Life: wheel.Life{Make: wheel.Make{Date: made, Milk: wheel.Milk{Treatment: c.milk}}}, Variety: c.v,
			Kept: kept, Loc: time.UTC}
		k.Law = holdrule.Select(holdrule.Builtin(), c.countries, c.v, "")
		var got []reason.Reason
		for _, h := range k.LawHolds(at(c.day)) {
			got = append(got, h.Reason())
		}
		if d := cmp.Diff(c.want, got); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
		if n := len(k.Labels()); n != c.labels {
			t.Errorf("%s: %d labels, want %d", c.name, n, c.labels)
		}
	}
}

func TestDaysMayCountFromWhenDryingBegan(t *testing.T) {
	made := day.Of(2026, 9, 1)
	k := Case{Life: wheel.Life{Make: wheel.Make{Date: made}},
		Kept: []Kept{{Temp: 11, Read: true}}, Loc: time.UTC}
	r := holdrule.Rule{Days: 10, Warm: true, MinTemp: 5, From: "drying"}
	k.Law = holdrule.Set{Countries: []string{"US"}, Rules: []holdrule.Rule{r}, By: [][]string{{"US"}}}
	// Unweighed, drying begins at noon of the day after the make.
	got := k.LawDays(made.Start(time.UTC).Add(5 * 24 * time.Hour))
	if len(got) != 1 || math.Abs(got[0].Have-3.5) > 1e-9 || math.Abs(got[0].Left-6.5) > 1e-9 {
		t.Errorf("%+v, want 3.5 days counted and 6.5 left", got)
	}
}

func TestDaysWithoutAReadingAreShownAndEndNoHold(t *testing.T) {
	made := day.Of(2026, 9, 1)
	cheddar, _ := variety.Find("cheddar-waxed")
	k := Case{
		Life: wheel.Life{Make: wheel.Make{Date: made, Milk: wheel.Milk{Treatment: wheel.Raw}}}, Loc: time.UTC,
		Kept: []Kept{{Temp: 11, Read: true}, {From: (made + 20).Start(time.UTC), Temp: 11},
			{From: (made + 32).Start(time.UTC), Temp: 11, Read: true}},
		Law: holdrule.Select(holdrule.Builtin(), []string{"US"}, cheddar, ""),
	}
	for _, c := range []struct{ day, counted, unread int }{{10, 10, 0}, {40, 40, 12}, {71, 71, 12}, {72, 0, 0}} {
		var want []reason.Reason
		law := HeldByLaw{"US", "21 CFR 133.113", wheel.Raw, c.counted, 60, true, 1.67}
		switch {
		case c.unread > 0:
			want = []reason.Reason{HeldUnread{law, c.unread}}
		case c.counted > 0:
			want = []reason.Reason{law}
		}
		var got []reason.Reason
		for _, h := range k.LawHolds(made.Start(time.UTC).Add(time.Duration(c.day) * 24 * time.Hour)) {
			got = append(got, h.Reason())
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("day %d (-want +got):\n%s", c.day, d)
		}
	}
}

// 21 CFR 133.148: six months, by the calendar.
func TestMonthsAreTheCalendars(t *testing.T) {
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	grating, _ := variety.Find("hard-grating")
	for made := day.Of(2027, 1, 1); made < day.Of(2029, 1, 1); made++ {
		k := Case{
			Life: wheel.Life{Make: wheel.Make{Date: made, Milk: wheel.Milk{Treatment: wheel.Pasteurised}}}, Loc: zone,
			Law: holdrule.Select(holdrule.Builtin(), []string{"US"}, grating, ""),
		}
		y, m, d := made.Civil()
		free := time.Date(y, m+6, d, 0, 0, 0, 0, zone)
		if free.Day() != d { // no such day: the last of the month
			free = free.AddDate(0, 0, -free.Day())
		}
		if held := len(k.LawHolds(free.Add(-time.Second))); held != 1 {
			t.Errorf("made %s: not held on the day before", made)
		}
		if held := k.LawHolds(free); len(held) > 0 {
			t.Errorf("made %s: still held on %s: %v", made, free, held[0].Reason())
		}
	}
}

// 21 CFR 133.149 applies to cheese that is sold as gruyere, and to no other.
func TestARuleOfANameBindsWhatIsSoldUnderIt(t *testing.T) {
	alpine, _ := variety.Find("alpine-hard")
	for name, want := range map[string]bool{"": false, "Hill cheese": false, "Gruyere": true, "smoked GRUYÈRE": true,
		"Gruyère-style": true, "Gruye\u0300re, raw cream": true} {
		s := holdrule.Select(holdrule.Builtin(), []string{"US"}, alpine, name)
		if got := slices.ContainsFunc(s.Rules, func(r holdrule.Rule) bool { return r.Name == "us-gruyere" }); got != want {
			t.Errorf("sold as %q: %v, want %v", name, got, want)
		}
	}
}
