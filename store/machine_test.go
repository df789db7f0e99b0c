package store

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	bolt "go.etcd.io/bbolt"

	"rindkeep/store/bookfile"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel"
)

// TestTroubleOfTheMachineIsNoDamage has strace give the errors of a machine in
// trouble to another process that opens a sound book.
func TestTroubleOfTheMachineIsNoDamage(t *testing.T) {
	if _, err := exec.LookPath("strace"); err != nil {
		if os.Getenv("RINDKEEP_TEST_ALL") == "1" {
			t.Fatal(err)
		}
		t.Skip("strace isn't here")
	}
	f := newFarm(t)
	f.lot("261120A", "2026-11-20", 3, "cellar")
	f.book.Close()
	sound := f.path
	for _, c := range []struct {
		role, call string
		times      int
		want       bookfile.Kind
	}{
		{"open", "mmap:error=ENOMEM", 1, bookfile.ErrMemory},
		{"open", "pread64:error=EIO", 3, bookfile.ErrDisk},
		{"open", "flock:error=ENOLCK", 2, bookfile.ErrNoLocks},
		{"open", "openat:error=EMFILE", 1, bookfile.ErrOpenFiles},
		{"open", "openat:error=ENFILE", 1, bookfile.ErrOpenFiles},
		{"open", "mmap:error=EINTR", 1, bookfile.ErrInterrupted},
		{"put", "fdatasync:error=EIO", 1, bookfile.ErrDisk},
		{"put", "fdatasync:error=EIO:when=2", 1, bookfile.ErrUnsynced},
	} {
		inject := []string{c.call}
		for i := range c.times {
			if !strings.Contains(c.call, "when=") {
				inject = append(inject[:i], c.call+":when="+string(rune('1'+i)))
			}
		}
		for _, x := range inject {
			out, path := injected(t, x, sound, c.role)
			if got := strings.TrimSpace(string(out)); !strings.HasPrefix(got, string(c.want)+" ") {
				t.Errorf("%s, %s: got %s, want %s", c.role, x, got, c.want)
			}
			f.path = path
			f.open(Read)
			f.clean()
			f.book.Close()
		}
	}
}

// injected is what a process in a role says of a copy of a book when a call of its
// fails. strace counts the calls of each thread apart, so that the third of a process
// may be nobody's third, or a later one of the process: then it runs again.
func injected(t *testing.T, inject, book, role string) (said []byte, copied string) {
	t.Helper()
	sound, err := os.ReadFile(book)
	if err != nil {
		t.Fatal(err)
	}
	for range 20 {
		dir := t.TempDir()
		path, log := filepath.Join(dir, "cave.rind"), filepath.Join(dir, "log")
		if err := os.WriteFile(path, sound, 0o600); err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command("strace", "-f", "-qq", "-o", log, "-P", path, "-e", "inject="+inject, os.Args[0], path)
		cmd.Env = append(os.Environ(), childRole+"="+role, "GOMAXPROCS=1")
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%s: %v %s", inject, err, out)
		}
		calls, err := os.ReadFile(log)
		if err != nil {
			return out, path
		}
		name, when, _ := strings.Cut(inject, ":")
		_, when, counted := strings.Cut(when, "when=")
		before, _, was := strings.Cut(string(calls), "(INJECTED)")
		if n := strings.Count(before, " "+name+"("); was && (!counted || strconv.Itoa(n) == when) {
			return out, path
		}
	}
	t.Fatalf("%s: no such call in twenty runs", inject)
	return nil, ""
}

// TestARecordOfANewerProgramIsNoDamage has records with right seals that this program
// can't read.
func TestARecordOfANewerProgramIsNoDamage(t *testing.T) {
	for name, change := range map[string]func(v []byte) []byte{
		"a kind of entry":    func(v []byte) []byte { v[1] = 250; return v },
		"a version":          func(v []byte) []byte { v[0] = 9; return v },
		"more than it holds": func(v []byte) []byte { return append(v, 1, 2, 3) },
	} {
		f := newFarm(t)
		_, ws := f.lot("261120A", "2026-11-20", 3, "cellar")
		f.put(f.weighed(ws[0].ID, "2026-11-21 08:00", 2000))
		f.spoil(layout.Entries, func(b *bolt.Bucket) error {
			k, v := b.Cursor().First()
			k = append([]byte{}, k...)
			return b.Put(k, pack.Seal(k, change(append([]byte{}, v[:len(v)-2]...))))
		})
		err := f.book.View(func(tx *ReadTx) error { _, err := tx.History(ws[0].ID); return err })
		if !errors.Is(err, bookfile.ErrNewer) || errors.Is(err, bookfile.ErrDamaged) {
			t.Errorf("%s: history: %v", name, err)
		}
		// Nothing but another program wrote it here, which the check finds.
		if found, err := f.book.Check(context.Background(), nil); err != nil || len(found) == 0 || !found[0].History {
			t.Errorf("%s: check: %v %v", name, found, err)
		}
	}
}

// putOne opens the book, writes one entry and gives the error.
func putOne(path string) error {
	b, err := Open(path, Write, Options{Now: childNow})
	if err != nil {
		return err
	}
	defer b.Close()
	return b.Update(func(t *WriteTx) error {
		for w, err := range t.EachWheel() {
			if err != nil {
				return err
			}
			e := wheel.Entry{Subject: w.ID, Kind: wheel.Noted, Note: "firm", At: childNow(), Written: childNow()}
			e.ID[15] = 1
			_, err = t.Put(e)
			return err
		}
		return nil
	})
}

// TestACheckCannotVouchForWhatANewerProgramWrote has such an entry in the chain.
func TestACheckCannotVouchForWhatANewerProgramWrote(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261120A", "2026-11-20", 3, "cellar")
	f.update(func(tx *WriteTx) error {
		e := f.weighed(ws[0].ID, "2026-11-21 08:00", 2000)
		k, v := pack.EntryKey(e), pack.EntryBody(&e)
		v[1] = 250
		tx.tab.PutEntry(k, pack.Seal(k, v))
		return nil
	})
	ctx := context.Background()
	if found, err := f.book.Check(ctx, nil); !errors.Is(err, bookfile.ErrNewer) || len(found) > 0 {
		t.Errorf("check: %v %v", found, err)
	}
	if _, err := Above.Backup(ctx, f.book, filepath.Join(t.TempDir(), "x")); !errors.Is(err, bookfile.ErrNewer) {
		t.Errorf("backup: %v", err)
	}
}
