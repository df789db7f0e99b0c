package day

import (
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func clocks(t testing.TB) []*time.Location {
	t.Helper()
	var out []*time.Location
	for _, n := range []string{"UTC", "Europe/Dublin", "America/New_York", "Australia/Lord_Howe", "Pacific/Apia", "Asia/Kolkata", "Africa/Casablanca"} {
		l, err := time.LoadLocation(n)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, l)
	}
	return out
}

// sameMoment wants Moments to say what ParseMoment says.
func sameMoment(t interface{ Fatalf(string, ...any) }, m *Moments, s string) {
	want, wexact, werr := ParseMoment(s, m.today, m.loc)
	got, gexact, gerr := m.Parse(s)
	if (werr == nil) != (gerr == nil) || werr != nil && werr.Error() != gerr.Error() {
		t.Fatalf("%q in %s: error %v, want %v", s, m.loc, gerr, werr)
	}
	if werr == nil && (!got.Equal(want) || gexact != wexact) {
		t.Fatalf("%q in %s: %v %v, want %v %v", s, m.loc, got.UTC(), gexact, want.UTC(), wexact)
	}
}

func TestMomentsReadWhatParseMomentReads(t *testing.T) {
	zs := clocks(t)
	ms := make([]*Moments, len(zs))
	for i, z := range zs {
		ms[i] = NewMoments(Of(2026, 11, 25), z)
	}
	rapid.Check(t, func(t *rapid.T) {
		m := ms[rapid.IntRange(0, len(ms)-1).Draw(t, "zone")]
		near := func(what string, lo, hi int) int { return rapid.IntRange(lo, hi).Draw(t, what) }
		s := fmt.Sprintf("%04d-%02d-%02d", rapid.SampledFrom([]int{1969, 1970, 1972, 1999, 2000, 2011, 2024, 2026, 2100, 9999}).Draw(t, "year"), near("month", 0, 13), near("day", 0, 32))
		switch near("form", 0, 4) {
		case 1:
			s += fmt.Sprintf(" %02d:%02d", near("hour", 0, 24), near("minute", 0, 60))
		case 2:
			s += fmt.Sprintf("T%02d:%02d:%02d", near("hour", 0, 24), near("minute", 0, 60), near("second", 0, 60))
		case 3:
			s += rapid.SampledFrom([]string{"Z", " ", "T08:30+01:00", "T08:30:00Z", " 08.30", "-", " 8:30", "T0a:30"}).Draw(t, "rest")
		}
		sameMoment(t, m, s)
	})
	// Every quarter of an hour of the days round every change of the clock.
	for i, z := range zs {
		at := time.Date(2010, 1, 1, 0, 0, 0, 0, z)
		for at.Year() < 2013 {
			_, next := at.ZoneBounds()
			if next.IsZero() {
				break
			}
			for q := -4 * 60; q < 4*60; q++ {
				sameMoment(t, ms[i], next.Add(time.Duration(q)*15*time.Minute).Format("2006-01-02 15:04"))
			}
			at = next
		}
	}
}

func FuzzMoments(f *testing.F) {
	for _, s := range []string{"2026-11-25", "2026-11-25 08:30", "2026-02-29", "1970-01-01 00:00", "2026-03-29T01:30:00", "today", "", "9999-12-31 23:59"} {
		f.Add(s)
	}
	z, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, s string) { sameMoment(t, NewMoments(Of(2026, 11, 25), z), s) })
}

func TestAMomentIsAbsoluteWhenItNamesItsDay(t *testing.T) {
	for s, want := range map[string]bool{
		"2026-11-25": true, "2026-11-25 08:30": true, "2026-11-25T08:30:00Z": true,
		"": false, "today": false, "yesterday 08:00": false, "08:30": false, "-2d": false, "mon": false, "2026-13-01": false,
	} {
		if got := Absolute(s); got != want {
			t.Errorf("%q: %v, want %v", s, got, want)
		}
	}
}

func TestDaysGivesTheDateThatAtGives(t *testing.T) {
	zs := clocks(t)
	ds := make([]*Days, len(zs))
	for i, z := range zs {
		ds[i] = NewDays(z)
	}
	rapid.Check(t, func(t *rapid.T) {
		i := rapid.IntRange(0, len(zs)-1).Draw(t, "zone")
		at := time.UnixMilli(rapid.Int64Range(-86400_000*400, 253402300799999).Draw(t, "instant"))
		if rapid.Bool().Draw(t, "round a change") {
			if _, next := at.In(zs[i]).ZoneBounds(); !next.IsZero() {
				at = next.Add(time.Duration(rapid.Int64Range(-86400_000, 86400_000).Draw(t, "from it")) * time.Millisecond)
			}
		}
		if got, want := ds[i].At(at), At(at, zs[i]); got != want {
			t.Fatalf("%v in %s: %v, want %v", at.UTC(), zs[i], got, want)
		}
	})
}
