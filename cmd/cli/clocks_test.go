package cli

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"rindkeep/cave/day"
)

// oddDays are days on which a calendar or a clock does something unusual, after
// an ordinary one that the others are compared with.
var oddDays = []struct {
	name, zone, date string
	turns            []string // of a tomme begun at 00:15: 165, 195, 255 and 375 minutes later
}{
	{"an ordinary day", "Europe/Dublin", "2026-11-25", []string{"03:00", "03:30", "04:30", "06:30"}},
	{"a leap day", "Europe/Dublin", "2028-02-29", []string{"03:00", "03:30", "04:30", "06:30"}},
	{"the last day of a year", "America/New_York", "2026-12-31", []string{"03:00", "03:30", "04:30", "06:30"}},
	{"a day of 23 hours in Europe", "Europe/Dublin", "2027-03-28", []string{"04:00", "04:30", "05:30", "07:30"}},
	{"a day of 25 hours in Europe", "Europe/Dublin", "2026-10-25", []string{"02:00", "02:30", "03:30", "05:30"}},
	{"a day of 23 hours in America", "America/New_York", "2027-03-14", []string{"04:00", "04:30", "05:30", "07:30"}},
	{"a day of 25 hours in America", "America/New_York", "2026-11-01", []string{"02:00", "02:30", "03:30", "05:30"}},
}

// relative rewrites the dates, instants and lot codes in a document as days from
// today, so that documents of two days can be compared.
func relative(doc any, today day.Date, loc *time.Location) any {
	var pairs []string
	for n := day.Date(-400); n <= 400; n++ {
		d := (today + n).Noon(loc)
		for _, layout := range []string{"2006-01-02", "060102", "Mon 2 Jan 2006", "Mon 2 Jan"} {
			pairs = append(pairs, d.Format(layout), fmt.Sprintf("%+d days", n))
		}
	}
	dates := strings.NewReplacer(pairs...)
	var walk func(any) any
	walk = func(v any) any {
		switch x := v.(type) {
		case map[string]any:
			for k := range x {
				x[k] = walk(x[k])
			}
		case []any:
			for i := range x {
				x[i] = walk(x[i])
			}
		case string:
			if at, err := time.Parse(time.RFC3339, x); err == nil {
				return fmt.Sprintf("%+d days %s", day.At(at, loc)-today, at.In(loc).Format("15:04"))
			}
			return dates.Replace(x)
		}
		return v
	}
	return walk(doc)
}

func TestEveryDayIsLikeAnOrdinaryOne(t *testing.T) {
	ordinary := map[string]any{}
	days := oddDays
	if testing.Short() {
		days = days[:2]
	}
	for _, c := range days {
		loc, err := time.LoadLocation(c.zone)
		if err != nil {
			t.Fatal(err)
		}
		today, err := day.ParseISO(c.date)
		if err != nil {
			t.Fatal(err)
		}
		t.Run(c.name, func(t *testing.T) {
			w := newWorld(t)
			w.vars["TZ"] = c.zone
			w.from = today.Clock(9, 0, loc)
			// In this demo no expected date is so close to midnight that an hour
			// more or less of drying moves it. A change of the drying model may
			// ask for another seed.
			w.must("demo --seed 5 --quiet --book " + w.book)
			for _, line := range []string{"today", "dry", "ahead --days 4", "log"} {
				var got any
				w.doc(&got, line)
				got = relative(got, today, loc)
				if ordinary[line] == nil {
					ordinary[line] = got
				}
				nearly := cmpopts.EquateApprox(0.01, 0.005)
				// Identities are new each time, and a detail repeats a weight.
				unlike := cmpopts.IgnoreMapEntries(func(k string, _ any) bool {
					return k == "id" || k == "mark" || k == "detail"
				})
				if d := cmp.Diff(ordinary[line], got, nearly, unlike); d != "" {
					t.Errorf("rindkeep %s (-ordinary +got):\n%s", line, d)
				}
			}
			w.dayIsWrittenDown(today, loc, c.turns)
			w.sound()
		})
	}
}

// dayIsWrittenDown works at the demo's edam from midnight to midnight.
func (w *world) dayIsWrittenDown(today day.Date, loc *time.Location, turns []string) {
	t := w.t
	t.Helper()
	lot := (today - 6).Noon(loc).Format("060102") + "A"
	type task struct {
		Due           string
		Late          int `json:"late_days"`
		Round         int
		Times, Wheels []string
	}
	tasks := func(line string) []task {
		t.Helper()
		var d struct {
			Date  day.Date
			Tasks []task
		}
		w.doc(&d, "today "+line)
		same(t, "the day of rindkeep today "+line, d.Date, day.At(w.env.Now(), loc))
		return slices.DeleteFunc(d.Tasks, func(k task) bool { return !strings.HasPrefix(k.Wheels[0], lot) })
	}
	wheels := []string{lot + "-01", lot + "-02", lot + "-03", lot + "-04"}
	date := today.String()
	same(t, "turning in the morning", tasks("--only turn"), []task{{date, 0, 1, []string{}, wheels}})

	var weighed struct{ Results []struct{ At time.Time } }
	w.doc(&weighed, "weigh "+lot+"-01 1850 --sure")
	if at := weighed.Results[0].At; day.At(at, loc) != today || at.After(w.env.Now()) {
		t.Errorf("a weighing of %s is at %s", w.env.Now(), at)
	}
	same(t, "still to weigh", tasks("--only weigh"), []task{{date, 0, 1, []string{}, wheels[1:]}})
	w.must("did turn " + lot)
	same(t, "turning once done", tasks("--only turn"), []task{{date, 0, 2, []string{}, wheels}})

	w.must("wheel note " + lot + "-01 first --at 00:05")
	w.must("wheel note " + lot + "-01 last --at " + (today - 1).String() + "T23:55")
	var log struct {
		Entries []struct {
			At   time.Time
			Note string
		}
	}
	for line, note := range map[string]string{"--from today": "first", "--from yesterday --to yesterday": "last"} {
		w.doc(&log, "log --kind noted "+line)
		if len(log.Entries) != 1 || log.Entries[0].Note != note {
			t.Errorf("rindkeep log --kind noted %s: %+v", line, log)
		}
	}
	w.doc(&log, "log --from today")
	same(t, "entries of the day", len(log.Entries), 1+1+4)

	w.must("make new --lot VAT --variety tomme --wheels 1 --place cellar/C/3 --start 00:15 --quiet")
	lot = "VAT"
	var got [][]string
	for _, k := range tasks("--only turn") {
		got = append(got, k.Times)
	}
	same(t, "turning by the clock", got, [][]string{turns})

	w.from, w.ran = today.Clock(18, 0, loc), 0
	w.must("did turn " + wheels[0][:7])
	w.from, w.ran = (today+1).Clock(0, 10, loc), 0
	lot = wheels[0][:7]
	same(t, "turning after midnight", tasks("--only turn"), []task{{(today + 1).String(), 0, 1, []string{}, wheels}})
}
