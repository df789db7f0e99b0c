package limit

import (
	"slices"
	"testing"

	"rindkeep/wheel"
)

func finding(t *testing.T, words string) wheel.Finding {
	t.Helper()
	f, err := wheel.ParseFinding(words)
	if err != nil {
		t.Fatalf("%q: %v", words, err)
	}
	return f
}

func TestAResultIsInsideALimitOnlyWhereItShowsIt(t *testing.T) {
	absent := Limit{AbsentIn: 25}
	count := Limit{AtMost: 100, Counts: true, Unit: "cfu/g"}
	for _, c := range []struct {
		name  string
		limit Limit
		found string
		want  bool
	}{
		{"not detected in as much as asked", absent, "not detected in 25 g", true},
		{"in more", absent, "absent in 125 g", true},
		{"in less", absent, "not detected in 10 g", false},
		{"nobody says in how much", absent, "not detected", false},
		{"detected", absent, "detected in 25 g", false},
		{"a count of none says nothing of 25 g", absent, "0 cfu/g", false},
		{"nor does fewer than ten", absent, "<10 cfu/g", false},
		{"a count under it", count, "99 cfu/g", true},
		{"the count itself", count, "100 cfu/g", true},
		{"one over it", count, "101 cfu/g", false},
		{"a count without a unit", count, "80", true},
		{"a count in another unit", count, "80 cfu/ml", false},
		{"fewer than ten", count, "<10 cfu/g", true},
		{"fewer than a hundred", count, "<100", true},
		{"fewer than a thousand says nothing of a hundred", count, "<1000", false},
		{"more than ten says nothing", count, ">10", false},
		{"too many to count", count, ">300 cfu/g", false},
		{"none in 25 g is fewer than one in a gram", count, "not detected in 25 g", true},
		{"none in a tenth of a gram is not", count, "not detected in 0.1 g", false},
		{"detected, uncounted", count, "detected", false},
	} {
		if got := c.limit.Shows(finding(t, c.found)); got != c.want {
			t.Errorf("%s (%s): %v, want %v", c.name, c.found, got, c.want)
		}
	}
}

func names(ls []Limit) (out []string) {
	for _, l := range ls {
		out = append(out, l.Name)
	}
	return out
}

func TestTheLimitsOfALotAreThoseOfItsLawAndTheMakersOwn(t *testing.T) {
	own := Limit{Name: "ours", Test: "Listeria monocytogenes", AtMost: 10, Counts: true, Unit: "cfu/g"}
	all := Builtin()
	for _, c := range []struct {
		name, test string
		countries  []string
		milk       wheel.Treatment
		own        bool
		want       []string
	}{
		{"of the country", "Listeria monocytogenes", []string{"FR"}, wheel.Raw, false, []string{"eu-listeria"}},
		{"by another name", "  listeria ", []string{"US"}, wheel.Raw, false, []string{"us-listeria"}},
		{"of a part of it", "Listeria", []string{"US-WI"}, "", false, []string{"us-listeria"}},
		{"of both", "listeria", []string{"US", "IE"}, "", false, []string{"eu-listeria", "us-listeria"}},
		{"a country without one: none of another's", "listeria", []string{"CA"}, "", false, nil},
		{"a milk that its law says nothing of: the same", "E. coli", []string{"FR"}, wheel.Raw, false, nil},
		{"a book without a law: the same", "listeria", nil, "", false, nil},
		{"a maker's own, alone", "listeria", nil, "", true, []string{"ours"}},
		{"a maker's own beside the law's", "listeria", []string{"US"}, "", true, []string{"ours", "us-listeria"}},
		{"of the milk", "E. coli", []string{"CA"}, wheel.Raw, false, []string{"ca-e-coli"}},
		{"of milk nobody knows: all", "S. aureus", []string{"DE"}, "", false,
			[]string{"eu-staphylococci-heated", "eu-staphylococci-raw"}},
		{"not of another milk", "S. aureus", []string{"DE"}, wheel.Raw, false, []string{"eu-staphylococci-raw"}},
		{"a test that none is of", "phosphatase", []string{"US"}, "", false, nil},
	} {
		ls := all
		if c.own {
			ls = append(slices.Clone(all), own)
		}
		got := names(Select(ls, c.test, c.countries, c.milk))
		slices.Sort(got)
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

const whole = `name      = "our-listeria"
title     = "Listeria in our cheese"
test      = "Listeria monocytogenes"
also      = ["listeria"]
countries = ["FR"]
milk      = ["raw"]
at_most   = 100
unit      = "cfu/g"
source    = "our own challenge study"
section   = "2"
edition   = "2026"
read      = "2026-11-25"
note      = "no growth at pH 4.4"
`

func TestALimitIsReadWholeAndRefusedByLine(t *testing.T) {
	l, err := Parse("l.toml", []byte(whole))
	if err != nil || l.AtMost != 100 || !l.Counts || l.Asks().String() != "100 cfu/g" || l.Text != whole {
		t.Fatalf("%+v, %v", l, err)
	}
	for _, bad := range []struct{ name, text string }{
		{"neither", `name="ab"
title="x"
test="y"
source="z"
read="from memory"`}, {"both", whole + "absent_in_g = 25\n"}, {"no unit", `name="ab"
title="x"
test="y"
at_most=3
source="z"
read="from memory"`}, {"read some day", `name="ab"
title="x"
test="y"
absent_in_g=25
source="z"
read="lately"`}, {"a key there is not", whole + "limits = 3\n"}, {"no grams", `name="ab"
title="x"
test="y"
absent_in_g=0
source="z"
read="from memory"`},
	} {
		if _, err := Parse("l.toml", []byte(bad.text)); err == nil {
			t.Errorf("%s is taken", bad.name)
		}
	}
}

func TestEveryBuiltInLimitHasASourceAndACountry(t *testing.T) {
	for _, l := range Builtin() {
		if len(l.Countries) == 0 || l.Section == "" || l.Note == "" {
			t.Errorf("%s: %+v", l.Name, l)
		}
		if f := finding(t, l.Asks().String()); !l.Shows(f) {
			t.Errorf("%s: what it asks, %v, isn't inside it", l.Name, f)
		}
	}
}

func TestALimitLoosensWhereAResultCouldEndAHoldThatItCouldNotBefore(t *testing.T) {
	raw, fr, us := []wheel.Treatment{wheel.Raw}, []string{"FR"}, []string{"US"}
	salm := []string{"Salm."}
	coli := func(most float64, unit string) Limit {
		return Limit{Name: "us", Test: "E. coli", Countries: us, AtMost: most, Counts: true, Unit: unit}
	}
	fewer := coli(1, "cfu/g")
	fewer.Milk = raw
	all := []Limit{
		{Name: "fr", Test: "Salmonella", Also: salm, Countries: fr, Milk: raw, AbsentIn: 25},
		coli(100, "cfu/g"),
	}
	for _, c := range []struct {
		name  string
		limit Limit
		want  bool
	}{
		{"the first of a test", Limit{Name: "x", Test: "Lead", AtMost: 1, Counts: true, Unit: "mg/kg"}, true},
		{"a second for the same lots", Limit{Name: "x", Test: "Salm.", Countries: fr, Milk: raw, AbsentIn: 1}, false},
		{"the first of another milk", Limit{Name: "x", Test: "Salmonella", Countries: fr, AbsentIn: 25}, true},
		{"the first of another land", Limit{Name: "x", Test: "E. coli", Countries: []string{"US", "CA"}, AbsentIn: 1}, true},
		{"of every country", Limit{Name: "x", Test: "E. coli", AbsentIn: 1}, true},
		{"of a test besides", Limit{Name: "x", Test: "E. coli", Also: []string{"Lead"}, Countries: us, AbsentIn: 1}, true},
		{"the same again", all[1], false},
		{"stricter in its place", coli(10, "CFU/g"), false},
		{"absence in the place of a count", Limit{Name: "us", Test: "E. coli", Countries: us, AbsentIn: 25}, false},
		{"absence in too little", Limit{Name: "us", Test: "E. coli", Countries: us, AbsentIn: 0.1}, true},
		{"laxer in its place", coli(1000, "cfu/g"), true},
		{"another unit in its place", coli(100, "cfu/kg"), true},
		{"fewer lots in its place", fewer, true},
		{"a count in the place of absence", Limit{
			Name: "fr", Test: "Salmonella", Also: salm, Countries: fr, Milk: raw, Counts: true, Unit: "cfu/g",
		}, true},
	} {
		if got := c.limit.Loosens(all); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}
