package main

import (
	"bytes"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// A power cut leaves of a folder what was synced, and any part of the rest. strace writes
// down what a command does to its files; from that, drive makes what a disk may hold at
// each moment.
var (
	hexString  = regexp.MustCompile(`"((?:\\x[0-9a-f]{2})*)"`)
	callLine   = regexp.MustCompile(`^(\d+) +(\w+)\((.*)\) += (-?\d+)`)
	unfinished = regexp.MustCompile(`^(\d+) +(\w+\(.*) <unfinished \.\.\.>$`)
	resumed    = regexp.MustCompile(`^(\d+) +<\.\.\. \w+ resumed>(.*)$`)
)

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
