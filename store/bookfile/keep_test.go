package bookfile

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"
)

func datedOf(t *testing.T, list string) (out []Dated) {
	for _, s := range strings.Fields(list) {
		at, err := time.Parse("2006-01-02T15:04", s)
		if err != nil {
			at, err = time.Parse(time.DateOnly, s)
		}
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, Dated{Path: s, At: at})
	}
	return out
}

func pathsOf(ds []Dated) string {
	var out []string
	for _, d := range ds {
		out = append(out, d.Path)
	}
	slices.Sort(out)
	return strings.Join(out, " ")
}

func TestWhichBackupsExpire(t *testing.T) {
	for _, c := range []struct{ name, all, expired string }{
		{"none", "", ""},
		{"one", "2026-11-25", ""},
		{"three of a morning", "2026-11-25T08:00 2026-11-25T09:00 2026-11-25T10:00", ""},
		{"four of a morning: the first goes", "2026-11-25T08:00 2026-11-25T09:00 2026-11-25T10:00 2026-11-25T11:00",
			"2026-11-25T08:00"},
		{"eight days: the first is still the newest of its week",
			"2026-11-22 2026-11-23 2026-11-24 2026-11-25 2026-11-26 2026-11-27 2026-11-28 2026-11-29", ""},
		{"nine days: Saturday goes, Sunday stays",
			"2026-11-21 2026-11-22 2026-11-23 2026-11-24 2026-11-25 2026-11-26 2026-11-27 2026-11-28 2026-11-29", "2026-11-21"},
		{"days that have none don't count",
			"2026-01-05 2026-03-02 2026-05-04 2026-07-06 2026-09-07 2026-10-05 2026-11-02", ""},
		{"twelve months and one",
			"2025-01-09 2025-02-10 2025-03-10 2025-04-10 2025-05-10 2025-06-10 2025-07-10 2025-08-10 2025-09-10 2025-10-10 " +
				"2025-11-10 2025-12-10 2026-01-10", "2025-01-09"},
		{"a year's end within a week",
			"2026-12-28 2026-12-29 2026-12-30 2026-12-31 2027-01-01 2027-01-02 2027-01-03 2027-01-04",
			"2026-12-28"},
	} {
		if got := pathsOf(Expired(datedOf(t, c.all))); got != c.expired {
			t.Errorf("%s: %s expire, want %s", c.name, got, c.expired)
		}
	}
}

// TestBackupsOfTwoYears makes backups on random days, several of some, and removes what
// expires each time, as the program does.
func TestBackupsOfTwoYears(t *testing.T) {
	for seed := range uint64(6) {
		r := rand.New(rand.NewPCG(seed, 3))
		skip := r.IntN(5)
		var kept, all []Dated
		for d := range 730 {
			if skip > 0 && r.IntN(skip+1) > 0 {
				continue
			}
			for n := range 1 + r.IntN(3)/2*r.IntN(4) {
				at := time.Date(2026, 1, 1+d, 8+n, 0, 0, 0, time.UTC)
				x := Dated{Path: fmt.Sprint(at.Unix()), At: at}
				kept, all = append(kept, x), append(all, x)
				gone := Expired(kept)
				kept = slices.DeleteFunc(kept, func(x Dated) bool { return slices.Contains(gone, x) })
				if !slices.Contains(kept, x) {
					t.Fatalf("seed %d: the newest is gone", seed)
				}
				if len(kept) > keepNewest+keepDaily+keepWeekly+keepMonthly {
					t.Fatalf("seed %d: %d are kept", seed, len(kept))
				}
			}
			for what, p := range map[string]struct {
				most int
				form func(time.Time) string
			}{
				"day":   {7, func(t time.Time) string { return t.Format(time.DateOnly) }},
				"week":  {8, func(t time.Time) string { y, w := t.ISOWeek(); return fmt.Sprint(y, "-", w) }},
				"month": {12, func(t time.Time) string { return t.Format("2006-01") }},
			} {
				newest := map[string]Dated{} // of each period, of all that were ever made
				var order []string
				for i := len(all) - 1; i >= 0; i-- {
					k := p.form(all[i].At)
					if _, ok := newest[k]; !ok {
						newest[k], order = all[i], append(order, k)
					}
				}
				for _, k := range order[:min(p.most, len(order))] {
					if !slices.Contains(kept, newest[k]) {
						t.Fatalf("seed %d, day %d: the newest of the %s %s is gone", seed, d, what, k)
					}
				}
			}
		}
		if skip == 0 && len(kept) < 20 {
			t.Errorf("seed %d: only %d are kept of two years", seed, len(kept))
		}
	}
}

func TestBackupsHaveNamesOfTheirOwn(t *testing.T) {
	dir := t.TempDir()
	k, err := BackupsOf(dir + "/cave.book")
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2026, 11, 25, 8, 15, 0, 0, time.UTC)
	for range 3 {
		release, ok, err := k.Hold(false)
		if !ok || err != nil {
			t.Fatal(ok, err)
		}
		d, err := Beside(k.Folder + "/x")
		if err != nil {
			t.Fatal(err)
		}
		if _, err := k.Add(d, "0011aabb", now); err != nil {
			t.Fatal(err)
		}
		d.Drop()
		release()
	}
	if got := k.List("0011aabb"); len(got) != 3 || !got[0].At.Equal(now.Add(2*time.Second)) {
		t.Errorf("%v", got)
	}
	if got := k.List("0011aabc"); len(got) != 0 {
		t.Errorf("another book has %v", got)
	}
	if got := k.List(""); len(got) != 3 {
		t.Errorf("a book of unknown number has %v", got)
	}
}
