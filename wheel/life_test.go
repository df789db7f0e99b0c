package wheel

import (
	"math"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/google/uuid"
	"pgregory.net/rapid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

var nan = math.NaN()

// printable says whether a text holds nothing but what prints, line breaks and
// tabs.
func printable(s string) bool {
	if !utf8.ValidString(s) {
		return false
	}
	for _, r := range s {
		if !unicode.IsPrint(r) && r != '\n' && r != '\t' {
			return false
		}
	}
	return true
}

func TestStagesFollowFromEntriesAndTheVariety(t *testing.T) {
	wax := func(d *diary, at float64) { d.on(at, Entry{Kind: CoatedOn, Coat: "wax", Before: 1900, Weight: 1970}) }
	for _, c := range []struct {
		name                   string
		write                  func(d *diary)
		dryingDays, readyDays  int
		want                   map[int]Stage // by age in days
		dried, coatedOn, ripen int           // age at Drying, Coated, Ripening; -1 None
	}{
		{"nobody weighed it: out of the press next day", func(*diary) {}, 7, 60,
			map[int]Stage{0: Pressing, 1: Drying, 7: Drying, 8: Ripening, 59: Ripening, 60: Ready, 999: Ready}, 1, -1, 8},
		{"weighed on the day it was made", func(d *diary) { d.weigh(0, 2000) }, 7, 60,
			map[int]Stage{0: Drying, 6: Drying, 7: Ripening, 60: Ready}, 0, -1, 7},
		{"first weighed days later: it has dried since the press all the same", func(d *diary) { d.weigh(4, 2000) }, 7, 60,
			map[int]Stage{0: Pressing, 1: Drying, 8: Ripening}, 1, -1, 8},
		{"coated while drying", func(d *diary) { d.weigh(0, 2000); wax(d, 5) }, 7, 60,
			map[int]Stage{0: Drying, 4: Drying, 5: Coated, 7: Coated, 59: Coated, 60: Ready}, 0, 5, 5},
		{"coated after its drying days", func(d *diary) { d.weigh(0, 2000); wax(d, 10) }, 7, 60,
			map[int]Stage{6: Drying, 7: Ripening, 9: Ripening, 10: Coated, 60: Ready}, 0, 10, 7},
		{"a variety that names no days ripens and readies for ever never", func(d *diary) { d.weigh(0, 2000) }, 0, 0,
			map[int]Stage{0: Drying, 9999: Drying}, 0, -1, -1},
		{"sent is gone, whatever else it was",
			func(d *diary) { d.weigh(0, 2000); wax(d, 5); d.on(61, Entry{Kind: Sent, To: "the shop"}) }, 7, 60,
			map[int]Stage{60: Ready, 61: Gone, 400: Gone}, 0, 5, 5},
		{"lost is gone", func(d *diary) { d.on(3, Entry{Kind: Lost, Note: "dropped"}) }, 7, 60,
			map[int]Stage{2: Drying, 3: Gone}, 1, -1, 8},
		{"a struck coat brings the stage back", func(d *diary) {
			d.weigh(0, 2000)
			wax(d, 5)
			d.strike(6, d.es[1].ID)
		}, 7, 60, map[int]Stage{5: Drying, 7: Ripening}, 0, -1, 7},
	} {
		t.Run(c.name, func(t *testing.T) {
			var d diary
			c.write(&d)
			l := d.life()
			for age, want := range c.want {
				on := began + day.Date(age)
				if got := l.Milestones(time.UTC).StageOn(on, c.dryingDays, c.readyDays); got != want {
					t.Errorf("at %d days it is %s, want %s", age, got, want)
				}
				if got := l.Age(on); got != age {
					t.Errorf("on %s it is %d days old, want %d", on, got, age)
				}
			}
			for s, age := range map[Stage]int{Pressing: 0, Drying: c.dried, Coated: c.coatedOn, Ripening: c.ripen} {
				want := day.None
				if age >= 0 {
					want = began + day.Date(age)
				}
				if got := l.Reached(s, c.dryingDays, c.readyDays, time.UTC); got != want {
					t.Errorf("%s reached on %q, want %q", s, got, want)
				}
			}
		})
	}
	var l Life
	if got := l.Reached("born", 1, 1, time.UTC); got != day.None {
		t.Errorf("an unknown stage is reached on %s", got)
	}
}

func TestStagesNeverGoBack(t *testing.T) {
	rank := map[Stage]int{}
	for i, s := range Stages {
		rank[s] = i
	}
	// Ripening and coated stand side by side: a rind that ripened may be coated.
	rank[Ripening], rank[Coated] = 2, 2
	rapid.Check(t, func(t *rapid.T) {
		l := anyDiary(t).life()
		dry, ready := rapid.IntRange(0, 20).Draw(t, "drying days"), rapid.IntRange(0, 60).Draw(t, "ready days")
		was := 0
		for age := range 80 {
			s := l.Milestones(time.UTC).StageOn(began+day.Date(age), dry, ready)
			if rank[s] < was {
				t.Fatalf("at %d days it goes back to %s", age, s)
			}
			was = rank[s]
		}
	})
}

func TestFromWhenTheBookKeepsAWheel(t *testing.T) {
	since := func(days int, write func(d *diary)) day.Date {
		var d diary
		write(&d)
		w := Wheel{Since: (began + day.Date(days)).Noon(time.UTC)}
		return NewLife(w, Make{Date: began}, d.es, time.UTC, nil).Since
	}
	for _, c := range []struct {
		name  string
		added int // age in days when it came into the book
		write func(d *diary)
		want  int
	}{
		{"from when it was added", 30, func(*diary) {}, 30},
		{"never from before it was made", -5, func(*diary) {}, 0},
		{"the green weight alone tells of no handling", 30, func(d *diary) { d.weigh(0, 2000) }, 30},
		{"a note tells of no handling", 30, func(d *diary) { d.on(1, Entry{Kind: Noted, Note: "milk was rich"}) }, 30},
		{"a second weight does", 30, func(d *diary) { d.weigh(0, 2000); d.weigh(12, 1940) }, 12},
		{"turning from before does", 30, func(d *diary) { d.on(3, Entry{Kind: Did, Job: Turn}) }, 3},
		{"the earliest handling counts", 30, func(d *diary) {
			d.on(9, Entry{Kind: Did, Job: Turn})
			d.on(4, Entry{Kind: Checked, Found: HandCheck{DryToTouch: Yes}})
		}, 4},
		{"handling from before the make counts from the make", 30, func(d *diary) { d.on(-3, Entry{Kind: Did, Job: Turn}) },
			0},
		{"struck handling does not", 30, func(d *diary) { d.strike(5, d.on(3, Entry{Kind: Did, Job: Turn})) }, 30},
		{"handling since then changes nothing", 30, func(d *diary) { d.on(31, Entry{Kind: Did, Job: Turn}) }, 30},
	} {
		if got := since(c.added, c.write); got != began+day.Date(c.want) {
			t.Errorf("%s: since %s, want %s", c.name, got, began+day.Date(c.want))
		}
	}
}

func TestWhatALifeAddsUp(t *testing.T) {
	var d diary
	d.weigh(0, 2000)
	d.on(0.75, Entry{Kind: Did, Job: Turn})
	d.on(1, Entry{Kind: Did, Job: Turn})
	d.on(1.25, Entry{Kind: Did, Job: Turn})
	d.on(1, Entry{Kind: Skipped, Job: Brush, Note: "wet"})
	d.on(2, Entry{Kind: Moved, Place: "cellar/B/2"})
	d.on(2, Entry{Kind: Checked, Found: HandCheck{DryToTouch: Yes}})
	d.on(3, Entry{Kind: CoatedOn, Coat: "wax", Before: 1940, Weight: 2010})
	d.on(4, Entry{Kind: Planned, Plan: "waxed-semi-hard"})
	d.on(5, Entry{Kind: Tagged, Tag: "261120A-99"})
	d.on(6, Entry{Kind: Held, Note: "test pending"})
	d.on(7, Entry{Kind: Released})
	d.on(8, Entry{Kind: Held, Note: "raw milk"})
	d.on(9, Entry{Kind: Cored, Removed: 20})
	w := Wheel{ID: subject, Tag: "261120A-01", Plan: "waxed-hard", Place: "cellar/A/1", Since: began.Noon(time.UTC)}
	at := func(days float64) time.Time {
		return began.Noon(time.UTC).Add(time.Duration(days * 24 * float64(time.Hour)))
	}
	for seed := range int64(5) {
		l := NewLife(w, Make{Date: began, Lot: "261120A"}, shuffled(d.es, seed), time.UTC, nil)
		got := Life{Tag: l.Tag, Place: l.Place, Plan: l.Plan, Since: l.Since, Done: l.Done, Coats: l.Coats, Stays: l.Stays,
			Holds: l.Holds, GoneOn: l.GoneOn, Last: l.Last}
		want := Life{
			Tag: "261120A-99", Place: "cellar/B/2", Plan: "waxed-semi-hard", Since: began,
			Done: map[Job]DoneOn{
				Weigh: {First: began, Last: began, Count: 1},
				Turn:  {First: began + 1, Last: began + 1, Count: 3}, // 18 h after noon is next day
				Brush: {First: began + 1, Last: began + 1, Count: 1, Skipped: true},
				Move:  {First: began + 2, Last: began + 2, Count: 1},
				Check: {First: began + 2, Last: began + 2, Count: 1},
				Coat:  {First: began + 3, Last: began + 3, Count: 1},
				Taste: {First: began + 9, Last: began + 9, Count: 1},
			},
			Coats: []CoatOn{{At: at(3), On: began + 3, Coat: "wax"}},
			Stays: []Stay{{From: began.Start(time.UTC), Place: "cellar/A/1"}, {From: at(2), Place: "cellar/B/2"}},
			Holds: []Hold{{ID: uuid.UUID{15: 13}, On: began + 8, Why: "raw milk"}}, GoneOn: day.None, Last: at(9),
		}
		if diff := cmp.Diff(want, got, cmp.AllowUnexported(Chain{})); diff != "" {
			t.Fatal(diff)
		}
		if e, ok := l.LastCheck(); !ok || !e.At.Equal(at(2)) {
			t.Errorf("last check %v, %v", e.At, ok)
		}
		if got := l.WeightNow(); got != 2010 {
			t.Errorf("it weighs %v now, want what the scale last showed", got)
		}
	}
}

func TestASkipOfTheSameDayAsTheDeedIsTheLastWord(t *testing.T) {
	var d diary
	d.on(1, Entry{Kind: Did, Job: Turn})
	d.on(1.1, Entry{Kind: Skipped, Job: Turn})
	if got := d.life().Done[Turn]; got != (DoneOn{First: began + 1, Last: began + 1, Count: 2, Skipped: true}) {
		t.Errorf("%+v", got)
	}
	d.on(1.2, Entry{Kind: Did, Job: Turn})
	if got := d.life().Done[Turn]; got != (DoneOn{First: began + 1, Last: began + 1, Count: 3}) {
		t.Errorf("%+v", got)
	}
}

func TestALifeWithNothingInIt(t *testing.T) {
	l := NewLife(Wheel{Since: began.Noon(time.UTC)}, Make{Date: began}, nil, time.UTC, nil)
	if _, ok := l.LastCheck(); ok || l.WeightNow() != 0 || l.Stays != nil || l.GoneOn != day.None ||
		l.Chain.Weighings() != 0 {
		t.Errorf("%+v", l)
	}
	var d diary
	d.on(1, Entry{Kind: Sent, Weight: 1800})
	if l := d.life(); l.GoneWhy != nil || l.GoneOn != began+1 {
		t.Errorf("sent to nobody: %v on %s", l.GoneWhy, l.GoneOn)
	}
	d.on(2, Entry{Kind: Sent, To: "the shop", Note: "two"})
	if l := d.life(); !l.GoneWhy.Equal(reason.List{SentTo{"the shop"}}) {
		t.Errorf("sent to the shop: %v", l.GoneWhy)
	}
}

func TestDatesOfALifeAreTheBooksOwn(t *testing.T) {
	// 23:30 on 28 March in Dublin is before the short night, 00:30 next day
	// after it; in New York both are the evening before.
	dublin, err := time.LoadLocation("Europe/Dublin")
	mustNotFail(t, err)
	ny, err := time.LoadLocation("America/New_York")
	mustNotFail(t, err)
	d := day.Of(2026, time.March, 28)
	es := []Entry{
		{ID: [16]byte{1}, Kind: Did, Job: Turn, At: d.Clock(23, 30, dublin)},
		{ID: [16]byte{2}, Kind: Did, Job: Turn, At: (d + 1).Clock(0, 30, dublin)},
	}
	w, m := Wheel{Since: d.Noon(dublin)}, Make{Date: d - 10}
	if got := NewLife(w, m, es, dublin, nil).Done[Turn]; got != (DoneOn{First: d, Last: d + 1, Count: 1}) {
		t.Errorf("in Dublin %+v", got)
	}
	if got := NewLife(w, m, es, ny, nil).Done[Turn]; got != (DoneOn{First: d, Last: d, Count: 2}) {
		t.Errorf("in New York %+v", got)
	}
}

func TestLotsGoOnAfterZ(t *testing.T) {
	taken := map[string]bool{}
	var got []string
	for range 26 + 26*26 + 1 {
		lot := DefaultLot(began, "", func(l string) bool { return taken[l] })
		if taken[lot] {
			t.Fatalf("%s is given twice", lot)
		}
		taken[lot] = true
		got = append(got, lot)
		if err := cave.CheckTag("lot", lot); err != nil {
			t.Fatal(err)
		}
	}
	want := map[int]string{0: "261120A", 1: "261120B", 25: "261120Z", 26: "261120AA", 27: "261120AB", 51: "261120AZ",
		52: "261120BA", 701: "261120ZZ", 702: "261120AAA"}
	for i, w := range want {
		if got[i] != w {
			t.Errorf("lot %d of the day is %s, want %s", i+1, got[i], w)
		}
	}
	if got := DefaultLot(day.Of(2105, time.January, 2), "", func(string) bool { return false }); got != "050102A" {
		t.Errorf("a lot of 2105 is %s", got)
	}
}

func TestTagsArePaddedSoThatALotSorts(t *testing.T) {
	for _, c := range []struct {
		n, size int
		want    string
	}{{1, 4, "261120A-01"}, {12, 12, "261120A-12"}, {7, 100, "261120A-007"}, {100, 100, "261120A-100"}, {42, 5000,
		"261120A-0042"}} {
		if got := DefaultTag("261120A", c.n, c.size); got != c.want {
			t.Errorf("wheel %d of %d is %s, want %s", c.n, c.size, got, c.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.IntRange(2, 20000).Draw(t, "size")
		n := rapid.IntRange(1, size-1).Draw(t, "n")
		if a, b := DefaultTag("261120A", n, size), DefaultTag("261120A", n+1, size); !(a < b) {
			t.Fatalf("%s does not sort before %s", a, b)
		}
	})
}

func TestWhatAMakeIsRefusedFor(t *testing.T) {
	good := Make{Lot: "261120A", Date: began, Curd: 4200, SetAside: 100,
		Start: Composition{Moisture: 0.38, Fat: 0.32, Salt: 0.018}}
	mustNotFail(t, good.Check())
	for want, change := range map[string]func(*Make){
		"no-name {What:lot}":                                          func(m *Make) { m.Lot = "" },
		"missing {What:make-date}":                                    func(m *Make) { m.Date = day.None },
		"more-curd-aside {Lot:261120A Aside:5000 Was:4200}":           func(m *Make) { m.SetAside = 5000 },
		"unprintable {What:note Char:7 Byte:1}":                       func(m *Make) { m.Note = "\a" },
		"outside {What:moisture Value:0 Low:0.15 High:0.85}":          func(m *Make) { m.Start.Moisture = 0 },
		"bad-name {What:lot Name:all Has:all Why:command-word}":       func(m *Make) { m.Lot = "all" },
		"bad-name {What:lot Name:26/11 Has:/ Why:reserved-character}": func(m *Make) { m.Lot = "26/11" },
	} {
		m := good
		change(&m)
		if err := m.Check(); err == nil || err.Error() != want {
			t.Errorf("%v, want %q", err, want)
		}
	}
}

// A coat struck, and the loss, the tare and the weight are as if it never was.
func TestStrikingIsAsIfItNeverWas(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := anyDiary(t)
		plain := d.life()
		id := d.on(rapid.Float64Range(0, 20).Draw(t, "day"), Entry{Kind: CoatedOn, Coat: "wax",
			Before: quantity.Grams(rapid.Float64Range(0, 3000).Draw(t, "before")), Weight: 3100})
		d.strike(21, id)
		got := d.life()
		opts := cmp.Options{cmp.AllowUnexported(Chain{}), cmpopts.EquateEmpty(),
			cmp.Comparer(func(a, b float64) bool { return a == b || a != a && b != b })}
		if diff := cmp.Diff(plain, got, opts); diff != "" {
			t.Fatal(diff)
		}
	})
}
