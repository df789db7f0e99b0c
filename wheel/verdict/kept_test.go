package verdict

import (
	"math"
	"testing"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/wheel"
)

// A reading speaks for eight days at the most, and no later reading takes a day away
// that an earlier one gave.
func TestAReadingSpeaksForEightDays(t *testing.T) {
	at := func(days float64) time.Time { return noon(0).Add(time.Duration(days * 24 * float64(time.Hour))) }
	type reading struct{ day, temp float64 }
	stays := []wheel.Stay{{From: at(0), Place: "cave"}}
	for _, c := range []struct {
		name         string
		readings     []reading
		stays        []wheel.Stay
		until        float64
		days, unread float64
	}{
		{"never read", nil, stays, 100, 100, 100},
		{"one old reading", []reading{{0, 11}}, stays, 100, 100, 92},
		{"and one much later", []reading{{0, 11}, {90, 11}}, stays, 100, 100, 84},
		{"seven days after the last one", []reading{{0, 11}, {7, 11}}, stays, 14, 14, 0},
		{"nine days after it", []reading{{0, 11}, {7, 11}}, stays, 16, 16, 1},
		{"eight days apart", []reading{{0, 11}, {8, 11}}, stays, 8, 8, 0},
		{"nine days apart", []reading{{0, 11}, {9, 11}}, stays, 9, 9, 1},
		{"the first after five days", []reading{{5, 11}}, stays, 5, 5, 0},
		{"the first after twenty days", []reading{{20, 11}}, stays, 20, 20, 12},
		{"read three days before it came", []reading{{-3, 11}}, stays, 10, 10, 5},
		{"read ten days before it came", []reading{{-10, 11}}, stays, 10, 10, 10},
		{"the colder of two a week apart, whatever the set point", []reading{{0, 11}, {7, 1}, {14, 11}}, stays, 14, 0, 0},
		{"a cold day in a daily log", []reading{{0, 11}, {1, 1}, {2, 11}}, stays, 3, 2, 0},
		{"the set point is cold where nobody read", []reading{{0, 11}},
			[]wheel.Stay{{From: at(0), Place: "fridge"}}, 20, 0, 0},
		{"readings before and after it passed through", []reading{{-3, 11}, {4, 11}},
			[]wheel.Stay{{From: at(0), Place: "cave"}, {From: at(1), Place: "fridge"}}, 20, 1, 0},
		{"a room nobody knows", []reading{{0, 11}}, []wheel.Stay{{From: at(0), Place: "attic"}}, 20, 20, 20},
		{"elsewhere", nil, []wheel.Stay{{From: at(0), Away: true}, {From: at(5), Place: "cave"}}, 20, 15, 15},
	} {
		rooms := cellars{
			rooms: map[string]cave.Room{
				"cave": {Name: "cave", Temp: 10, RH: 0.85}, "fridge": {Name: "fridge", Temp: 1, RH: 0.85},
			},
			readings: map[string][]cave.Reading{},
		}
		for _, r := range c.readings {
			rooms.readings["cave"] = append(rooms.readings["cave"],
				cave.Reading{At: at(r.day), Temp: quantity.Celsius(r.temp), RH: 0.85})
		}
		k := Case{Kept: KeptIn(wheel.Life{Stays: c.stays}, cheddar(t), rooms)}
		days, unread, _ := k.warmDays(at(0), at(c.until), 2)
		if math.Abs(days-c.days) > 1e-9 || math.Abs(unread-c.unread) > 1e-9 {
			t.Errorf("%s: %v days, %v without a reading; want %v and %v", c.name, days, unread, c.days, c.unread)
		}
	}
}
