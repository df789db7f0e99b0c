package holdrule

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cave/day"
	"rindkeep/wheel"
	"rindkeep/wheel/variety"
)

const whole = `name      = "my-rule"
title     = "My rule"
countries = ["US", "US-WI"]
varieties = ["gouda"]
groups    = ["blue"]
sold_as   = ["gruyère"]
milk      = ["raw", "thermised"]
days      = 90
min_temp  = "35F"
count_from = "drying"
label     = "raw milk"
source    = "A Code"
section   = "1.2"
read      = "2026-11-25"
note      = "a note"
edition   = "2nd edition"
`

func TestAWholeRuleIsRead(t *testing.T) {
	got, err := Parse("my.toml", []byte(whole))
	if err != nil {
		t.Fatal(err)
	}
	want := Rule{
		Name: "my-rule", Title: "My rule", Countries: []string{"US", "US-WI"}, Varieties: []string{"gouda"},
		Groups: []string{"blue"}, SoldAs: []string{"gruyère"},
		Milk: []wheel.Treatment{wheel.Raw, wheel.Thermised}, Days: 90, Warm: true, MinTemp: got.MinTemp, From: "drying",
		Label:  "raw milk",
		Source: "A Code", Section: "1.2", Edition: "2nd edition", Read: "2026-11-25", Note: "a note", Text: whole,
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
			`r.toml line 7: milk: unknown {What:milk Word:boiled Known:raw, thermised, pasteurised}`},
		{"no milk", `["raw", "thermised"]`, `[]`, `r.toml line 7: milk: empty empty`},
		{"days beyond ten years", `= 90`, `= 9000`,
			`r.toml line 8: days: out-of-range {Low:1 High:3650 Unit:days Whole:true}`},
		{"a warmth of an oven", `"35F"`, `"135F"`,
			`r.toml line 9: min_temp: out-of-range {Low:-5 High:20 Unit:C Whole:false}`},
		{"days from nowhere", `"drying"`, `"yesterday"`,
			`r.toml line 10: count_from: unknown {What:count_from Word:yesterday Known:make, drying}`},
		{"no source", `source    = "A Code"`, ``, `r.toml line 0: source: missing {What:source}`},
		{"not said when it was read", `"2026-11-25"`, `"lately"`, `r.toml line 14: read: unreadable {What:read Word:lately}`},
		{"a key there is not", `note `, `notes`,
			`r.toml line 15: notes: unknown {What:key Word:notes` +
				` Known:name, title, countries, varieties, groups, sold_as, milk, days, months, min_temp, count_from, ` +
				`label, source, section, edition, read, note}`},
		{"a rule that asks for nothing",
			"days      = 90\nmin_temp  = \"35F\"\ncount_from = \"drying\"\nlabel     = \"raw milk\"\n", "",
			`r.toml line 0: : asks-nothing asks-nothing`},
		{"days and months", `= 90`, "= 90\nmonths = 3", `r.toml line 9: months: not-together {What:months Other:days}`},
		{"a warmth of no days", "days      = 90\n", "", `r.toml line 8: min_temp: needs {What:min_temp Other:days}`},
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
		// A rule that was read says in which edition and when; "before" a date says neither.
		if _, err := day.ParseISO(r.Read); r.Read != FromMemory && (err != nil || r.Edition == "") {
			t.Errorf("%s: edition %q, read %q; want an edition and a date, or from memory", r.Name, r.Edition, r.Read)
		}
		if f, ok := Find(r.Name); !ok || f.Name != r.Name {
			t.Errorf("%s is not found", r.Name)
		}
	}
}

// 21 CFR 133: section, days or months whatever the milk, and days of hold at 35 F or
// above where it isn't pasteurised. 133.148 to 133.150: edition of 2006, read
// 2026-11-28; the others from memory.
func TestTheRulesOfTheUSAreThoseOf21CFR133(t *testing.T) {
	for name, w := range map[string]struct{ section, always, raw string }{
		"cheddar-waxed": {"133.113", "", "60d"},
		"cheddar-cloth": {"133.113", "", "60d"},
		"gouda":         {"133.142", "", "60d"},
		"edam":          {"133.138", "", "60d"},
		"havarti":       {"133.187", "", "60d"},
		"saint-paulin":  {"133.187", "", "60d"},
		"emmental":      {"133.195", "60d", "60d"},
		"alpine-hard":   {"133.150", "", "60d"},
		"hard-grating":  {"133.148", "6m", ""},
		"tomme":         {"133.187", "", "60d"},
		"crumbly-white": {"133.187", "", "60d"},
		"smoked":        {"133.187", "", "60d"},
		"washed-soft":   {"133.182", "", "60d"},
		"camembert":     {"133.182", "", "60d"},
		"brie":          {"133.182", "", "60d"},
		"goat-log":      {"133.182", "", "60d"},
		"goat-pyramid":  {"133.182", "", "60d"},
		"blue":          {"133.106", "60d", "60d"},
		"sheep-hard":    {"133.150", "", "60d"},
	} {
		v, ok := variety.Find(name)
		if !ok {
			t.Errorf("no variety %q", name)
			continue
		}
		got := w
		got.always, got.raw = "", ""
		cited := false
		for _, r := range Select(Builtin(), []string{"US"}, v, "").Rules {
			asks := fmt.Sprintf("%dd", r.Days)
			if r.Months > 0 {
				asks = fmt.Sprintf("%dm", r.Months)
			}
			switch {
			case len(r.Milk) == 0:
				got.always = asks
			case r.Takes(wheel.Raw) && r.Takes(wheel.Thermised) && !r.Takes(wheel.Pasteurised):
				got.raw = asks
				if f := float64(r.MinTemp)*1.8 + 32; math.Abs(f-35) > 1e-9 {
					t.Errorf("%s: counts from %v F, want 35", name, f)
				}
			}
			cited = cited || r.Section == w.section
		}
		if got != w || !cited {
			t.Errorf("%s: %+v, want %+v; section cited: %v", name, got, w, cited)
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
			if r.Missing {
				r.Name = "missing " + Joined(r.Countries)
			}
			out = append(out, r.Name)
		}
		return out
	}
	for _, c := range []struct {
		name      string
		countries []string
		want      []string
	}{
		{"none holds nothing", nil, []string{}},
		{"the US", []string{"US"}, []string{"us-cheddar"}},
		{"a state of the US has the law of the US", []string{"US-WI"}, []string{"us-cheddar"}},
		{"Canada", []string{"CA"}, []string{"ca-raw-milk"}},
		{"a part of Canada has its own besides", []string{"CA-QC"}, []string{"ca-raw-milk", "part"}},
		{"two countries", []string{"CA", "US"}, []string{"ca-raw-milk", "us-cheddar"}},
		{"a member of the European Union", []string{"FR"}, []string{"eu-raw-milk-label"}},
		{"a country nothing is on file of", []string{"JP"}, []string{"missing JP"}},
		{"a country of two", []string{"JP", "NZ", "US"}, []string{"us-cheddar", "missing JP NZ"}},
	} {
		s := Select(all, c.countries, cheddar, "")
		if d := cmp.Diff(c.want, names(s)); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
	}
	own := cheddar
	own.Limits.RawMinDays = 60
	for want, countries := range map[string][]string{"": nil, "missing JP": {"JP"}} { // its own file is no country's law
		if d := cmp.Diff(strings.Fields("cheddar-waxed " + want)[:1], names(Select(all, countries, own, ""))[:1]); d != "" {
			t.Errorf("what a variety's own file asks (-want +got):\n%s", d)
		}
		if got := names(Select(all, countries, own, ""))[1:]; strings.Join(got, "") != want {
			t.Errorf("besides a variety's own file, %q of %v; want %q", got, countries, want)
		}
	}
	if got := Select(all, []string{"FR"}, cheddar, "").Labels(wheel.Pasteurised); got != nil {
		t.Errorf("the label of pasteurised milk: %v", got)
	}
}

func TestCountriesAreReadAndKeptSorted(t *testing.T) {
	for _, c := range []struct{ words, want, refused string }{
		{"", "", ""},
		{"us", "US", ""},
		{"US, ca,US  us-wi", "CA US US-WI", ""},
		{"EU", "EU", ""},
		{"UK", "", "unreadable {What:country Word:UK}"},
		{"US-", "", "unreadable {What:country Word:US-}"},
		{"USA", "", "unreadable {What:country Word:USA}"},
		{"US-WISC", "", "unreadable {What:country Word:US-WISC}"},
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

// Six months from a day that February doesn't have end on February's last day.
func TestMonthsEndOnTheLastDayOfAShorterMonth(t *testing.T) {
	six := Rule{Months: 6}
	for _, c := range []struct{ from, to day.Date }{
		{day.Of(2026, 8, 31), day.Of(2027, 2, 28)}, {day.Of(2027, 8, 31), day.Of(2028, 2, 29)},
		{day.Of(2026, 8, 28), day.Of(2027, 2, 28)}, {day.Of(2026, 9, 1), day.Of(2027, 3, 1)},
		{day.Of(2026, 12, 31), day.Of(2027, 6, 30)}, {day.Of(2026, 2, 28), day.Of(2026, 8, 28)},
	} {
		if got := c.from + day.Date(six.DaysFrom(c.from)); got != c.to {
			t.Errorf("six months from %s end on %s, want %s", c.from, got, c.to)
		}
	}
}

func TestARuleInThePlaceOfAnotherMayAskForMoreOnly(t *testing.T) {
	raw := []wheel.Treatment{wheel.Raw, wheel.Thermised}
	was := Rule{
		Countries: []string{"US"}, Varieties: []string{"gouda"}, Milk: raw, Days: 60, Warm: true, MinTemp: 2, From: "make",
	}
	label := Rule{Countries: []string{"FR"}, Milk: raw[:1], Label: "raw"}
	months := Rule{Countries: []string{"US"}, Months: 6, From: "drying"}
	for _, c := range []struct {
		name   string
		was    Rule
		change func(*Rule)
		want   bool
	}{
		{"the same", was, func(*Rule) {}, false},
		{"more days", was, func(r *Rule) { r.Days = 61 }, false},
		{"fewer days", was, func(r *Rule) { r.Days = 59 }, true},
		{"two months may be fewer", was, func(r *Rule) { r.Days, r.Months = 0, 2 }, true},
		{"three months", was, func(r *Rule) { r.Days, r.Months = 0, 3 }, false},
		{"fewer months", months, func(r *Rule) { r.Months = 5 }, true},
		{"the same months", months, func(*Rule) {}, false},
		{"days for months", months, func(r *Rule) { r.Days, r.Months = 186, 0 }, false},
		{"too few days for months", months, func(r *Rule) { r.Days, r.Months = 183, 0 }, true},
		{"colder days count", was, func(r *Rule) { r.MinTemp = 1 }, true},
		{"all days count", was, func(r *Rule) { r.Warm = false }, true},
		{"days from drying", was, func(r *Rule) { r.From = "drying" }, false},
		{"days from the make", months, func(r *Rule) { r.From = "make" }, true},
		{"a part of the country", was, func(r *Rule) { r.Countries = []string{"US-WI", "US-VT"} }, true},
		{"another country too", was, func(r *Rule) { r.Countries = []string{"CA", "US"} }, false},
		{"another variety", was, func(r *Rule) { r.Varieties = []string{"edam"} }, true},
		{"another variety too", was, func(r *Rule) { r.Varieties = []string{"edam", "gouda"} }, false},
		{"every variety", was, func(r *Rule) { r.Varieties = nil }, false},
		{"some of all", months, func(r *Rule) { r.Groups = []string{"hard"} }, true},
		{"under some names", was, func(r *Rule) { r.SoldAs = []string{"gouda"} }, true},
		{"raw milk, not thermised", was, func(r *Rule) { r.Milk = raw[:1] }, true},
		{"any milk, so that nobody need say which", was, func(r *Rule) { r.Milk = nil }, true},
		{"another label", label, func(r *Rule) { r.Label = "x" }, true},
	} {
		now := c.was
		c.change(&now)
		if got := now.Loosens(c.was); got != c.want {
			t.Errorf("%s: loosens %v, want %v", c.name, got, c.want)
		}
	}
}

func TestARuleMayFillAGap(t *testing.T) {
	rule := func(country, v string, days int) Rule {
		r := Rule{Name: "own", Countries: []string{country}, Milk: []wheel.Treatment{wheel.Raw}, Days: days}
		if v != "" {
			r.Varieties = []string{v}
		}
		if days == 0 {
			r.Label = "raw"
		}
		return r
	}
	for _, c := range []struct {
		name string
		r    Rule
		want bool
	}{
		{"a country without a rule", rule("NZ", "gouda", 1), true},
		{"a label of a country without a rule", rule("NZ", "", 0), true},
		{"a variety that the US has no rule for", rule("US", "hill", 1), true},
		{"one that it has a rule for", rule("US", "gouda", 1), false},
		{"all of them", rule("US", "", 1), true},
		{"a label ends no hold in the US", rule("US", "", 0), false},
		{"Canada has a rule for all", rule("CA", "hill", 1), false},
		{"so has a part of it", rule("CA-QC", "hill", 1), false},
		{"the European Union has a label and holds nothing", rule("FR", "gouda", 10), false},
	} {
		if got := c.r.Fills(Builtin()); got != c.want {
			t.Errorf("%s: fills %v, want %v", c.name, got, c.want)
		}
	}
}
