package main

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"
)

// traced runs the program under strace until it ends, or until there is a file; its
// output is what was traced.
func (c *cave) traced(now, until string, stdin string, args ...string) string {
	c.t.Helper()
	log := filepath.Join(c.t.TempDir(), "trace")
	cmd := c.command(args...)
	cmd.Args = append([]string{"strace", "-f", "-qq", "-xx", "-s", "100000000", "-e", "trace=" + traced, "-o", log, c.exe},
		args...)
	cmd.Path, _ = exec.LookPath("strace")
	cmd.Env = append(cmd.Env, "GOMAXPROCS=1", "RINDKEEP_TEST_NOW="+now, "TMPDIR="+filepath.Dir(log))
	cmd.Stdin = strings.NewReader(stdin)
	var said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &said
	if err := cmd.Start(); err != nil {
		c.t.Fatal(err)
	}
	if until != "" {
		for deadline := time.Now().Add(time.Minute); time.Now().Before(deadline); time.Sleep(20 * time.Millisecond) {
			if _, err := os.Stat(until); err == nil {
				break
			}
		}
		time.Sleep(200 * time.Millisecond)
		children, _ := os.ReadFile(fmt.Sprintf("/proc/%d/task/%d/children", cmd.Process.Pid, cmd.Process.Pid))
		for _, f := range strings.Fields(string(children)) {
			pid, _ := strconv.Atoi(f)
			if child, err := os.FindProcess(pid); err == nil {
				_ = child.Signal(syscall.SIGTERM)
			}
		}
	}
	if err := cmd.Wait(); err != nil && until == "" {
		c.t.Fatalf("%q: %v\n%s", args, err, said.String())
	}
	b, err := os.ReadFile(log)
	if err != nil {
		c.t.Fatal(err)
	}
	return string(b)
}

// TestAPowerCutLeavesFilesWholeOrAbsent replays what commands do to their files and cuts
// the power after each change. The book is sound then, and every other file is as it was
// before or as it was meant to be. When a command has said that it's done, all it wrote
// lasts.
func TestAPowerCutLeavesFilesWholeOrAbsent(t *testing.T) {
	if _, err := exec.LookPath("strace"); err != nil {
		if os.Getenv("RINDKEEP_TEST_ALL") == "1" {
			t.Fatal(err)
		}
		t.Skip("strace isn't here")
	}
	from := newCave(t).filled(3)
	from.run("weigh", "big-01", "2090", "--sure", "--quiet")
	if err := os.WriteFile(filepath.Join(from.dir, "w.csv"), []byte("tag,weight,date\n"+
		"big-01,2080,"+time.Now().AddDate(0, 0, -1).Format("2006-01-02")+"\n"+
		"big-02,2085,"+time.Now().AddDate(0, 0, -1).Format("2006-01-02")+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(from.dir, "wheels.csv"), wheelTable(0, 120), 0o600); err != nil {
		t.Fatal(err)
	}
	from.run("book", "export", "old.jsonl", "--quiet")
	from.run("book", "backup", "old.book", "--quiet")
	from.run("weigh", "big-02", "2080", "--sure", "--quiet")
	tomorrow := time.Now().AddDate(0, 0, 1).UTC().Format(time.RFC3339)
	cuts, tried := setting("RINDKEEP_CUTS", 6, 60), 0
	for _, c := range []struct {
		name   string
		stdin  string
		until  string
		format int  // of the book at first; 0: the newest
		again  bool // the same command finishes what the cut left
		args   []string
	}{
		{name: "a migration from format 1", format: 1, args: []string{"book", "info"}},
		{name: "a migration from format 2", format: 2, args: []string{"book", "info"}},
		{name: "an entry and the day's backup", args: []string{"wheel", "note", "big-03", "firm"}},
		{name: "a table of weights", again: true, args: []string{"weigh", "--from", "w.csv", "--sure"}},
		{name: "a load", again: true, args: []string{"weigh", "--from", "w.csv", "--sure"}},
		{name: "wheels in parts", again: true, args: []string{"book", "import", "wheels.csv", "--map", "--sure"}},
		{name: "CSV", args: []string{"book", "export", "--csv", "tables"}},
		{name: "XLSX", args: []string{"book", "export", "--xlsx", "cave.xlsx"}},
		{name: "an export over an old one", args: []string{"book", "export", "old.jsonl", "--replace"}},
		{name: "a backup", args: []string{"book", "backup", "new.book"}},
		{name: "a salvage", args: []string{"book", "salvage", "new.book"}},
		{name: "a restore", args: []string{"book", "restore", "old.book", "--replace"}},
		{name: "an import", args: []string{"book", "import", "old.jsonl", "--book", "new.book"}},
		{name: "a restore to a new folder", args: []string{"book", "restore", "old.book", "--book", "new/er/cave.book"}},
		{name: "a compaction", args: []string{"book", "compact"}},
		{name: "where backups are made", args: []string{"book", "backups", "--folder", "."}},
		{name: "a password", stdin: "a long enough secret\n", args: []string{"page", "password", "Nora"}},
		{name: "a device", args: []string{"page", "device", "scale-1"}},
		{name: "a certificate", until: "cave.book.tls", args: []string{"page", "--tls", "--listen", freeAddress()}},
		{name: "a sheet", args: []string{"sheet", "labels", "all", "--out", "labels.pdf"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.name == "a load" {
				t.Setenv("RINDKEEP_TEST_LONG", "1")
			}
			w := newCave(t)
			image(filesIn(t, from.dir)).write(t, w.dir)
			if c.format > 0 {
				oldBook(t, w.book, c.format)
			}
			d := newDrive(t, w.dir)
			trace := w.traced(tomorrow, w.until(c.until), c.stdin, c.args...)
			r := rand.New(rand.NewPCG(uint64(len(c.name)), 31))
			var all []image
			var steps []string
			d.replay(trace, func(step string) {
				for _, x := range d.images(r) {
					if !slices.ContainsFunc(all[max(0, len(all)-12):], x.same) {
						all, steps = append(all, x), append(steps, step)
					}
				}
			})
			after := image(filesIn(t, w.dir))
			if now := hold(d.names, (*node).now); !now.same(after) {
				t.Fatalf("the trace is not all that was done: %s", unlike(now, after))
			}
			last := hold(d.lasts, func(n *node) []byte { return n.synced })
			for name, b := range after {
				if !passing(name) && !bytes.Equal(last[name], b) {
					t.Errorf("done, and %s would not outlive a power cut", name)
				}
			}
			at := newCave(t)
			for _, i := range r.Perm(len(all))[:min(len(all), cuts)] {
				all[i].write(t, at.dir)
				tried++
				for name, b := range all[i] {
					if name == "cave.book" || passing(name) || b == nil {
						continue
					}
					if !slices.ContainsFunc(d.whole[name], func(o []byte) bool { return bytes.Equal(o, b) }) {
						t.Errorf("cut %d, after %s: %s has %d bytes, neither the old nor the new", i, steps[i], name, len(b))
					}
				}
				cmd := at.command("book", "check")
				if out, err := cmd.CombinedOutput(); err != nil {
					t.Errorf("cut %d, after %s: the book: %s", i, steps[i], out)
				} else if c.again {
					at.run(c.args...)
				}
				if (c.format > 0 || c.again) && at.held() != w.held() {
					t.Errorf("cut %d, after %s: the book holds %s of %s", i, steps[i], at.held(), w.held())
				}
			}
			t.Logf("%d images", len(all))
		})
	}
	t.Logf("%d power cuts tried", tried)
}

// oldBook makes the book of an older format that the store's tests keep as text.
func oldBook(t *testing.T, path string, format int) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(repo, "store", "testdata", fmt.Sprintf("format-%d.txt", format)))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	db, err := bolt.Open(path, 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := db.Update(func(tx *bolt.Tx) error {
		for _, line := range strings.Split(strings.TrimSpace(string(text)), "\n") {
			if strings.HasPrefix(line, "#") {
				continue
			}
			bucket, record, _ := strings.Cut(line, " ")
			b, err := tx.CreateBucketIfNotExists([]byte(bucket))
			if err != nil {
				return err
			}
			if record == "" {
				continue
			}
			key, value, _ := strings.Cut(record, " ")
			k, kerr := hex.DecodeString(key)
			v, verr := hex.DecodeString(value)
			if err := errors.Join(kerr, verr, b.Put(k, v)); err != nil {
				return err
			}
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
}

// held is how much a book holds.
func (c *cave) held() string {
	var info struct{ Makes, Wheels, Entries, Rooms int }
	if err := json.Unmarshal([]byte(c.run("book", "info", "--json")), &info); err != nil {
		c.t.Fatal(err)
	}
	return fmt.Sprintf("%+v", info)
}

// until is a path in the folder.
func (c *cave) until(name string) string {
	if name == "" {
		return ""
	}
	return filepath.Join(c.dir, name)
}

// passing says whether a file may be lost or half written: it only passes work on.
func passing(name string) bool {
	for _, part := range strings.Split(name, "/") {
		if strings.HasPrefix(part, ".") {
			return true
		}
	}
	return strings.HasSuffix(name, ".not-sound") || strings.HasSuffix(name, ".access.lock")
}
