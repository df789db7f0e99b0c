package main

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"
)

// A power cut leaves of a folder what was synced, and any part of the rest. strace writes
// down what a command does to its files; from that, drive makes what a disk may hold at
// each moment.

// write is something done to a file's bytes that isn't synced yet.
type write struct {
	at   int64
	data []byte
	cut  bool // the file got the length at
}

func (w write) on(b []byte) []byte {
	end := w.at + int64(len(w.data))
	if int64(len(b)) < end {
		b = append(b, make([]byte, end-int64(len(b)))...)
	}
	if w.cut {
		return b[:w.at]
	}
	copy(b[w.at:], w.data)
	return b
}

// node is a file or a folder, whatever names it has.
type node struct {
	folder  bool
	synced  []byte
	pending []write
}

func (n *node) now() []byte {
	b := slices.Clone(n.synced)
	for _, w := range n.pending {
		b = w.on(b)
	}
	return b
}

// drive is a folder and what of it would outlive a power cut.
type drive struct {
	t      *testing.T
	dir    string
	names  map[string]*node // by path within dir; "" is dir itself
	lasts  map[string]*node // those that were synced with their folder
	whole  map[string][][]byte
	open   map[int]*descriptor
	opened map[string]string // of an unfinished call, by thread
}

type descriptor struct {
	name string
	node *node
	pos  int64
}

func newDrive(t *testing.T, dir string) *drive {
	d := &drive{t: t, dir: dir, names: map[string]*node{}, whole: map[string][][]byte{}, open: map[int]*descriptor{},
		opened: map[string]string{}}
	for name, b := range filesIn(t, dir) {
		d.names[name] = &node{folder: b == nil, synced: b}
		d.whole[name] = [][]byte{b}
	}
	d.lasts = maps.Clone(d.names)
	return d
}

// filesIn are the files and folders within a folder; nil stands for a folder.
func filesIn(t *testing.T, dir string) map[string][]byte {
	out := map[string][]byte{}
	if err := filepath.WalkDir(dir, func(p string, e os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name := inside(dir, p)
		if e.IsDir() {
			out[name] = nil
			return nil
		}
		b, err := os.ReadFile(p)
		out[name] = append([]byte{}, b...)
		return err
	}); err != nil {
		t.Fatal(err)
	}
	return out
}

var (
	hexString  = regexp.MustCompile(`"((?:\\x[0-9a-f]{2})*)"`)
	callLine   = regexp.MustCompile(`^(\d+) +(\w+)\((.*)\) += (-?\d+)`)
	unfinished = regexp.MustCompile(`^(\d+) +(\w+\(.*) <unfinished \.\.\.>$`)
	resumed    = regexp.MustCompile(`^(\d+) +<\.\.\. \w+ resumed>(.*)$`)
)

// traced are the calls that may change files.
const traced = "openat,write,pwrite64,renameat,renameat2,linkat,unlinkat,mkdirat,fsync,fdatasync,ftruncate,close," +
	"lseek,copy_file_range,fallocate,writev,sendfile,splice,dup"

// replay follows the lines of a trace and calls after each change.
func (d *drive) replay(trace string, after func(step string)) {
	for _, line := range strings.Split(trace, "\n") {
		if m := unfinished.FindStringSubmatch(line); m != nil {
			d.opened[m[1]] = m[2]
			continue
		}
		if m := resumed.FindStringSubmatch(line); m != nil {
			line = m[1] + " " + d.opened[m[1]] + m[2]
		}
		m := callLine.FindStringSubmatch(line)
		if m == nil || strings.HasPrefix(m[4], "-") {
			continue
		}
		result, _ := strconv.Atoi(m[4])
		if d.call(m[2], m[3], result) {
			after(m[2])
		}
	}
}

// call follows one call; changed says whether the disk may hold something else now.
func (d *drive) call(name, args string, result int) (changed bool) {
	var texts []string
	plain := hexString.ReplaceAllStringFunc(args, func(s string) string {
		b := make([]byte, 0, len(s)/4)
		for i := 1; i+4 <= len(s)-1; i += 4 {
			n, _ := strconv.ParseUint(s[i+2:i+4], 16, 8)
			b = append(b, byte(n))
		}
		texts = append(texts, string(b))
		return "@"
	})
	part := strings.Split(plain, ", ")
	number := func(i int) int64 { n, _ := strconv.ParseInt(part[i], 10, 64); return n }
	fd := func(i int) *descriptor { return d.open[int(number(i))] }
	switch name {
	case "openat":
		at, ok := d.within(part[0], texts[0])
		if !ok {
			delete(d.open, result)
			return false
		}
		n := d.names[at]
		if n == nil {
			n = &node{}
			d.names[at] = n
			changed = true
		}
		d.open[result] = &descriptor{name: at, node: n}
		if strings.Contains(plain, "O_TRUNC") && len(n.now()) > 0 {
			n.pending = append(n.pending, write{cut: true})
			changed = true
		}
		if strings.Contains(plain, "O_APPEND") {
			d.open[result].pos = int64(len(n.now()))
		}
		return changed
	case "close":
		delete(d.open, int(number(0)))
	case "write":
		if x := fd(0); x != nil {
			x.node.pending = append(x.node.pending, write{at: x.pos, data: []byte(texts[0])[:result]})
			x.pos += int64(result)
			return true
		}
	case "pwrite64":
		if x := fd(0); x != nil {
			x.node.pending = append(x.node.pending, write{at: number(len(part) - 1), data: []byte(texts[0])[:result]})
			return true
		}
	case "lseek":
		if x := fd(0); x != nil {
			x.pos = int64(result)
		}
	case "ftruncate":
		if x := fd(0); x != nil {
			x.node.pending = append(x.node.pending, write{at: number(1), cut: true})
			return true
		}
	case "copy_file_range":
		if from, to := fd(0), fd(2); to != nil && result > 0 {
			if from == nil || part[1] != "NULL" || part[3] != "NULL" {
				d.t.Fatalf("can't follow %s(%s)", name, plain)
			}
			b := from.node.now()[from.pos:]
			to.node.pending = append(to.node.pending, write{at: to.pos, data: b[:result]})
			from.pos += int64(result)
			to.pos += int64(result)
			return true
		}
	case "writev", "sendfile", "splice", "fallocate", "dup":
		if fd(0) != nil {
			d.t.Fatalf("can't follow %s(%s)", name, plain)
		}
	case "fsync", "fdatasync":
		x := fd(0)
		switch {
		case x == nil:
			return false
		case x.node.folder:
			d.syncFolder(x.name)
		default:
			x.node.synced, x.node.pending = x.node.now(), nil
		}
		return true
	default:
		return d.rename(name, part, texts)
	}
	return false
}

// rename follows a call that changes names.
func (d *drive) rename(name string, part, texts []string) bool {
	if len(texts) == 0 {
		return false
	}
	from, ok := d.within(part[0], texts[0])
	if !ok {
		return false
	}
	switch name {
	case "mkdirat":
		d.names[from] = &node{folder: true}
	case "unlinkat":
		delete(d.names, from)
	case "linkat", "renameat", "renameat2":
		to, _ := d.within(part[2], texts[1])
		n := d.names[from]
		d.names[to] = n
		d.whole[to] = append(d.whole[to], n.now())
		if name != "linkat" {
			delete(d.names, from)
		}
	default:
		return false
	}
	return true
}

// within is a path within the folder, as a call gives it: in the folder of a descriptor,
// or from where the command runs.
func (d *drive) within(at, path string) (string, bool) {
	if n, err := strconv.Atoi(at); err == nil && !filepath.IsAbs(path) {
		x := d.open[n]
		if x == nil {
			return "", false
		}
		path = filepath.Join(x.name, path)
	}
	if !filepath.IsAbs(path) {
		path = filepath.Join(d.dir, path)
	}
	name := inside(d.dir, path)
	return name, name != ".." && !strings.HasPrefix(name, "../")
}

// inside is a path as it's called within a folder, "" for the folder itself.
func inside(dir, path string) string {
	name, err := filepath.Rel(dir, path)
	if err != nil {
		return ".."
	}
	if name == "." {
		return ""
	}
	return name
}

// syncFolder makes the names in a folder last.
func (d *drive) syncFolder(folder string) {
	in := func(name string) bool { return name != "" && inside(".", filepath.Dir(name)) == folder }
	maps.DeleteFunc(d.lasts, func(name string, _ *node) bool { return in(name) })
	for name, n := range d.names {
		if in(name) {
			d.lasts[name] = n
		}
	}
}

// image is what the disk may hold now.
type image map[string][]byte

// images are the least and the most that outlives a power cut now, the names without
// what isn't synced, and two of the many between.
func (d *drive) images(r *rand.Rand) []image {
	synced := func(n *node) []byte { return n.synced }
	part := func(n *node) []byte {
		b := slices.Clone(n.synced)
		for _, w := range n.pending {
			if r.IntN(2) == 0 {
				b = w.on(b)
			}
		}
		return b
	}
	return []image{
		hold(d.lasts, synced), hold(d.names, (*node).now), hold(d.names, synced), hold(d.names, part), hold(d.lasts, part),
	}
}

func hold(names map[string]*node, of func(*node) []byte) image {
	out := image{}
	for name, n := range names {
		for dir := filepath.Dir(name); dir != "."; dir = filepath.Dir(dir) {
			if names[dir] == nil {
				n = nil // its folder doesn't last
			}
		}
		switch {
		case n == nil:
		case n.folder:
			out[name] = nil
		default:
			out[name] = append([]byte{}, of(n)...)
		}
	}
	return out
}

func (x image) write(t *testing.T, dir string) {
	t.Helper()
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
	for _, name := range slices.Sorted(maps.Keys(x)) {
		p, err := filepath.Join(dir, name), error(nil)
		if x[name] == nil {
			err = os.MkdirAll(p, 0o700)
		} else {
			err = os.WriteFile(p, x[name], 0o600)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

func (x image) same(o image) bool { return maps.EqualFunc(x, o, bytes.Equal) }

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

func unlike(a, b image) string {
	for name := range a {
		if o, ok := b[name]; !ok || !bytes.Equal(a[name], o) {
			return fmt.Sprintf("%s: %d bytes, and %d (%v)", name, len(a[name]), len(o), ok)
		}
	}
	for name := range b {
		if _, ok := a[name]; !ok {
			return name + " is missing"
		}
	}
	return "nothing"
}
