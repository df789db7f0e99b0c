package day

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestParseADateAsPeopleWriteIt(t *testing.T) {
	for _, c := range []struct {
		name, in  string
		order     Order
		any, past string // what Parse and ParsePast read; "": any is a refusal with why, past is as any
		why       string
	}{
		{"as a list prints it", "Sat 21 Nov", Unclear, "2026-11-21", "", ""},
		{"as a list prints a day to come", "Wed 2 Dec", Unclear, "2026-12-02", "", ""},
		{"as a list prints a day of last year", "Fri 21 Nov", Unclear, "2025-11-21", "", ""},
		{"as a card prints it", "Sat 21 Nov 2026", Unclear, "2026-11-21", "", ""},
		{"as a page prints it", "Saturday 21 November 2026", Unclear, "2026-11-21", "", ""},
		{"without its weekday", "21 Nov", Unclear, "2026-11-21", "", ""},
		{"today without its weekday", "25 nov", Unclear, "2026-11-25", "", ""},
		{"a day to come without its weekday", "2 Dec", Unclear, "2026-12-02", "2025-12-02", ""},
		{"half a year ahead or more", "1 june", Unclear, "2026-06-01", "", ""},
		{"less than half a year ahead", "20 March", Unclear, "2027-03-20", "2026-03-20", ""},
		{"the month first", "Nov 21", Unclear, "2026-11-21", "", ""},
		{"the month first and a comma", "Nov 21, 2026", Unclear, "2026-11-21", "", ""},
		{"with dots", "21. Nov. 2026", Unclear, "2026-11-21", "", ""},
		{"a leap day is years off", "29 Feb", Unclear, "2028-02-29", "2024-02-29", ""},
		{"last and a weekday", "last friday", Unclear, "2026-11-20", "", ""},
		{"last and today's weekday", "Last Wed", Unclear, "2026-11-18", "", ""},

		{"only the day can be first", "21/11/2026", Unclear, "2026-11-21", "", ""},
		{"only the day can be first, though the month usually is", "21/11/2026", MonthFirst, "2026-11-21", "", ""},
		{"only the month can be first", "11/21/2026", DayFirst, "2026-11-21", "", ""},
		{"the day is first", "5/6/2026", DayFirst, "2026-06-05", "", ""},
		{"the month is first", "5/6/2026", MonthFirst, "2026-05-06", "", ""},
		{"both are the same", "05/05/2026", Unclear, "2026-05-05", "", ""},
		{"with dots the day is first", "5.6.2026", Unclear, "2026-06-05", "", ""},
		{"with dots", "27.11.2026", DayFirst, "2026-11-27", "", ""},
		{"with dots where the month usually is first", "27.11.2026", MonthFirst, "2026-11-27", "", ""},

		{"either could be first", "5/6/2026", Unclear, "", "",
			`"5/6/2026" could be 5 June or 6 May 2026; write 2026-06-05 or 2026-05-06`},
		{"dots where the month usually is first", "5.6.2026", MonthFirst, "", "", "5 June or 6 May 2026"},
		{"a weekday that doesn't fit the year", "Fri 21 Nov 2026", Unclear, "", "", "21 November 2026 is a Saturday"},
		{"a weekday that fits no year near", "Thu 25 Nov 2026", Unclear, "", "", "25 November 2026 is a Wednesday"},
		{"a weekday that fits no year near today", "Mon 21 Nov", Unclear, "", "", "21 November 2026 is a Saturday"},
		{"a year of two digits", "21/11/26", Unclear, "", "", "is not a date"},
		{"no year in figures", "21.11.", Unclear, "", "", "is not a date"},
		{"a mix of marks", "21.11/2026", Unclear, "", "", "is not a date"},
		{"a thirteenth month on both sides", "13/13/2026", Unclear, "", "", "is not a date"},
		{"a day its month lacks", "31 Nov", Unclear, "", "", "is not a date: November has 30 days"},
		{"a day its month lacks, in figures", "31/09/2026", Unclear, "", "", "is not a date: September has 30 days"},
		{"the same with the month first", "09/31/2026", Unclear, "", "", "is not a date: September has 30 days"},
		{"a leap day in a common year", "29 Feb 2027", Unclear, "", "", "is not a date"},
		{"last and no weekday", "last week", Unclear, "", "", "is not a date"},
		{"a month alone", "Nov", Unclear, "", "", "is not a date"},
		{"a month and a year", "Nov 2026", Unclear, "", "", "is not a date"},
		{"a year the book can't hold", "21 Nov 1969", Unclear, "", "", "falls outside the years 1970 to 9999"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := Reader{Today: wednesday, Order: c.order}
			past := c.past
			if past == "" {
				past = c.any
			}
			for want, read := range map[*string]func(string) (Date, error){&c.any: r.Parse, &past: r.ParsePast} {
				d, err := read(c.in)
				if c.why == "" && (err != nil || d.String() != *want) {
					t.Errorf("%q is %s, %v; want %s", c.in, d, err, *want)
				}
				if c.why != "" && (err == nil || d != None || !strings.Contains(err.Error(), c.why)) {
					t.Errorf("%q is %s, %v; want a refusal with %q", c.in, d, err, c.why)
				}
			}
		})
	}
}

func TestParseATimeAsPeopleWriteIt(t *testing.T) {
	now := wednesday.Clock(20, 0, time.UTC)
	for in, want := range map[string]string{
		"6pm": "2026-11-25T18:00", "6 PM": "2026-11-25T18:00", "6:30 pm": "2026-11-25T18:30", "6.30pm": "2026-11-25T18:30",
		"12am": "2026-11-25T00:00", "12pm": "2026-11-25T12:00", "18.30": "2026-11-25T18:30", "8.30": "2026-11-25T08:30",
		"yesterday 18.30": "2026-11-24T18:30", "last friday 6pm": "2026-11-20T18:00", "tue 6 pm": "2026-11-24T18:00",
		"21 Nov 08:30": "2026-11-21T08:30", "Sat 21 Nov 2026 08:30": "2026-11-21T08:30", "21 OCT 6pm": "2026-10-21T18:00",
		"21/11/2026 18.30": "2026-11-21T18:30", "27.11.2026 7.15": "2026-11-27T07:15", "25.11.2026T08:30": "2026-11-25T08:30",
		"yesterday 10.11": "2026-11-24T10:11", "wed 9pm": "2026-11-18T21:00", "2026-11-25 6pm": "2026-11-25T18:00",
	} {
		got, exact, err := Reader{Today: wednesday}.ParsePastMoment(in, now, time.UTC)
		if err != nil || !exact || got.Format("2006-01-02T15:04") != want {
			t.Errorf("%q is %v, exact %v, %v; want %s", in, got, exact, err, want)
		}
	}
	for in, why := range map[string]string{
		"10.11":          `"10.11" could be a time or 10 November; write 10:11 or "10 Nov"`,
		"27.11":          "is not a date or time",
		"18.3":           "is not a date or time",
		"1830":           "is not a date or time",
		"19pm":           "is not a date or time",
		"5/6/2026 18.30": "could be 5 June or 6 May 2026",
		"someday 6pm":    `"someday" is not a date`,
	} {
		if got, _, err := (Reader{Today: wednesday}).ParsePastMoment(in, now, time.UTC); err == nil ||
			!strings.Contains(err.Error(), why) {
			t.Errorf("%q is %v, %v; want a refusal with %q", in, got, err, why)
		}
	}
}

func TestEveryDateThatIsPrintedIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := Reader{
			Today: Date(rapid.IntRange(400, int(MaxDate)-400).Draw(t, "today")),
			Order: Order(rapid.IntRange(0, 2).Draw(t, "order")),
		}
		d := r.Today + Date(rapid.IntRange(-360, 360).Draw(t, "days"))
		for _, s := range []string{d.String(), d.Short(), d.Long(), d.utc().Format("2 Jan 2006"),
			d.utc().Format("Mon 2 Jan 2006")} {
			for _, read := range []func(string) (Date, error){r.Parse, r.ParsePast} {
				if back, err := read(s); err != nil || back != d {
					t.Fatalf("%q on %s is %s, %v; want %s", s, r.Today, back, err, d)
				}
			}
		}
		slashes := map[Order]string{DayFirst: "2/1/2006", MonthFirst: "1/2/2006", Unclear: "2.1.2006"}[r.Order]
		s := d.utc().Format(slashes)
		if back, err := r.Parse(s); err != nil || back != d {
			t.Fatalf("%q is %s, %v; want %s", s, back, err, d)
		}
	})
}

var typed = []string{"2026-11-25", "today", "mon", "+3d", "-99999w", "9999-12-31", "1969-12-31", "\x00", "+d", "++1d",
	"thursday", "２０２６-11-25", "25/11/2026", "5/6/2026", "5.6.2026", "2026/11/25", "Fri 21 Nov", "29 Feb",
	"Wed 25 Nov 2026", "Nov 21, 2026", "last friday", "00/00/0000", "1.1.9999"}

func FuzzParse(f *testing.F) {
	for _, s := range typed {
		f.Add(s, int32(wednesday), uint8(Unclear))
	}
	f.Add("tomorrow", int32(MaxDate), uint8(DayFirst))
	f.Add("yesterday", int32(0), uint8(MonthFirst))
	f.Fuzz(func(t *testing.T, s string, today int32, order uint8) {
		if today < 0 || Date(today) > MaxDate {
			return
		}
		r := Reader{Date(today), Order(order % 3)}
		for _, read := range []func(string) (Date, error){r.Parse, r.ParsePast} {
			d, err := read(s)
			if err == nil && (d < 0 || d > MaxDate) || err != nil && d != None {
				t.Errorf("%q on %s is %d, %v", s, Date(today), int(d), err)
			}
		}
		// A date that is read though nobody knows the order is the same in every order but by dots.
		sure, err := Reader{Date(today), Unclear}.Parse(s)
		if d, derr := r.Parse(s); err == nil && derr == nil && d != sure {
			t.Errorf("%q is %s by the order %d and %s by none", s, d, r.Order, sure)
		}
	})
}

func FuzzParseMoment(f *testing.F) {
	for _, s := range append(typed, "2026-03-29T01:30", "08:30", "Tue 07:15", "1970-01-01T00:30", "T", "T08:30", " 08:30",
		"9999-12-31T23:59:59-12:00", "-2d 07:15", "2026-11-25T08:30:00.123456789Z", "6pm", "6 pm", "18.30", "10.11", " am",
		"12.30 AM", "25/11/2026 18.30", "last friday 6pm") {
		f.Add(s, int32(wednesday))
	}
	f.Add("00:00", int32(0))
	f.Add("today", int32(0))
	dublin, kiritimati := zone(f, "Europe/Dublin"), zone(f, "Pacific/Kiritimati")
	f.Fuzz(func(t *testing.T, s string, today int32) {
		if today < 0 || Date(today) > MaxDate {
			return
		}
		r := Reader{Today: Date(today)}
		for _, loc := range []*time.Location{dublin, kiritimati} {
			at, exact, err := r.ParseMoment(s, loc)
			if err == nil && (at.Unix() < 0 || at.Year() > 9999) {
				t.Errorf("%q in %s is %v, exact %v", s, loc, at, exact)
			}
			at, exact, err = r.ParsePastMoment(s, r.Today.Noon(loc), loc)
			if err == nil && (at.Unix() < 0 || at.Year() > 9999) {
				t.Errorf("%q in %s was %v, exact %v", s, loc, at, exact)
			}
		}
	})
}

func TestTheDatesOfAColumnShowTheirOrder(t *testing.T) {
	for _, c := range []struct {
		name  string
		order Order
		words []string
		want  string // of each word, space between; what is refused is "-"
	}{
		{"the book's", DayFirst, []string{"5/6/2026", "05/07/2026"}, "2026-06-05 2026-07-05"},
		{"nobody's", Unclear, []string{"5/6/2026"}, "-"},
		{"shown by a date to come", Unclear, []string{"5/6/2026", "6/13/2026"}, "2026-05-06 2026-06-13"},
		{"shown against the book's", DayFirst, []string{"6/13/2026 08:30", "5/6/2026"}, "2026-06-13 2026-05-06"},
		{"the same either way shows nothing", Unclear, []string{"5/5/2026", "5/6/2026"}, "2026-05-05 -"},
		{"dots show nothing", Unclear, []string{"21.11.2026", "5/6/2026"}, "2026-11-21 -"},
		{"both orders", DayFirst, []string{"6/13/2026", "13/6/2026", "5/6/2026"}, "2026-06-13 2026-06-13 -"},
	} {
		col := Column{Reader: Reader{Today: wednesday, Order: c.order}}
		for _, w := range c.words {
			col.Learn(w)
		}
		var got []string
		for _, w := range c.words {
			r, err := col.For(w)
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
			}
			at, _, err := r.ParseMoment(w, time.UTC)
			if err != nil {
				got = append(got, "-")
				continue
			}
			got = append(got, at.Format(time.DateOnly))
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("%s: %q are %s, want %s", c.name, c.words, s, c.want)
		}
	}
	late := Column{Reader: Reader{Today: wednesday, Order: DayFirst}} // of a table that is too long to be read first
	if _, err := late.For("5/6/2026"); err != nil {
		t.Fatal(err)
	}
	if _, err := late.For("6/13/2026"); err == nil || !strings.Contains(err.Error(), "the other way round") {
		t.Errorf("a date that shows another order than those before it were read in: %v", err)
	}
}

func TestEveryTimeThatIsPrintedIsReadBackInItsZone(t *testing.T) {
	for _, name := range []string{"Europe/Dublin", "America/New_York", "Australia/Lord_Howe", "Pacific/Kiritimati"} {
		loc := zone(t, name)
		rapid.Check(t, func(t *rapid.T) {
			sec := rapid.Int64Range(1577836800, 1893456000).Draw(t, "second") // 2020 to 2029
			at := time.Unix(sec, 0).In(loc).Truncate(time.Minute)
			r := Reader{Today: At(at, loc) + Date(rapid.IntRange(0, 300).Draw(t, "days later"))}
			const local = "2006-01-02T15:04" // an hour that comes twice is either of the two
			for _, form := range []string{
				local, "2006-01-02 15:04", "Mon 2 Jan 2006 15:04", "Mon 2 Jan 15:04", "2.1.2006 15.04", "2 January 2006 3:04pm",
			} {
				s := at.Format(form)
				back, exact, err := r.ParsePastMoment(s, r.Today.Start(loc).AddDate(0, 0, 2), loc)
				if err != nil || !exact || back.In(loc).Format(local) != at.Format(local) {
					t.Fatalf("%q in %s is read as %v, %v", s, name, back, err)
				}
			}
		})
	}
}
