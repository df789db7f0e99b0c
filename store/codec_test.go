package store

import (
	"bytes"
	"encoding/hex"
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/schedule"
	"rindkeep/store/layout"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

var (
	idA = uuid.MustParse("01932e4f-8c00-7000-8000-0000000000aa")
	idB = uuid.MustParse("01932e4f-8c00-7000-8000-0000000000bb")
	idC = uuid.MustParse("01932e4f-8c00-7000-8000-0000000000cc")
)

func milliAt(ms int64) time.Time { return time.UnixMilli(ms).UTC() }

func FuzzDecodeDerived(f *testing.F) {
	f.Add(encodeTask(sampleTask()), encodeState(sampleStanding()))
	f.Fuzz(func(t *testing.T, task, standing []byte) {
		if x, err := decodeTask(layout.Slot{Due: 20000, Rank: 3}, "cellar", idA, task); err == nil {
			y, err := decodeTask(layout.Slot{Due: 20000, Rank: 3}, "cellar", idA, encodeTask(x))
			if err != nil || !cmp.Equal(x, y) && !math.IsNaN(x.Minutes) {
				t.Fatalf("%+v came back as %+v, %v", x, y, err)
			}
		}
		if x, err := decodeState(idA, standing); err == nil {
			if y, err := decodeState(idA, encodeState(x)); err != nil || !cmp.Equal(x, y, cmp.AllowUnexported(WheelState{},
				layout.Slot{})) {
				t.Fatalf("%+v came back as %+v, %v", x, y, err)
			}
		}
		layout.SplitDueKey(task)
		decodeReading(task, standing)
	})
}

func sampleTask() Task {
	return Task{
		Task: schedule.Task{
			Job: wheel.Coat, Due: 20418, Until: 20420, Rounds: 2, Round: 2, RoundOn: 20418, Minutes: 0.25, Slack: 1, Coat: "wax",
			To: "fridge", Why: reason.List{verdict.DryAndSound{}, verdict.Lost{Share: 0.031}}, Step: 3,
		},
		Wheel: idA, Tag: "261120A-03", Lot: "261120A", Variety: "cheddar-waxed", Number: 3, Place: "cellar/A/1",
		Plan: "waxed-hard",
	}
}

func sampleStanding() WheelState {
	return WheelState{
		Wheel: idA, Make: idB, Tag: "261120A-03", Place: "cellar/A/1", Plan: "waxed-hard", Gone: day.None,
		Last:  milliAt(1764057600000),
		gated: true, closed: 20400, slots: []layout.Slot{{Due: 20418, Rank: 11}, {Due: 20419, Rank: 3, Seq: 1}},
		windows: verdict.Windows{CoatFrom: 20418, CoatUntil: 20420, CheckFrom: day.None, WeighFrom: 20421,
			CoatWhy: reason.List{verdict.DryAndSound{}}, CheckWhy: reason.List{verdict.CheckStale{}}},
	}
}

func TestTasksAndStandingsComeBackWhole(t *testing.T) {
	want := sampleTask()
	for _, lot := range []string{"261120A", "another", "", "261120A-03"} {
		want.Lot = lot
		for _, until := range []day.Date{day.None, 20418, 20419, 20000, -5} {
			want.Until = until
			got, err := decodeTask(layout.Slot{Due: want.Due, Rank: 11}, want.Place, want.Wheel, encodeTask(want))
			if err != nil || !cmp.Equal(got, want) {
				t.Fatalf("got  %+v, %v\nwant %+v", got, err, want)
			}
		}
	}
	s := sampleStanding()
	got, err := decodeState(s.Wheel, encodeState(s))
	if d := cmp.Diff(s, got, cmp.AllowUnexported(WheelState{}, layout.Slot{})); err != nil || d != "" {
		t.Fatal(err, d)
	}
}

// TestAStandingFromBeforeSuppliersIsRead has one as version 4 wrote it, which a machine that
// may not make the index again still reads.
func TestAStandingFromBeforeSuppliersIsRead(t *testing.T) {
	old, err := hex.DecodeString("040001932e4f8c00700080000000000000bb0a323631313230412d30330a63656c6c61722f412f310a" +
		"77617865642d686172640080c0b6a0d766e1be020185bf0289bf02008bbf020168016e000101010000000000000000000000000000" +
		"00000285bf020b0087bf020301")
	if err != nil {
		t.Fatal(err)
	}
	want := sampleStanding()
	got, err := decodeState(want.Wheel, old)
	if d := cmp.Diff(want, got, cmp.AllowUnexported(WheelState{}, layout.Slot{})); err != nil || d != "" {
		t.Error(err, d)
	}
}

func TestDueKeysSortByDateThenPlaceThenJob(t *testing.T) {
	in := []struct {
		s     layout.Slot
		place string
	}{
		{layout.Slot{Due: -3, Rank: 9}, "z"}, {layout.Slot{Due: 0}, "b"}, {layout.Slot{Due: 20418, Rank: 1}, ""},
		{layout.Slot{Due: 20418, Rank: 5}, "cellar"}, {layout.Slot{Due: 20418, Rank: 2}, "cellar/A/1"},
		{layout.Slot{Due: 20418, Rank: 3},
			"cellar/A/1"},
		{layout.Slot{Due: 20418}, "fridge"}, {layout.Slot{Due: 30000}, "a"},
	}
	var last []byte
	for _, x := range in {
		k := layout.DueKey(x.s, placeOf(x.place), idA)
		if bytes.Compare(last, k) >= 0 {
			t.Errorf("%v does not sort after what came before", x)
		}
		last = k
		s, p, w, ok := layout.SplitDueKey(k)
		if !ok || s != x.s || string(p) != x.place || w != idA {
			t.Errorf("%v came back as %v %q %v", x, s, p, w)
		}
	}
}
