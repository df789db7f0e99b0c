package cave

import "testing"

func TestDaysOfAirSumUpToTheLeastTheMeanAndTheGreatest(t *testing.T) {
	type sum struct {
		temp, rh Range
		readings int
	}
	first := DayAir{Date: 1, Readings: 3, Temp: Range{10, 11, 12}, RH: Range{80, 84, 90}}
	second := DayAir{Date: 2, Readings: 1, Temp: Range{13, 13, 13}, RH: Range{78, 78, 78}}
	for _, c := range []struct {
		name string
		days []DayAir
		want sum
	}{
		{"no day", nil, sum{}},
		{"one day is itself", []DayAir{first}, sum{first.Temp, first.RH, 3}},
		{"a day with one reading counts as much as one with three", []DayAir{first, second},
			sum{Range{10, 12, 13}, Range{78, 81, 90}, 4}},
	} {
		var got sum
		got.temp, got.rh, got.readings = Over(c.days)
		if got != c.want {
			t.Errorf("%s: got %+v, want %+v", c.name, got, c.want)
		}
	}
}
