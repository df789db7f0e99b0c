package round

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/store/derive"
	"rindkeep/wheel"
)

func TestAShareIsRead(t *testing.T) {
	for in, want := range map[string]Share{"3": {0, 3}, "2/3": {2, 3}, " 1 / 1": {1, 1}, "99": {0, 99}} {
		if got, err := ParseShare(in); err != nil || got != want {
			t.Errorf("%q: %v %v", in, got, err)
		}
	}
	for _, in := range []string{"", "0", "0/3", "4/3", "/3", "3/", "-1", "1/2/3", "100", "three"} {
		if got, err := ParseShare(in); err == nil {
			t.Errorf("%q: %v", in, got)
		}
	}
}

// work is a list with minutes of turning on each shelf.
func work(minutes map[cave.Place]float64) List {
	l := List{}
	for p, m := range minutes {
		l.Lines = append(l.Lines, Line{Place: p, Job: wheel.Turn, Minutes: m})
		l.Minutes += m
	}
	return l
}

// where are the places of each part.
func where(parts []List) (out []map[cave.Place]bool) {
	for _, p := range parts {
		m := map[cave.Place]bool{}
		for _, x := range p.Lines {
			m[x.Place] = true
		}
		out = append(out, m)
	}
	return out
}

func TestADayIsSplitByRacks(t *testing.T) {
	in := func(ps ...cave.Place) map[cave.Place]bool {
		m := map[cave.Place]bool{}
		for _, p := range ps {
			m[p] = true
		}
		return m
	}
	rooms := map[string]int{"drying": 0, "cellar": 1}
	full := map[cave.Place]int{"drying/A/1": 10, "drying/A/2": 10, "cellar/A/1": 10, "cellar/B/1": 10, "cellar/B/2": 10,
		"cellar/C/1": 10}
	for _, c := range []struct {
		name    string
		n       int
		shelves map[cave.Place]int
		minutes map[cave.Place]float64
		want    []map[cave.Place]bool
	}{
		{"by the wheels that stand there, room after room", 2, full,
			map[cave.Place]float64{"drying/A/1": 10, "cellar/A/1": 11, "cellar/B/2": 12, "cellar/C/1": 9},
			[]map[cave.Place]bool{in("drying/A/1", "cellar/A/1"), in("cellar/B/2", "cellar/C/1")}},
		{"the same where a rack has little to do", 2, full,
			map[cave.Place]float64{"drying/A/1": 10, "cellar/A/1": 8, "cellar/B/2": 10, "cellar/C/1": 1},
			[]map[cave.Place]bool{in("drying/A/1", "cellar/A/1"), in("cellar/B/2", "cellar/C/1")}},
		{"by minutes where that leaves one with far more", 2, full,
			map[cave.Place]float64{"drying/A/1": 1, "cellar/A/1": 1, "cellar/B/2": 60, "cellar/C/1": 60},
			[]map[cave.Place]bool{in("drying/A/1", "cellar/A/1", "cellar/B/2"), in("cellar/C/1")}},
		{"between shelves where there are fewer racks than people", 2, map[cave.Place]int{"cellar/A/1": 4, "cellar/A/2": 4},
			map[cave.Place]float64{"cellar/A/1": 5, "cellar/A/2": 5},
			[]map[cave.Place]bool{in("cellar/A/1"), in("cellar/A/2")}},
		{"what has no place comes last", 2, map[cave.Place]int{"cellar/A/1": 4, "": 4},
			map[cave.Place]float64{"": 5, "cellar/A/1": 5},
			[]map[cave.Place]bool{in("cellar/A/1"), in("")}},
		{"more people than shelves", 3, map[cave.Place]int{"cellar/A/1": 4},
			map[cave.Place]float64{"cellar/A/1": 5}, []map[cave.Place]bool{in(), in("cellar/A/1"), in()}},
		{"nothing to do", 2, full, nil, []map[cave.Place]bool{in(), in()}},
	} {
		if diff := cmp.Diff(c.want, where(work(c.minutes).Split(c.n, rooms, c.shelves))); diff != "" {
			t.Errorf("%s:\n%s", c.name, diff)
		}
	}
}

// TestAShareIsStableAndComplete has days with more and with less to do: every line is
// in one part, the parts follow each other, and as long as nobody has too much the
// racks are those of the day before.
func TestAShareIsStableAndComplete(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "people")
		shelves, rooms := map[cave.Place]int{}, map[string]int{"a": 0, "b": 1}
		for range rapid.IntRange(0, 30).Draw(t, "shelves") {
			p := cave.Place(fmt.Sprintf("%s/%d/%d", rapid.SampledFrom([]string{"a", "b"}).Draw(t, "room"),
				rapid.IntRange(1, 12).Draw(t, "rack"), rapid.IntRange(1, 3).Draw(t, "shelf")))
			shelves[p] = rapid.IntRange(1, 40).Draw(t, "wheels")
		}
		share := map[cave.Place]int{} // of each rack, while nobody has too much
		for on := range day.Date(3) {
			l := List{Date: on}
			for p := range shelves {
				if m := rapid.IntRange(0, 30).Draw(t, "minutes"); m > 0 {
					l.Lines = append(l.Lines, Line{Place: p, Minutes: float64(m)})
					l.Minutes += float64(m)
				}
			}
			lines, most, last := 0, 0.0, 0
			parts := l.Split(n, rooms, shelves)
			of := map[cave.Place]int{}
			for i, p := range parts {
				lines, most = lines+len(p.Lines), max(most, p.Minutes)
				for _, x := range p.Lines {
					of[x.Place.Rack()] = i
				}
			}
			if lines != len(l.Lines) {
				t.Fatalf("%d lines of %d", lines, len(l.Lines))
			}
			racks := inOrder(l, rooms, shelves, cave.Place.Rack)
			if len(racks) < n {
				return
			}
			standing := cut(racks, wheels(shelves), n)
			even := true
			for _, p := range longest(l, standing, n) {
				even = even && p <= uneven*l.Minutes/float64(n)
			}
			for _, r := range racks {
				i, works := of[r]
				if !works {
					continue
				}
				if i < last {
					t.Fatalf("rack %s goes to %d after %d", r, i, last)
				}
				last = i
				if was, ok := share[r]; even && ok && was != i {
					t.Fatalf("rack %s went from %d to %d", r, was, i)
				}
				if even {
					share[r] = i
				}
			}
		}
	})
}

func wheels(shelves map[cave.Place]int) map[cave.Place]float64 {
	out := map[cave.Place]float64{}
	for p, n := range shelves {
		out[p.Rack()] += float64(n)
	}
	return out
}

func longest(l List, of map[cave.Place]int, n int) []float64 {
	sums := make([]float64, n)
	for _, x := range l.Lines {
		sums[of[x.Place.Rack()]] += x.Minutes
	}
	return sums
}

// A cut keeps each person's racks as work gets done, and a place that came later is in the first part.
func TestACutStaysWhileTheDayIsWorkedOff(t *testing.T) {
	shelves := map[cave.Place]int{"cellar/A/1": 10, "cellar/B/1": 10, "cellar/C/1": 10, "cellar/D/1": 10}
	rooms := map[string]int{"cellar": 0}
	morning := work(map[cave.Place]float64{"cellar/A/1": 10, "cellar/B/1": 10, "cellar/C/1": 10, "cellar/D/1": 10, "": 1})
	c := morning.cut(2, rooms, shelves)
	noon := work(map[cave.Place]float64{"cellar/C/1": 10, "cellar/D/1": 10, "cellar/E/1": 5})
	again := where(noon.parts(c, 2))
	want := []map[cave.Place]bool{{"cellar/E/1": true}, {"cellar/C/1": true, "cellar/D/1": true}}
	if diff := cmp.Diff(want, again); diff != "" {
		t.Error(diff)
	}
	shelves["cellar/E/1"] = 3
	tasks := []derive.Task{due("cellar/A/1", "a-01", wheel.Turn), due("cellar/C/1", "c-01", wheel.Turn),
		due("cellar/E/1", "e-01", wheel.Turn), due("", "z-01", wheel.Turn)}
	for part, want := range []string{" cellar/A/1 a-01 cellar/E/1 e-01", " z-01 cellar/C/1 c-01"} {
		var got []string
		err := c.each(part, shelves, "", func(p cave.Place, fn func(derive.Task) bool) error {
			for _, x := range tasks {
				if (x.Place == p || x.Place.Within(p)) && !fn(x) {
					break
				}
			}
			return nil
		}, func(x derive.Task) bool {
			got = append(got, " "+strings.TrimSpace(string(x.Place)+" "+x.Tag))
			return true
		})
		slices.Sort(got)
		if s := strings.Join(got, ""); err != nil || !sameWords(s, want) {
			t.Errorf("part %d: %q, want %q, %v", part, s, want, err)
		}
	}
}

func sameWords(a, b string) bool {
	x, y := strings.Fields(a), strings.Fields(b)
	slices.Sort(x)
	slices.Sort(y)
	return slices.Equal(x, y)
}
