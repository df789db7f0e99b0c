package schedule

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"rindkeep/cave/air"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/variety"
	"rindkeep/wheel/verdict"
)

// ahead lists the chores from an age through n days: "3 turn x2 late 1", the
// age first, with the leeway where there is one.
func (k *keeping) ahead(age, n int) []string {
	from := k.made + day.Date(age)
	out := []string{}
	for _, c := range Project(k.plan,
		Subject{Life: k.life(), DryingDays: k.dry, ReadyDays: k.ready, Gate: k.gate, Loc: k.loc}, from, from+day.Date(n)-1) {
		w := fmt.Sprintf("%d %s", c.On-k.made, c.Job)
		if c.Coat != "" {
			w += " " + c.Coat
		}
		if c.Rounds > 1 {
			w += fmt.Sprintf(" x%d", c.Rounds)
		}
		if c.Late > 0 {
			w += fmt.Sprintf(" late %d", c.Late)
		}
		if c.Low != c.High {
			w += fmt.Sprintf(" (%d to %d)", c.Low-k.made, c.High-k.made)
		}
		out = append(out, w)
	}
	return out
}

const weeklySlack = "[[step]]\njob = \"turn\"\nevery = \"7d\"\nslack = 2\n"

func TestTheDaysAheadFollowThePlan(t *testing.T) {
	twice := "[[step]]\njob = \"turn\"\nper_day = 2\nuntil = \"coated\"\n"
	coats := "[[step]]\njob = \"coat\"\ncoat = \"wax\"\nwhen = \"dry\"\n"
	opens := func(age int) verdict.Windows {
		on := made + day.Date(age)
		return verdict.Windows{CoatFrom: on, CoatUntil: day.None, CheckFrom: on, WeighFrom: on}
	}
	for _, c := range []struct {
		name  string
		steps string
		tell  func(k *keeping)
		age   int
		days  int
		want  []string
	}{
		{"a weekly job comes every seventh day after it was last done", weeklySlack,
			func(k *keeping) { k.did(3, 9, wheel.Turn) }, 5, 20,
			[]string{"10 turn (8 to 12)", "17 turn (15 to 19)", "24 turn (22 to 26)"}},
		{"a job late beyond its slack comes at once, once, and can wait no longer", weeklySlack,
			func(k *keeping) { k.did(3, 9, wheel.Turn) }, 20, 9,
			[]string{"20 turn late 10", "27 turn (25 to 29)"}},
		{"a job late within its slack can wait for the rest of it", weeklySlack, func(k *keeping) { k.did(3, 9, wheel.Turn) },
			11, 3,
			[]string{"11 turn late 1 (11 to 12)"}},
		{"a job due today can wait but not come yesterday", weeklySlack, func(k *keeping) { k.did(3, 9, wheel.Turn) }, 10, 2,
			[]string{"10 turn (10 to 12)"}},
		{"rounds already done today are not done again", "[[step]]\njob = \"turn\"\nper_day = 2\n",
			func(k *keeping) { k.did(3, 9, wheel.Turn) }, 3, 2,
			[]string{"3 turn", "4 turn x2"}},
		{"nothing is due of a wheel that is gone", weeklySlack,
			func(k *keeping) { k.at(3, 9, 0, wheel.Entry{Kind: wheel.Lost, Note: "fell"}) }, 5, 20, []string{}},
		{"slack of most of the interval lets no job pass its neighbour",
			"[[step]]\njob = \"turn\"\nevery = \"3d\"\nslack = 2\n", func(k *keeping) { k.did(3, 9, wheel.Turn) }, 4, 9,
			[]string{"6 turn (4 to 7)", "9 turn (8 to 10)", "12 turn (11 to 14)"}},
		{"a job is not moved before its window opens nor after it closes",
			"[[step]]\njob = \"brush\"\nevery = \"7d\"\nfrom_day = 10\nuntil_day = 18\nslack = 3\n", nil, 1, 30,
			[]string{"10 brush (10 to 13)", "17 brush (14 to 18)"}},
		{"tastings come at their ages with their slack, the first being late",
			"[[step]]\njob = \"taste\"\ndays = [10, 20, 40]\nslack = 4\n", nil, 12, 20,
			[]string{"12 taste late 2 (12 to 14)", "20 taste (17 to 24)"}},
		{"a job that other steps hang on is not moved", "[[step]]\njob = \"pierce\"\ndays = [10]\nslack = " +
			"4\n\n[[step]]\njob = \"brush\"\nevery = \"7d\"\nafter = \"pierce\"\nslack = 2\n", nil, 1, 20,
			[]string{"10 pierce", "10 brush (10 to 12)", "17 brush (15 to 19)"}},
		{"what the gate wants comes on the day it is expected to open, and the stage follows",
			twice + coats + "\n[[step]]\njob = \"turn\"\nevery = \"7d\"\nafter = \"coated\"\nslack = 1\n",
			func(k *keeping) { k.did(0, 9, wheel.Turn); k.did(0, 17, wheel.Turn); k.gate = opens(3) }, 1, 16,
			[]string{"1 turn x2", "2 turn x2", "3 check", "3 weigh", "3 turn x2", "3 coat wax", "10 turn (9 to 11)"}},
		{"a gate that nothing opens keeps the coat back", twice + coats,
			func(k *keeping) { k.did(0, 9, wheel.Turn); k.did(0, 17, wheel.Turn) }, 1, 2, []string{"1 turn x2", "2 turn x2"}},
		{"a plan's own daily weighing is not doubled by the gate's", "[[step]]\njob = \"weigh\"\nevery = \"1d\"\nuntil = " +
			"\"coated\"\n\n" + coats, func(k *keeping) { k.did(0, 9, wheel.Weigh); k.gate = opens(2) }, 1, 4,
			[]string{"1 weigh", "2 check", "2 weigh", "2 coat wax"}},
		{"a step done once is done once", "[[step]]\njob = \"salt\"\nfrom_day = 2\n", nil, 1, 30, []string{"2 salt"}},
		{"a job somebody asked for comes once", weeklySlack, func(k *keeping) {
			k.did(3, 9, wheel.Turn)
			k.at(4, 9, 0, wheel.Entry{Kind: wheel.Asked, Job: wheel.Check, Note: "bitter seen"})
		}, 5, 10, []string{"5 check late 1", "10 turn (8 to 12)"}},
		{"a job asked for that the plan wants too goes on as the plan has it", "[[step]]\njob = \"check\"\nevery = \"7d\"\n",
			func(k *keeping) {
				k.did(3, 9, wheel.Check)
				k.at(4, 9, 0, wheel.Entry{Kind: wheel.Asked, Job: wheel.Check, Note: "bitter seen"})
			}, 4, 15, []string{"4 check", "11 check", "18 check"}},
		{"leap day is a day", "[[step]]\njob = \"turn\"\nevery = \"2d\"\n",
			func(k *keeping) { k.made = day.Of(2028, time.February, 27); k.since = k.made; k.did(0, 9, wheel.Turn) }, 1, 5,
			[]string{"2 turn", "4 turn"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			k := keep(t, c.steps)
			if c.tell != nil {
				c.tell(k)
			}
			if d := cmp.Diff(c.want, k.ahead(c.age, c.days)); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
		})
	}
}

// What Project says follows from Due alone: walking the days by hand, doing
// each day what Due lists for it, comes to the same for every plan there is.
func TestTheDaysAheadAreThoseADailyWalkByTheDueListGives(t *testing.T) {
	for _, p := range Builtin() {
		t.Run(p.Name, func(t *testing.T) {
			for _, age := range []int{1, 9, 40} {
				k := keep(t, "[[step]]\njob = \"turn\"\n")
				k.plan, k.dry, k.ready = p, 10, 60
				k.at(0, 17, 0, wheel.Entry{Kind: wheel.Weighed, Weight: 2000})
				opening := made + day.Date(age) + 4
				k.gate = verdict.Windows{CoatFrom: opening, CoatUntil: day.None, CheckFrom: opening, WeighFrom: opening}
				got := k.ahead(age, 90)
				for i := range got { // without the leeway
					got[i], _, _ = strings.Cut(got[i], " (")
				}
				want := []string{}
				for n := age; n < age+90; n++ {
					for { // a job done may bring others the same day
						var next *Task
						var st Listing
						ts := k.tasks()
						for i, x := range ts {
							s, ok := x.On(made + day.Date(n))
							if d, ever := k.life().Done[x.Job]; ever && d.Last == made+day.Date(n) {
								ok = false
							}
							if ok && (next == nil || x.Job.Order() < next.Job.Order()) {
								next, st = &ts[i], s
							}
						}
						if next == nil {
							break
						}
						w := fmt.Sprintf("%d %s", n, next.Job)
						if next.Coat != "" {
							w += " " + next.Coat
						}
						if st.Left > 1 {
							w += fmt.Sprintf(" x%d", st.Left)
						}
						if st.LateDays > 0 {
							w += fmt.Sprintf(" late %d", st.LateDays)
						}
						want = append(want, w)
						for range st.Left {
							switch next.Job {
							case wheel.Coat:
								k.at(n, 12, 0, wheel.Entry{Kind: wheel.CoatedOn, Coat: next.Coat})
							default:
								k.did(n, 10, next.Job)
							}
						}
					}
				}
				if d := cmp.Diff(want, got); d != "" {
					t.Errorf("from day %d (-walk +projected):\n%s", age, d)
				}
			}
		})
	}
}

func TestProjectLeavesTheWheelAsItWas(t *testing.T) {
	k := keep(t, weeklySlack+"\n[[step]]\njob = \"coat\"\ncoat = \"wax\"\nfrom_day = 5\n")
	k.did(1, 9, wheel.Turn)
	s := Subject{Life: k.life(), DryingDays: 7, ReadyDays: 60, Gate: k.gate, Loc: k.loc}
	if len(Project(k.plan, s, made+2, made+40)) == 0 {
		t.Fatal("nothing was projected")
	}
	if d := cmp.Diff(k.life(), s.Life, cmp.AllowUnexported(wheel.Chain{}),
		cmp.Comparer(func(a, b float64) bool { return a == b || a != a && b != b })); d != "" {
		t.Errorf("the life was changed (-before +after):\n%s", d)
	}
}

func TestAVerdictSaysWhenItsGateIsTakenToOpen(t *testing.T) {
	shut := verdict.Shut()
	with := func(coat, check, weigh day.Date) verdict.Windows {
		w := shut
		w.CoatFrom, w.CheckFrom, w.WeighFrom = coat, check, weigh
		return w
	}
	until := func(w verdict.Windows, last day.Date) verdict.Windows {
		w.CoatUntil = last
		return w
	}
	none := day.None
	for _, c := range []struct {
		name string
		v    verdict.Dry
		now  verdict.Windows
		want verdict.Windows
	}{
		{"dry enough since yesterday: coated today", verdict.Dry{Answer: verdict.DryEnough},
			until(with(mon-1, mon+2, none), mon+1), until(with(mon-1, none, none), mon+1)},
		{"figures met: checked today and coated tomorrow", verdict.Dry{Answer: verdict.CheckByHand},
			with(none, mon-3, none), with(mon+1, mon-3, none)},
		{"too dry: looked over today and coated tomorrow", verdict.Dry{Answer: verdict.TooDry},
			with(none, mon, none), with(mon+1, mon, none)},
		{"not yet: weighed, checked and coated when expected", verdict.Dry{Answer: verdict.NotYet,
			On: &verdict.Expected{Best: mon + 5, Low: mon + 3, High: mon + 9}},
			with(none, none, mon+5), with(mon+5, mon+5, mon+5)},
		{"expected days ago: weighed today", verdict.Dry{Answer: verdict.NotYet,
			On: &verdict.Expected{Best: mon - 5, Low: mon - 8, High: mon}},
			with(none, none, mon-5), with(mon+1, mon+1, mon-5)},
		{"never expected: nothing", verdict.Dry{Answer: verdict.NotYet}, shut, shut},
		{"never expected, weighed a week ago: weighed", verdict.Dry{Answer: verdict.NotYet},
			with(none, none, mon), with(none, none, mon)},
		{"coated: nothing", verdict.Dry{Answer: verdict.Coated}, shut, shut},
	} {
		if d := cmp.Diff(c.want, Awaited(c.v, c.now, mon)); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
	}
}

func TestAgeLimits(t *testing.T) {
	cheddar := variety.Variety{Limits: variety.Limits{RawMinDays: 60, RawMinTemp: 1.67}}
	always := variety.Variety{Limits: variety.Limits{MinDays: 90, RawMinDays: 60, RawMinTemp: 1.67}}
	both := variety.Variety{Limits: variety.Limits{MinDays: 35, RawMinDays: 60, RawMinTemp: 1.67}}
	milk := func(t wheel.Treatment) wheel.Make { return wheel.Make{Date: mon, Milk: wheel.Milk{Treatment: t}} }
	for _, c := range []struct {
		name string
		m    wheel.Make
		v    variety.Variety
		want OldEnough
		ok   bool
	}{
		{"raw milk waits its days", milk(wheel.Raw), cheddar, OldEnough{On: mon + 60, Days: 60, RawMilk: true, MinTemp: 1.67},
			true},
		{"thermised milk was not pasteurised", milk(wheel.Thermised), cheddar,
			OldEnough{On: mon + 60, Days: 60, RawMilk: true, MinTemp: 1.67}, true},
		{"pasteurised milk need not wait for them", milk(wheel.Pasteurised), cheddar, OldEnough{On: mon}, false},
		{"milk of which nobody said is taken as raw, and said to be", milk(""), cheddar,
			OldEnough{On: mon + 60, Days: 60, RawMilk: true, Unsaid: true, MinTemp: 1.67}, true},
		{"an age asked of every milk goes before a shorter one of raw milk", milk(wheel.Raw), always,
			OldEnough{On: mon + 90, Days: 90}, true},
		{"the longer of two ages counts", milk(wheel.Raw), both,
			OldEnough{On: mon + 60, Days: 60, RawMilk: true, MinTemp: 1.67}, true},
		{"and for pasteurised milk the other", milk(wheel.Pasteurised), both, OldEnough{On: mon + 35, Days: 35}, true},
		{"no limit is none", milk(wheel.Raw), variety.Variety{}, OldEnough{On: mon}, false},
	} {
		got, ok := AgeLimit(c.m, c.v, holdrule.Set{})
		if d := cmp.Diff(c.want, got); d != "" || ok != c.ok {
			t.Errorf("%s: %v, want %v (-want +got):\n%s", c.name, ok, c.ok, d)
		}
	}
}

func TestDaysTooColdToCountMakeAWheelOldEnoughLaterAndNeverEarlier(t *testing.T) {
	o := OldEnough{On: mon + 20, Days: 60, RawMilk: true, MinTemp: 1.67}
	for _, c := range []struct {
		name string
		left float64
		want day.Date
	}{
		{"none too cold", 20 - 8.0/24, mon + 20},
		{"none too cold, an hour lost to summer time", 20 - 7.0/24, mon + 20},
		{"none too cold, an hour won from it", 20 - 9.0/24, mon + 20},
		{"ten days too cold", 30 - 8.0/24, mon + 30},
		{"ten days and half a day too cold", 30.5 - 8.0/24, mon + 31},
		{"nearly served", 0.2, mon + 20},
	} {
		want := o
		want.On, want.ByAir = c.want, true
		if d := cmp.Diff(want, o.Counted(verdict.LawHold{Left: c.left}, mon.Clock(8, 0, time.UTC), time.UTC)); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
	}
}

// lotOf is a lot of wheels that dry alike in one room, each a little faster than
// the one before; the first of every three is weighed three times, the second
// twice, the third but once, and the last one never.
func lotOf(n int) []verdict.Case {
	v, _ := variety.Find("cheddar-waxed")
	began := (mon - 12).Noon(time.UTC)
	m := wheel.Make{Lot: "261110A", Date: mon - 13, Variety: v.Name,
		Start: wheel.Composition{Moisture: v.Composition.Moisture, MoistureSD: 0.015, Fat: v.Composition.Fat,
			Salt: v.Composition.Salt}}
	m.ID[15] = 1
	out := make([]verdict.Case, n)
	for i := range out {
		w := wheel.Wheel{Make: m.ID, Number: i + 1, Tag: fmt.Sprintf("261110A-%02d", i+1), Shape: v.Shape, Since: began}
		w.ID[0], w.ID[15] = 9, byte(i+1)
		weighings := 3 - i%3
		if i == n-1 {
			weighings = 0
		}
		var es []wheel.Entry
		for k, loss := range []float64{0, 0.008, 0.018}[:weighings] {
			e := wheel.Entry{Subject: w.ID, Kind: wheel.Weighed, At: began.AddDate(0, 0, []int{0, 1, 3}[k])}
			e.Weight = v.Weight * quantity.Grams(1-loss*(1+0.02*float64(i)))
			e.ID[0], e.ID[14], e.ID[15] = 1, byte(i), byte(k)
			es = append(es, e)
		}
		out[i] = verdict.Case{Life: wheel.NewLife(w, m, es, time.UTC, nil), Variety: v, Gate: verdict.DefaultGate(),
			Loc: time.UTC,
			Air: []drying.Span{{Air: air.State{Temp: 12, RH: 0.85}, Movement: air.Gentle}}}
	}
	for i := range out {
		var sisters []verdict.Case
		for k, o := range out {
			if k != i && o.Life.Chain.Weighings() > 0 {
				sisters = append(sisters, o)
			}
		}
		slices.SortStableFunc(sisters,
			func(a, b verdict.Case) int { return b.Life.Chain.Weighings() - a.Life.Chain.Weighings() })
		out[i].Sisters = sisters[:min(12, len(sisters))]
	}
	return out
}

func TestTheMassToComeIsTheLastWeightLessWhatTheCurveHasItLose(t *testing.T) {
	cases := lotOf(4)
	c := cases[0]
	f := c.Forecast()
	outlook := func(c verdict.Case, f drying.Forecast, coat string, on day.Date, cs ...Chore) Outlook {
		t := c.LongTrack(f, c.Began(), coat, on)
		return NewOutlook(c.Life.Brief(time.UTC), t.Track, &t, c.Began(), cs, time.UTC)
	}
	o := outlook(c, f, "", 0)
	last, _ := c.Life.Chain.Last()
	at := func(on day.Date) quantity.Estimate {
		d := on.Noon(time.UTC).Sub(c.Began()).Hours() / 24
		left := func(loss float64) float64 { return float64(last.Net) * (1 - loss) / (1 - f.Loss(last.Day).Best) }
		l := f.Loss(d)
		return quantity.Estimate{Best: left(l.Best), Low: left(l.High), High: left(l.Low)}
	}
	const near = 0.05 / 100 // of the green weight, as a track is: drying.Track
	same := cmpopts.EquateApprox(0, near*float64(last.Net))
	for _, n := range []int{0, 10, 60} {
		if d := cmp.Diff(at(mon+day.Date(n)), o.Mass(mon+day.Date(n)), same); d != "" {
			t.Errorf("in %d days (-want +got):\n%s", n, d)
		}
	}
	if w := o.Mass(mon - 9).Best; math.Abs(w-float64(last.Gross)) > near*float64(last.Gross) {
		t.Errorf("on the day it was weighed it weighs %.1f g, the scale said %.1f", w, float64(last.Gross))
	}
	if m := o.Mass(mon + 60); !(m.Low < m.Best && m.Best < m.High) {
		t.Errorf("in 60 days: %v, with no interval", m)
	}

	waxed := outlook(c, f, "wax", mon+2, Chore{Doing: &Doing{Job: wheel.Turn}, On: mon + 1},
		Chore{Doing: &Doing{Job: wheel.Coat, Coat: "wax"}, On: mon + 2})
	if a, b := waxed.Mass(mon+2), o.Mass(mon+2); a != b {
		t.Errorf("until the coat goes on: %v, bare %v", a, b)
	}
	if a, b := waxed.Mass(mon+60).Best, o.Mass(mon+60).Best; !(a > b+5) {
		t.Errorf("in 60 days, waxed: %.0f g, bare %.0f: the coat keeps nothing in", a, b)
	}

	never := cases[3]
	n := outlook(never, never.Forecast(), "", 0)
	if w := n.Mass(mon - 12).Best; math.Abs(w-float64(never.Variety.Weight)) > 1 {
		t.Errorf("never weighed: %.0f g at the start, its lot's usual weight is %.0f", w, float64(never.Variety.Weight))
	}
	if d := cmp.Diff(quantity.Estimate{Best: 3, Low: 1.5, High: 6},
		Sum(quantity.Estimate{Best: 1, Low: 0.5, High: 2}, quantity.Estimate{Best: 2, Low: 1, High: 4})); d != "" {
		t.Errorf("a sum (-want +got):\n%s", d)
	}
}

func BenchmarkProjectAndLevel(b *testing.B) {
	p, _ := Find("hard-grating")
	w := wheel.Wheel{Plan: p.Name, Since: made.Noon(time.UTC)}
	l := wheel.NewLife(w, wheel.Make{Date: made}, nil, time.UTC, nil)
	for _, n := range []int{100, 10000} {
		b.Run(fmt.Sprintf("%d wheels, 60 days", n), func(b *testing.B) {
			for b.Loop() {
				var loads []Load
				for i := range n {
					from := made + 30 + day.Date(i%7)
					for _, c := range Project(p, Subject{Life: l, Gate: verdict.Shut(), Loc: time.UTC}, from, from+59) {
						loads = append(loads, Load{c.On, c.Low, c.High, c.Minutes})
					}
				}
				Level(loads, made+30, made+95, Rest{true, 6: true})
			}
		})
	}
}
