package schedule

import (
	"testing"
	"time"

	"rindkeep/cave/day"
	"rindkeep/wheel"
)

func TestAJobsIntervalIsThatOfTheStepOpenThen(t *testing.T) {
	const text = `
name  = "rounds"
title = "Rounds"
[[step]]
job           = "turn"
minutes_after = [30, 90, 330]
[[step]]
job       = "turn"
per_day   = 2
until_day = 7
[[step]]
job      = "turn"
every    = "7d"
from_day = 8
[[step]]
job  = "taste"
days = [60, 90, 180]
[[step]]
job      = "pierce"
from_day = 20
`
	p, err := ParsePlan("rounds.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	date := day.Of(2026, time.November, 2)
	m := wheel.Make{Lot: "x", Date: date, Began: date.Start(time.UTC).Add(6 * time.Hour)}
	s := Subject{Life: wheel.NewLife(wheel.Wheel{}, m, nil, time.UTC, nil), Loc: time.UTC}
	const hour, whole = time.Hour, 24 * time.Hour
	for _, c := range []struct {
		name string
		job  wheel.Job
		age  int
		want time.Duration
	}{
		{"by the clock on the make's own day", wheel.Turn, 0, hour},
		{"twice a day after it", wheel.Turn, 1, 12 * hour},
		{"until its window closes", wheel.Turn, 7, 12 * hour},
		{"weekly then", wheel.Turn, 8, 7 * whole},
		{"at listed ages, the nearest two", wheel.Taste, 100, 30 * whole},
		{"once", wheel.Pierce, 30, whole},
		{"not in the plan", wheel.Brush, 30, whole},
	} {
		if got := s.Interval(p, c.job, date+day.Date(c.age)); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	for j, want := range map[wheel.Job]time.Duration{wheel.Turn: 7 * whole, wheel.Taste: 30 * whole, wheel.Pierce: whole} {
		if got := p.LongestInterval(j); got != want {
			t.Errorf("longest of %s: %v, want %v", j, got, want)
		}
	}
}
