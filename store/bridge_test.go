package store

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/uuid"

	"rindkeep/wheel"
)

// What tests of packages above this one use of its helpers.

type Farm = farm

var (
	NewFarm      = newFarm
	NewID        = newID
	At           = at
	LotOf        = lotOf
	NewRoom      = room
	WantClean    = wantClean
	TestSettings = testSettings
)

func (f *farm) T() testing.TB  { return f.t }
func (f *farm) Path() string   { return f.path }
func (f *farm) Now() time.Time { return f.clock.t }
func (f *farm) Book() *Book    { return f.book }
func (f *farm) Clean()         { f.clean() }
func (f *farm) Dump() string   { return f.dump() }

func (f *farm) Put(es ...wheel.Entry) Result { f.t.Helper(); return f.put(es...) }

func (f *farm) Lot(lot, date string, n int, place string) (wheel.Make, []wheel.Wheel) {
	f.t.Helper()
	return f.lot(lot, date, n, place)
}

func (f *farm) Entry(w uuid.UUID, k wheel.Kind, when string) wheel.Entry { return f.entry(w, k, when) }

func (f *farm) Weighed(w uuid.UUID, when string, g float64) wheel.Entry { return f.weighed(w, when, g) }

func (f *farm) Did(w uuid.UUID, j wheel.Job, when string) wheel.Entry { return f.did(w, j, when) }

// LetGo closes the book, and gives what opens it again.
func (f *farm) LetGo() (again func()) {
	f.t.Helper()
	if err := f.book.Close(); err != nil {
		f.t.Fatal(err)
	}
	return f.reopened
}

func (f *farm) reopened() {
	f.t.Helper()
	b, err := Open(f.path, Write, Options{Now: f.clock.now})
	if err != nil {
		f.t.Fatal(err)
	}
	f.book = b
}

// Copied is an equal book beside this one.
func (f *farm) Copied() *farm {
	f.t.Helper()
	o := &farm{t: f.t, path: filepath.Join(f.t.TempDir(), "copy.book"), clock: f.clock}
	if _, err := f.book.Backup(context.Background(), o.path); err != nil {
		f.t.Fatal(err)
	}
	o.reopened()
	return o
}
