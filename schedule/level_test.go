package schedule

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rindkeep/cave/day"
)

// mon is a Monday, and the fourteen days of the levelling tests begin there.
var mon = day.Of(2026, time.November, 23)

// load is work due n days after mon that may be moved by slack.
func load(n, slack int, minutes float64) Load {
	on := mon + day.Date(n)
	return Load{On: on, Low: on - day.Date(slack), High: on + day.Date(slack), Minutes: minutes}
}

func days(ds []day.Date) []int {
	out := make([]int, len(ds))
	for i, d := range ds {
		out[i] = int(d - mon)
	}
	return out
}

func TestLevelling(t *testing.T) {
	weekend := Rest{time.Saturday: true, time.Sunday: true}
	for _, c := range []struct {
		name  string
		rest  Rest
		loads []Load
		want  []int
	}{
		{"no loads are no days", Rest{}, []Load{}, []int{}},
		{"work without slack never moves, however full the day", Rest{},
			[]Load{load(1, 0, 60), load(1, 0, 60), load(1, 0, 60)}, []int{1, 1, 1}},
		{"work without slack stays on a day of rest", weekend, []Load{load(5, 0, 60)}, []int{5}},
		{"a full day gives what can move to the emptier days beside it", Rest{},
			[]Load{load(3, 1, 30), load(3, 1, 30), load(3, 1, 30)}, []int{2, 4, 3}},
		{"work goes off a day of rest to the nearest day of work", weekend, []Load{load(5, 2, 30), load(6, 2, 30)},
			[]int{4, 7}},
		{"where the whole leeway is rest, work stays on its day", weekend,
			[]Load{{On: mon + 5, Low: mon + 5, High: mon + 6, Minutes: 10}}, []int{5}},
		{"nothing is moved onto a day of rest", weekend,
			[]Load{load(4, 1, 30), load(4, 1, 30), load(4, 1, 30), load(3, 0, 200)}, []int{4, 4, 4, 3}},
		{"a day is not changed for less than a minute", Rest{}, []Load{load(3, 1, 0.5), load(3, 1, 0.5)}, []int{3, 3}},
		{"nothing is moved before the first day or past the last", Rest{},
			[]Load{load(0, 3, 20), load(0, 3, 20), load(13, 3, 20), load(13, 3, 20)}, []int{1, 0, 12, 13}},
		{"a load too large to share is left where it is", Rest{}, []Load{load(2, 1, 90), load(1, 0, 10), load(3, 0, 10)},
			[]int{2, 1, 3}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if d := cmp.Diff(c.want, days(Level(c.loads, mon, mon+13, c.rest))); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
		})
	}
}

func TestLevellingKeepsEveryTaskOnceWithinItsSlackAndFillsNoDayHigherThanTheFullest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 40).Draw(t, "days")
		from, to := mon, mon+day.Date(n)-1
		loads := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Load {
			on := from + day.Date(rapid.IntRange(0, n-1).Draw(t, "on"))
			l := Load{On: on, Low: on - day.Date(rapid.IntRange(0, 9).Draw(t, "low")),
				High: on + day.Date(rapid.IntRange(0, 9).Draw(t, "high"))}
			l.Minutes = float64(rapid.IntRange(0, 400).Draw(t, "quarters")) / 4
			return l
		}), 0, 60).Draw(t, "loads")
		var rest Rest
		for d := range rest {
			rest[d] = d != 3 && rapid.IntRange(0, 4).Draw(t, "rest") == 0
		}
		before := slices.Clone(loads)
		got := Level(loads, from, to, rest)
		if d := cmp.Diff(before, loads); d != "" {
			t.Fatalf("the loads were changed:\n%s", d)
		}
		if len(got) != len(loads) {
			t.Fatalf("%d loads, %d days", len(loads), len(got))
		}
		full, was := map[day.Date]float64{}, map[day.Date]float64{}
		for i, l := range loads {
			full[got[i]] += l.Minutes
			was[l.On] += l.Minutes
			if got[i] < l.Low || got[i] > l.High || got[i] < from || got[i] > to {
				t.Fatalf("load %d (%v) went to %s, out of its leeway", i, l, got[i])
			}
			if got[i] != l.On && rest.On(got[i]) {
				t.Fatalf("load %d was moved to a day of rest", i)
			}
			if rest.On(got[i]) {
				for d := max(l.Low, from); d <= min(l.High, to); d++ {
					if !rest.On(d) {
						t.Fatalf("load %d stays on a day of rest and could be done on %s", i, d)
					}
				}
			}
		}
		sum, sumWas, peak, peakWas := 0.0, 0.0, 0.0, 0.0
		for d := from; d <= to; d++ {
			sum, sumWas = sum+full[d], sumWas+was[d]
			peak, peakWas = max(peak, full[d]), max(peakWas, was[d])
		}
		if sum != sumWas {
			t.Fatalf("%v minutes before, %v after", sumWas, sum)
		}
		if rest == (Rest{}) && peak > peakWas {
			t.Fatalf("the fullest day had %v minutes and has %v", peakWas, peak)
		}
		if d := cmp.Diff(got, Level(loads, from, to, rest)); d != "" {
			t.Fatalf("twice the same is not the same:\n%s", d)
		}
	})
}

func TestDaysOfRestAreReadAsPeopleWriteThem(t *testing.T) {
	for _, c := range []struct {
		word string
		want []string
		err  string
	}{
		{"", []string{}, ""},
		{"sat,sun", []string{"sat", "sun"}, ""},
		{" Sunday , SAT", []string{"sat", "sun"}, ""},
		{"mon,mon", []string{"mon"}, ""},
		{"weekend", nil, "a day of rest is one of mon, tue, wed, thu, fri, sat, sun; separate several with commas"},
		{"mon,tue,wed,thu,fri,sat,sun", nil, "a week with seven days of rest leaves no day for the work"},
	} {
		r, err := ParseRest(c.word)
		msg := ""
		if err != nil {
			msg = err.Error()
		}
		if msg != c.err || err == nil && !cmp.Equal(r.Days(), c.want) {
			t.Errorf("%q: %v, %q, want %v, %q", c.word, r.Days(), msg, c.want, c.err)
		}
	}
}
