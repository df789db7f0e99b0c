package verdict

import (
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
)

// cellars are rooms with their readings.
type cellars struct {
	rooms    map[string]cave.Room
	readings map[string][]cave.Reading
}

func (c cellars) RoomNamed(name string) (cave.Room, bool) { r, ok := c.rooms[name]; return r, ok }

func (c cellars) AirBetween(room string, from, to time.Time) (out []cave.Reading) {
	for _, r := range c.readings[room] {
		if !r.At.Before(from) && r.At.Before(to) {
			out = append(out, r)
		}
	}
	return out
}

func TestTheAirAWheelLayIn(t *testing.T) {
	began := noon(0)
	at := func(days float64) time.Time { return began.Add(time.Duration(days * 24 * float64(time.Hour))) }
	read := func(days, temp, rh float64) cave.Reading {
		return cave.Reading{At: at(days), Temp: quantity.Celsius(temp), RH: quantity.Fraction(rh)}
	}
	rooms := cellars{
		rooms: map[string]cave.Room{
			"cellar": {Name: "cellar", Temp: 12, RH: 0.85, Movement: air.Still},
			"fridge": {Name: "fridge", Temp: 6, RH: 0.75, Movement: air.Brisk},
			"logged": {Name: "logged", Temp: 11, RH: 0.9, Movement: air.Gentle},
			"cold":   {Name: "cold", Temp: 11, RH: 0.9, Movement: air.Gentle},
			"seldom": {Name: "seldom", Temp: 11, RH: 0.9, Movement: air.Gentle},
		},
		readings: map[string][]cave.Reading{
			"logged": {read(1, 10, 0.8), read(2, 12, 0.9), read(8, 13, 0.95), read(9, 11, 0.85)},
			"cold":   {read(0, 1, 0.8), read(7, 0.5, 0.8)},
			"seldom": {read(0, 10, 0.8), read(8.5, 12, 0.9)},
		},
	}
	span := func(day, temp, rh float64, m air.Movement) drying.Span {
		return drying.Span{FromDay: day, Air: air.State{Temp: quantity.Celsius(temp), RH: quantity.Fraction(rh)}, Movement: m}
	}
	was := func(day, temp, rh float64) drying.Span { return span(day, temp, rh, air.Gentle) } // in the room with a log
	stay := func(days float64, p cave.Place) wheel.Stay { return wheel.Stay{From: at(days), Place: p} }
	usual := func(day float64) drying.Span { return span(day, 10, 0.825, air.Gentle) } // 7 to 13 C, 80 to 85 %
	for _, c := range []struct {
		name  string
		stays []wheel.Stay
		until float64
		want  []drying.Span
	}{
		{"nobody said where: the variety's usual room", nil, 10, []drying.Span{usual(0)}},
		{"a room nobody knows: the usual room", []wheel.Stay{stay(0, "attic")}, 10, []drying.Span{usual(0)}},
		{"a room without a log: its set point", []wheel.Stay{stay(0, "cellar/A/1")}, 10,
			[]drying.Span{span(0, 12, 0.85, air.Still)}},
		{"put away before drying began", []wheel.Stay{stay(-3, "cellar")}, 10, []drying.Span{span(0, 12, 0.85, air.Still)}},
		{"put away later: the usual room until then", []wheel.Stay{stay(2, "cellar")}, 10,
			[]drying.Span{usual(0), span(2, 12, 0.85, air.Still)}},
		{"moved", []wheel.Stay{stay(0, "cellar"), stay(4, "fridge")}, 10,
			[]drying.Span{span(0, 12, 0.85, air.Still), span(4, 6, 0.75, air.Brisk)}},
		{"moved within a room changes nothing", []wheel.Stay{stay(0, "cellar/A"), stay(4, "cellar/B")}, 10,
			[]drying.Span{span(0, 12, 0.85, air.Still)}},
		{"moved before drying began", []wheel.Stay{stay(-2, "fridge"), stay(-1, "cellar")}, 10,
			[]drying.Span{span(0, 12, 0.85, air.Still)}},
		// The week's mean at the end: days 2, 8 and 9.
		{"a log with a gap: the set point from a day and a half after the last reading", []wheel.Stay{stay(0, "logged")}, 9.5,
			[]drying.Span{span(0, 11, 0.9, air.Gentle), was(1, 10, 0.8), was(2, 12, 0.9), was(3.5, 11, 0.9),
				was(8, 13, 0.95), was(9, 11, 0.85), was(9.5, 12, 0.9)}},
		{"a log that ended: the set point", []wheel.Stay{stay(0, "logged")}, 20,
			[]drying.Span{span(0, 11, 0.9, air.Gentle), was(1, 10, 0.8), was(2, 12, 0.9), was(3.5, 11, 0.9),
				was(8, 13, 0.95), was(9, 11, 0.85), span(10.5, 11, 0.9, air.Gentle)}},
		{"readings a week apart: the set point between", []wheel.Stay{stay(0, "cold")}, 7.2,
			[]drying.Span{was(0, 1, 0.8), was(1.5, 11, 0.9), was(7, 0.5, 0.8), was(7.2, 0.75, 0.8)}},
		{"a long gap", []wheel.Stay{stay(0, "seldom")}, 11,
			[]drying.Span{was(0, 10, 0.8), span(1.5, 11, 0.9, air.Gentle), was(8.5, 12, 0.9), span(10, 11, 0.9, air.Gentle)}},
		{"a reading from just before it came still holds",
			[]wheel.Stay{stay(0, "cellar"), stay(2.5, "logged"), stay(3, "cellar")}, 10,
			[]drying.Span{span(0, 12, 0.85, air.Still), was(2.5, 12, 0.9), span(3, 12, 0.85, air.Still)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, sd := Spans(wheel.Life{Stays: c.stays}, cheddar(t), began, at(c.until), rooms)
			if sd != 0 {
				t.Errorf("no hygrometer was tested, and they are off by %v", sd)
			}
			if diff := cmp.Diff(c.want, got,
				cmp.Comparer(func(a, b quantity.Fraction) bool { return math.Abs(float64(a-b)) < 1e-9 })); diff != "" {
				t.Error(diff)
			}
			if err := drying.CheckAir(got); err != nil {
				t.Error(err)
			}
		})
	}
}

// A hygrometer that was tested makes the air surer, and the forecast with it.
func TestATestedHygrometerNarrowsTheForecast(t *testing.T) {
	logged := func(name string, tests ...cave.SensorTest) cave.Room {
		return cave.Room{Name: name, Temp: 11, RH: 0.95, Movement: air.Gentle, Tests: tests}
	}
	began := noon(0)
	test := func(days int) cave.SensorTest { return cave.SensorTest{At: noon(days), Salt: "NaCl"} }
	var readings []cave.Reading
	for d := range 10 {
		readings = append(readings, cave.Reading{At: noon(d), Temp: 11, RH: 0.95})
	}
	rooms := cellars{
		rooms: map[string]cave.Room{
			"tested": logged("tested", test(-30)), "old": logged("old", test(-400)), "late": logged("late", test(20)),
			"unread": logged("unread", test(-30)), "untested": logged("untested"),
		},
		readings: map[string][]cave.Reading{"tested": readings, "old": readings, "late": readings, "untested": readings},
	}
	for _, c := range []struct {
		name  string
		rooms []string
		sure  bool
	}{
		{"tested a month ago", []string{"tested"}, true}, {"never tested", []string{"untested"}, false},
		{"tested over a year ago", []string{"old"}, false}, {"tested since", []string{"late"}, false},
		{"tested, and never read", []string{"unread"}, false}, {"in no known room", []string{"attic"}, false},
		{"nobody said where", nil, false},
		{"in one that was tested, and one that wasn't", []string{"tested", "untested"}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			var l wheel.Life
			for i, r := range c.rooms {
				l.Stays = append(l.Stays, wheel.Stay{From: noon(4*i - 1), Place: cave.Place(r)})
			}
			_, sd := Spans(l, cheddar(t), began, noon(9), rooms)
			if (sd > 0) != c.sure || sd > 0.03 {
				t.Errorf("off by %v", sd)
			}
			k := (&book{}).weights(2000, 1996, 1993).of(t, DefaultGate())
			k.Air = []drying.Span{{Air: air.State{Temp: 11, RH: 0.95}, Movement: air.Gentle}}
			wide := k.Forecast().Expected(30)
			k.HygrometerSD = sd
			if got := k.Forecast().Expected(30); c.sure && !(got.High-got.Low < wide.High-wide.Low) || !c.sure && got != wide {
				t.Errorf("%v; unchecked %v", got, wide)
			}
		})
	}
}
