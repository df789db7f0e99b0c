package derive

import (
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
)

func milliAt(ms int64) time.Time { return time.UnixMilli(ms).UTC() }

func FuzzDecodeDerived(f *testing.F) {
	f.Add(EncodeTask(sampleTask()), EncodeState(sampleStanding()))
	f.Fuzz(func(t *testing.T, task, standing []byte) {
		if x, err := DecodeTask(layout.Slot{Due: 20000, Rank: 3}, "cellar", idA, task); err == nil {
			y, err := DecodeTask(layout.Slot{Due: 20000, Rank: 3}, "cellar", idA, EncodeTask(x))
			if err != nil || !cmp.Equal(x, y) && !math.IsNaN(x.Minutes) {
				t.Fatalf("%+v came back as %+v, %v", x, y, err)
			}
		}
		if x, err := DecodeState(idA, standing); err == nil {
			if y, err := DecodeState(idA, EncodeState(x)); err != nil || !cmp.Equal(x, y) {
				t.Fatalf("%+v came back as %+v, %v", x, y, err)
			}
		}
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
		Gated: true, Closed: 20400, Slots: []layout.Slot{{Due: 20418, Rank: 11}, {Due: 20419, Rank: 3, Seq: 1}},
		Windows: verdict.Windows{CoatFrom: 20418, CoatUntil: 20420, CheckFrom: day.None, WeighFrom: 20421,
			CoatWhy: reason.List{verdict.DryAndSound{}}, CheckWhy: reason.List{verdict.CheckStale{}}},
	}
}

func TestTasksAndStandingsComeBackWhole(t *testing.T) {
	want := sampleTask()
	for _, lot := range []string{"261120A", "another", "", "261120A-03"} {
		want.Lot = lot
		for _, until := range []day.Date{day.None, 20418, 20419, 20000, -5} {
			want.Until = until
			got, err := DecodeTask(layout.Slot{Due: want.Due, Rank: 11}, want.Place, want.Wheel, EncodeTask(want))
			if err != nil || !cmp.Equal(got, want) {
				t.Fatalf("got  %+v, %v\nwant %+v", got, err, want)
			}
		}
	}
	s := sampleStanding()
	got, err := DecodeState(s.Wheel, EncodeState(s))
	if d := cmp.Diff(s, got); err != nil || d != "" {
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
	got, err := DecodeState(want.Wheel, old)
	if d := cmp.Diff(want, got); err != nil || d != "" {
		t.Error(err, d)
	}
}

func TestATaskWithTimesComesBackWhole(t *testing.T) {
	want := sampleTask()
	for _, times := range [][]int{nil, {0}, {540, 660, 1439}, {1500}} {
		want.Times = times
		got, err := DecodeTask(layout.Slot{Due: want.Due, Rank: 11}, want.Place, want.Wheel, EncodeTask(want))
		if d := cmp.Diff(want, got); err != nil || d != "" {
			t.Errorf("%v (-want +got): %v\n%s", times, err, d)
		}
	}
	if _, err := DecodeTask(layout.Slot{}, "", idA, append(EncodeTask(sampleTask()), 0)); err == nil {
		t.Error("a task of no times but their number is read")
	}
	if _, err := DecodeTask(layout.Slot{}, "", idA, append(EncodeTask(sampleTask()), 3, 1)); err == nil {
		t.Error("a task whose times are cut off is read")
	}
}
