package store

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	bolt "go.etcd.io/bbolt"

	"rindkeep/cave"
	"rindkeep/schedule"
	"rindkeep/store/bookfile"
	"rindkeep/store/derive"
	"rindkeep/store/history"
	"rindkeep/store/layout"
	"rindkeep/store/register"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// damaged is a book of a few lots, closed, with the bytes of its file.
func damaged(t *testing.T) (f *farm, good []byte) {
	beginIDs()
	f = newFarm(t)
	for i := range 6 {
		m, ws := lotOf(t, fmt.Sprintf("2611%02dA", 10+i), fmt.Sprintf("2026-11-%02d", 10+i), 20,
			[]string{"cellar", "fridge"}[i%2])
		if i > 0 { // a wheel that waits for its coat costs a fit whenever the indexes are made
			for k := range ws {
				ws[k].Plan = "tomme"
			}
		}
		f.update(func(tx *WriteTx) error { return errors.Join(tx.PutMake(m), tx.AddWheels(ws)) })
		var es []wheel.Entry
		for k, w := range ws {
			es = append(es, f.did(w.ID, wheel.Turn, fmt.Sprintf("2026-11-2%d 08:%02d", k%5, k)))
			if k%4 == 0 {
				es = append(es, f.weighed(w.ID, fmt.Sprintf("2026-11-%02d 09:00", 17+i%3), 2000))
			}
		}
		f.put(es...)
	}
	f.furnish()
	f.book.Close()
	return f, fileOf(t, f.path)
}

// furnish gives a book what it knows besides makes, wheels and entries of wheels.
func (f *farm) furnish() {
	day := at(f.t, "2026-11-12 08:00")
	plan, _ := schedule.Find("tomme")
	f.update(func(tx *WriteTx) error {
		var air []cave.Reading
		for i := range 240 {
			air = append(air, cave.Reading{At: day.Add(time.Duration(i) * time.Hour), Temp: 12, RH: 0.85})
		}
		_, perr := register.Plans.Put(tx.Writer, "tomme.toml", []byte(plan.Text))
		_, aerr := tx.PutAir("cellar", air)
		return errors.Join(perr, aerr, tx.PutCustomer(register.Customer{ID: newID(f.t), Name: "Corner Shop", Written: day}))
	})
	var makes []wheel.Make
	f.view(func(tx *ReadTx) error {
		for m, err := range tx.Makes() {
			if makes = append(makes, m); err != nil {
				return err
			}
		}
		return nil
	})
	for _, m := range makes[:3] {
		f.put(f.corrected(m.ID, "2026-11-21 08:00", func(m *wheel.Make) { m.Milk.Litres = 900 }))
	}
}

// fileOf is a book's file as far as it's used.
func fileOf(t *testing.T, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b[:usedBytes(t, path)]
}

// layInOrder writes a book's file again, one bucket after the other, and gives its bytes:
// bbolt chooses pages at random, and the nth damage is to be the same in every run.
func layInOrder(t *testing.T, path string) []byte {
	t.Helper()
	to := path + ".ordered"
	db, err := bolt.Open(to, 0o600, &bolt.Options{FreelistType: bolt.FreelistArrayType, NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	inBolt(t, path, func(tx *bolt.Tx) error {
		return tx.ForEach(func(name []byte, from *bolt.Bucket) error {
			return db.Update(func(tx *bolt.Tx) error {
				b, err := tx.CreateBucket(name)
				if err != nil {
					return err
				}
				return from.ForEach(b.Put)
			})
		})
	})
	if err := errors.Join(db.Close(), os.Rename(to, path)); err != nil {
		t.Fatal(err)
	}
	return fileOf(t, path)
}

// TestABackupThatIsVouchedForCanBeRestored damages books, backs them up and restores
// what the backup called sound.
func TestABackupThatIsVouchedForCanBeRestored(t *testing.T) {
	f, _ := damaged(t)
	good := layInOrder(t, f.path)
	dir := t.TempDir()
	path, to, back := filepath.Join(dir, "bad.book"), filepath.Join(dir, "copy.book"), filepath.Join(dir, "back.book")
	tally := map[string]int{}
	o := Options{Now: f.clock.now}
	for n := range setting("RINDKEEP_BACKUPS", 60, 1000) {
		bad := append([]byte{}, good...)
		how := damage(rand.New(rand.NewPCG(uint64(n), 11)), bad)
		if err := os.WriteFile(path, bad, 0o600); err != nil {
			t.Fatal(err)
		}
		for _, p := range []string{to, back} {
			os.Remove(p)
		}
		b, err := Open(path, Read, o)
		if err != nil {
			tally["not opened"]++
			continue
		}
		c, err := Above.Backup(context.Background(), b, to)
		b.Close()
		if err != nil {
			if !errors.Is(err, bookfile.ErrDamaged) {
				t.Fatalf("book %d, %s: backup: %v", n, how, err)
			}
			tally["refused"]++
			continue
		}
		_, err = Above.Restore(context.Background(), to, back, false, o)
		switch {
		case len(c.Findings) == 0 && err != nil:
			t.Errorf("book %d, %s: the backup was vouched for, and %v", n, how, err)
		case len(c.Findings) == 0:
			tally["sound"]++
		default:
			tally["copied, not vouched for"]++
		}
	}
	t.Logf("%v", tally)
	if tally["copied, not vouched for"] == 0 || tally["sound"] == 0 {
		t.Error("the damage tries too little")
	}
}

// TestABackupOfADamagedEntryNamesItsWheel has one bit of one entry flipped.
func TestABackupOfADamagedEntryNamesItsWheel(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261120A", "2026-11-20", 3, "cellar")
	f.put(f.weighed(ws[0].ID, "2026-11-21 08:00", 2000))
	f.spoilFirst(layout.Entries)
	c, err := Above.Backup(context.Background(), f.book, filepath.Join(t.TempDir(), "copy.book"))
	if err != nil {
		t.Fatal(err)
	}
	var unread []string
	for _, x := range c.Findings {
		if !x.History {
			unread = append(unread, x.String())
		}
	}
	if want := "[wheel 261120A-01: does-not-decode {At:2026-11-21 08:00:00 +0000 GMT}]"; fmt.Sprint(unread) != want {
		t.Errorf("got  %v\nwant %s", unread, want)
	}
}

// TestABranchThatGoesAstrayIsRefused has branch pages lead back to themselves, to
// the root and out of the file: what would send bbolt round for ever.
func TestABranchThatGoesAstrayIsRefused(t *testing.T) {
	f := newFarm(t)
	for i := range 8 {
		_, ws := f.lot(fmt.Sprintf("2611%02dA", 10+i), fmt.Sprintf("2026-11-%02d", 10+i), 40, "cellar")
		var es []wheel.Entry
		for k, w := range ws {
			es = append(es, f.did(w.ID, wheel.Turn, fmt.Sprintf("2026-11-2%d 08:%02d", k%5, k)))
		}
		f.put(es...)
	}
	f.book.Close()
	good, err := os.ReadFile(f.path)
	if err != nil {
		t.Fatal(err)
	}
	const pageSize, header, element = 4096, 16, 16
	root := uint64(0)
	for at, newest := header, uint64(0); at <= pageSize+header; at += pageSize { // the newer of the two
		if tx := binary.NativeEndian.Uint64(good[at+48:]); tx >= newest {
			newest, root = tx, binary.NativeEndian.Uint64(good[at+16:])
		}
	}
	high := uint64(usedBytes(t, f.path) / pageSize)
	type branch struct{ id, count int }
	var branches []branch
	free := uint64(0)
	inBolt(t, f.path, func(tx *bolt.Tx) error {
		for id := range high {
			switch g, err := tx.Page(int(id)); {
			case err != nil:
				return err
			case g.Type == "branch":
				branches = append(branches, branch{g.ID, g.Count})
			case g.Type == "free":
				free = id
			}
		}
		return nil
	})
	path, tried := filepath.Join(t.TempDir(), "bad.book"), 0
	openLarge := func(b []byte) error { // as if it had 2 GB, which are a hole
		const pages = 1 << 19
		for at := header; at <= pageSize+header; at += pageSize {
			binary.NativeEndian.PutUint64(b[at+40:], pages)
			h := fnv.New64a()
			h.Write(b[at : at+56])
			binary.NativeEndian.PutUint64(b[at+56:], h.Sum64())
		}
		if err := errors.Join(os.WriteFile(path, b, 0o600), os.Truncate(path, pages*pageSize)); err != nil {
			t.Fatal(err)
		}
		bk, err := Open(path, Read, Options{Now: f.clock.now})
		if err == nil {
			bk.Close()
		}
		return err
	}
	if err := openLarge(slices.Clone(good)); err != nil {
		t.Error(err)
	}
	for _, g := range branches {
		id := uint64(g.id)
		for what, child := range map[string]uint64{
			"itself": id, "the root": root, "no page": high + 7, "a free page": free,
		} {
			bad := slices.Clone(good)
			binary.NativeEndian.PutUint64(bad[int(id)*pageSize+header+element*(g.count/2)+8:], child)
			if err := os.WriteFile(path, bad, 0o600); err != nil {
				t.Fatal(err)
			}
			for _, m := range []Mode{Read, Write} {
				b, err := Open(path, m, Options{Now: f.clock.now})
				if err == nil { // what a leaf says is for Check to find
					var found []bookfile.Finding
					if found, err = b.Check(context.Background(), nil); err == nil && len(found) > 0 {
						err = found[0].Damage(path)
					}
					b.Close()
				}
				if !errors.Is(err, bookfile.ErrDamaged) {
					t.Errorf("page %d leads to %s, mode %d: %v", id, what, m, err)
				}
			}
			tried++
			if err := openLarge(bad); child != free && child < high && !errors.Is(err, bookfile.ErrDamaged) {
				t.Errorf("page %d of a large book leads to %s: %v", id, what, err)
			}
		}
	}
	if tried < 8 {
		t.Errorf("only %d branches were bent", tried)
	}
}

// answers are what a book says of its tasks, states, makes and histories: each a question
// of its own, as a command asks it. An answer is "" where it's refused, or what couldn't
// be read is named with it.
func answers(t *testing.T, b *Book, tags []string) (out []string) {
	ask := func(fn func(tx *ReadTx, say func(...any)) error) {
		var s strings.Builder
		b.file.Harm = nil
		err := b.View(func(tx *ReadTx) error { return fn(tx, func(v ...any) { fmt.Fprintf(&s, "%+v\n", v) }) })
		if err != nil || len(b.Harm()) > 0 {
			s.Reset()
		}
		out = append(out, s.String())
	}
	ask(func(tx *ReadTx, say func(...any)) error {
		due, err := tx.Due(20782) // 2026-11-25
		say(due)
		return err
	})
	ask(func(tx *ReadTx, say func(...any)) error {
		for s, err := range tx.States() {
			if err != nil {
				return err
			}
			s.Windows, s.Slots = verdict.Shut(), nil
			say(s)
		}
		return nil
	})
	ask(func(tx *ReadTx, say func(...any)) error {
		for m, err := range tx.Makes() {
			if err != nil {
				return err
			}
			ws, err := tx.WheelsOf(m.ID)
			if err != nil {
				return err
			}
			say(m, ws)
		}
		return nil
	})
	ask(func(tx *ReadTx, say func(...any)) error {
		n, err := tx.ShelfCounts("")
		say(n)
		return err
	})
	ask(func(tx *ReadTx, say func(...any)) error {
		n, err := tx.Counts()
		say(n)
		return err
	})
	ask(func(tx *ReadTx, say func(...any)) error {
		rooms, rerr := tx.Rooms()
		plan, perr := tx.Plan("tomme")
		customers, cerr := tx.Customers()
		say(rooms, plan, customers)
		return errors.Join(rerr, perr, cerr)
	})
	from := at(t, "2026-11-14 00:00")
	ask(func(tx *ReadTx, say func(...any)) error {
		return tx.EachReading("cellar", from, from.Add(48*time.Hour), func(r cave.Reading) bool { say(r); return true })
	})
	ask(func(tx *ReadTx, say func(...any)) error {
		r, ok, err := tx.LastReading("cellar", from.Add(24*time.Hour))
		say(r, ok)
		return err
	})
	ask(func(tx *ReadTx, say func(...any)) error {
		return tx.EachDueAt(20782, "cellar/A/1", func(task derive.Task) bool { say(task); return true })
	})
	for _, tag := range tags {
		ask(func(tx *ReadTx, say func(...any)) error {
			w, err := tx.WheelByTag(tag)
			if err != nil {
				return err
			}
			es, err := tx.History(w.ID)
			say(es)
			return err
		})
		ask(func(tx *ReadTx, say func(...any)) error {
			w, err := tx.WheelByTag(tag)
			if err != nil {
				return err
			}
			of, err := tx.MakeFromLog(w.Make)
			if err != nil {
				return err
			}
			say(of)
			return tx.EachLogged(t.Context(), history.Query{Subjects: []uuid.UUID{w.ID, w.Make}}, func(e history.Logged) error {
				say(e)
				return nil
			})
		})
	}
	return out
}

// TestNoWrongFigureIsShown damages books and asks them what commands ask. An answer may be
// refused, or say what was left out; else it's that of the sound book.
func TestNoWrongFigureIsShown(t *testing.T) {
	f, _ := damaged(t)
	good := layInOrder(t, f.path)
	var tags []string
	f.open(Read)
	f.view(func(tx *ReadTx) error {
		for s, err := range tx.States() {
			if err != nil {
				return err
			}
			if tags = append(tags, s.Tag); len(tags) == 30 {
				break
			}
		}
		return nil
	})
	want := answers(t, f.book, tags)
	path := filepath.Join(t.TempDir(), "bad.book")
	tally := map[string]int{}
	from := setting("RINDKEEP_FIGURES_FROM", 0, 0)
	for n := from; n < from+setting("RINDKEEP_FIGURES", 100, 3000); n++ {
		bad := append([]byte{}, good...)
		how := damage(rand.New(rand.NewPCG(uint64(n), 17)), bad)
		if err := os.WriteFile(path, bad, 0o600); err != nil {
			t.Fatal(err)
		}
		b, err := Open(path, Read, Options{Now: f.clock.now})
		if err != nil {
			tally["not opened"]++
			continue
		}
		outcome, half := "as before", len(b.Harm()) > 0 // said with every answer
		for i, got := range answers(t, b, tags) {
			switch {
			case got == want[i]:
			case got == "", half:
				outcome = "noticed"
			default:
				t.Errorf("book %d, %s: answer %d is another: %s", n, how, i, firstDifference(want[i], got))
			}
		}
		b.Close()
		tally[outcome]++
	}
	t.Logf("%v", tally)
	if tally["noticed"] == 0 || tally["as before"] == 0 {
		t.Error("the damage tries too little")
	}
}
