package day

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return loc
}

// Wednesday 25 November 2026.
var wednesday = Of(2026, time.November, 25)

func TestParseADate(t *testing.T) {
	for _, c := range []struct{ name, in, want, why string }{
		{"as written in the book", "2026-11-25", "2026-11-25", ""},
		{"with spaces around it", " 2026-11-25 ", "2026-11-25", ""},
		{"today", "today", "2026-11-25", ""},
		{"yesterday", "yesterday", "2026-11-24", ""},
		{"tomorrow in capitals", "TOMORROW", "2026-11-26", ""},
		{"the weekday it is means today", "wed", "2026-11-25", ""},
		{"a later weekday of this week", "fri", "2026-11-27", ""},
		{"an earlier weekday means next week's", "mon", "2026-11-30", ""},
		{"a weekday in full", "Tuesday", "2026-12-01", ""},
		{"days ahead", "+3d", "2026-11-28", ""},
		{"days back", "-2d", "2026-11-23", ""},
		{"no days at all", "+0d", "2026-11-25", ""},
		{"weeks ahead", "+2w", "2026-12-09", ""},
		{"year first with slashes", "2026/11/25", "2026-11-25", ""},
		{"weeks back over the year's end", "-48w", "2025-12-24", ""},
		{"a leap day", "2028-02-29", "2028-02-29", ""},
		{"the first day the book can hold", "1970-01-01", "1970-01-01", ""},
		{"the last day the book can hold", "9999-12-31", "9999-12-31", ""},

		{"a leap day in a common year", "2027-02-29", "", `"2027-02-29" is not a date: February 2027 has 28 days`},
		{"a leap day in a century that has none", "2100-02-29", "", "is not a date"},
		{"a thirteenth month", "2026-13-01", "", "is not a date"},
		{"a thirty-first of a short month", "2026-11-31", "", "is not a date: November has 30 days"},
		{"a day before 1970", "1969-12-31", "", "before 1970"},
		{"a year of five digits", "10000-01-01", "", "is not a date"},
		{"day and month the other way round", "25-11-2026", "", "is not a date"},
		{"year first with slashes, no zeros", "2026/1/5", "", "is not a date"},
		{"year, day and month", "2026/25/11", "", "is not a date"},
		{"no zeros", "2026-1-5", "", "is not a date"},
		{"a weekday cut to two letters", "we", "", "is not a date"},
		{"a word that begins like a weekday", "monkey", "", "is not a date"},
		{"an offset without a unit", "+3", "", "is not a date"},
		{"an offset without a figure", "+d", "", "is not a date"},
		{"an offset in months", "+3m", "", "is not a date"},
		{"an offset with two signs", "+-3d", "", "is not a date"},
		{"an offset with the sign twice", "++3d", "", "is not a date"},
		{"an offset with a fraction", "+1.5d", "", "is not a date"},
		{"an offset of more than a hundred years", "+36526d", "", "is not a date"},
		{"an offset out of the book's years", "-3000w", "", "falls outside the years 1970 to 9999"},
		{"an offset past every integer", "+99999999999999999999d", "", "is not a date"},
		{"a date and more", "2026-11-25x", "", "is not a date"},
		{"nothing", "", "", "is not a date"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := Reader{Today: wednesday}.Parse(c.in)
			if c.why == "" {
				if err != nil || got.String() != c.want {
					t.Errorf("%q is %s, %v; want %s", c.in, got, err, c.want)
				}
				return
			}
			if err == nil || got != None || !strings.Contains(err.Error(), c.why) {
				t.Errorf("%q is %s, %v; want a refusal with %q", c.in, got, err, c.why)
			}
		})
	}
}

func TestAWordThatLeadsOutOfTheBooksYearsIsRefused(t *testing.T) {
	for _, c := range []struct {
		in    string
		today Date
	}{{"yesterday", 0}, {"tomorrow", MaxDate}, {"-1d", 0}, {"+1d", MaxDate}, {"thu", MaxDate}} { // 9999-12-31 is a Friday
		if d, err := (Reader{Today: c.today}).Parse(c.in); err == nil {
			t.Errorf("%q on %s is %s", c.in, c.today, d)
		}
	}
}

func TestParseAMoment(t *testing.T) {
	dublin := zone(t, "Europe/Dublin")
	for _, c := range []struct {
		name, in, want string // want in UTC
		exact          bool
		why            string
	}{
		{"a date is its noon, not exact", "2026-11-25", "2026-11-25T12:00:00Z", false, ""},
		{"a summer date is its noon by the clock", "2026-07-01", "2026-07-01T11:00:00Z", false, ""},
		{"a word is its noon", "yesterday", "2026-11-24T12:00:00Z", false, ""},
		{"an offset is its noon", "-2d", "2026-11-23T12:00:00Z", false, ""},
		{"date and time with a T", "2026-11-25T08:30", "2026-11-25T08:30:00Z", true, ""},
		{"date and time with a space", "2026-11-25 08:30", "2026-11-25T08:30:00Z", true, ""},
		{"with seconds", "2026-11-25 08:30:15", "2026-11-25T08:30:15Z", true, ""},
		{"in summer by the clock on the wall", "2026-07-01 08:30", "2026-07-01T07:30:00Z", true, ""},
		{"with its own offset", "2026-11-25T08:30:00+02:00", "2026-11-25T06:30:00Z", true, ""},
		{"with its own offset, no seconds", "2026-11-25T08:30+02:00", "2026-11-25T06:30:00Z", true, ""},
		{"in universal time", "2026-07-01T08:30:00Z", "2026-07-01T08:30:00Z", true, ""},
		{"a clock time is today's", "08:30", "2026-11-25T08:30:00Z", true, ""},
		{"a clock time without its zero", "8:30", "2026-11-25T08:30:00Z", true, ""},
		{"a word and a clock time", "yesterday 07:15", "2026-11-24T07:15:00Z", true, ""},
		{"an offset and a clock time", "-2d 07:15", "2026-11-23T07:15:00Z", true, ""},
		{"a weekday in lower case and a clock time", "tue 07:15", "2026-12-01T07:15:00Z", true, ""},
		{"a weekday with a capital T and a clock time", "Tue 07:15", "2026-12-01T07:15:00Z", true, ""},
		{"Today with a capital and a clock time", "Today 07:15", "2026-11-25T07:15:00Z", true, ""},

		{"a twenty-fifth hour", "25:00", "", false, "is not a date or time"},
		{"a sixtieth minute", "08:60", "", false, "is not a date or time"},
		{"a thirteenth hour of the afternoon", "13pm", "", false, "is not a date or time"},
		{"before 1970", "1969-12-31T23:00:00Z", "", false, "before 1970"},
		{"before 1970 by its offset", "1970-01-01T00:30:00+02:00", "", false, "before 1970"},
		{"nonsense", "soon", "", false, "is not a date or time"},
		{"nothing", "", "", false, "is not a date or time"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, exact, err := Reader{Today: wednesday}.ParseMoment(c.in, dublin)
			if c.why != "" {
				if err == nil || !strings.Contains(err.Error(), c.why) {
					t.Errorf("%q is %v, %v; want a refusal with %q", c.in, got, err, c.why)
				}
				return
			}
			if err != nil || got.UTC().Format(time.RFC3339) != c.want || exact != c.exact {
				t.Errorf("%q is %v, exact %v, %v; want %s, exact %v", c.in, got.UTC(), exact, err, c.want, c.exact)
			}
		})
	}
}

// The rules of summer time come from the zone database through the standard
// library: Dublin 29 March and 25 October 2026, New York 8 March and 1 November.
func TestASummerTimeNightMovesNoDate(t *testing.T) {
	for _, c := range []struct {
		zone  string
		night Date // the date whose small hours are 23 or 25
		hours int
	}{
		{"Europe/Dublin", Of(2026, time.March, 29), 23},
		{"Europe/Dublin", Of(2026, time.October, 25), 25},
		{"America/New_York", Of(2026, time.March, 8), 23},
		{"America/New_York", Of(2026, time.November, 1), 25},
	} {
		t.Run(c.zone+" "+c.night.String(), func(t *testing.T) {
			loc := zone(t, c.zone)
			if h := (c.night + 1).Start(loc).Sub(c.night.Start(loc)).Hours(); h != float64(c.hours) {
				t.Fatalf("the date has %v hours, want %d: is the zone database there?", h, c.hours)
			}
			for d := c.night - 1; d <= c.night+1; d++ {
				for _, hm := range [][2]int{{0, 0}, {0, 30}, {1, 30}, {2, 30}, {3, 0}, {12, 0}, {23, 59}} {
					if got := At(d.Clock(hm[0], hm[1], loc), loc); got != d {
						t.Errorf("%02d:%02d on %s is on %s", hm[0], hm[1], d, got)
					}
				}
				// The two ends of the date, wherever the hour went.
				if got := At(d.Start(loc), loc); got != d {
					t.Errorf("%s starts on %s", d, got)
				}
				if got := At((d + 1).Start(loc).Add(-time.Millisecond), loc); got != d {
					t.Errorf("%s ends on %s", d, got)
				}
			}
			// Both passages of the doubled hour are the same date.
			for m := time.Duration(0); m < time.Duration(c.hours)*time.Hour; m += 15 * time.Minute {
				if got := At(c.night.Start(loc).Add(m), loc); got != c.night {
					t.Errorf("%v into %s is on %s", m, c.night, got)
				}
			}
		})
	}
}

func TestADateWhoseMidnightIsSkippedStartsOnItself(t *testing.T) {
	// In Beirut summer time begins at midnight: 00:00 on 29 March 2026 is not
	// on the clock.
	loc := zone(t, "Asia/Beirut")
	d := Of(2026, time.March, 29)
	if got := At(d.Start(loc), loc); got != d {
		t.Errorf("%s starts on %s, at %s", d, got, d.Start(loc))
	}
}

var zones = []string{"Europe/Dublin", "America/New_York", "Australia/Lord_Howe", "Pacific/Apia", "Pacific/Kiritimati",
	"Asia/Kathmandu", "America/Sao_Paulo", "UTC"}

func TestADateAndSomeDaysCountsThatManyWhateverTheZone(t *testing.T) {
	locs := make([]*time.Location, len(zones))
	for i, z := range zones {
		locs[i] = zone(t, z)
	}
	rapid.Check(t, func(t *rapid.T) {
		loc := rapid.SampledFrom(locs).Draw(t, "zone")
		d := Date(rapid.IntRange(0, int(MaxDate)).Draw(t, "date"))
		n := rapid.IntRange(-3650, 3650).Draw(t, "days")
		// By the standard library's calendar, and through an instant at noon.
		y, m, dd := d.Civil()
		want := time.Date(y, m, dd+n, 0, 0, 0, 0, time.UTC)
		got := d + Date(n)
		if gy, gm, gd := got.Civil(); gy != want.Year() || gm != want.Month() || gd != want.Day() {
			t.Fatalf("%s and %d days is %s, want %s", d, n, got, want.Format("2006-01-02"))
		}
		if back := At(got.Noon(loc), loc); back != got && !skipped(got, loc) {
			t.Fatalf("noon of %s in %s is on %s", got, loc, back)
		}
	})
}

// skipped says whether a zone leaves out a date altogether, as Apia did on
// 30 December 2011 and Kiritimati on 31 December 1994 (or 1 January 1995).
func skipped(d Date, loc *time.Location) bool {
	y, m, dd := d.Civil()
	return time.Date(y, m, dd, 12, 0, 0, 0, loc).Day() != dd
}

func TestWeekdayWeekAndLeapRulesAreTheStandardLibrarys(t *testing.T) {
	for _, c := range []struct {
		name    string
		date    Date
		year    int
		week    int
		weekday time.Weekday
	}{
		// ISO 8601: week 1 is the one with the year's first Thursday.
		{"a Friday on 1 January is still in week 53 of the old year", Of(2021, time.January, 1), 2020, 53, time.Friday},
		{"a Monday on 30 December may be in week 1 of the new year", Of(2024, time.December, 30), 2025, 1, time.Monday},
		{"a leap day has its weekday", Of(2028, time.February, 29), 2028, 9, time.Tuesday},
	} {
		y, w := c.date.Noon(time.UTC).ISOWeek()
		if y != c.year || w != c.week || c.date.Weekday() != c.weekday {
			t.Errorf("%s: %s is %v of week %d of %d", c.name, c.date, c.date.Weekday(), w, y)
		}
	}
	// Every date from 1970 to 2400: one day on, a leap day exactly in years
	// that four divides, hundreds only if four hundred does.
	at := time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC)
	for d := Date(0); at.Year() <= 2400; d, at = d+1, at.AddDate(0, 0, 1) {
		y, m, dd := d.Civil()
		if y != at.Year() || m != at.Month() || dd != at.Day() || d.Weekday() != at.Weekday() || Of(y, m, dd) != d {
			t.Fatalf("day %d is %s, want %s", int(d), d, at.Format("2006-01-02"))
		}
		if leap := y%4 == 0 && (y%100 != 0 || y%400 == 0); m == time.March && dd == 1 &&
			(Of(y, time.March, 1)-Of(y, time.February, 28) == 2) != leap {
			t.Fatalf("%d has a leap day: %v", y, !leap)
		}
	}
	if got := MaxDate.String(); got != "9999-12-31" {
		t.Errorf("the last date is %s", got)
	}
}

func TestHowADateIsWritten(t *testing.T) {
	for _, c := range []struct{ name, got, want string }{
		{"in files", wednesday.String(), "2026-11-25"},
		{"short", wednesday.Short(), "Wed 25 Nov"},
		{"long", wednesday.Long(), "Wednesday 25 November 2026"},
		{"no date", None.String() + None.Short() + None.Long(), ""},
	} {
		if c.got != c.want {
			t.Errorf("%s: %q, want %q", c.name, c.got, c.want)
		}
	}
	if None.Known() || !Date(0).Known() {
		t.Error("known and unknown dates are mixed up")
	}
}

func TestADateWrittenIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Date(rapid.IntRange(0, int(MaxDate)).Draw(t, "date"))
		b, err := d.MarshalText()
		if err != nil {
			t.Fatal(err)
		}
		var back Date
		if err := back.UnmarshalText(b); err != nil || back != d {
			t.Fatalf("%s is read back as %s, %v", b, back, err)
		}
		if p, err := (Reader{}).Parse(d.String()); err != nil || p != d {
			t.Fatalf("%s is parsed as %s, %v", d, p, err)
		}
	})
	var d Date
	if err := d.UnmarshalText(nil); err != nil || d != None {
		t.Errorf("no text is %s, %v", d, err)
	}
	if err := d.UnmarshalText([]byte("today")); err == nil {
		t.Errorf("a stored date may not be a word: %s", d)
	}
}

func TestADayOfTheWeekThatHasBeenIsTheLastSuchDay(t *testing.T) {
	dublin := zone(t, "Europe/Dublin")
	now := wednesday.Clock(8, 0, dublin)
	for _, c := range []struct {
		in, want string
		exact    bool
	}{
		{"tue 8:00", "2026-11-24T08:00:00Z", true},
		{"Tue 08:00", "2026-11-24T08:00:00Z", true},
		{"Tuesday", "2026-11-24T12:00:00Z", false},
		{"SAT", "2026-11-21T12:00:00Z", false},
		{" thu ", "2026-11-19T12:00:00Z", false},
		{"thursday 23:00", "2026-11-19T23:00:00Z", true},
		{"wed", "2026-11-25T12:00:00Z", false},
		{"wed 08:00", "2026-11-25T08:00:00Z", true},
		{"wed 08:01", "2026-11-18T08:01:00Z", true},
		{"2026-11-27", "2026-11-27T12:00:00Z", false},
		{"08:30", "2026-11-25T08:30:00Z", true},
		{"tomorrow 07:15", "2026-11-26T07:15:00Z", true},
		{"2026-11-25T08:30", "2026-11-25T08:30:00Z", true},
	} {
		got, exact, err := Reader{Today: wednesday}.ParsePastMoment(c.in, now, dublin)
		if err != nil || got.UTC().Format(time.RFC3339) != c.want || exact != c.exact {
			t.Errorf("%q is %v, exact %v, %v; want %s, exact %v", c.in, got.UTC(), exact, err, c.want, c.exact)
		}
	}
	for in, want := range map[string]string{"tue": "2026-11-24", "wednesday": "2026-11-25", "thu": "2026-11-19",
		"2026-12-01": "2026-12-01", "+1d": "2026-11-26"} {
		if got, err := (Reader{Today: wednesday}).ParsePast(in); err != nil || got.String() != want {
			t.Errorf("%q is %v, %v; want %s", in, got, err, want)
		}
	}
	if d, err := (Reader{Today: 3}).ParsePast("fri"); err != nil || d != 8 { // 1970-01-04 is a Sunday
		t.Errorf("where no such day has been: %v, %v", d, err)
	}
}

func TestAMomentIsAbsoluteWhenItNamesItsDay(t *testing.T) {
	for s, want := range map[string]bool{
		"2026-11-25": true, "2026-11-25 08:30": true, "2026-11-25T08:30:00Z": true,
		"25.11.2026": true, "2026/11/25": true, "25/11/2026 18:30": true, "Wed 25 Nov 2026": true, "Nov 25, 2026": true,
		"25 Nov": false, "Wed 25 Nov": false, "29 Feb": false, "last friday": false, "5/6/2026": false, "6pm": false,
		"": false, "today": false, "yesterday 08:00": false, "08:30": false, "-2d": false, "mon": false, "2026-13-01": false,
	} {
		if got := (Reader{}).Absolute(s); got != want {
			t.Errorf("%q: %v, want %v", s, got, want)
		}
	}
}

func TestATimeThatTheClockShowsTwice(t *testing.T) {
	for _, c := range []struct {
		zone, at, first, second string // no first: once
	}{
		{"Europe/Dublin", "2026-10-25 01:30", "2026-10-25T00:30:00Z", "2026-10-25T01:30:00Z"},
		{"Europe/Dublin", "2026-10-25 00:59", "", ""},
		{"Europe/Dublin", "2026-10-25 02:00", "", ""},
		{"Europe/Dublin", "2026-10-24 01:30", "", ""},
		{"Europe/Dublin", "2027-03-28 00:30", "", ""},
		{"America/New_York", "2026-11-01 01:00", "2026-11-01T05:00:00Z", "2026-11-01T06:00:00Z"},
		{"Australia/Lord_Howe", "2026-04-05 01:45", "2026-04-04T14:45:00Z", "2026-04-04T15:15:00Z"},
		{"Australia/Lord_Howe", "2026-04-05 01:15", "", ""},
		{"UTC", "2026-10-25 01:30", "", ""},
	} {
		loc, err := time.LoadLocation(c.zone)
		if err != nil {
			t.Fatal(err)
		}
		at, err := time.ParseInLocation("2006-01-02 15:04", c.at, loc)
		if err != nil {
			t.Fatal(err)
		}
		first, second, twice := Twice(at, loc)
		if twice != (c.first != "") {
			t.Errorf("%s in %s: twice is %v", c.at, c.zone, twice)
		}
		if got := [2]string{first.UTC().Format(time.RFC3339), second.UTC().Format(time.RFC3339)}; twice &&
			got != [2]string{c.first, c.second} {
			t.Errorf("%s in %s: %v", c.at, c.zone, got)
		}
	}
}
