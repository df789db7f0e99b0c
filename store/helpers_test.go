package store

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/store/derive"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel"
)

// clock is a clock that tests set.
type clock struct{ t time.Time }

func (c *clock) now() time.Time { return c.t }

var dublin = func() *time.Location {
	l, err := time.LoadLocation("Europe/Dublin")
	if err != nil {
		panic(err)
	}
	return l
}()

// at is a local time in the test books' zone: "2026-11-20 08:00".
func at(t testing.TB, s string) time.Time {
	t.Helper()
	x, err := time.ParseInLocation("2006-01-02 15:04", s, dublin)
	if err != nil {
		t.Fatal(err)
	}
	return x.UTC()
}

// ids makes the identities of a test's records, each after the one before. They're the same
// whenever it's begun again.
var ids struct {
	made   uint64
	random *rand.ChaCha8
}

func beginIDs() { ids.made, ids.random = 1_795_000_000_000, rand.NewChaCha8([32]byte{}) }

func init() { beginIDs() }

func newID(t testing.TB) (id uuid.UUID) {
	t.Helper()
	ids.made++
	binary.BigEndian.PutUint64(id[:], ids.made<<16)
	ids.random.Read(id[6:])
	id[6], id[8] = 0x70|id[6]&0x0f, 0x80|id[8]&0x3f // version 7, as the program's own
	return id
}

func testSettings() Settings {
	return Settings{Zone: "Europe/Dublin", Name: "Test cave", By: "Ann", Units: "metric"}
}

// farm is a book with two rooms and a few lots to try things on.
type farm struct {
	t     testing.TB
	book  *Book
	path  string
	clock *clock
}

func newFarm(t testing.TB) *farm {
	t.Helper()
	f := &farm{t: t, path: filepath.Join(t.TempDir(), "cave.book"), clock: &clock{at(t, "2026-11-25 09:00")}}
	set := testSettings()
	set.ID = newID(t)
	b, err := Create(f.path, set, Options{Now: f.clock.now})
	if err != nil {
		t.Fatal(err)
	}
	f.book = b
	t.Cleanup(func() { f.book.Close() })
	f.update(func(tx *WriteTx) error {
		for i, name := range []string{"cellar", "fridge"} {
			if err := tx.PutRoom(room(t, name, i, 0.82)); err != nil {
				return err
			}
		}
		return nil
	})
	return f
}

func room(t testing.TB, name string, order int, rh float64) cave.Room {
	r := cave.Room{ID: newID(t), Name: name, Order: order, Temp: 12, TempLow: 8, TempHigh: 16, RH: quantity.Fraction(rh),
		RHLow: 0.5, RHHigh: 1, Movement: air.Gentle, Written: at(t, "2026-11-01 08:00")}
	return r
}

func (f *farm) update(fn func(*WriteTx) error) {
	f.t.Helper()
	if err := f.book.Update(fn); err != nil {
		f.t.Fatal(err)
	}
}

func (f *farm) view(fn func(*ReadTx) error) {
	f.t.Helper()
	if err := f.book.View(fn); err != nil {
		f.t.Fatal(err)
	}
}

func (f *farm) reopen(m Mode) {
	f.t.Helper()
	if err := f.book.Close(); err != nil {
		f.t.Fatal(err)
	}
	b, err := Open(f.path, m, Options{Now: f.clock.now})
	if err != nil {
		f.t.Fatal(err)
	}
	f.book = b
}

// lot writes a make of n wheels of the cheddar-waxed kind, on the day given.
func (f *farm) lot(lot, date string, n int, place string) (wheel.Make, []wheel.Wheel) {
	f.t.Helper()
	m, ws := lotOf(f.t, lot, date, n, place)
	f.update(func(tx *WriteTx) error {
		if err := tx.PutMake(m); err != nil {
			return err
		}
		return tx.AddWheels(ws)
	})
	return m, ws
}

func lotOf(t testing.TB, lot, date string, n int, place string) (wheel.Make, []wheel.Wheel) {
	t.Helper()
	d, err := day.ParseISO(date)
	if err != nil {
		t.Fatal(err)
	}
	made := d.Clock(7, 0, dublin).UTC()
	m := wheel.Make{
		ID: newID(t), Lot: lot, Date: d, Variety: "cheddar-waxed", Written: made, By: "Ann",
		Start: wheel.Composition{Moisture: 0.38, MoistureSD: 0.015, Fat: 0.32, Salt: 0.017, PH: 5.3},
	}
	var ws []wheel.Wheel
	for i := range n {
		w := wheel.Wheel{ID: newID(t), Make: m.ID, Number: i + 1, Tag: wheel.DefaultTag(lot, i+1, n), Plan: "waxed-hard",
			Since: made, Written: made, By: "Ann"}
		if place != "" {
			w.Place = cave.Place(fmt.Sprintf("%s/A/%d", place, i%4+1))
		}
		ws = append(ws, w)
	}
	return m, ws
}

func (f *farm) entry(w uuid.UUID, k wheel.Kind, when string) wheel.Entry {
	f.t.Helper()
	x := at(f.t, when)
	return wheel.Entry{ID: newID(f.t), Subject: w, Kind: k, At: x, Written: x, By: "Ann"}
}

func (f *farm) weighed(w uuid.UUID, when string, g float64) wheel.Entry {
	e := f.entry(w, wheel.Weighed, when)
	e.Weight = quantity.Grams(g)
	return e
}

func (f *farm) did(w uuid.UUID, j wheel.Job, when string) wheel.Entry {
	e := f.entry(w, wheel.Did, when)
	e.Job = j
	return e
}

func (f *farm) put(es ...wheel.Entry) Result {
	f.t.Helper()
	var r Result
	f.update(func(tx *WriteTx) (err error) { r, err = tx.Put(es...); return err })
	return r
}

// putErr puts entries and wants them refused.
func (f *farm) putErr(es ...wheel.Entry) error {
	f.t.Helper()
	err := f.book.Update(func(tx *WriteTx) error { _, err := tx.Put(es...); return err })
	if err == nil {
		f.t.Fatalf("the book took %v", es)
	}
	return err
}

func (f *farm) due(date string) []derive.Task {
	f.t.Helper()
	d, err := day.ParseISO(date)
	if err != nil {
		f.t.Fatal(err)
	}
	var out []derive.Task
	f.view(func(tx *ReadTx) (err error) { out, err = tx.Due(d); return err })
	return out
}

// jobs lists the jobs due for a tag on a date, in walking order.
func (f *farm) jobs(date, tag string) []wheel.Job {
	var out []wheel.Job
	for _, d := range f.due(date) {
		if d.Tag == tag {
			out = append(out, d.Job)
		}
	}
	return out
}

// clean wants a book in which Check finds nothing.
func (f *farm) clean() {
	f.t.Helper()
	wantClean(f.t, f.book)
}

func wantClean(t testing.TB, b *Book) {
	t.Helper()
	found, err := b.Check(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range found {
		t.Errorf("check found %s", x)
	}
	if len(found) > 0 {
		t.FailNow()
	}
}

func wantIs(t testing.TB, err, kind error, sentence string) {
	t.Helper()
	if !errors.Is(err, kind) {
		t.Fatalf("got %v, want the kind %v", err, kind)
	}
	if err.Error() != sentence {
		t.Fatalf("got  %q\nwant %q", err.Error(), sentence)
	}
}

// dump is everything in the book as text, to compare books by.
func (f *farm) dump() string {
	f.t.Helper()
	return dumpBook(f.t, f.book)
}

func dumpBook(t testing.TB, b *Book) string { return dumpOf(t, b, false) }

func dumpOf(t testing.TB, b *Book, raw bool) string {
	t.Helper()
	var s strings.Builder
	err := b.View(func(tx *ReadTx) error {
		for _, list := range [][]string{layout.Facts, layout.LaterFacts, layout.Derived} {
			for _, name := range list {
				for k, v := range tx.tab.In(name, nil) {
					if name == layout.Counts && !raw { // how far back tasks were closed is a bound, not a fact
						var c counts
						if err := pack.ReadJSON(v, &c); err != nil {
							return err
						}
						c.Closed = day.None
						v, _ = pack.JSON(c)
					}
					if name == layout.Book && string(k) == "derivation" && !raw {
						continue // says who made the derived records, not what they are
					}
					fmt.Fprintf(&s, "%s %x %x\n", name, k, v)
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return s.String()
}
