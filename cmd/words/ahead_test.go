package words

import (
	"testing"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cmd/app/rooms"
)

func TestDaysExpectedAreWrittenShort(t *testing.T) {
	on := day.Of(2026, time.November, 26)
	for _, c := range []struct {
		now       bool
		low, high day.Date
		want      string
	}{
		{true, on, on, "now"},
		{false, on, on, "26 Nov"},
		{false, on - 1, on + 2, "26 Nov (25 to 28)"},
		{false, on - 1, on + 9, "26 Nov (25 to 5 Dec)"},
		{false, on - 1, on + 365, "26 Nov (25 to 26 Nov 2027)"},
		{false, on - 1, day.None, "26 Nov (25 or later)"},
	} {
		d := rooms.AheadDry{Now: c.now, AheadLot: rooms.AheadLot{On: on},
			Expected: rooms.AheadExpected{LowOn: c.low, HighOn: c.high}}
		if got := (Printer{}).CoatExpected(d); got != c.want {
			t.Errorf("expected from %s to %s: %q, want %q", c.low, c.high, got, c.want)
		}
	}
}
