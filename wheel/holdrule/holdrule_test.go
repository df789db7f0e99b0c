package holdrule

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"rindkeep/wheel"
	"rindkeep/wheel/variety"
)

const whole = `name      = "my-rule"
title     = "My rule"
countries = ["US", "US-WI"]
varieties = ["gouda"]
groups    = ["blue"]
milk      = ["raw", "thermised"]
days      = 90
min_temp  = "35F"
count_from = "drying"
label     = "raw milk"
source    = "A Code"
section   = "1.2"
read      = "2026-11-25"
note      = "a note"
`

func TestAWholeRuleIsRead(t *testing.T) {
	got, err := Parse("my.toml", []byte(whole))
	if err != nil {
		t.Fatal(err)
	}
	want := Rule{
		Name: "my-rule", Title: "My rule", Countries: []string{"US", "US-WI"}, Varieties: []string{"gouda"},
		Groups: []string{"blue"},
		Milk:   []wheel.Treatment{wheel.Raw, wheel.Thermised}, Days: 90, Warm: true, MinTemp: got.MinTemp, From: "drying",
		Label:  "raw milk",
		Source: "A Code", Section: "1.2", Read: "2026-11-25", Note: "a note", Text: whole,
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
	if x := float64(got.MinTemp); x < 1.666 || x > 1.667 { // 35 F is (35 - 32) x 5/9
		t.Errorf("35 F is read as %v C", x)
	}
}

func TestARuleIsRefusedByLineAndReason(t *testing.T) {
	for _, c := range []struct{ name, old, new, want string }{
		{"no country", `countries = ["US", "US-WI"]`, ``, `r.toml line 0: countries: missing {What:countries}`},
		{"a country there is not", `"US-WI"]`, `"XX"]`, `r.toml line 3: countries: unreadable {What:country Word:XX}`},
		{"a country by its name", `"US-WI"]`, `"Canada"]`, `r.toml line 3: countries: unreadable {What:country Word:Canada}`},
		{"a country in small letters", `"US-WI"]`, `"ca"]`, `r.toml line 3: countries: unreadable {What:country Word:ca}`},
		{"a country twice", `"US-WI"]`, `"US"]`, `r.toml line 3: countries: twice {Word:US}`},
		{"a group there is not", `["blue"]`, `["red"]`,
			`r.toml line 5: groups: unknown {What:groups Word:red` +
				` Known:very-hard, hard, semi-hard, soft, washed-rind, bloomy, blue, fresh}`},
		{"a variety that is no name", `["gouda"]`, `["Old Gouda"]`,
			`r.toml line 4: varieties: unreadable {What:name Word:Old Gouda}`},
		{"an empty list of varieties", `["gouda"]`, `[]`, `r.toml line 4: varieties: empty empty`},
		{"milk boiled", `"thermised"`, `"boiled"`,
			`r.toml line 6: milk: unknown {What:milk Word:boiled Known:raw, thermised, pasteurised}`},
		{"no milk", `["raw", "thermised"]`, `[]`, `r.toml line 6: milk: empty empty`},
		{"days beyond ten years", `= 90`, `= 9000`,
			`r.toml line 7: days: out-of-range {Low:1 High:3650 Unit:days Whole:true}`},
		{"a warmth of an oven", `"35F"`, `"135F"`,
			`r.toml line 8: min_temp: out-of-range {Low:-5 High:20 Unit:C Whole:false}`},
		{"days from nowhere", `"drying"`, `"yesterday"`,
			`r.toml line 9: count_from: unknown {What:count_from Word:yesterday Known:make, drying}`},
		{"no source", `source    = "A Code"`, ``, `r.toml line 0: source: missing {What:source}`},
		{"not said when it was read", `"2026-11-25"`, `"lately"`, `r.toml line 13: read: unreadable {What:read Word:lately}`},
		{"a key there is not", `note `, `notes`,
			`r.toml line 14: notes: unknown {What:key Word:notes` +
				` Known:name, title, countries, varieties, groups, milk, days, min_temp, count_from, label, ` +
				`source, section, read, note}`},
		{"a rule that asks for nothing",
			"days      = 90\nmin_temp  = \"35F\"\ncount_from = \"drying\"\nlabel     = \"raw milk\"\n", "",
			`r.toml line 0: : asks-nothing asks-nothing`},
		{"a warmth of no days", "days      = 90\n", "", `r.toml line 7: min_temp: needs {What:min_temp Other:days}`},
	} {
		text := strings.Replace(whole, c.old, c.new, 1)
		if text == whole {
			t.Fatalf("%s: nothing was changed", c.name)
		}
		_, err := Parse("r.toml", []byte(text))
		if err == nil || err.Error() != c.want {
			t.Errorf("%s:\n got %v\nwant %s", c.name, err, c.want)
		}
	}
}

func TestTheBuiltInRulesNameKnownKindsAndTheirSource(t *testing.T) {
	rs := Builtin()
	if len(rs) < 10 {
		t.Fatalf("%d rules", len(rs))
	}
	for _, r := range rs {
		for _, v := range r.Varieties {
			if _, ok := variety.Find(v); !ok {
				t.Errorf("%s names %s, which is no variety", r.Name, v)
			}
		}
		if again, err := Parse(r.Name, []byte(r.Text)); err != nil || !cmp.Equal(again, r) {
			t.Errorf("%s reads back otherwise: %v", r.Name, err)
		}
		if f, ok := Find(r.Name); !ok || f.Name != r.Name {
			t.Errorf("%s is not found", r.Name)
		}
	}
}

// What the varieties' own files say of raw milk (21 CFR 133) is what the rules of
// the US on file say of the same kinds.
func TestTheRulesOfTheUSAreThoseOfTheVarietiesFiles(t *testing.T) {
	for _, v := range variety.Builtin() {
		days := func(s Set) (most int, warm float64) {
			for _, r := range s.Rules {
				if r.Days > 0 && len(r.Milk) > 0 && r.Takes(wheel.Raw) && r.Days > most {
					most, warm = r.Days, float64(r.MinTemp)
				}
			}
			return most, warm
		}
		own, ownWarm := days(Select(Builtin(), nil, v, false))
		us, usWarm := days(Select(Builtin(), []string{"US"}, v, false))
		if own != us || own > 0 && ownWarm != usWarm {
			t.Errorf("%s: %d days at %v by its file, %d at %v by the rules of the US", v.Name, own, ownWarm, us, usWarm)
		}
	}
}

func TestRulesAreThoseOfTheCountriesFollowed(t *testing.T) {
	cheddar, _ := variety.Find("cheddar-waxed")
	part := Rule{Name: "part", Countries: []string{"CA-QC"}, Days: 10, From: "make"}
	all := append(Builtin(), part)
	names := func(s Set) []string {
		out := []string{}
		for _, r := range s.Rules {
			out = append(out, r.Name)
		}
		return out
	}
	for _, c := range []struct {
		name      string
		countries []string
		own       bool
		want      []string
		silent    []string
	}{
		{"none: the variety's file", nil, false, []string{"cheddar-waxed"}, nil},
		{"the US", []string{"US"}, false, []string{"us-cheddar"}, nil},
		{"a state of the US has the law of the US", []string{"US-WI"}, false, []string{"us-cheddar"}, nil},
		{"Canada", []string{"CA"}, false, []string{"ca-raw-milk"}, nil},
		{"a part of Canada has its own besides", []string{"CA-QC"}, false, []string{"ca-raw-milk", "part"}, nil},
		{"two countries", []string{"CA", "US"}, false, []string{"ca-raw-milk", "us-cheddar"}, nil},
		{"a member of the European Union", []string{"FR"}, false, []string{"eu-raw-milk-label"}, nil},
		{"a country nothing is on file of", []string{"JP"}, false, []string{}, []string{"JP"}},
		{"a variety of one's own keeps its file's rule", []string{"JP"}, true, []string{"cheddar-waxed"}, []string{"JP"}},
	} {
		s := Select(all, c.countries, cheddar, c.own)
		if d := cmp.Diff(c.want, names(s)); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
		if d := cmp.Diff(c.silent, s.Silent(wheel.Raw)); d != "" {
			t.Errorf("%s, silent (-want +got):\n%s", c.name, d)
		}
	}
	if got := Select(all, []string{"FR"}, cheddar, false).Labels(wheel.Pasteurised); got != nil {
		t.Errorf("the label of pasteurised milk: %v", got)
	}
}

func TestCountriesAreReadAndKeptSorted(t *testing.T) {
	for _, c := range []struct{ words, want, refused string }{
		{"", "", ""},
		{"us", "US", ""},
		{"US, ca,US  us-wi", "CA US US-WI", ""},
		{"EU", "EU", ""},
		{"UK", "", `no country "UK" by its ISO code; the United Kingdom is GB`},
		{"US-", "", `no country "US-" by its ISO code; give two letters like US, or a part of one like US-WI`},
		{"USA", "", `no country "USA" by its ISO code; give two letters like US, or a part of one like US-WI`},
		{"US-WISC", "", `no country "US-WISC" by its ISO code; give two letters like US, or a part of one like US-WI`},
	} {
		got, err := ParseCountries(c.words)
		why := ""
		if err != nil {
			why = err.Error()
		}
		if Joined(got) != c.want || why != c.refused {
			t.Errorf("%q is read as %q, %q; want %q, %q", c.words, Joined(got), why, c.want, c.refused)
		}
		if err == nil && CheckJoined(Joined(got)) != nil {
			t.Errorf("%q is not as it is kept", Joined(got))
		}
	}
	if err := CheckJoined("US CA"); err == nil {
		t.Error("countries out of order are kept")
	}
	if len(codes) != 250 || !slices.IsSorted(codes) {
		t.Errorf("%d codes, want the 249 of ISO 3166-1 and EU, sorted: %v", len(codes), slices.IsSorted(codes))
	}
}

func FuzzParse(f *testing.F) {
	f.Add(whole)
	for _, r := range Builtin() {
		f.Add(r.Text)
	}
	f.Fuzz(func(t *testing.T, s string) {
		r, err := Parse("f.toml", []byte(s))
		if err != nil {
			if strings.ContainsAny(err.Error(), "\n\x1b") {
				t.Fatalf("%q", err)
			}
			return
		}
		if again, err := Parse("f.toml", []byte(r.Text)); err != nil || !cmp.Equal(again, r) {
			t.Fatalf("%q reads back otherwise: %v", s, err)
		}
	})
}
