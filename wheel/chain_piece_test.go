package wheel

import (
	"fmt"
	"math"
	"testing"
	"time"

	"rindkeep/cave/quantity"
)

func TestAPieceSentIsNoLoss(t *testing.T) {
	at := func(days float64) time.Time {
		return time.Date(2026, 11, 10, 8, 0, 0, 0, time.UTC).Add(time.Duration(days*24) * time.Hour)
	}
	weighed := func(day float64, g quantity.Grams) Entry { return Entry{Kind: Weighed, At: at(day), Weight: g} }
	sent := func(day float64, g quantity.Grams) Entry { return Entry{Kind: SentPart, At: at(day), Weight: g} }
	cut := func(day float64, before, after, removed quantity.Grams) Entry {
		return Entry{Kind: Cut, At: at(day), Before: before, Weight: after, Removed: removed}
	}
	for _, c := range []struct {
		name    string
		entries []Entry
		losses  string // percent
		present string // g, day
	}{
		// 1000 of 2000 g gone at the instant of a weighing: 490 of 500 left after.
		{"a piece sent as the wheel was weighed",
			[]Entry{weighed(0, 2000), weighed(4, 1960), sent(4, 980), weighed(8, 960.4)}, "0.00 2.00 3.96", "960.4 8"},
		{"two pieces", []Entry{weighed(0, 2000), sent(0, 500), sent(0, 500), weighed(4, 980)}, "0.00 2.00", "980.0 4"},
		{"a piece that a cut took before is taken once",
			[]Entry{weighed(0, 2000), cut(0, 2000, 1000, 0), sent(1, 1000), weighed(4, 980)}, "0.00 0.00 2.00", "980.0 4"},
		{"a piece out of a greater cut, and the rest of it", []Entry{weighed(0, 2000), cut(0, 2000, 1000, 0), sent(1, 600),
			sent(2, 400), weighed(4, 980)}, "0.00 0.00 2.00", "980.0 4"},
		{"a piece greater than the cut before it",
			[]Entry{weighed(0, 2000), cut(0, 2000, 1500, 0), sent(0, 1000), weighed(4, 980)}, "0.00 0.00 2.00", "980.0 4"},
		{"a piece of a cut that nobody weighed", []Entry{weighed(0, 2000), cut(0, 0, 0, 0), sent(0, 1000)}, "0.00",
			"2000.0 0"},
		{"after the last weight it is off what is here", []Entry{weighed(0, 2000), weighed(4, 1960), sent(4, 400)},
			"0.00 2.00", "1560.0 4"},
		{"a piece before the first weight", []Entry{sent(0, 400), weighed(1, 1600), weighed(4, 1568)}, "0.00 2.00",
			"1568.0 3"},
		{"all of it, in pieces", []Entry{weighed(0, 2000), sent(0, 1000), sent(0, 1000)}, "0.00", "1000.0 0"},
	} {
		ch := Link(c.entries, nil)
		losses := ""
		for i, p := range ch.Points {
			if i > 0 {
				losses += " "
			}
			losses += fmt.Sprintf("%.2f", p.Loss().Percent())
		}
		net, day := ch.Present()
		if present := fmt.Sprintf("%.1f %g", float64(net), day); losses != c.losses || present != c.present {
			t.Errorf("%s: losses %s, present %s; want %s and %s", c.name, losses, present, c.losses, c.present)
		}
		if math.IsNaN(float64(ch.Of(1))) || math.IsInf(float64(ch.Of(1)), 0) {
			t.Errorf("%s: a weight of 1 g would be a loss of %v", c.name, ch.Of(1))
		}
	}
	if net, day := (Chain{}).Present(); net != 0 || day != 0 {
		t.Errorf("a wheel never weighed has %v g on day %v", net, day)
	}
}
