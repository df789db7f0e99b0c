package store

import (
	"bytes"
	"context"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/schedule"
	"rindkeep/store/register"
	"rindkeep/wheel"
)

// pressPlan turns cheese in the press an hour and three hours after its make
// began.
const pressPlan = `name = "pressed"
title = "Turned in the press"

[[step]]
job           = "turn"
minutes_after = [60, 180]
note          = "straight cloth"
`

// pressLot is a lot of today under pressPlan, begun at eight where began.
func (f *farm) pressLot(lot string, began bool) (wheel.Make, []wheel.Wheel) {
	f.t.Helper()
	m, ws := lotOf(f.t, lot, "2026-11-25", 2, "cellar")
	if began {
		m.Began = at(f.t, "2026-11-25 08:00")
	}
	for i := range ws {
		ws[i].Plan = "pressed"
	}
	f.update(func(tx *WriteTx) error {
		if _, err := register.Plans.Put(tx.Writer, "press.toml", []byte(pressPlan)); err != nil {
			return err
		}
		if err := tx.PutMake(m); err != nil {
			return err
		}
		return tx.AddWheels(ws)
	})
	return m, ws
}

func (f *farm) lineOf(m uuid.UUID, when string, l wheel.MakeLog) wheel.Entry {
	e := f.entry(m, wheel.Logged, when)
	e.Detail = l.Detail()
	return e
}

// times are the tasks of a tag on a date.
func (f *farm) times(date, tag string) []schedule.Task {
	out := []schedule.Task{}
	for _, d := range f.due(date) {
		if d.Tag == tag {
			out = append(out, d.Task)
		}
	}
	return out
}

func TestTheIndexCarriesTheTimesOfAMakesDay(t *testing.T) {
	f := newFarm(t)
	_, ws := f.pressLot("261125A", true)
	today := day.Of(2026, 11, 25)
	task := schedule.Task{
		Job: wheel.Turn, Due: today, Until: today + 1, Rounds: 2, Round: 1, RoundOn: day.None, Minutes: 0.25,
		Why: reason.List{schedule.MakeDay{}, schedule.Rounds{Times: 2}}, Step: 1, Times: []int{9 * 60, 11 * 60},
	}
	want := func(what string, w ...schedule.Task) {
		t.Helper()
		if d := cmp.Diff(append([]schedule.Task{}, w...), f.times("2026-11-25", ws[0].Tag)); d != "" {
			t.Errorf("%s (-want +got):\n%s", what, d)
		}
		f.clean()
	}
	want("nothing done", task)

	did := f.did(ws[0].ID, wheel.Turn, "2026-11-25 08:58")
	f.put(did)
	half := task
	half.Round, half.RoundOn = 2, today
	half.Why = reason.List{schedule.MakeDay{}, schedule.DoneOf{Done: 1, Of: 2, On: day.None}}
	want("one done", half)
	if r := f.put(did); r != (Result{Repeated: 1}) {
		t.Errorf("sent twice: %+v", r)
	}
	want("sent twice", half)

	strike := f.entry(ws[0].ID, wheel.Struck, "2026-11-25 08:59")
	strike.Target = did.ID
	f.put(strike)
	want("struck", task)

	held := f.entry(ws[0].ID, wheel.Held, "2026-11-25 08:30")
	held.Note = "test pending"
	f.put(held)
	want("held, and turned all the same", task)

	if err := f.putErr(f.did(ws[0].ID, wheel.Turn,
		"2026-11-25 11:00")); err.Error() != "261125A-01: time-in-future {At:2026-11-25 11:00:00 +0000 GMT}" {
		t.Error(err)
	}
	lost := f.entry(ws[0].ID, wheel.Lost, "2026-11-25 08:59")
	f.put(lost)
	want("gone")
}

func TestTheFirstMilkBeginsTheMake(t *testing.T) {
	f := newFarm(t)
	m, ws := f.pressLot("261125A", false)
	clocks := func() []int {
		t.Helper()
		f.clean()
		var out []int
		for _, x := range f.times("2026-11-25", ws[1].Tag) {
			out = append(out, x.Times...)
		}
		return out
	}
	if got := clocks(); got != nil {
		t.Errorf("nobody said when it began: %v", got)
	}
	milk := func(when string) wheel.Entry {
		return f.lineOf(m.ID, when, wheel.MakeLog{What: wheel.LogMilk, Litres: 40})
	}
	second, first := milk("2026-11-25 08:00"), milk("2026-11-25 07:30")
	f.put(second)
	if d := cmp.Diff([]int{540, 660}, clocks()); d != "" {
		t.Errorf("with milk at eight (-want +got):\n%s", d)
	}
	f.put(first) // written down after the later one
	if d := cmp.Diff([]int{510, 630}, clocks()); d != "" {
		t.Errorf("with milk at half past seven (-want +got):\n%s", d)
	}
	strike := f.entry(m.ID, wheel.Struck, "2026-11-25 08:30")
	strike.Target = first.ID
	f.put(strike)
	if d := cmp.Diff([]int{540, 660}, clocks()); d != "" {
		t.Errorf("that milk struck (-want +got):\n%s", d)
	}
}

func TestAMakeBeginsOnItsOwnDayAndNotInTheFuture(t *testing.T) {
	f := newFarm(t)
	for _, c := range []struct{ name, date, began, want string }{
		{"the day before", "2026-11-25", "2026-11-24 23:00", "X: began-on-another-day {On:2026-11-24 Made:2026-11-25}"},
		{"this afternoon", "2026-11-25", "2026-11-25 15:00", "X: time-in-future {At:2026-11-25 15:00:00 +0000 GMT}"},
		{"this morning", "2026-11-25", "2026-11-25 08:00", ""},
	} {
		m, _ := lotOf(t, "X", c.date, 0, "")
		m.Began = at(t, c.began)
		got := ""
		if err := f.book.Update(func(tx *WriteTx) error { return tx.PutMake(m) }); err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

func TestALabsCompositionStandsForTheMakesFromThenOn(t *testing.T) {
	f := newFarm(t)
	m, ws := f.lot("261110A", "2026-11-10", 2, "cellar")
	f.put(f.weighed(ws[0].ID, "2026-11-11 08:00", 2000), f.weighed(ws[0].ID, "2026-11-14 08:00", 1960))
	usual := wheel.Composition{Moisture: 0.38, MoistureSD: 0.015, Fat: 0.32, Salt: 0.017, PH: 5.3}
	lab := f.lineOf(m.ID, "2026-11-20 10:00",
		wheel.MakeLog{What: wheel.LogComposition, Moisture: 0.36, SD: 0.003, Salt: 0.018})
	measured := wheel.Composition{Moisture: 0.36, MoistureSD: 0.003, Fat: 0.32, Salt: 0.018, PH: 5.3, Measured: true}
	want := func(what, before string, w wheel.Composition) {
		t.Helper()
		f.view(func(tx *ReadTx) error {
			k, err := tx.CaseBefore(ws[0].ID, at(t, before))
			if err != nil {
				return err
			}
			if d := cmp.Diff(w, k.Life.Make.Start); d != "" {
				t.Errorf("%s (-want +got):\n%s", what, d)
			}
			if got := k.Subject().Cheese.Moisture; got != w.Moisture {
				t.Errorf("%s: the drying model starts at %v, want %v", what, got, w.Moisture)
			}
			q, err := tx.CaseAlone(ws[0].ID)
			if now := at(t, before).After(at(t, "2026-11-24 00:00")); now && q.Life.Make.Start != w {
				t.Errorf("%s, in a load of many: %+v, want %+v", what, q.Life.Make.Start, w)
			}
			return err
		})
		f.clean()
	}
	now := "2026-11-25 09:00"
	want("nothing measured", now, usual)
	f.put(lab)
	want("measured", now, measured)
	want("as it stood before it was measured", "2026-11-20 09:00", usual)
	if r := f.put(lab); r != (Result{Repeated: 1}) {
		t.Errorf("sent twice: %+v", r)
	}
	// Out of order: an earlier one does not take the later one's place.
	f.put(f.lineOf(m.ID, "2026-11-19 10:00", wheel.MakeLog{What: wheel.LogComposition, Moisture: 0.41, Fat: 0.31}))
	both := measured
	both.Fat = 0.31
	want("an earlier one written later", now, both)
	if err := f.putErr(f.lineOf(m.ID, "2026-11-26 10:00", wheel.MakeLog{What: wheel.LogComposition,
		Moisture: 0.4})); err.Error() != "lot 261110A: time-in-future {At:2026-11-26 10:00:00 +0000 GMT}" {
		t.Error(err)
	}
	wrong := f.lineOf(ws[0].ID, "2026-11-20 10:00", wheel.MakeLog{What: wheel.LogComposition, Moisture: 0.4})
	if err := f.putErr(wrong); err.Error() != "261110A-01: for-a-make" {
		t.Error(err)
	}
	strike := f.entry(m.ID, wheel.Struck, "2026-11-25 08:30")
	strike.Target = lab.ID
	f.put(strike)
	old := wheel.Composition{Moisture: 0.41, MoistureSD: 0.005, Fat: 0.31, Salt: 0.017, PH: 5.3, Measured: true}
	want("struck: the earlier one counts again", now, old)
}

// A drier cheese reaches the moisture its variety is coated at sooner: the dry
// gate is judged again when the lab's figure comes, and when it is struck.
func TestALabsMoistureOpensTheGate(t *testing.T) {
	f := newFarm(t)
	m, ws := f.lot("261115A", "2026-11-15", 1, "cellar")
	w := ws[0].ID
	for i, g := range []float64{2000, 1985, 1972, 1962, 1954, 1948, 1943, 1939} {
		f.put(f.weighed(w, (day.Of(2026, 11, 16)+day.Date(i)).String()+" 08:00", g))
	}
	check := f.entry(w, wheel.Checked, "2026-11-25 08:00")
	check.Found = wheel.HandCheck{DryToTouch: wheel.Yes, Cracks: wheel.No}
	f.put(check)
	moist := f.lineOf(m.ID, "2026-11-25 08:10",
		wheel.MakeLog{What: wheel.LogComposition, Moisture: quantity.FromPercent(42), SD: quantity.FromPercent(0.2)})
	coats := func() bool {
		return len(f.jobs("2026-11-25", ws[0].Tag)) > 0 && cmp.Equal(filterJobs(f.jobs("2026-11-25", ws[0].Tag), wheel.Coat),
			[]wheel.Job{wheel.Coat})
	}
	if !coats() {
		t.Fatalf("dry enough by its variety's figure, and listed is %v", f.jobs("2026-11-25", ws[0].Tag))
	}
	f.put(moist)
	f.clean()
	if coats() {
		t.Error("wetter than was thought, and still to be coated")
	}
	strike := f.entry(m.ID, wheel.Struck, "2026-11-25 08:30")
	strike.Target = moist.ID
	f.put(strike)
	f.clean()
	if !coats() {
		t.Error("the figure was struck, and the coat is not listed again")
	}
}

func filterJobs(js []wheel.Job, j wheel.Job) []wheel.Job {
	var out []wheel.Job
	for _, x := range js {
		if x == j {
			out = append(out, x)
		}
	}
	return out
}

func TestBeginningAndCompositionGoOutAndComeIn(t *testing.T) {
	f := newFarm(t)
	m, ws := f.pressLot("261125A", true)
	f.put(f.lineOf(m.ID, "2026-11-25 08:50", wheel.MakeLog{What: wheel.LogComposition, Moisture: 0.36, Fat: 0.33,
		PH: 5.1}), f.did(ws[1].ID, wheel.Turn, "2026-11-25 08:55"))
	var out bytes.Buffer
	if err := Above.Export(context.Background(), f.book, &out); err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(t.TempDir(), "again.book")
	if err := Above.Import(context.Background(), to, bytes.NewReader(out.Bytes()), Options{Now: f.clock.now}); err != nil {
		t.Fatal(err)
	}
	b, err := Open(to, Read, Options{Now: f.clock.now})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	wantClean(t, b)
	if d := cmp.Diff(f.dump(), dumpBook(t, b)); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
	before := f.times("2026-11-25", ws[1].Tag)
	if err := f.book.Rebuild(t.Context()); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(before, f.times("2026-11-25", ws[1].Tag)); d != "" {
		t.Errorf("rebuilt (-want +got):\n%s", d)
	}
}
