package cli

import (
	"math"
	"testing"
)

// stockFound is what the tests look at of a stock list.
type stockFound struct {
	Date  string
	Lots  []stockFoundLot
	Total stockFoundLot
}

type stockFoundLot struct {
	Lot    string
	Wheels int
	Mass   struct{ Best, Low, High float64 } `json:"mass_kg"`
	Held   int
	ByHand int `json:"held_by_hand"`
	ByLaw  int `json:"held_by_law"`
	Ready  int
	Free   int `json:"ready_and_not_held"`
}

func (w *world) stock(line string) (d stockFound) {
	w.t.Helper()
	w.doc(&d, "stock "+line)
	return d
}

func TestStockCountsWhatIsHereWhatIsHeldAndWhatMayGo(t *testing.T) {
	w := newWorld(t)
	w.must("book new --country US --quiet")
	w.must("room new cellar --temp 12C --rh 85% --quiet")
	w.must("make new --variety tomme --lot raw --wheels 3 --weight 1.6kg --treatment raw --place cellar --on 2026-10-20 " +
		"--quiet")
	w.must("make new --variety tomme --lot old --wheels 3 --weight 1.6kg --treatment pasteurised --place cellar --on " +
		"2026-07-01 --quiet")
	w.must("wheel hold raw-01,old-01 --why tests --quiet")
	w.must("wheel send old-02 --to Shop --quiet")
	type line struct {
		Lot                                          string
		Wheels, Held, ByHand, ByLaw, Ready, Released int
	}
	lines := func(d stockFound) (out []line) {
		for _, l := range append(d.Lots, d.Total) {
			out = append(out, line{l.Lot, l.Wheels, l.Held, l.ByHand, l.ByLaw, l.Ready, l.Free})
		}
		return out
	}
	same(t, "the stock today", lines(w.stock("")),
		[]line{{"old", 2, 1, 1, 0, 2, 1}, {"raw", 3, 3, 1, 3, 0, 0}, {"", 5, 4, 2, 3, 2, 1}})
	same(t, "the stock in half a year: nobody read the room, so the law's days aren't served",
		lines(w.stock("--on 2027-05-01")),
		[]line{{"old", 2, 1, 1, 0, 2, 1}, {"raw", 3, 3, 1, 3, 3, 0}, {"", 5, 4, 2, 3, 5, 1}})
	same(t, "the stock before the second lot was made", lines(w.stock("--on 2026-10-01")),
		[]line{{"old", 3, 0, 0, 0, 3, 3}, {"", 3, 0, 0, 0, 3, 3}})
	same(t, "the stock of a room where nothing lies", lines(w.stock("--variety edam")), []line{{}})
}

func TestStockWeighsWhatIsLeftAndLessOfItLater(t *testing.T) {
	w := newWorld(t).kept()
	all := w.stock("").Total.Mass
	// Weighed on the 17th at 2050, 2044, 2057, 2035 g, drying since.
	if !(all.Low < all.Best && all.Best < all.High && all.Best < 8.186 && all.Best > 8) {
		t.Errorf("four wheels of 8.186 kg eight days ago now weigh %+v", all)
	}
	if later := w.stock("--on +60d").Total.Mass; !(later.Best < all.Best && later.High-later.Low > all.High-all.Low) {
		t.Errorf("in two months they weigh %+v, and now %+v; it should be less and less sure", later, all)
	}
	w.must("wheel cut 261110A-02 --removed 1000g --at 2026-11-24T10:00 --quiet")
	if left := w.stock("").Total.Mass.Best; math.Abs(all.Best-left-1) > 0.002 {
		t.Errorf("with 1 kg cut off %v kg are left of %v", left, all.Best)
	}
	all = w.stock("").Total.Mass
	w.must("wheel send 261110A-02 --part --weight 900g --to Shop --quiet") // out of the cut
	same(t, "the stock when a piece goes that was cut off before", w.stock("").Total.Mass, all)
	w.must("wheel send 261110A-01 --part --weight 500g --to Shop --quiet")
	if left := w.stock("").Total.Mass.Best; math.Abs(all.Best-left-0.5) > 0.002 {
		t.Errorf("with 500 g gone %v kg are left of %v", left, all.Best)
	}
	w.must("weigh 261110A-01 1525 --quiet") // 2050 g on the 17th, 500 g of it gone
	w.sound()
}
