package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"rindkeep/cave/day"
	"rindkeep/store/bookfile"
	"rindkeep/store/layout"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
)

func TestEveryTroubleWithAFileHasItsOwnReason(t *testing.T) {
	f := newFarm(t)
	f.lot("261120A", "2026-11-20", 40, "cellar")
	f.book.Close()
	good, err := os.ReadFile(f.path)
	if err != nil {
		t.Fatal(err)
	}
	used := usedBytes(t, f.path)
	dir := t.TempDir()
	write := func(name string, b []byte) string {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, b, 0o600); err != nil {
			t.Fatal(err)
		}
		return p
	}
	foreign := filepath.Join(dir, "foreign.db")
	db, err := bolt.Open(foreign, 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	db.Close()
	tomorrow := write("newer.book", good)
	setFormat(t, tomorrow, "9")
	wrecked := append([]byte{}, good...)
	for i := range 80 {
		wrecked[i+20] ^= 0x55
		wrecked[4096+i+20] ^= 0x55
	}
	folder := filepath.Join(dir, "folder")
	if err := os.Mkdir(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, path string
		kind       error
		want       string // %q is the path
	}{
		{"missing", filepath.Join(dir, "none.book"), bookfile.ErrNoBook, "no-book %q: file does not exist"},
		{"in a missing folder", filepath.Join(dir, "no", "none.book"), bookfile.ErrNoBook, "no-book %q: file does not exist"},
		{"a folder", folder, bookfile.ErrNotABook, "not-a-book %q folder"},
		{"empty", write("empty.book", nil), bookfile.ErrNotABook, "not-a-book %q empty"},
		{"a text", write("notes.txt", []byte("turned everything today")), bookfile.ErrNotABook, "not-a-book %q"},
		{"a long text", write("long.txt", []byte(strings.Repeat("turned everything today\n", 5000))), bookfile.ErrNotABook,
			"not-a-book %q"},
		{"another program's file of the same make", foreign, bookfile.ErrNotABook, "not-a-book %q"},
		{"cut off in the first page", write("cut1.book", good[:1000]), bookfile.ErrCutOff,
			fmt.Sprintf("book-cut-off %%q (1000 of %d bytes)", used)},
		{"cut off within its first line", write("cut0.book", good[:60]), bookfile.ErrCutOff,
			"book-cut-off %q (60 of 4096 bytes)"},
		{"cut off after the first page", write("cut2.book", good[:4096]), bookfile.ErrCutOff, ""},
		{"cut off in the middle", write("cut3.book", good[:used/2]), bookfile.ErrCutOff, ""},
		{"cut off by one byte", write("cut4.book", good[:used-1]), bookfile.ErrCutOff, ""},
		{"newer", tomorrow, bookfile.ErrNewer, fmt.Sprintf("book-newer %%q (format 9, newest %d)", Format)},
		{"wrecked at both ends", write("wrecked.book", wrecked), bookfile.ErrDamaged,
			"book-damaged %q page 0: no-copy-of-metadata"},
		{"a name that turns the terminal", filepath.Join(dir, "a\x1b[2Jb"), bookfile.ErrNoBook, ""},
	} {
		for _, m := range []Mode{Read, Write} {
			t.Run(fmt.Sprintf("%s, opened to %s", c.name, []string{"read", "write"}[m]), func(t *testing.T) {
				before, _ := os.Stat(c.path)
				b, err := Open(c.path, m, Options{})
				if err == nil {
					b.Close()
					t.Fatal("it was opened")
				}
				if !errors.Is(err, c.kind) {
					t.Errorf("%v is not of the kind %v", err, c.kind)
				}
				if c.want != "" && err.Error() != fmt.Sprintf(c.want, c.path) {
					t.Errorf("got  %s\nwant %s", err, fmt.Sprintf(c.want, c.path))
				}
				if strings.ContainsRune(err.Error(), 0x1b) {
					t.Errorf("%q would reach a terminal raw", err)
				}
				after, _ := os.Stat(c.path)
				if (before == nil) != (after == nil) || before != nil && before.Size() != after.Size() {
					t.Error("opening changed the file, or made one")
				}
			})
		}
	}
	if _, err := Create(f.path, testSettings(), Options{}); !errors.Is(err, bookfile.ErrExists) ||
		err.Error() != fmt.Sprintf("file-exists %q file: file already exists", f.path) {
		t.Error(err)
	}
	if got, _ := os.ReadFile(f.path); string(got) != string(good) {
		t.Error("a refused Create changed the book")
	}
}

func setFormat(t *testing.T, path, format string) {
	t.Helper()
	db, err := bolt.Open(path, 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := db.Update(
		func(tx *bolt.Tx) error { return tx.Bucket([]byte(layout.Book)).Put([]byte("format"), []byte(format)) }); err != nil {
		t.Fatal(err)
	}
}

// TestAFileWithoutPermissionIsRefused runs as another user in a child process,
// because nothing is forbidden to root.
func TestAFileWithoutPermissionIsRefused(t *testing.T) {
	f := newFarm(t)
	f.book.Close()
	if err := os.Chmod(f.path, 0); err != nil {
		t.Fatal(err)
	}
	open := func() string {
		_, err := Open(f.path, Read, Options{})
		return fmt.Sprint(err)
	}
	if os.Getuid() == 0 {
		exe, err := os.Executable()
		if err != nil {
			t.Fatal(err)
		}
		// The child must be able to reach both files.
		for d := filepath.Dir(f.path); len(d) > len(os.TempDir()); d = filepath.Dir(d) {
			os.Chmod(d, 0o755)
		}
		bin := filepath.Join(filepath.Dir(f.path), "child")
		data, err := os.ReadFile(exe)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(bin, data, 0o755); err != nil {
			t.Fatal(err)
		}
		open = func() string {
			cmd := exec.Command(bin, f.path)
			cmd.Dir = "/"
			cmd.Env = append(os.Environ(), childRole+"=open")
			cmd.SysProcAttr = asNobody()
			out, err := cmd.CombinedOutput()
			if err != nil {
				t.Fatalf("%v %s", err, out)
			}
			return strings.TrimSpace(string(out))
		}
	}
	if got, want := open(), fmt.Sprintf("no-permission %q read", f.path); !strings.HasPrefix(got, want) {
		t.Errorf("got %s, want %s", got, want)
	}
}

// TestABookWithoutAQueueIsReadAllTheSame is a reader where no queue can be made.
func TestABookWithoutAQueueIsReadAllTheSame(t *testing.T) {
	f := newFarm(t)
	f.book.Close()
	q := filepath.Join(filepath.Dir(f.path), "."+filepath.Base(f.path)+".queue")
	if err := os.Remove(q); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(q, 0o755); err != nil { // no file can be made there
		t.Fatal(err)
	}
	f.open(Read)
	f.clean()
}

func (f *farm) open(m Mode) {
	f.t.Helper()
	b, err := Open(f.path, m, Options{Now: f.clock.now})
	if err != nil {
		f.t.Fatal(err)
	}
	f.book = b
}

// TestFlippedBytesNeverCrash damages a book in every way a disk may and does
// with it what the program does. Whatever happens must come back as an error
// of a known kind or as a finding.
func TestFlippedBytesNeverCrash(t *testing.T) {
	beginIDs()
	f := newFarm(t)
	for i := range 6 {
		m, ws := lotOf(t, fmt.Sprintf("2611%02dA", 10+i), fmt.Sprintf("2026-11-%02d", 10+i), 40,
			[]string{"cellar", "fridge"}[i%2])
		if i > 0 { // a wheel that waits for its coat costs a fit at every rebuild
			for k := range ws {
				ws[k].Plan = "tomme"
			}
		}
		f.update(func(tx *WriteTx) error { return errors.Join(tx.PutMake(m), tx.AddWheels(ws)) })
		var es []wheel.Entry
		for k, w := range ws {
			es = append(es, f.did(w.ID, wheel.Turn, fmt.Sprintf("2026-11-2%d 08:%02d", k%5, k)))
			if k%8 == 0 {
				es = append(es, f.weighed(w.ID, fmt.Sprintf("2026-11-%02d 09:00", 17+i%3), 2000))
			}
		}
		f.put(es...)
	}
	f.clean()
	whole := f.dump()
	f.book.Close()
	good := layInOrder(t, f.path)
	path := filepath.Join(t.TempDir(), "bad.book")
	tally := map[string]int{}
	for n := range setting("RINDKEEP_FLIPS", 120, 3000) {
		r := rand.New(rand.NewPCG(uint64(n), 7))
		bad := append([]byte{}, good...)
		how := damage(r, bad)
		if err := os.WriteFile(path, bad, 0o600); err != nil {
			t.Fatal(err)
		}
		outcome := live(t, fmt.Sprintf("book %d, %s", n, how), path, whole)
		tally[outcome]++
	}
	t.Logf("%v", tally)
	if tally["unnoticed"] > tally["refused"]+tally["found"] {
		t.Error("most damage goes unnoticed")
	}
}

func damage(r *rand.Rand, b []byte) string {
	page := 4096 * (r.IntN(len(b) / 4096))
	switch r.IntN(5) {
	case 0:
		b[r.IntN(len(b))] ^= 1 << r.IntN(8)
		return "one bit"
	case 1: // page headers and element tables, where it hurts most
		for range 3 {
			b[page+r.IntN(200)] = byte(r.Uint32())
		}
		return "bytes at the head of a page"
	case 2:
		clear(b[page : page+4096])
		return "a page of nothing"
	case 3:
		other := 4096 * (r.IntN(len(b) / 4096))
		copy(b[page:page+4096], b[other:other+4096])
		return "a page written over another"
	}
	for range 20 {
		b[r.IntN(len(b))] = byte(r.Uint32())
	}
	return "bytes here and there"
}

// live does with a book what the program does. Where nothing is noticed,
// nothing may be different.
func live(t *testing.T, name, path, whole string) (outcome string) {
	t.Helper()
	known := func(err error) bool {
		for _, k := range []error{bookfile.ErrDamaged, bookfile.ErrNotABook, bookfile.ErrCutOff, bookfile.ErrNewer} {
			if errors.Is(err, k) {
				return true
			}
		}
		return false
	}
	defer func() {
		if v := recover(); v != nil {
			t.Fatalf("%s: panic: %v", name, v)
		}
	}()
	outcome = "unnoticed"
	note := func(what string, err error) {
		if err == nil {
			return
		}
		var nf refusal.NotFound
		var rf refusal.Refused
		if !known(err) && !errors.As(err, &nf) && !errors.As(err, &rf) {
			t.Fatalf("%s: %s: %v", name, what, err)
		}
		outcome = "refused"
	}
	now := func() time.Time { return at(t, "2026-11-25 09:00") }
	b, err := Open(path, Read, Options{Now: now})
	if err != nil {
		note("open", err)
		return outcome
	}
	note("read", b.View(func(tx *ReadTx) error {
		if _, err := tx.Due(20782); err != nil { // 2026-11-25
			return err
		}
		for m, err := range tx.Makes() {
			if err != nil {
				return err
			}
			ws, err := tx.WheelsOf(m.ID)
			if err != nil {
				return err
			}
			for _, w := range ws[:min(2, len(ws))] {
				if _, err := tx.History(w.ID); err != nil {
					return err
				}
			}
		}
		_, err := tx.WheelByTag("261112A-3")
		var nf refusal.NotFound
		if errors.As(err, &nf) && nf.Name == "261112A-3" {
			return nil
		}
		return err
	}))
	note("past", b.View(func(tx *ReadTx) error { _, err := tx.Due(20775); return err }))
	found, err := b.Check(context.Background(), nil)
	note("check", err)
	if len(found) > 0 && outcome == "unnoticed" {
		outcome = "found"
	}
	if outcome == "unnoticed" && dumpBook(t, b) != whole {
		t.Fatalf("%s: the book says something else and nobody noticed\n%s", name, firstDifference(whole, dumpBook(t, b)))
	}
	b.Close()
	b, err = Open(path, Write, Options{Now: now})
	if err != nil {
		note("open to write", err)
		return outcome
	}
	note("write", b.Update(func(tx *WriteTx) error {
		var es []wheel.Entry
		for s, err := range tx.States() {
			if err != nil {
				return err
			}
			x := now().Add(-time.Minute)
			es = append(es, wheel.Entry{ID: newID(t), Subject: s.Wheel, Kind: wheel.Did, Job: wheel.Turn, At: x, Written: x})
			if len(es) == 20 {
				break
			}
		}
		_, err := tx.Put(es...)
		return err
	}))
	note("rebuild", b.Rebuild(t.Context()))
	b.Close()
	return outcome
}

// inBolt reads a book's file as bbolt does.
func inBolt(t *testing.T, path string, fn func(*bolt.Tx) error) {
	t.Helper()
	db, err := bolt.Open(path, 0o600, &bolt.Options{ReadOnly: true, PreLoadFreelist: true})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := db.View(fn); err != nil {
		t.Fatal(err)
	}
}

// usedBytes is how much of a book's file bbolt uses.
func usedBytes(t *testing.T, path string) (n int64) {
	inBolt(t, path, func(tx *bolt.Tx) error { n = tx.Size(); return nil })
	return n
}

func firstDifference(a, b string) string {
	x, y := strings.Split(a, "\n"), strings.Split(b, "\n")
	for i := range x {
		if i >= len(y) || x[i] != y[i] {
			return fmt.Sprintf("line %d of %d and %d\n%s\n%s", i, len(x), len(y), x[i], y[min(i, len(y)-1)])
		}
	}
	return fmt.Sprintf("%d lines and %d", len(x), len(y))
}

func TestAFullDiskIsSaid(t *testing.T) {
	for _, err := range []error{syscall.ENOSPC, &fs.PathError{Op: "write", Path: "x", Err: syscall.ENOSPC},
		errors.New("write x: file too large")} {
		got := bookfile.Failed("cave.book", "write", err)
		wantIs(t, got, bookfile.ErrFull, `disk-full "cave.book" write: `+err.Error())
	}
}

func TestAFaultOfTheProgramIsNotTakenForDamage(t *testing.T) {
	f := newFarm(t)
	defer func() {
		if v := recover(); v == nil {
			t.Error("the panic was swallowed")
		}
		f.book.Close()
		f.open(Write)
		f.clean()
	}()
	f.book.View(func(tx *ReadTx) error {
		var ws []wheel.Wheel
		return errors.New(ws[day.None&1+3].Tag)
	})
}
