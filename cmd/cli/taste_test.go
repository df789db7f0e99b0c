package cli

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"rindkeep/wheel"
)

// tastedWorld has a lot tasted at two ages by two people, one wheel of it sent
// since, one tasting struck.
func tastedWorld(t testing.TB) *world {
	w := newWorld(t).kept()
	w.must("taste 261110A-01 --flavour 3 --texture 4 --fault bitter --at 2026-11-18T09:00 --by Orla --quiet")
	w.must("taste 261110A-02 --flavour 4 --fault bitter,curdy --at 2026-11-18T09:10 --quiet")
	w.must("taste 261110A-01 --flavour 5 --texture 5 --appearance 4 --fault-own Cardboard --core 12g --at " +
		"2026-11-24T09:00 --quiet")
	w.must("taste 261110A-03 --flavour 1 --fault-own dust --at 2026-11-24T09:30 --quiet")
	w.must("strike last --why wrong --quiet")
	w.must("wheel send 261110A-02 --to Shop --override test --at 2026-11-24T12:00 --quiet")
	return w
}

func TestTheDocumentsOfATastingKeepTheirFields(t *testing.T) {
	w := tastedWorld(t)
	for _, c := range []struct{ name, line string }{
		{"taste", "taste 261110A-04 --flavour 4 --fault mealy --core 10g"},
		{"taste-show", "taste show 261110A"},
	} {
		var v map[string]any
		w.doc(&v, c.line)
		same(t, "schema of rindkeep "+c.line, v["schema"], any("rindkeep/"+c.name+"/1"))
		golden(t, filepath.Join("json", c.name+".txt"), strings.Join(shapeOf(v), "\n")+"\n")
	}
}

func TestTheScoresOfALotOverTime(t *testing.T) {
	w := tastedWorld(t)
	type mean struct {
		Mean             float64
		Low, High, Count int
	}
	type doc struct {
		Wheels int
		ByAge  []struct {
			Age                       int `json:"age_days"`
			Dates                     []string
			Tastings, Wheels, Tasters int
			Scores                    struct{ Appearance, Colour, Texture, Flavour *mean }
		} `json:"by_age"`
		Faults []struct {
			Fault  string
			Of     *string `json:"said_of"`
			Count  int
			Wheels int
		}
		Tastings []struct {
			Wheel, Lot, By string
			Age            int `json:"age_days"`
			Texture        *int
			Faults         []string
		}
	}
	line := func(d doc) (out []string) {
		m := func(x *mean) string {
			if x == nil {
				return "-"
			}
			return fmt.Sprintf("%g %d-%d of %d", x.Mean, x.Low, x.High, x.Count)
		}
		for _, a := range d.ByAge {
			out = append(out, fmt.Sprintf("%d d %v: %d of %d by %d: %s, %s, %s, %s", a.Age, a.Dates, a.Tastings, a.Wheels,
				a.Tasters, m(a.Scores.Appearance), m(a.Scores.Colour), m(a.Scores.Texture), m(a.Scores.Flavour)))
		}
		for _, f := range d.Faults {
			of := "own"
			if f.Of != nil {
				of = *f.Of
			}
			out = append(out, fmt.Sprintf("%s (%s) %d on %d", f.Fault, of, f.Count, f.Wheels))
		}
		for _, x := range d.Tastings {
			out = append(out, fmt.Sprintf("%s %d by %s %v", x.Wheel, x.Age, x.By, x.Faults))
		}
		return out
	}
	for _, c := range []struct {
		name, line string
		want       []string
	}{
		{"a lot, a wheel that was sent with it, nothing that was struck", "taste show 261110A", []string{
			"8 d [2026-11-18]: 2 of 2 by 2: -, -, 4 4-4 of 1, 3.5 3-4 of 2",
			"14 d [2026-11-24]: 1 of 1 by 1: 4 4-4 of 1, -, 5 5-5 of 1, 5 5-5 of 1",
			"bitter (flavour) 2 on 2", "cardboard (own) 1 on 1", "curdy (texture) 1 on 1",
			"261110A-01 8 by Orla [bitter]", "261110A-02 8 by Nora [bitter curdy]", "261110A-01 14 by Nora [cardboard]",
		}},
		{"one wheel that is gone", "taste show 261110A-02", []string{"8 d [2026-11-18]: 1 of 1 by 1: -, -, -, 4 4-4 of 1",
			"bitter (flavour) 1 on 1", "curdy (texture) 1 on 1", "261110A-02 8 by Nora [bitter curdy]"}},
		{"a wheel named twice and in its lot is itself once", "taste show 261110A-01,261110A-01 --on 2026-11-20",
			[]string{"8 d [2026-11-18]: 1 of 1 by 1: -, -, 4 4-4 of 1, 3 3-3 of 1", "bitter (flavour) 1 on 1",
				"261110A-01 8 by Orla [bitter]"}},
		{"a wheel nobody tasted", "taste show 261110A-04", nil},
		{"what is here", "taste show all",
			[]string{"8 d [2026-11-18]: 1 of 1 by 1: -, -, 4 4-4 of 1, 3 3-3 of 1", "14 d [2026-11-24]: 1 of 1 by 1: " +
				"4 4-4 of 1, -, 5 5-5 of 1, 5 5-5 of 1", "bitter (flavour) 1 on 1", "cardboard (own) 1 on 1",
				"261110A-01 8 by Orla [bitter]", "261110A-01 14 by Nora [cardboard]"}},
	} {
		var d doc
		w.doc(&d, c.line)
		same(t, c.name, line(d), c.want)
	}
	w.want(exitNotFound, `no wheel, lot or place "261110B"`, "taste", "show", "261110B")
	w.want(exitUsage, `taste show needs WHAT`, "taste", "show")
	w.want(exitUsage, `a tag, lot or place is missing`, "taste", "show", ",")
	if out := w.must("taste show 261110A --on 2026-11-01"); strings.Contains(out, "days old") ||
		!strings.Contains(out, "not tasted yet") {
		t.Errorf("before it was made: %s", out)
	}
	w.sound()
}

func TestACoreThatCannotBeIsRefusedWithItsTasting(t *testing.T) {
	w := newWorld(t).kept()
	w.want(exitRefused, `261110A-01: a core of 50.00 kg out of \d+ g\nhint: look at the scale again; if it is right, `+
		`repeat with --sure`, "taste", "261110A-01", "--flavour", "4", "--core", "50kg")
	var d struct{ Tastings []any }
	w.doc(&d, "taste show 261110A-01")
	same(t, "tastings after the refusal", len(d.Tastings), 0)
	w.must("taste 261110A-01 --flavour 4 --core 250g --sure --quiet")
	w.doc(&d, "taste show 261110A-01")
	same(t, "tastings once it is sure", len(d.Tastings), 1)
	w.sound()
}

func TestAFaultIsAPublishedWordOrOneSaidToBeOnesOwn(t *testing.T) {
	w := newWorld(t).kept()
	for _, c := range []struct{ word, says string }{
		{"bittr",
			`"bittr" isn't a fault on the list\nhint: did you mean bitter\? if it's a word of your own: --fault-own bittr\n$`},
		{"whey taint", `did you mean whey-taint\? .*--fault-own 'whey taint'\n$`},
		{"cardboard", `"cardboard" isn't a fault on the list\nhint: if it's a word of your own: --fault-own cardboard; ` +
			`rindkeep taste --help has the list\n$`},
		{"a\x1bb", `doesn't print`},
		{strings.Repeat("x", 10_000), `.`},
	} {
		w.want(exitUsage, c.says, "taste", "261110A-01", "--fault", c.word).plain(t, c.word)
	}
	var none struct{ Tastings []any }
	w.doc(&none, "taste show 261110A")
	same(t, "tastings after refusals", len(none.Tastings), 0)
	// Said to be one's own it is a word from then on, until the last tasting that
	// holds it is struck.
	w.must("taste 261110A-01 --fault bitter --fault-own Cardboard --quiet")
	w.must("taste 261110A-02 --fault CARDBOARD --quiet")
	w.want(exitUsage, `did you mean cardboard\?`, "taste", "261110A-02", "--fault", "cardbord")
	w.must("strike last --why wrong --quiet")
	w.must("taste 261110A-02 --fault cardboard --quiet")
	w.must("strike last --why wrong --quiet")
	w.want(exitDone, ``, "wheel", "show", "261110A-01")
	var l struct {
		Entries []struct{ ID, Kind string }
	}
	w.doc(&l, "log 261110A-01 --kind tasted")
	w.must("strike " + l.Entries[0].ID + " --why wrong --quiet")
	w.want(exitUsage, `"cardboard" isn't a fault`, "taste", "261110A-02", "--fault", "cardboard")
	for _, word := range wheel.PublishedFaults() {
		if r := w.run("taste", "261110A-03", "--flavour", "4", "--fault", word); r.Code != exitDone {
			t.Errorf("--fault %s: %+v", word, r)
		}
	}
	help := w.must("taste --help")
	for _, word := range wheel.PublishedFaults() {
		if !strings.Contains(strings.Join(strings.Fields(help), " "), word) {
			t.Errorf("taste --help does not list %q", word)
		}
	}
	w.sound()
}
