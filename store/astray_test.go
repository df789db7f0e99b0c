package store

import (
	"bytes"
	"encoding/binary"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	bolt "go.etcd.io/bbolt"

	"rindkeep/cave"
	"rindkeep/schedule"
	"rindkeep/store/derive"
	"rindkeep/store/history"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/register"
	"rindkeep/wheel"
)

// A flipped bit in where a bucket begins leads to the pages of another.
func TestARecordThatIsNoRoomIsNotTakenForOne(t *testing.T) {
	f := newFarm(t)
	f.lot("261120A", "2026-11-20", 3, "cellar")
	var one []byte
	f.spoil(layout.Makes, func(b *bolt.Bucket) error {
		_, v := b.Cursor().First()
		one = slices.Clone(v)
		return nil
	})
	f.spoil(layout.Rooms, func(b *bolt.Bucket) error {
		return errors.Join(b.Delete([]byte("cellar")), b.Put([]byte("a make"), one))
	})
	for what, ask := range map[string]func(*ReadTx) error{
		"rooms":  func(tx *ReadTx) error { _, err := tx.Rooms(); return err },
		"room":   func(tx *ReadTx) error { _, err := tx.Room("cellar"); return err },
		"counts": func(tx *ReadTx) error { _, err := tx.Counts(); return err },
	} {
		f.reopen(Read)
		err := f.book.View(ask)
		var nf refusal.NotFound
		if err != nil && !errors.As(err, &nf) || len(f.book.Harm()) == 0 {
			t.Errorf("%s: %v, and %v is said of the damage", what, err, f.book.Harm())
		}
	}
}

// TestABucketThatLeadsToAnothersPageIsRefused has each bucket begin where another does: its
// records would be taken for what they aren't.
func TestABucketThatLeadsToAnothersPageIsRefused(t *testing.T) {
	f, good := damaged(t)
	size, number := os.Getpagesize(), func(at int) int { return int(binary.NativeEndian.Uint64(good[at:])) }
	meta := 16
	if number(size+16+48) > number(16+48) { // its transaction is the newer one
		meta += size
	}
	list := number(meta+16) * size
	roots := map[string]int{} // where the list of buckets says the number of a first page
	for _, name := range slices.Concat(layout.Facts, layout.Derived) {
		for at := list; at < list+size; at += len(name) {
			i := bytes.Index(good[at:list+size], []byte(name))
			if i < 0 {
				break
			}
			at += i
			if page := number(at + len(name)); page > 2 && page < len(good)/size && number(page*size) == page {
				roots[name] = at + len(name)
			}
		}
	}
	path, tried := filepath.Join(t.TempDir(), "bad.book"), 0
	for a, at := range roots {
		for b, other := range roots {
			if number(at) == number(other) {
				continue
			}
			bad := slices.Clone(good)
			copy(bad[at:at+8], good[other:other+8])
			if err := os.WriteFile(path, bad, 0o600); err != nil {
				t.Fatal(err)
			}
			tried++
			if c, err := Open(path, Read, Options{Now: f.clock.now}); err == nil {
				t.Errorf("%s leads to the page of %s, and that goes unnoticed", a, b)
				c.Close()
			}
		}
	}
	if tried < 20 {
		t.Errorf("only %d were tried", tried)
	}
}

// TestAWheelWithoutItsStandingHasNoHistoryToShow loses what says how many entries there are,
// and the entry.
func TestAWheelWithoutItsStandingHasNoHistoryToShow(t *testing.T) {
	for what, lose := range map[string]func(b *bolt.Bucket, id []byte) error{
		"gone": (*bolt.Bucket).Delete,
		"changed": func(b *bolt.Bucket, id []byte) error {
			v := slices.Clone(b.Get(id))
			v[3] ^= 1
			return b.Put(id, v)
		},
	} {
		f := newFarm(t)
		_, ws := f.lot("261120A", "2026-11-20", 3, "cellar")
		id := ws[1].ID
		f.put(f.did(id, wheel.Turn, "2026-11-21 08:00"))
		f.spoil(layout.Standings, func(b *bolt.Bucket) error { return lose(b, id[:]) })
		f.spoil(layout.Entries, func(b *bolt.Bucket) error {
			k, _ := b.Cursor().Seek(id[:])
			return b.Delete(slices.Clone(k))
		})
		f.reopen(Read)
		err := f.book.View(func(tx *ReadTx) error {
			_, err := tx.History(id)
			return err
		})
		if !errors.As(err, &Harmed{}) {
			t.Errorf("%s: it was read: %v", what, err)
		}
	}
}

// TestARecordUnderAnotherKeyIsMissed has a disk change one byte of a key, so that the record
// isn't where it's looked for. Who asks is refused, or told what was left out.
func TestARecordUnderAnotherKeyIsMissed(t *testing.T) {
	day := at(t, "2026-11-21 08:00")
	for name, x := range map[string]struct {
		bucket string
		byte   int // of the last key; under 0: from its end
		ask    func(tx *ReadTx, m wheel.Make, w uuid.UUID) error
	}{
		"how a make was corrected": {layout.Corrected, -1, func(tx *ReadTx, m wheel.Make, _ uuid.UUID) error {
			_, err := tx.Make(m.ID)
			return err
		}},
		"the totals": {layout.Counts, 1, func(tx *ReadTx, _ wheel.Make, _ uuid.UUID) error {
			_, err := tx.Newest()
			return err
		}},
		"a plan of the user's own": {layout.Plans, 2, func(tx *ReadTx, _ wheel.Make, _ uuid.UUID) error {
			_, err := tx.Plan("tomme")
			return err
		}},
		"a customer": {layout.Customers, 0, func(tx *ReadTx, _ wheel.Make, _ uuid.UUID) error {
			_, err := tx.Customers()
			return err
		}},
		"a reading": {layout.Air, 1, func(tx *ReadTx, _ wheel.Make, _ uuid.UUID) error {
			return tx.EachReading("cellar", day, day.Add(time.Hour), func(cave.Reading) bool { return true })
		}},
		"the newest reading": {layout.Air, -3, func(tx *ReadTx, _ wheel.Make, _ uuid.UUID) error {
			_, _, err := tx.NewestAir("cellar", pack.MaxTime)
			return err
		}},
		"a make's entry": {layout.Entries, 15, func(tx *ReadTx, m wheel.Make, _ uuid.UUID) error {
			_, err := tx.History(m.ID)
			return err
		}},
		"a wheel's entry": {layout.Entries, 15, func(tx *ReadTx, _ wheel.Make, w uuid.UUID) error {
			return tx.EachLogged(t.Context(), history.Query{Subjects: []uuid.UUID{w}},
				func(history.Logged) error { return nil })
		}},
		"a task": {layout.Due, 3, func(tx *ReadTx, _ wheel.Make, _ uuid.UUID) error {
			return tx.EachDueAt(20782, "fridge", func(derive.Task) bool { return true }) // 2026-11-25
		}},
	} {
		f := newFarm(t)
		m, ws := f.lot("261120A", "2026-11-20", 1, "fridge")
		plan, _ := schedule.Find("tomme")
		f.update(func(tx *WriteTx) error {
			_, perr := register.Plans.Put(tx.Writer, "tomme.toml", []byte(plan.Text))
			_, aerr := tx.PutAir("cellar", []cave.Reading{{At: day, Temp: 12, RH: 0.85}})
			return errors.Join(perr, aerr, tx.PutCustomer(register.Customer{ID: newID(t), Name: "Corner Shop", Written: day}))
		})
		of := m.ID
		if name == "a wheel's entry" {
			of = ws[0].ID
			f.put(f.did(of, wheel.Turn, "2026-11-21 08:00"))
		} else {
			f.put(f.corrected(m.ID, "2026-11-21 08:00", func(m *wheel.Make) { m.Milk.Litres = 900 }))
		}
		f.reopen(Read)
		if err := f.book.View(func(tx *ReadTx) error { return x.ask(tx, m, of) }); err != nil || len(f.book.Harm()) > 0 {
			t.Fatalf("%s of a sound book: %v, %v", name, err, f.book.Harm())
		}
		f.reopen(Write)
		f.spoil(x.bucket, func(b *bolt.Bucket) error {
			c := b.Cursor()
			k, v := c.Last()
			for x.bucket == layout.Due && layout.DateOf(k) > 20782 { // no other is behind it then
				if err := c.Delete(); err != nil {
					return err
				}
				k, v = c.Last()
			}
			v, was := slices.Clone(v), slices.Clone(k)
			k = slices.Clone(k)
			k[(x.byte+len(k))%len(k)] += 3
			return errors.Join(b.Delete(was), b.Put(k, v))
		})
		f.reopen(Read)
		if err := f.book.View(func(tx *ReadTx) error { return x.ask(tx, m, of) }); err == nil && len(f.book.Harm()) == 0 {
			t.Errorf("%s goes missing, and nothing is said", name)
		}
	}
}
