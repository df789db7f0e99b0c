package wheel

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rindkeep/cave/day"
)

func TestATastingIsTakenOrRefusedInASentence(t *testing.T) {
	for _, c := range []struct {
		name string
		t    Tasting
		want string
	}{
		{"one score", Tasting{Flavour: 5}, ""},
		{"one fault", Tasting{Faults: []string{"old milk"}}, ""},
		{"every score", Tasting{Appearance: 1, Colour: 2, Texture: 3, Flavour: 4}, ""},
		{"nothing", Tasting{}, "empty-tasting"},
		{"a score over five", Tasting{Texture: 6},
			"outside {What:score Value:6 Low:1 High:5}"},
		{"a score under one", Tasting{Colour: -1, Flavour: 5},
			"outside {What:score Value:-1 Low:1 High:5}"},
		{"a fault without a word", Tasting{Faults: []string{""}}, "no-name {What:fault}"},
		{"a fault that does not print", Tasting{Faults: []string{"bit\x1bter"}},
			"unprintable {What:fault Char:27 Byte:4}"},
		{"too many faults", Tasting{Faults: make([]string, 21)}, "too-long {What:faults Has:21 Most:20}"},
	} {
		got := ""
		if err := c.t.Check(); err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

func TestTheSameTastingIsTheSameText(t *testing.T) {
	a := Tasting{Flavour: 3, Faults: []string{"Feed", "bitter", "bitter"}}
	b := Tasting{Flavour: 3, Faults: []string{"bitter", "feed"}}
	const want = `{"flavour":3,"faults":["bitter","feed"]}`
	if a.Detail() != want || b.Detail() != want {
		t.Errorf("%s and %s, want both %s", a.Detail(), b.Detail(), want)
	}
	if d := cmp.Diff([]string{"Feed", "bitter", "bitter"}, a.Faults); d != "" {
		t.Errorf("Detail changed the tasting it was asked of (-want +got):\n%s", d)
	}
	if got, want := b.String(), "flavour 3; bitter, feed"; got != want {
		t.Errorf("in words: %q, want %q", got, want)
	}
}

func TestWhatIsNoTastingIsRefused(t *testing.T) {
	for _, c := range []struct{ name, detail string }{
		{"nothing", ""}, {"null, which says nothing", "null"}, {"a field nobody knows", `{"flavour":3,"smell":2}`},
		{"more behind it", `{"flavour":3}{"flavour":4}`}, {"half a score", `{"flavour":3.5}`}, {"cut short", `{"flavour":3`},
	} {
		if got, err := ParseTasting(c.detail); err == nil {
			t.Errorf("%s: %s is read as %+v, want a refusal", c.name, c.detail, got)
		}
	}
}

func TestATastingReadsBackAsItWasWritten(t *testing.T) {
	var words []string
	for _, a := range Attributes {
		words = append(words, FaultWords[a]...)
	}
	rapid.Check(t, func(t *rapid.T) {
		score := rapid.IntRange(0, 5)
		own := rapid.StringMatching(`[a-zé東][a-z &<"'é東-]{0,10}[a-z東]`)
		x := Tasting{Appearance: Score(score.Draw(t, "appearance")), Colour: Score(score.Draw(t, "colour")),
			Texture: Score(score.Draw(t, "texture")), Flavour: Score(rapid.IntRange(1, 5).Draw(t, "flavour"))}
		x.Faults = rapid.SliceOfN(rapid.OneOf(rapid.SampledFrom(words), own), 0, 20).Draw(t, "faults")
		got, err := ParseTasting(x.Detail())
		if err != nil {
			t.Fatalf("%s is refused: %v", x.Detail(), err)
		}
		want := x
		want.Faults = slices.Clone(x.Faults)
		slices.Sort(want.Faults)
		want.Faults = slices.Compact(want.Faults)
		if len(want.Faults) == 0 {
			want.Faults = nil
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Fatalf("read back (-want +got):\n%s", d)
		}
	})
}

func TestTheCourseOfATastingByAge(t *testing.T) {
	const old, early = day.Date(20_000), day.Date(19_900)
	xs := []Sample{
		{"a-02", "Orla", old, 118, Tasting{Flavour: 5, Texture: 4}},
		{"a-01", "Orla", early + 1, 60, Tasting{Flavour: 3, Texture: 5, Faults: []string{"bitter", "cardboard"}}},
		{"a-02", "Nora", early, 60, Tasting{Flavour: 4, Faults: []string{"bitter"}}},
		{"a-01", "Nora", early + 1, 60, Tasting{Flavour: 4, Colour: 2}},
		{"a-03", "Orla", old, 118, Tasting{Faults: []string{"bitter"}}},
	}
	want := []AgeScores{
		{60, []day.Date{early, early + 1}, 3, 2, 2,
			map[Attribute]Mean{Appearance: {}, Colour: {2, 2, 2, 1}, Texture: {5, 5, 5, 1}, Flavour: {11.0 / 3, 3, 4, 3}}},
		{118, []day.Date{old}, 2, 2, 1,
			map[Attribute]Mean{Appearance: {}, Colour: {}, Texture: {4, 4, 4, 1}, Flavour: {5, 5, 5, 1}}},
	}
	if d := cmp.Diff(want, Course(xs)); d != "" {
		t.Errorf("the course (-want +got):\n%s", d)
	}
	flavour := Flavour
	faults := []FaultCount{{"bitter", &flavour, 3, 3, 60, 118}, {"cardboard", nil, 1, 1, 60, 60}}
	if d := cmp.Diff(faults, CountFaults(xs)); d != "" {
		t.Errorf("the faults (-want +got):\n%s", d)
	}
	if got := Course(nil); got == nil || len(got) != 0 {
		t.Errorf("nothing tasted: %v", got)
	}
}

func TestAMeanLiesBetweenItsScores(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := 0
		xs := rapid.SliceOf(rapid.Custom(func(t *rapid.T) Sample {
			return Sample{
				Wheel: rapid.SampledFrom([]string{"a", "b"}).Draw(t, "wheel"),
				By:    rapid.SampledFrom([]string{"", "x", "y"}).Draw(t, "by"),
				Age:   rapid.IntRange(0, 3).Draw(t, "age"),
				Found: Tasting{Flavour: Score(rapid.IntRange(0, 5).Draw(t, "flavour"))},
			}
		})).Draw(t, "samples")
		for _, a := range Course(xs) {
			n += a.Tastings
			m := a.Scores[Flavour]
			if a.Wheels < 1 || a.Wheels > min(2, a.Tastings) || a.Tasters < 1 || a.Tasters > min(3, a.Tastings) ||
				m.N > a.Tastings {
				t.Fatalf("%+v", a)
			}
			if m.N > 0 && !(m.Mean >= float64(m.Low) && m.Mean <= float64(m.High) && m.Low >= 1) {
				t.Fatalf("%+v", m)
			}
		}
		if n != len(xs) {
			t.Fatalf("%d tastings of %d", n, len(xs))
		}
	})
}

// Every word is said of one thing, and is written as a tasting keeps it.
func TestEveryPublishedFaultWordIsSaidOfOneThing(t *testing.T) {
	seen := map[string]Attribute{}
	for _, a := range Attributes {
		for _, w := range FaultWords[a] {
			if other, twice := seen[w]; twice {
				t.Errorf("%q is said of %s and of %s", w, other, a)
			}
			seen[w] = a
			if got, ok := FaultOf(w); !ok || got != a {
				t.Errorf("%q is said of %q, want %q", w, got, a)
			}
			if d := (Tasting{Faults: []string{w}}).Detail(); d != `{"faults":["`+w+`"]}` {
				t.Errorf("%q is kept as %s", w, d)
			}
		}
	}
	if a, ok := FaultOf("cardboard"); ok {
		t.Errorf("cardboard is said of %s", a)
	}
}

func FuzzParseTasting(f *testing.F) {
	for _, s := range []string{`{"flavour":3,"faults":["bitter"]}`, `{"appearance":1,"colour":2,"texture":3,"flavour":4}`,
		`{"faults":[" a"]}`, `{"faults":["` + strings.Repeat("Ⱥ", 30) +
			`"]}`, `{"flavour":3} x`, `null`, `{"faults":["İ"]}`, `{"faults":["A","a"]}`} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		x, err := ParseTasting(s)
		if err != nil {
			return
		}
		once := x.Detail()
		y, err := ParseTasting(once)
		if err != nil {
			t.Fatalf("%q is read, and what it is written as is not: %s: %v", s, once, err)
		}
		if again := y.Detail(); again != once {
			t.Fatalf("%q is written as %s and then as %s", s, once, again)
		}
	})
}
