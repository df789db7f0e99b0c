package store

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/store/derive"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
)

// idC is an identity that no book has.
var idC = uuid.MustParse("01932e4f-8c00-7000-8000-0000000000cc")

func TestTheBookRefusesWhatCannotBe(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261120A", "2026-11-20", 2, "cellar")
	w, other := ws[0].ID, ws[1].ID
	turned := f.did(w, wheel.Turn, "2026-11-24 08:00")
	f.put(turned)
	gone := f.entry(other, wheel.Sent, "2026-11-23 10:00")
	gone.To = "the shop"
	f.put(gone)

	with := func(e wheel.Entry, change func(*wheel.Entry)) wheel.Entry { change(&e); return e }
	cases := []struct {
		name string
		e    wheel.Entry
		want string
	}{
		{"a time before the make", f.weighed(w, "2026-11-19 23:59", 2000),
			"261120A-01: before-make {On:2026-11-19 Made:2026-11-20}"},
		{"a time in the future", f.weighed(w, "2026-11-25 09:03", 2000),
			"261120A-01: time-in-future {At:2026-11-25 09:03:00 +0000 GMT}"},
		{"written in the future",
			with(f.weighed(w, "2026-11-25 08:00", 2000), func(e *wheel.Entry) { e.Written = e.Written.Add(5 * time.Hour) }),
			"261120A-01: time-in-future {At:2026-11-25 13:00:00 +0000 GMT}"},
		{"a weight of nothing", f.weighed(w, "2026-11-24 08:00", 0), "261120A-01: missing {What:weight}"},
		{"a wheel nobody knows", f.weighed(idC, "2026-11-24 08:00", 2000), `not-found wheel "` + idC.String() + `"`},
		{"a wheel that is gone", f.weighed(other, "2026-11-24 08:00", 2000), "261120A-02: gone {How:sent On:2026-11-23}"},
		{"a wheel lost before it was sent", f.entry(other, wheel.Lost, "2026-11-22 10:00"),
			"261120A-02: gone {How:sent On:2026-11-23}"},
		{"a room nobody knows", with(f.entry(w, wheel.Moved, "2026-11-24 08:00"),
			func(e *wheel.Entry) { e.Place = "celar/A/1" }), `261120A-01: not-found room "celar"`},
		{"a place written otherwise", with(f.entry(w, wheel.Moved, "2026-11-24 08:00"),
			func(e *wheel.Entry) { e.Place = "cellar/" }), `261120A-01: place-spelled-otherwise {Word:cellar/ As:cellar}`},
		{"a plan nobody knows", with(f.entry(w, wheel.Planned, "2026-11-24 08:00"),
			func(e *wheel.Entry) { e.Plan = "waxed-hrd" }), `261120A-01: not-found plan "waxed-hrd"`},
		{"a coat nobody knows", with(f.entry(w, wheel.CoatedOn, "2026-11-24 08:00"), func(e *wheel.Entry) { e.Coat = "tar" }),
			`261120A-01: unknown {What:coat Word:tar Known:wax, cloth, oil, breathable, foil, film}`},
		{"a tag in use", with(f.entry(w, wheel.Tagged, "2026-11-24 08:00"), func(e *wheel.Entry) { e.Tag = "261120a-02" }),
			`261120A-01: taken {What:tag Name:261120a-02}`},
		{"a tag that turns the terminal",
			with(f.entry(w, wheel.Tagged, "2026-11-24 08:00"), func(e *wheel.Entry) { e.Tag = "\x1b[2J" }),
			"261120A-01: unprintable {What:tag Char:27 Byte:1}"},
		{"a note of ten kilobytes", with(f.entry(w, wheel.Noted, "2026-11-24 08:00"), func(
			e *wheel.Entry) {
			e.Note = strings.Repeat("x", 10000)
		}), "261120A-01: text-too-long {What:note Has:10000 Most:2000}"},
		{"an empty note", f.entry(w, wheel.Noted, "2026-11-24 08:00"), "261120A-01: missing {What:note}"},
		{"a strike at nothing", with(f.entry(w, wheel.Struck, "2026-11-24 08:00"), func(e *wheel.Entry) { e.Target = idC }),
			"261120A-01: no-entry-to-strike"},
		{"a strike at another wheel's entry", with(f.entry(w, wheel.Struck, "2026-11-24 08:00"),
			func(e *wheel.Entry) { e.Target = gone.ID }), "261120A-01: no-entry-to-strike"},
		{"the same identity with another content", with(turned, func(e *wheel.Entry) { e.Job = wheel.Brush }),
			"261120A-01: entry-differs {Was:turned}"},
		{"a job for a make", with(f.did(ws[0].Make, wheel.Turn, "2026-11-24 08:00"), func(*wheel.Entry) {}),
			"lot 261120A: for-a-wheel {What:turned}"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			err := f.putErr(c.e)
			if err.Error() != c.want && !strings.HasSuffix(err.Error(), c.want) {
				t.Errorf("got  %s\nwant %s", err, c.want)
			}
			var r refusal.Refused
			if !errors.As(err, &r) || r.Index != 0 {
				t.Errorf("%#v is no Refused of the first entry", err)
			}
		})
	}
	f.clean()
	var nf refusal.NotFound
	if err := f.putErr(cases[7].e); !errors.As(err, &nf) || !slices.Equal(nf.Near, []string{"cellar"}) {
		t.Errorf("an unknown room should suggest the cellar, got %+v", nf)
	}
}

func TestAListOfEntriesIsTakenWholeOrNotAtAll(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261120A", "2026-11-20", 3, "cellar")
	es := []wheel.Entry{
		f.weighed(ws[0].ID, "2026-11-21 08:00", 2000),
		f.weighed(ws[1].ID, "2026-11-19 08:00", 2000),
		f.weighed(ws[2].ID, "2026-11-21 08:00", 2000),
		f.weighed(ws[2].ID, "2026-12-21 08:00", 2000),
	}
	err := f.putErr(es...)
	var all refusal.Refusals
	if !errors.As(err, &all) || len(all) != 2 || all[0].Index != 1 || all[1].Index != 3 {
		t.Fatalf("want refusals of the second and fourth, got %#v", err)
	}
	f.view(func(tx *ReadTx) error {
		h, err := tx.History(ws[0].ID)
		if len(h) != 0 {
			t.Errorf("the good entries were written: %v", h)
		}
		return err
	})
	f.clean()
}

func TestTheSameEntryTwiceChangesNothing(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261120A", "2026-11-20", 2, "cellar")
	e := f.weighed(ws[0].ID, "2026-11-21 08:00", 2000)
	if r := f.put(e, e); r != (Result{Written: 1, Repeated: 1}) {
		t.Errorf("got %+v", r)
	}
	before := f.dump()
	again := e
	again.Written = again.Written.Add(time.Hour)
	again.By = "Ben"
	if r := f.put(e, again); r != (Result{Repeated: 2}) {
		t.Errorf("the same identity: got %+v", r)
	}
	other := e
	other.ID = newID(t)
	if r := f.put(other); r != (Result{Repeated: 1}) {
		t.Errorf("the same fact at the same instant: got %+v", r)
	}
	if f.dump() != before {
		t.Error("the book changed")
	}
	strike := f.entry(ws[0].ID, wheel.Struck, "2026-11-22 08:00")
	strike.Target = e.ID
	f.put(strike)
	if r := f.put(other); r != (Result{Written: 1}) {
		t.Errorf("after a strike the fact may be written again: got %+v", r)
	}
	if r := f.put(e, strike, other); r != (Result{Repeated: 3}) {
		t.Errorf("all of it sent once more: got %+v", r)
	}
	f.clean()
}

func TestStrikingACoatBringsBackTheTasks(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261110A", "2026-11-10", 2, "cellar")
	f.put(f.did(ws[0].ID, wheel.Turn, "2026-11-23 08:00"), f.weighed(ws[0].ID, "2026-11-23 08:05", 2000))
	tasks := func() (out []derive.Task) {
		f.view(func(tx *ReadTx) (err error) { out, err = tx.TasksOf(ws[0].ID); return err })
		return out
	}
	rounds := func(ts []derive.Task) int {
		for _, x := range ts {
			if x.Job == wheel.Turn {
				return x.Rounds
			}
		}
		return 0
	}
	before := tasks()
	if rounds(before) != 2 {
		t.Fatalf("an uncoated wheel is turned twice a day, not %+v", before)
	}
	coat := f.entry(ws[0].ID, wheel.CoatedOn, "2026-11-24 10:00")
	coat.Coat = "wax"
	f.put(coat)
	coated := tasks()
	if rounds(coated) != 1 {
		t.Errorf("a coated wheel is turned weekly, not %+v", coated)
	}
	strike := f.entry(ws[0].ID, wheel.Struck, "2026-11-25 08:00")
	strike.Target = coat.ID
	f.put(strike)
	if got := tasks(); !cmp.Equal(got, before) {
		t.Errorf("got %+v, want %+v", got, before)
	}
	f.clean()
	second := f.entry(ws[0].ID, wheel.Struck, "2026-11-25 08:01")
	second.Target = coat.ID
	if err := f.putErr(second); err.Error() != "261110A-01: struck-already {What:coated}" {
		t.Error(err)
	}
	second.Target = strike.ID
	f.put(second)
	if got := tasks(); !cmp.Equal(got, coated) {
		t.Errorf("the strike was struck, so the coat counts again: %+v", got)
	}
	f.clean()
}

func TestMovesAndTagsAreFollowed(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261120A", "2026-11-20", 3, "cellar")
	move := f.entry(ws[0].ID, wheel.Moved, "2026-11-24 08:00")
	move.Place = "fridge/B/2"
	a, b := f.entry(ws[1].ID, wheel.Tagged, "2026-11-24 08:00"), f.entry(ws[2].ID, wheel.Tagged, "2026-11-24 08:01")
	a.Tag, b.Tag = "261120A-03", "261120A-02" // the two swap their tags
	lost := f.entry(ws[2].ID, wheel.Lost, "2026-11-25 08:00")
	lost.Note = "fell"
	f.update(func(tx *WriteTx) error {
		if _, err := tx.Put(f.did(ws[1].ID, wheel.Turn, "2026-11-23 08:00"), f.did(ws[2].ID, wheel.Turn, "2026-11-23 08:00"),
			move); err != nil {
			return err
		}
		_, err := tx.Put(a, b, lost)
		return err
	})
	f.clean()
	f.view(func(tx *ReadTx) error {
		at, err := tx.WheelsAt("fridge")
		if err != nil || len(at) != 1 || at[0].Tag != "261120A-01" {
			t.Errorf("in the fridge: %v %v", at, err)
		}
		at, err = tx.WheelsAt("cellar")
		if err != nil || len(at) != 1 || at[0].Tag != "261120A-03" {
			t.Errorf("in the cellar: %v %v", at, err)
		}
		w, err := tx.WheelByTag("261120a-02")
		if err != nil || w.ID != ws[2].ID {
			t.Errorf("tag 02 is that of %v, %v", w.Number, err)
		}
		n, err := tx.ShelfCounts("fridge")
		if err != nil || !slices.Equal(n, []ShelfCount{{"fridge/B/2", 1}}) {
			t.Errorf("shelves of the fridge: %v %v", n, err)
		}
		c, err := tx.Counts()
		if want := (Counts{Makes: 1, Wheels: 3, Here: 2, Entries: 6, Rooms: 2}); c != want || err != nil {
			t.Errorf("got %+v %v, want %+v", c, err, want)
		}
		return nil
	})
	for _, d := range f.due("2026-11-25") {
		if d.Wheel == ws[2].ID {
			t.Errorf("a lost wheel is due %s", d.Job)
		}
		if d.Wheel == ws[0].ID && d.Place != "fridge/B/2" {
			t.Errorf("the moved wheel is due at %s", d.Place)
		}
	}
	back := f.entry(ws[0].ID, wheel.Tagged, "2026-11-25 08:30")
	back.Tag = "261120A-03"
	if err := f.putErr(back); err.Error() != `261120A-01: taken {What:tag Name:261120A-03}` {
		t.Error(err)
	}
}

func TestNamesNearTheOneAskedForAreSuggested(t *testing.T) {
	f := newFarm(t)
	f.lot("261120A", "2026-11-20", 12, "cellar")
	f.view(func(tx *ReadTx) error {
		for _, c := range []struct {
			ask  func() error
			near string
		}{
			{func() error { _, err := tx.WheelByTag("261120A-3"); return err }, "261120A-03"},
			{func() error { _, err := tx.WheelByTag("261120B-07"); return err }, "261120A-07"},
			{func() error { _, err := tx.MakeByLot("261120"); return err }, "261120A"},
			{func() error { _, err := tx.Room("Cellar"); return err }, "cellar"},
			{func() error { _, err := tx.Variety("cheddar"); return err }, "cheddar-cloth"},
			{func() error { _, err := tx.Plan("waxedhard"); return err }, "waxed-hard"},
		} {
			err := c.ask()
			var nf refusal.NotFound
			if !errors.As(err, &nf) || !slices.Contains(nf.Near, c.near) {
				t.Errorf("%v suggests %v, want %s", err, nf.Near, c.near)
			}
		}
		return nil
	})
}

func TestMakesWheelsAndRoomsAreChecked(t *testing.T) {
	f := newFarm(t)
	m, ws := f.lot("261120A", "2026-11-20", 2, "cellar")
	m2, ws2 := lotOf(t, "261121A", "2026-11-21", 1, "cellar")
	f.update(func(tx *WriteTx) error { return tx.PutMake(m2) })
	try := func(fn func(tx *WriteTx) error) string {
		err := f.book.Update(fn)
		if err == nil {
			return ""
		}
		return err.Error()
	}
	wheelWith := func(change func(*wheel.Wheel)) func(*WriteTx) error {
		w := ws2[0]
		change(&w)
		return func(tx *WriteTx) error { return tx.AddWheels([]wheel.Wheel{w}) }
	}
	makeWith := func(change func(*wheel.Make)) func(*WriteTx) error {
		x := m2
		x.ID = newID(t)
		change(&x)
		return func(tx *WriteTx) error { return tx.PutMake(x) }
	}
	for _, c := range []struct {
		name, want string
		do         func(*WriteTx) error
	}{
		{"the same make again", "", func(tx *WriteTx) error { return tx.PutMake(m) }},
		{"the same wheels again", "", func(tx *WriteTx) error { return tx.AddWheels(ws) }},
		{"a lot code twice", `taken {What:lot Name:261120a}`, makeWith(func(m *wheel.Make) { m.Lot = "261120a" })},
		{"a make changed", "261120A: different-content",
			func(tx *WriteTx) error { x := m; x.Note = "no"; return tx.PutMake(x) }},
		{"a make of the future", "261125Z: date-in-future {On:2026-11-30}",
			makeWith(func(m *wheel.Make) { m.Lot = "261125Z"; m.Date += 9 })},
		{"a variety nobody knows", `not-found variety "chedar"`,
			makeWith(func(m *wheel.Make) { m.Lot = "261121B"; m.Variety = "chedar" })},
		{"a tag twice", `taken {What:tag Name:261120A-01}`, wheelWith(func(w *wheel.Wheel) { w.Tag = "261120A-01" })},
		{"a wheel of no make", `261121A-01: not-found make "` + idC.String() + `"`,
			wheelWith(func(w *wheel.Wheel) { w.Make = idC })},
		{"a wheel on no plan", `261121A-01: not-found plan "none"`, wheelWith(func(w *wheel.Wheel) { w.Plan = "none" })},
		{"a wheel in no room", `261121A-01: not-found room "attic"`, wheelWith(func(w *wheel.Wheel) { w.Place = "attic" })},
		{"a wheel changed", "261120A-01: different-content",
			func(tx *WriteTx) error { x := ws[0]; x.Number = 9; return tx.AddWheels([]wheel.Wheel{x}) }},
		{"a hostile tag", "", nil},
		{"a room that differs in case", `taken {What:room Name:cellar}`,
			func(tx *WriteTx) error { return tx.PutRoom(room(t, "Cellar", 3, 0.8)) }},
	} {
		if c.do == nil {
			continue
		}
		t.Run(c.name, func(t *testing.T) {
			if got := try(c.do); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
	f.clean()
}

func TestEntriesAreFoundByTheirMarkAndByTheCommandThatWroteThem(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261120A", "2026-11-20", 1, "cellar")
	first, second, other := f.weighed(ws[0].ID, "2026-11-21 08:00", 2000), f.weighed(ws[0].ID, "2026-11-22 08:00",
		1990), f.weighed(ws[0].ID, "2026-11-23 08:00", 1985)
	first.ID = uuid.MustParse("01932e4f-8c00-7000-8000-abcd00000001")
	second.ID = uuid.MustParse("01932e4f-8c00-7000-8000-abcd00000002")
	other.ID = uuid.MustParse("01932e4f-8c00-7000-8000-abce00000001")
	f.put(first, second, other)
	f.view(func(tx *ReadTx) error {
		for mark, want := range map[string]int{first.Mark(): 1, strings.ToUpper(second.Mark()): 1, "zzzzzz": 0, "": 0} {
			got, err := tx.EntriesMarked(mark, 10)
			if len(got) != want || (want == 0) != errors.As(err, new(refusal.NotFound)) {
				t.Errorf("%q finds %d, %v; want %d", mark, len(got), err, want)
			}
		}
		batch := uuid.MustParse("01932e4f-8c00-7000-8000-abcd00000000")
		got, err := tx.EntriesByCommand(batch)
		if err != nil || len(got) != 2 || got[0].ID != first.ID || got[1].ID != second.ID {
			t.Errorf("one command wrote %v, %v; want the first two", got, err)
		}
		return nil
	})
}

func TestWeighingOneWheelJudgesItsSistersToo(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261118A", "2026-11-18", 3, "cellar")
	for i, day := range []string{"19", "20", "21", "22", "23", "24"} {
		for k, w := range ws[:2] {
			f.put(f.weighed(w.ID, "2026-11-"+day+" 08:00", 2000-float64(i)*22-float64(k)))
		}
	}
	f.clean()
	var c wheel.Life
	f.view(func(tx *ReadTx) (err error) {
		k, err := tx.Case(ws[2].ID)
		if len(k.Sisters) != 2 {
			t.Errorf("%d sisters say something, want 2", len(k.Sisters))
		}
		c = k.Life
		return err
	})
	if c.Tag != "261118A-03" {
		t.Error(c.Tag)
	}
}

func TestAWheelOnlyTurnedIsJudgedAgainWhenItsSisterIsWeighedWithIt(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261115A", "2026-11-15", 2, "cellar")
	f.put(f.weighed(ws[0].ID, "2026-11-16 08:00", 2000), f.weighed(ws[0].ID, "2026-11-17 08:00", 1995))
	for i, day := range []string{"16", "17", "18", "19", "20"} {
		f.put(f.did(ws[0].ID, wheel.Turn, "2026-11-"+day+" 09:00"),
			f.weighed(ws[1].ID, "2026-11-"+day+" 08:00", 2000-25*float64(i)))
		f.clean()
	}
}

func TestARoomSetToOtherAirJudgesItsWheelsAgain(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261118A", "2026-11-18", 3, "cellar")
	for i, day := range []string{"19", "20", "21", "22"} {
		f.put(f.weighed(ws[0].ID, "2026-11-"+day+" 08:00", 2000-float64(i)*12))
	}
	f.update(func(tx *WriteTx) error {
		r, err := tx.Room("cellar")
		if err != nil {
			return err
		}
		r.RH = 0.7
		return tx.PutRoom(r)
	})
	f.clean()
	f.update(func(tx *WriteTx) error {
		var rs []cave.Reading
		for h := range 100 {
			rs = append(rs, cave.Reading{At: at(t, "2026-11-20 00:00").Add(time.Duration(h) * time.Hour), Temp: 11.5, RH: 0.815})
		}
		n, err := tx.PutAir("cellar", rs)
		if n != 100 || err != nil {
			t.Errorf("%d readings taken, %v", n, err)
		}
		n, err = tx.PutAir("cellar", rs)
		if n != 0 || err != nil {
			t.Errorf("%d readings taken the second time, %v", n, err)
		}
		rooms := tx.RoomsBefore(pack.MaxTime)
		got := rooms.AirBetween("cellar", rs[10].At, rs[20].At)
		if len(got) != 10 || got[0] != rs[10] {
			t.Errorf("got %d readings, the first %v", len(got), got)
		}
		return rooms.Err
	})
	f.clean()
}
