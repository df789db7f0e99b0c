package store

import (
	"context"
	"io"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/uuid"

	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/remains"
	"rindkeep/wheel"
)

// What tests of packages above this one use of its helpers.

type Farm = farm

// What tests of this package use of packages above it, which import it: above_test.go puts
// it in.
var Above struct {
	Backup       func(ctx context.Context, b *Book, path string) (Copied, error)
	Keep         func(ctx context.Context, b *Book, k bookfile.Backups, daily bool) (Copied, time.Time, error)
	Restore      func(ctx context.Context, from, to string, replace bool, o Options) (Copied, error)
	Compact      func(path string, o Options) (before, after int64, err error)
	Rebuild      func(ctx context.Context, path string, o Options) (kept string, err error)
	CheckHistory func(*Book) ([]bookfile.Finding, error)

	Export     func(ctx context.Context, b *Book, to io.Writer) error
	ExportFile func(ctx context.Context, b *Book, path string, replace bool) (map[string]int, int64, error)
	Import     func(ctx context.Context, path string, from io.Reader, o Options) error
	Salvage    func(ctx context.Context, from, to string, set Settings, gap func([]chain.Fact) string, o Options) (
		Salvaged, error)
}

// Copied is what tests look at of copies.Copied,
type Copied struct {
	Path     string
	Bytes    int64
	Counts   Counts
	Kept     string
	Findings []bookfile.Finding
}

// and Salvaged of archive.Salvaged.
type Salvaged struct {
	Counts   Counts
	Pages    []bookfile.LostPage
	Lost     []bookfile.Finding
	Unplaced []string
	Lots     []remains.Lot
}

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
	f.backup(o.path)
	o.reopened()
	return o
}
