package cli

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	uc "rindkeep/cmd/app"
	"rindkeep/cmd/app/rooms"
)

func TestTheDocumentOfTheDaysAheadKeepsItsFields(t *testing.T) {
	w := jsonWorld(t)
	var v map[string]any
	w.must("law follow US --quiet")
	w.doc(&v, "ahead --days 80 --rest sun")
	same(t, "schema", v["schema"], any("rindkeep/ahead/1"))
	golden(t, filepath.Join("json", "ahead.txt"), strings.Join(shapeOf(v), "\n")+"\n")
}

func TestAnEmptyBookHasNothingAhead(t *testing.T) {
	w := newWorld(t)
	w.must("book new --quiet")
	var d rooms.Ahead
	w.doc(&d, "ahead --days 2")
	zero := 0.0
	none := uc.Est{Best: &zero, Low: &zero, High: &zero}
	nothing := rooms.AheadSum{Mass: none, MassEnd: none}
	same(t, "rindkeep ahead on an empty book", d, rooms.Ahead{
		Schema: "rindkeep/ahead/1", From: "2026-11-25", To: "2026-11-26", Rest: []string{},
		Totals: rooms.AheadTotals{Minutes: &zero, Fullest: &zero, FullestDue: &zero, OwnForecast: true},
		Days: []rooms.AheadDay{{Date: "2026-11-25", Minutes: &zero, MinutesDue: &zero, Rooms: []rooms.AheadRoomDay{}},
			{Date: "2026-11-26", Minutes: &zero, MinutesDue: &zero, Rooms: []rooms.AheadRoomDay{}}},
		Timed: []rooms.AheadTimed{}, Dry: []rooms.AheadDry{}, Taste: []rooms.AheadTaste{}, Lawful: []rooms.AheadLawful{},
		Ready: []rooms.AheadReady{}, Rooms: []rooms.AheadShelves{},
		Sums:      rooms.AheadSums{Waiting: nothing, Lawful: nothing, Ready: nothing},
		Cautioned: uc.Cautioned{Cautions: uc.Cautions{}},
	})
	if out := w.must("ahead"); !strings.Contains(out, "no wheels: nothing to do") {
		t.Errorf("rindkeep ahead on an empty book printed\n%s", out)
	}
}

// demoWorld is the demo's creamery in a world.
func demoWorld(t *testing.T) *world {
	w := newWorld(t)
	w.must("demo --quiet --book " + w.book)
	return w
}

func TestTheFirstDayAheadIsTodaysList(t *testing.T) {
	w := demoWorld(t)
	var today struct {
		Tasks []struct {
			Job, Place, Due, Coat, To string
			Wheels                    []string
			LateDays                  int `json:"late_days"`
			Left                      int `json:"rounds_left"`
			Minutes                   float64
		}
		Totals struct {
			Wheels  int
			Minutes float64
		}
	}
	w.doc(&today, "today")
	type job struct {
		Wheels  int
		Minutes float64
	}
	want, late, lines := map[string]job{}, 0, map[string]bool{}
	for _, k := range today.Tasks {
		want[k.Job] = job{want[k.Job].Wheels + len(k.Wheels), want[k.Job].Minutes + k.Minutes}
		if k.LateDays > 0 {
			late += len(k.Wheels)
			lines[fmt.Sprint(k.Place, k.Job, k.Due, k.Left, k.Coat, k.To)] = true
		}
		if k.Job == "coat" && k.LateDays > 0 {
			t.Errorf("a coat of %v that may go on today is late", k.Wheels)
		}
	}
	if want["coat"].Wheels == 0 || late == 0 {
		t.Fatalf("the demo has nothing to coat, or nothing late: %v", want)
	}
	var d rooms.Ahead
	w.doc(&d, "ahead --days 1")
	first, got := d.Days[0], map[string]job{}
	for _, r := range first.Rooms {
		for _, j := range r.Jobs {
			got[j.Job] = job{got[j.Job].Wheels + j.WheelsDue, got[j.Job].Minutes + *j.MinutesDue}
		}
	}
	same(t, "jobs of the first day ahead, as due, and of today's list", got, want)
	same(t, "wheels, late jobs of wheels and late lines", []int{first.WheelsDue, first.Late, first.LateJobs},
		[]int{today.Totals.Wheels, late, len(lines)})
	if math.Abs(*first.MinutesDue-today.Totals.Minutes) > 1e-9 {
		t.Errorf("%g minutes ahead, %g on today's list", *first.MinutesDue, today.Totals.Minutes)
	}
	for word, out := range map[string]string{"today": w.must("today"), "ahead": w.must("ahead --days 1")} {
		if said := fmt.Sprintf("%d late", len(lines)); !strings.Contains(out, said) {
			t.Errorf("%s doesn't say %s:\n%s", word, said, out)
		}
	}
}

func TestCoatsAreExpectedWhenTheVerdictOnEachWheelExpectsThem(t *testing.T) {
	w := demoWorld(t)
	var dry struct {
		Wheels []struct {
			Wheel    string
			Verdict  string
			Expected *struct{ Best, Low, High string } `json:"expected_on"`
		}
	}
	w.doc(&dry, "dry")
	want := map[string]string{}
	for _, k := range dry.Wheels {
		switch {
		case k.Verdict == "dry-enough" || k.Verdict == "check-by-hand" || k.Verdict == "too-dry":
			want[k.Wheel] = "now"
		case k.Expected != nil && k.Expected.Best <= "2027-01-23":
			want[k.Wheel] = fmt.Sprintf("%s %s %s",
				max(k.Expected.Best, "2026-11-25"), max(k.Expected.Low, "2026-11-25"), max(k.Expected.High, "2026-11-25"))
		}
	}
	got := map[string]string{}
	var d rooms.Ahead
	w.doc(&d, "ahead --days 60")
	for _, l := range d.Dry {
		for _, tag := range l.Wheels {
			switch {
			case l.Now:
				got[tag] = "now"
			case l.Expected.High == nil:
				got[tag] = fmt.Sprintf("%s %s ", l.Expected.Best, l.Expected.Low)
			default:
				got[tag] = fmt.Sprintf("%s %s %s", l.Expected.Best, l.Expected.Low, *l.Expected.High)
			}
		}
	}
	if len(want) < 5 {
		t.Errorf("only %d wheels wait for a coat in the demo", len(want))
	}
	same(t, "days expected by rindkeep ahead and by rindkeep dry", got, want)
}

func TestLevellingKeepsTheWorkAndItsFiguresAgree(t *testing.T) {
	w := demoWorld(t)
	for _, line := range []string{"ahead --days 60", "ahead --days 60 --rest sat,sun", "ahead --days 30 --room cellar"} {
		var d rooms.Ahead
		w.doc(&d, line)
		if line == "ahead --days 60" && *d.Totals.Fullest > *d.Totals.FullestDue {
			t.Errorf("%s: the fullest day has %.1f minutes and had %.1f", line, *d.Totals.Fullest, *d.Totals.FullestDue)
		}
		jobs, due := map[string]int{}, map[string]int{}
		var minutes, minutesDue float64
		tasks, resting, restingDue := 0, 0.0, 0.0
		for _, x := range d.Days {
			var m float64
			wheels := 0
			for _, r := range x.Rooms {
				m += *r.Minutes
				wheels += r.Wheels
				for _, j := range r.Jobs {
					jobs[j.Job] += j.Wheels
					due[j.Job] += j.WheelsDue
					tasks += j.Wheels
				}
			}
			if math.Abs(m-*x.Minutes) > 1e-6 || wheels != x.Wheels {
				t.Errorf("%s, %s: %d wheels and %.2f minutes in all, %d and %.2f room by room",
					line, x.Date, x.Wheels, *x.Minutes, wheels, m)
			}
			minutes, minutesDue = minutes+*x.Minutes, minutesDue+*x.MinutesDue
			if x.Rest {
				resting, restingDue = resting+*x.Minutes, restingDue+*x.MinutesDue
			}
		}
		same(t, line+": jobs before and after levelling", jobs, due)
		if math.Abs(minutes-minutesDue) > 1e-6 || math.Abs(minutes-*d.Totals.Minutes) > 1e-6 || tasks != d.Totals.Tasks ||
			tasks == 0 {
			t.Errorf("%s: %.2f minutes levelled, %.2f as due, %.2f in all; %d jobs, %d in all",
				line, minutes, minutesDue, *d.Totals.Minutes, tasks, d.Totals.Tasks)
		}
		if len(d.Rest) > 0 && !(resting < restingDue/2) {
			t.Errorf("%s: %.1f of %.1f minutes stay on the days of rest", line, resting, restingDue)
		}
	}
}

func TestARoomsWaterIsThatOfTheRoomsOwnPage(t *testing.T) {
	w := demoWorld(t)
	var d rooms.Ahead
	w.doc(&d, "ahead --days 1")
	for _, r := range d.Rooms {
		var page struct {
			Room struct {
				Capacity int
			}
			Water struct {
				Wheels  int
				Now     struct{ Best, Low, High float64 } `json:"now_g_per_h"`
				InAWeek struct{ Best, Low, High float64 } `json:"in_a_week_g_per_h"`
			} `json:"water_load"`
		}
		w.doc(&page, "room show "+r.Room)
		if page.Water.Wheels == 0 || page.Water.Wheels != r.Water.Wheels || page.Room.Capacity != *r.Capacity {
			t.Errorf("%s: %d wheels give water here, %d on its page; %d places here, %d there",
				r.Room, r.Water.Wheels, page.Water.Wheels, *r.Capacity, page.Room.Capacity)
		}
		for _, c := range []struct {
			what      string
			got, want float64
		}{{"now", *r.Water.Now.Best, page.Water.Now.Best}, {"now, at most", *r.Water.Now.High,
			page.Water.Now.High}, {"in a week", *r.Water.InAWeek.Best, page.Water.InAWeek.Best}} {
			if math.Abs(c.got-c.want) > 0.02*c.want {
				t.Errorf("%s, %s: %.3f g/h, its page says %.3f", r.Room, c.what, c.got, c.want)
			}
		}
	}
}

func TestACalendarTakesThePlaceOfACalendarAndOfNothingElse(t *testing.T) {
	w := newWorld(t).kept()
	notes := w.file("notes.txt", "years of notes")
	for _, p := range []string{w.book, notes} {
		before, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		w.want(exitRefused, `is there already and is something else; name another file`, "ahead", "--ics", p)
		after, err := os.ReadFile(p)
		if err != nil || string(after) != string(before) {
			t.Errorf("%s was changed: %v", p, err)
		}
	}
	ics := filepath.Join(w.dir, "cave.ics")
	w.must("ahead --ics " + ics)
	w.must("ahead --days 30 --ics " + ics)
	w.sound()
}

func TestEventsOfACalendarKeepTheirIdentities(t *testing.T) {
	w := demoWorld(t)
	one, two := filepath.Join(w.dir, "one.ics"), filepath.Join(w.dir, "two.ics")
	w.must("ahead --days 30 --quiet --ics " + one)
	w.must("ahead --days 30 --quiet --ics " + two)
	read := func(name string) (uids, rest []string) {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range strings.Split(string(b), "\r\n") {
			if u, ok := strings.CutPrefix(l, "UID:"); ok {
				uids = append(uids, u)
			}
			if !strings.HasPrefix(l, "DTSTAMP:") {
				rest = append(rest, l)
			}
		}
		return uids, rest
	}
	uids, first := read(one)
	_, second := read(two)
	same(t, "all but the stamp of the same calendar a second later", second, first)
	sorted := slices.Compact(slices.Sorted(slices.Values(uids)))
	if len(sorted) != len(uids) || len(uids) < 30 {
		t.Errorf("%d events bear %d identities", len(uids), len(sorted))
	}
	// A day on, each day that was in the first is the same event in the next.
	next := filepath.Join(w.dir, "next.ics")
	w.must("ahead --days 29 --quiet --on 2026-11-26 --ics " + next)
	later, _ := read(next)
	kept := 0
	for _, u := range later {
		if slices.Contains(uids, u) {
			kept++
		}
	}
	if kept < len(later)*9/10 {
		t.Errorf("of %d events a day on only %d are known", len(later), kept)
	}
}

func BenchmarkAhead(b *testing.B) {
	w := newWorld(b)
	w.must("demo --wheels 2000 --quiet --book " + w.book)
	for b.Loop() {
		w.must("ahead --days 60 --json")
	}
}
