package cave

import (
	"slices"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

func TestWhatIsTakenAsATag(t *testing.T) {
	for _, s := range []string{"261120A-03", "a", "Käse_1.b", "チーズ", "Allgäu", "lastly", strings.Repeat("x", MaxName)} {
		if err := CheckTag("tag", s); err != nil {
			t.Errorf("%q is refused: %v", s, err)
		}
	}
	for _, c := range []struct{ name, in, want string }{
		{"nothing", "", "no-name {What:tag}"},
		{"too long", strings.Repeat("x", 61), "text-too-long {What:tag Has:61 Most:60}"},
		{"ten kilobytes", strings.Repeat("\x1b", 10240), "text-too-long {What:tag Has:10240 Most:60}"},
		{"no UTF-8", "a\xff", "not-text {What:tag}"},
		{"an escape sequence", "\x1b[31mred", "unprintable {What:tag Char:27 Byte:1}"},
		{"a line break", "a\nb", "unprintable {What:tag Char:10 Byte:2}"},
		{"a direction mark", "a\u202eb", "unprintable {What:tag Char:8238 Byte:2}"},
		{"a joiner of no width", "a\u200bb", "unprintable {What:tag Char:8203 Byte:2}"},
		{"a space at the end", "a ", "bad-name {What:tag Name:a  Has:  Why:space-at-end}"},
		{"a space inside", "a b", "bad-name {What:tag Name:a b Has:  Why:reserved-character}"},
		{"a slash", "a/b", "bad-name {What:tag Name:a/b Has:/ Why:reserved-character}"},
		{"a star", "26*", "bad-name {What:tag Name:26* Has:* Why:reserved-character}"},
		{"a comma", "a,b", "bad-name {What:tag Name:a,b Has:, Why:reserved-character}"},
		{"a dash in front", "-a", "bad-name {What:tag Name:-a Has:- Why:wrong-beginning}"},
		{"the word all", "ALL", "bad-name {What:tag Name:ALL Has:ALL Why:command-word}"},
		{"the word last", "last", "bad-name {What:tag Name:last Has:last Why:command-word}"},
	} {
		if err := CheckTag("tag", c.in); err == nil || err.Error() != c.want {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

func TestPlaces(t *testing.T) {
	for in, want := range map[string]Place{"cellar": "cellar", "cellar/A": "cellar/A", " cellar/A/2/ ": "cellar/A/2"} {
		if got, err := ParsePlace(in); err != nil || got != want {
			t.Errorf("%q is %q, %v", in, got, err)
		}
	}
	for in, want := range map[string]string{
		"": "missing {What:place}", "/": "missing {What:place}",
		"a//b": "no-name {What:rack}", "a/b/c/d": "place-too-deep {Parts:4}",
		"a/b b":                         "bad-name {What:rack Name:b b Has:  Why:reserved-character}",
		strings.Repeat("a/", 300) + "b": "place-too-deep {Parts:301}",
		"a/b/\x1b/d":                    "place-too-deep {Parts:4}",
	} {
		if got, err := ParsePlace(in); err == nil || err.Error() != want {
			t.Errorf("%.20q is %q, %v; want %q", in, got, err, want)
		}
	}
	for _, c := range []struct {
		p, q Place
		want bool
	}{
		{"cellar/A/2", "cellar", true}, {"cellar/A/2", "cellar/A", true}, {"cellar/A/2", "cellar/A/2", true},
		{"cellar/A/20", "cellar/A/2", false}, {"cellar2", "cellar", false}, {"cellar", "cellar/A", false},
		{"cellar", "", false}, {"", "", true},
	} {
		if got := c.p.Within(c.q); got != c.want {
			t.Errorf("%q within %q: %v", c.p, c.q, got)
		}
	}
	if r := Place("cellar/A/2").Room(); r != "cellar" {
		t.Errorf("room %q", r)
	}
}

func TestNamesAreOrderedAsOneWalks(t *testing.T) {
	want := []string{"", "A", "A-1", "A-2", "A-02", "A-10", "A-10b", "A/1/2", "A/1/10", "A/2/1", "A1", "A9", "A10", "B",
		"b2"}
	got := slices.Clone(want)
	slices.Reverse(got)
	slices.SortFunc(got, NaturalCompare)
	// are one number: the text decides, so that the order is total.
	i, j := slices.Index(got, "A-02"), slices.Index(got, "A-2")
	if i < 0 || j != i+1 {
		t.Fatalf("A-02 and A-2 in %q", got)
	}
	got[i], got[j] = got[j], got[i]
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestTheOrderOfNamesIsTotal(t *testing.T) {
	name := rapid.StringMatching(`[a0-9/-]{0,6}`)
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := name.Draw(t, "a"), name.Draw(t, "b"), name.Draw(t, "c")
		if NaturalCompare(a, a) != 0 {
			t.Fatalf("%q comes before itself", a)
		}
		if a != b && NaturalCompare(a, b)*NaturalCompare(b, a) != -1 {
			t.Fatalf("%q and %q have no order", a, b)
		}
		if NaturalCompare(a, b) < 0 && NaturalCompare(b, c) < 0 && NaturalCompare(a, c) >= 0 {
			t.Fatalf("%q, %q, %q go round", a, b, c)
		}
	})
}

func TestWhatARoomIsRefusedFor(t *testing.T) {
	good := Room{Name: "cellar", Movement: air.Gentle,
		Racks: []Rack{{Name: "A", Shelves: 5, PerShelf: 10}, {Name: "B", Shelves: 3}}}
	good.Around(12, 0.85)
	if err := good.Check(); err != nil {
		t.Fatal(err)
	}
	if good.Capacity() != 50 {
		t.Errorf("it takes %d wheels, want the 50 of the counted shelves", good.Capacity())
	}
	if got := good.SetPoint(); got != (air.State{Temp: 12, RH: 0.85}) {
		t.Errorf("set point %v", got)
	}
	if got := (Reading{At: time.Unix(0, 0), Temp: 11, RH: 0.9}).State(); got != (air.State{Temp: 11, RH: 0.9}) {
		t.Errorf("reading %v", got)
	}
	for _, c := range []struct {
		name   string
		change func(*Room)
		want   reason.Reason
	}{
		{"colder than any", func(r *Room) { r.Temp = -6 },
			reason.Outside[quantity.Celsius]{What: "set point", Value: -6, Low: -5, High: 40}},
		{"percent for a fraction", func(r *Room) { r.RH = 85 },
			reason.Outside[quantity.Fraction]{What: "humidity", Value: 85, Low: 0.2, High: 1}},
		{"limits beside the set point", func(r *Room) { r.TempHigh = 11 }, TempLimits{12, 10, 11}},
		{"humidity outside its limits", func(r *Room) { r.RHLow = 0.9 }, RHLimits{0.85, 0.9, good.RHHigh}},
		{"a rack without shelves", func(r *Room) { r.Racks = []Rack{{Name: "A"}} },
			reason.Outside[int]{What: "shelves", Value: 0, Low: 1, High: 1000}},
		{"a shelf of too many wheels", func(r *Room) { r.Racks = []Rack{{Name: "A", Shelves: 1, PerShelf: 10001}} },
			reason.Outside[int]{What: "wheels on a shelf", Value: 10001, High: 10000}},
		{"too many racks", func(r *Room) { r.Racks = make([]Rack, 1001) },
			reason.Outside[int]{What: "racks", Value: 1001, High: 1000}},
	} {
		r := good
		c.change(&r)
		if got := reason.Of(r.Check()); got != c.want {
			t.Errorf("%s: %#v, want %#v", c.name, got, c.want)
		}
	}
	for _, c := range []struct {
		name   string
		change func(*Room)
		want   string
	}{
		{"a name with a slash", func(r *Room) { r.Name = "a/b" },
			"bad-name {What:room Name:a/b Has:/ Why:reserved-character}"},
		{"a rack with a bad name", func(r *Room) { r.Racks = []Rack{{Name: "A B", Shelves: 1}} },
			"bad-name {What:rack Name:A B Has:  Why:reserved-character}"},
	} {
		r := good
		c.change(&r)
		if err := r.Check(); err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

func TestARoomMadeAroundItsAirIsSound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := Room{Name: "cellar"}
		r.Around(quantity.Celsius(rapid.Float64Range(-5, 40).Draw(t, "C")),
			quantity.Fraction(rapid.Float64Range(0.2, 1).Draw(t, "RH")))
		if err := r.Check(); err != nil {
			t.Fatalf("%+v: %v", r, err)
		}
	})
}

func FuzzParsePlace(f *testing.F) {
	for _, s := range []string{"cellar/A/2", "a//b", "/", "\x1b[31m/A", "a/b/c/d", "\u202e", " ", "-a",
		strings.Repeat("x/", 200)} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		p, err := ParsePlace(s)
		if err != nil {
			if p != "" {
				t.Errorf("%q is refused and gives %q", s, p)
			}
			for _, r := range err.Error() {
				if unicode.IsControl(r) {
					t.Errorf("the error of %q holds a raw character: %q", s, err)
				}
			}
			return
		}
		again, err := ParsePlace(string(p))
		if err != nil || again != p || strings.Count(string(p), "/") > 2 || !p.Within(Place(p.Room())) {
			t.Errorf("%q is %q, read again %q, %v", s, p, again, err)
		}
	})
}
