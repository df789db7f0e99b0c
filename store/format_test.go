package store

import (
	"bytes"
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	bolt "go.etcd.io/bbolt"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/schedule"
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/derive"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/register"
	"rindkeep/wheel"
)

var update = flag.Bool("update", false, "rewrite the fixtures")

func TestAnOlderFormatIsCopiedAndThenUpgraded(t *testing.T) {
	f := newFarm(t)
	f.lot("261120A", "2026-11-20", 3, "cellar")
	f.book.Close()
	old, err := os.ReadFile(f.path)
	if err != nil {
		t.Fatal(err)
	}
	ran := 0
	was := migrations
	migrations, newest = append(slices.Clone(was), migration{Format, "gives every room a title", func(tx *bolt.Tx,
		_ time.Time) error {
		ran++
		var r cave.Room
		rooms := tx.Bucket([]byte(layout.Rooms))
		err := pack.ReadJSON(rooms.Get([]byte("cellar")), &r)
		r.Name = "annexe"
		annexe, err2 := pack.JSON(r)
		return errors.Join(err, err2, rooms.Put([]byte("annexe"), annexe))
	}}), Format+1
	t.Cleanup(func() { migrations, newest = was, Format })

	f.open(Read) // even a reader gets the book as it should be
	if ran != 1 {
		t.Errorf("the upgrade ran %d times", ran)
	}
	f.view(func(tx *ReadTx) error {
		c, err := tx.Counts()
		if c.Rooms != 3 || string(tx.tab.Get(layout.Book, []byte("format"))) != strconv.Itoa(Format+1) {
			t.Errorf("the book was not upgraded: %+v", c)
		}
		return err
	})
	saved, err := os.ReadFile(fmt.Sprintf("%s.format-%d-20261125.bak", f.path, Format))
	if err != nil || string(saved) != string(old) {
		t.Errorf("the copy is not the old book: %v", err)
	}
	f.reopen(Write)
	if ran != 1 {
		t.Errorf("the upgrade ran %d times", ran)
	}
	f.book.Close()

	// This program's successor made it: one that knows no such format refuses it.
	migrations, newest = was, Format
	_, err = Open(f.path, Read, Options{})
	wantIs(t, err, bookfile.ErrNewer, fmt.Sprintf("book-newer %q (format %d, newest %d)", f.path, Format+1, Format))
}

func TestAnUpgradeThatFailsChangesNothing(t *testing.T) {
	f := newFarm(t)
	f.lot("261120A", "2026-11-20", 3, "cellar")
	before := f.dump()
	f.book.Close()
	was := migrations
	migrations, newest = append(slices.Clone(was), migration{Format, "fails", func(tx *bolt.Tx, _ time.Time) error {
		tx.DeleteBucket([]byte(layout.Entries))
		return errors.New("no")
	}}), Format+1
	_, err := Open(f.path, Write, Options{Now: f.clock.now})
	migrations, newest = was, Format
	if err == nil || !strings.Contains(err.Error(), "upgrade: from format 3, which fails") {
		t.Errorf("got %v", err)
	}
	f.open(Write)
	if f.dump() != before {
		t.Error("the book was changed")
	}
}

// TestAnUpgradeProvesItsCopyFirst has a page of records damaged: the copy would be no
// backup.
func TestAnUpgradeProvesItsCopyFirst(t *testing.T) {
	for format := 1; format < Format; format++ {
		path := fromFixture(t, format)
		good, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		refused := 0
		for page := 2; page < len(good)/4096; page++ {
			bad := slices.Clone(good)
			clear(bad[page*4096 : (page+1)*4096])
			if err := os.WriteFile(path, bad, 0o600); err != nil {
				t.Fatal(err)
			}
			b, err := Open(path, Write, Options{})
			copies, _ := filepath.Glob(path + ".format-*")
			for _, c := range copies {
				os.Remove(c)
			}
			if err == nil { // the page held nothing
				b.Close()
				continue
			}
			if refused++; !errors.Is(err, bookfile.ErrDamaged) || len(copies) > 0 {
				t.Errorf("format %d, page %d: %v, %v", format, page, err, copies)
			}
			if now, _ := os.ReadFile(path); !bytes.Equal(now, bad) {
				t.Errorf("format %d, page %d: the book was changed", format, page)
			}
		}
		if refused == 0 {
			t.Errorf("format %d: no page mattered", format)
		}
	}
}

// fixture is a book of a format as text: bucket, key and value, a line each,
// both in hexadecimal. It must open for ever. Only that of the newest format is
// ever written.
func fixture(format int) string { return fmt.Sprintf("testdata/format-%d.txt", format) }

// fromFixture makes the book of a fixture.
func fromFixture(t *testing.T, format int) (path string) {
	t.Helper()
	text, err := os.ReadFile(fixture(format))
	if err != nil {
		t.Fatal(err)
	}
	path = filepath.Join(t.TempDir(), "old.book")
	db, err := bolt.Open(path, 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Update(func(tx *bolt.Tx) error {
		for n, line := range strings.Split(string(text), "\n") {
			w := strings.Fields(line)
			if len(w) == 0 || strings.HasPrefix(line, "#") {
				continue
			}
			b, err := tx.CreateBucketIfNotExists([]byte(w[0]))
			if err != nil || len(w) == 1 {
				continue
			}
			k, err := hex.DecodeString(w[1])
			if err != nil {
				return fmt.Errorf("line %d: %w", n+1, err)
			}
			v, err := hex.DecodeString(w[2])
			if err != nil {
				return fmt.Errorf("line %d: %w", n+1, err)
			}
			if err := b.Put(k, v); err != nil {
				return err
			}
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	db.Close()
	return path
}

func TestBooksOfEveryFormatStillOpen(t *testing.T) {
	if *update {
		writeFixture(t)
	}
	for format := 1; format <= Format; format++ {
		t.Run(fmt.Sprintf("format %d", format), func(t *testing.T) { stillOpens(t, format) })
	}
}

func stillOpens(t *testing.T, format int) {
	path := fromFixture(t, format)
	c := &clock{at(t, "2026-11-25 09:00")}
	b, err := Open(path, Write, Options{Now: c.now})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	wantClean(t, b)
	if err := b.View(func(tx *ReadTx) error {
		n, err := tx.Counts()
		if want := (Counts{Makes: 2, Wheels: 4, Here: 3, Entries: 12, Rooms: 2}); n != want || err != nil {
			t.Errorf("got %+v %v, want %+v", n, err, want)
		}
		w, err := tx.WheelByTag("261118A-01")
		if err != nil {
			return err
		}
		h, err := tx.History(w.ID)
		if err != nil || len(h) != 8 {
			t.Fatalf("%d entries, %v", len(h), err)
		}
		if h[0].Kind != wheel.Weighed || h[0].Weight != 2000.5 || h[0].By != "Ann" || !h[0].At.Equal(at(t,
			"2026-11-19 08:00")) {
			t.Errorf("the first entry is %+v", h[0])
		}
		l, err := tx.Life(w.ID)
		if err != nil || len(l.Coats) != 0 || l.Place != "fridge/B/2" || l.Chain.Weighings() != 2 {
			t.Errorf("its life is %+v, %v", l, err)
		}
		if _, err = tx.Plan("my-plan"); err != nil {
			return err
		}
		rooms := tx.RoomsBefore(pack.MaxTime)
		rd := rooms.AirBetween("cellar", at(t, "2026-11-20 00:00"), at(t, "2026-11-21 00:00"))
		want := cave.Reading{At: at(t, "2026-11-20 08:00"), Temp: 12.3, RH: 0.815}
		if err := rooms.Err; err != nil || len(rd) != 2 || rd[0] != want {
			t.Errorf("the air was %+v, %v", rd, err)
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
}

// writeFixture rewrites the fixture of the newest format, with identities that do not change.
func writeFixture(t *testing.T) {
	f := newFarm(t)
	n := 0
	id := func() uuid.UUID {
		n++
		return uuid.MustParse(fmt.Sprintf("01932e4f-8c00-7000-8000-%012x", n))
	}
	m1, w1 := lotOf(t, "261118A", "2026-11-18", 2, "cellar")
	m2, w2 := lotOf(t, "261119A", "2026-11-19", 2, "")
	fix := func(m *wheel.Make, ws []wheel.Wheel) {
		m.ID = id()
		for i := range ws {
			ws[i].ID, ws[i].Make = id(), m.ID
		}
	}
	fix(&m1, w1)
	fix(&m2, w2)
	e := func(w wheel.Wheel, k wheel.Kind, when string, change func(*wheel.Entry)) wheel.Entry {
		x := f.entry(w.ID, k, when)
		x.ID = id()
		change(&x)
		return x
	}
	coat := e(w1[0], wheel.CoatedOn, "2026-11-24 10:00", func(e *wheel.Entry) {
		e.Coat, e.Before, e.Weight = "wax", 1900,
			1950
	})
	es := []wheel.Entry{
		e(w1[0], wheel.Weighed, "2026-11-19 08:00", func(e *wheel.Entry) { e.Weight = 2000.5 }),
		e(w1[0], wheel.Weighed, "2026-11-20 08:00", func(e *wheel.Entry) { e.Weight, e.Sure = 1980, true }),
		e(w1[0], wheel.Did, "2026-11-20 09:00", func(e *wheel.Entry) { e.Job = wheel.Turn }),
		e(w1[0], wheel.Skipped, "2026-11-21 09:00", func(e *wheel.Entry) { e.Job, e.Note = wheel.Turn, "no hands" }),
		e(w1[0], wheel.Checked, "2026-11-22 09:00", func(e *wheel.Entry) {
			e.Found = wheel.HandCheck{DryToTouch: wheel.Yes,
				Cracks: wheel.No}
		}),
		e(w1[0], wheel.Moved, "2026-11-23 09:00", func(e *wheel.Entry) { e.Place = "fridge/B/2" }),
		coat,
		e(w1[0], wheel.Struck, "2026-11-24 11:00", func(e *wheel.Entry) { e.Target, e.Note = coat.ID, "wrong wheel" }),
		e(w1[1], wheel.Planned, "2026-11-22 09:00", func(e *wheel.Entry) { e.Plan = "my-plan" }),
		e(w1[1], wheel.Held, "2026-11-22 09:30", func(e *wheel.Entry) { e.Note = "test pending" }),
		e(w2[0], wheel.Sent, "2026-11-25 08:00", func(e *wheel.Entry) {
			e.To, e.Weight = "the shop", 1890
			held := reason.List{wheel.HeldSince{Words: "test pending", Since: day.Of(2026, 11, 22)}}
			e.Detail = wheel.Sending{Document: "D-7", Held: held, Override: "tested today"}.Detail()
		}),
	}
	note := f.entry(m1.ID, wheel.Noted, "2026-11-18 20:00")
	note.ID, note.Note = id(), "slow acid"
	es = append(es, note)
	plan, err := os.ReadFile("../schedule/library/waxed-hard.toml")
	if err != nil {
		t.Fatal(err)
	}
	f.update(func(tx *WriteTx) error {
		if _, err := register.Plans.Put(tx.Writer, "my-plan.toml", []byte(strings.Replace(string(plan),
			`"waxed-hard"`, `"my-plan"`,
			1))); err != nil {
			return err
		}
		for _, m := range []wheel.Make{m1, m2} {
			if err := tx.PutMake(m); err != nil {
				return err
			}
		}
		if err := tx.AddWheels(append(w1, w2...)); err != nil {
			return err
		}
		if _, err := tx.PutAir("cellar", []cave.Reading{{At: at(t, "2026-11-20 08:00"), Temp: 12.3, RH: 0.815}, {At: at(t,
			"2026-11-20 09:00"), Temp: -0.5, RH: 1}}); err != nil {
			return err
		}
		_, err := tx.Put(es...)
		return err
	})
	f.clean()
	var s strings.Builder
	s.WriteString(fmt.Sprintf("# A book of format %d: bucket, key, value; key and value in hexadecimal.\n", Format) +
		"# Written by this package's tests with -update; never edited once shipped.\n")
	s.WriteString(strings.Join(append(slices.Clone(layout.Facts), layout.Derived...), "\n") + "\n")
	s.WriteString(dumpOf(t, f.book, true))
	if err := os.MkdirAll(filepath.Dir(fixture(Format)), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(fixture(Format), []byte(s.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}

// A book from before there was a chain has one from its upgrade on, over all
// that was there: what is altered later is told of, older or newer.
func TestAnUpgradedBookIsChainedFromThenOn(t *testing.T) {
	path := fromFixture(t, 1)
	c := &clock{at(t, "2026-11-25 09:00")}
	b, err := Open(path, Write, Options{Now: c.now})
	if err != nil {
		t.Fatal(err)
	}
	wantClean(t, b)
	if err := b.View(func(tx *ReadTx) error {
		h, begun, since, err := tx.Head()
		if h.Number != 1 || begun != chain.BegunUpgrade || !since.Equal(c.t) || !h.Written.Equal(c.t) {
			t.Errorf("the chain began by %s on %v and its head is %+v", begun, since, h)
		}
		return err
	}); err != nil {
		t.Fatal(err)
	}
	b.Close()
	db, err := bolt.Open(path, 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Update(func(tx *bolt.Tx) error {
		bk := tx.Bucket([]byte(layout.Entries))
		k, v := bk.Cursor().First()
		e, err := pack.ReadEntry(k, v)
		if err != nil {
			return err
		}
		rewrite(t, bk, e, func(e *wheel.Entry) { e.By = "Zoe" })
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	db.Close()
	b, err = Open(path, Read, Options{Now: c.now})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	want := []string{`lot 261118A: its entry "noted" of 2026-11-18 20:00 was changed outside the program; it was ` +
		`written 2026-11-25 09:00 (link 1)`}
	if d := cmp.Diff(want, altered(t, b)); d != "" {
		t.Errorf("(-want +got)\n%s", d)
	}
}

// A book of format 2 has sentences in its index, which cannot be read as reasons.
// The first to open it, a reader too, finds the index made again.
func TestAnOldIndexIsMadeAgainAndNeverDamaged(t *testing.T) {
	for _, mode := range []Mode{Read, Write} {
		path := fromFixture(t, 2)
		c := &clock{at(t, "2026-11-25 09:00")}
		b, err := Open(path, mode, Options{Now: c.now})
		if err != nil {
			t.Fatal(err)
		}
		if err := b.View(func(tx *ReadTx) error {
			due, err := tx.Due(day.Of(2026, 11, 25))
			why := map[wheel.Job]reason.List{}
			for _, d := range due {
				if d.Tag == "261118A-01" {
					why[d.Job] = d.Why
				}
			}
			want := reason.List{schedule.PerDay{Times: 2}, schedule.DoneOf{Done: 1, Of: 2, On: day.Of(2026, 11, 21)}}
			if len(due) == 0 || !why[wheel.Turn].Equal(want) {
				t.Errorf("due %+v", due)
			}
			return err
		}); err != nil {
			t.Error(err)
		}
		wantClean(t, b)
		b.Close()
	}
}

// strange puts a reason of a number nobody knows into the index.
func strange(t *testing.T, b *bolt.Bucket) {
	t.Helper()
	k, v := b.Cursor().First()
	v, err := pack.Unseal(k, v)
	if err != nil {
		t.Fatal(err)
	}
	task, err := derive.DecodeTask(layout.Slot{}, "", uuid.Nil, v)
	if err != nil {
		t.Fatal(err)
	}
	known := reason.Append(nil, task.Why)
	v = bytes.TrimSuffix(slices.Clone(v), known)
	if err := b.Put(slices.Clone(k), pack.Seal(k, append(v, 1, 0xff, 0x7f))); err != nil {
		t.Fatal(err)
	}
}

func TestAnIndexOfAnotherVersionIsMadeAgainForAReader(t *testing.T) {
	f := newFarm(t)
	f.lot("261120A", "2026-11-20", 3, "cellar")
	before := f.dump()
	f.spoil(layout.Due, func(b *bolt.Bucket) error { strange(t, b); return nil })
	for old, want := range map[bool]error{true: bookfile.ErrStale,
		false: bookfile.ErrDamaged} { // as where nobody may write it
		f.book.file.Old = old
		if err := f.book.View(func(tx *ReadTx) error {
			_, err := tx.Due(day.Of(2026, 11, 25))
			return err
		}); !errors.Is(err, want) {
			t.Errorf("of an index that is old %v: %v", old, err)
		}
	}
	f.spoil(layout.Book, func(b *bolt.Bucket) error { return b.Put([]byte("derivation"), []byte("9-newer 1000")) })
	f.reopen(Read)
	if f.dump() != before {
		t.Error("the index was left as it was")
	}
}
