package verdict

import (
	"reflect"
	"testing"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
)

func TestWindowsOfAWheelNobodyAsksAbout(t *testing.T) {
	b := drying6()
	b.on(5, wheel.Entry{Kind: wheel.CoatedOn, Coat: "wax", Before: 1936, Weight: 2010})
	if w := b.of(t, DefaultGate()).Windows(); !reflect.DeepEqual(w, Shut()) {
		t.Errorf("coated: %+v", w)
	}
	b = drying6()
	b.on(6, wheel.Entry{Kind: wheel.Lost})
	if w := b.of(t, DefaultGate()).Windows(); !reflect.DeepEqual(w, Shut()) {
		t.Errorf("lost: %+v", w)
	}
	w := (&book{}).of(t, DefaultGate()).Windows()
	if want := (Windows{CoatFrom: day.None, CoatUntil: day.None, CheckFrom: day.None, WeighFrom: made + 1,
		WeighWhy: reason.List{NeverWeighed{}}}); !reflect.DeepEqual(w, want) {
		t.Errorf("never weighed: %+v", w)
	}
}

func TestWindowsOfAWheelOnItsWay(t *testing.T) {
	for _, c := range []struct {
		name                                    string
		book                                    *book
		gate                                    Gate
		coatFrom, coatUntil, checkFrom, weighIn [2]int // earliest and latest age; -1 for none
	}{
		{"figures met, not felt", drying6(), DefaultGate(), [2]int{-1, -1}, [2]int{-1, -1}, [2]int{5, 5}, [2]int{20, 20}},
		{"felt and sound", drying6().check(5, sound), DefaultGate(), [2]int{5, 5}, [2]int{7, 7}, [2]int{8, 8},
			[2]int{20, 20}},
		{"felt when the weight is nearly too old", drying6().check(18, sound), DefaultGate(), [2]int{18, 18}, [2]int{19, 19},
			[2]int{21, 21}, [2]int{20, 20}},
		{"felt when the weight is too old", drying6().check(20, sound), DefaultGate(), [2]int{-1, -1}, [2]int{-1, -1},
			[2]int{5, 5}, [2]int{20, 20}},
		{"an unlikely weight is weighed again, and nothing coated", func() *book {
			b := drying6().check(5, sound)
			b.weigh(5.5, 1700)
			return b
		}(), DefaultGate(), [2]int{-1, -1}, [2]int{-1, -1}, [2]int{-1, -1}, [2]int{6, 6}},
		{"felt damp: asked again next day", drying6().check(5, wheel.HandCheck{DryToTouch: wheel.No}), DefaultGate(),
			[2]int{-1, -1}, [2]int{-1, -1}, [2]int{6, 6}, [2]int{20, 20}},
		{"felt blown: asked again next day, never to be coated", drying6().check(5, blown), DefaultGate(), [2]int{-1, -1},
			[2]int{-1, -1}, [2]int{6, 6}, [2]int{-1, -1}},
		{"blown and felt sound since: still never to be coated", drying6().check(4, blown).check(5, sound), DefaultGate(),
			[2]int{-1, -1}, [2]int{-1, -1}, [2]int{6, 6}, [2]int{-1, -1}},
		{"blown and drier than is safe: still not to be coated",
			(&book{}).weights(2000, 1900, 1800, 1740).check(3, blown), DefaultGate(), [2]int{-1, -1}, [2]int{-1,
				-1}, [2]int{4, 4}, [2]int{-1, -1}},
		{"felt before the figures were met", drying6().check(3, sound), DefaultGate(), [2]int{5, 5}, [2]int{5, 5},
			[2]int{6, 6}, [2]int{20, 20}},
		{"felt so long before that it is stale", drying6().check(2, sound), DefaultGate(), [2]int{-1, -1}, [2]int{-1, -1},
			[2]int{5, 5}, [2]int{20, 20}},
		{"figures met before its days are over", drying6(), Gate{MinDays: 9, MaxSurface: 100, CheckDays: 2},
			[2]int{-1, -1}, [2]int{-1, -1}, [2]int{9, 9}, [2]int{-1, -1}},
		{"not yet: weighed again when the curve says so", (&book{}).weights(2000, 1990, 1981), DefaultGate(),
			[2]int{-1, -1}, [2]int{-1, -1}, [2]int{-1, -1}, [2]int{4, 9}},
		{"not in sight: weighed again in a week", (&book{}).weights(2000, 1999, 1999, 1998),
			Gate{MinLoss: 0.4, MaxSurface: 1, CheckDays: 2}, [2]int{-1, -1}, [2]int{-1, -1}, [2]int{-1, -1}, [2]int{10, 10}},
	} {
		w := c.book.of(t, c.gate).Windows()
		for name, f := range map[string]struct {
			got  day.Date
			want [2]int
		}{"coat from": {w.CoatFrom, c.coatFrom}, "coat until": {w.CoatUntil, c.coatUntil}, "check from": {w.CheckFrom,
			c.checkFrom}, "weigh from": {w.WeighFrom, c.weighIn}} {
			if f.want[0] < 0 && f.got.Known() || f.want[0] >= 0 &&
				(f.got < made+day.Date(f.want[0]) || f.got > made+day.Date(f.want[1])) {
				t.Errorf("%s: %s %q, want an age of %v: %+v", c.name, name, f.got, f.want, w)
			}
		}
	}
}
