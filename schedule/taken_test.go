package schedule

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"rindkeep/wheel"
)

// A wheel that came at 30 days of age: what was done before isn't known, and nothing
// is late on the day it came or the next.
func TestThePlanStartsWhenAWheelIsTakenOver(t *testing.T) {
	k := keep(t, `
[[step]]
job = "turn"
per_day = 2

[[step]]
job = "brush"
every = "7d"

[[step]]
job = "wash"
every = "3d"
from_day = 40

[[step]]
job = "salt"

[[step]]
job = "taste"
days = [10, 45]
`)
	k.since = made + 30
	k.at(30, 9, 0, wheel.Entry{Kind: wheel.TakenOver})
	for age, want := range map[int][]string{
		29: {}, 30: {}, 31: {"turn 1/2"}, 37: {"brush", "turn 1/2 late 6"},
		45: {"taste", "brush late 8", "wash late 5", "turn 1/2 late 14"},
	} {
		got := k.list(age)
		less := func(l []string) map[string]bool {
			m := map[string]bool{}
			for _, s := range l {
				m[s] = true
			}
			return m
		}
		if diff := cmp.Diff(less(want), less(got)); diff != "" {
			t.Errorf("at %d days (-want +got)\n%s", age, diff)
		}
	}

	// The last time is known: it counts from then, and isn't late on the day.
	k.did(25, 9, wheel.Turn)
	k.did(20, 9, wheel.Brush)
	if diff := cmp.Diff([]string{"turn 1/2", "brush"}, k.list(30)); diff != "" {
		t.Errorf("with the last times known (-want +got)\n%s", diff)
	}
}
