package main

import (
	"bytes"
	"context"
	"encoding/binary"
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
	"testing"
	"time"
)

// TestNoDamageOfALargeBookMisleads damages a book of the demo in many ways and asks the
// program what people ask, most of it what the damaged pages tell of. A command ends in
// time and without a trace. What it shows at exit 0 is what the sound book shows, unless
// it says what it left out. If only records are damaged, wheels on other pages are shown;
// if no wheel can be shown any more, the other pages are salvaged.
// RINDKEEP_LARGE_WHEELS=47000 makes a book of 200 MB, and RINDKEEP_LARGE sets how often
// it's damaged, from RINDKEEP_LARGE_FROM on.
func TestNoDamageOfALargeBookMisleads(t *testing.T) {
	c := newCave(t)
	wheels := setting("RINDKEEP_LARGE_WHEELS", 500, 1500)
	c.run("demo", "--wheels", strconv.Itoa(wheels), "--book", c.book, "--quiet")
	d := &damagedCave{cave: c, now: time.Now().UTC(), pages: mapPages(t, c.book), tally: map[string]int{}}
	st, err := os.Stat(c.book)
	if err != nil {
		t.Fatal(err)
	}
	d.size = st.Size()
	d.whole = filepath.Join(c.dir, "whole")
	d.copy(c.book, d.whole)
	for _, tag := range d.pages.tags {
		d.far = append(d.far, []string{"wheel", "show", tag, "--history", "0", "--json"})
	}
	slices.SortFunc(d.far, slices.Compare)
	r := rand.New(rand.NewPCG(5, 14))
	r.Shuffle(len(d.far), func(i, j int) { d.far[i], d.far[j] = d.far[j], d.far[i] })
	d.far = d.far[:3]
	from := setting("RINDKEEP_LARGE_FROM", 0, 0)
	began := time.Now()
	for n := from; n < from+setting("RINDKEEP_LARGE", 40, 400); n++ {
		d.meet(n)
		if n%500 == 499 {
			t.Logf("%d damages in %.0f s: %v", n+1-from, time.Since(began).Seconds(), d.tally)
		}
	}
	t.Logf("%d MB: %v", d.size/1_000_000, d.tally)
}

// damagedCave is a book that is damaged and mended again and again.
type damagedCave struct {
	*cave
	now   time.Time // each answer is of the same moment
	size  int64
	whole string // a copy of the sound book
	pages *pageMap
	far   [][]string // cards of wheels from all over the book
	sound map[string]answer
	tally map[string]int
}

// answer is what a command shows.
type answer struct {
	out, said string
	code      int
}

// ask runs a command, which has to end in time.
func (d *damagedCave) ask(args ...string) answer {
	d.t.Helper()
	ctx, stop := context.WithTimeout(d.t.Context(), mostTime)
	defer stop()
	cmd := exec.CommandContext(ctx, d.exe, args...)
	cmd.Dir = d.dir
	cmd.Env = append(os.Environ(), "RINDKEEP_BOOK="+d.book, "RINDKEEP_BY=Nora", "TZ=Europe/Dublin",
		"RINDKEEP_TEST_NOW="+d.now.Format(time.RFC3339Nano), "TMPDIR="+d.dir)
	var stdout, stderr bytes.Buffer
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	err := cmd.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) || ctx.Err() != nil {
		d.t.Fatalf("%q: %v, %v", args, err, ctx.Err())
	}
	return answer{stdout.String(), stderr.String(), cmd.ProcessState.ExitCode()}
}

// mostTime is how long a command may take on a busy machine.
const mostTime = 10 * time.Minute

// expected is the answer of the sound book.
func (d *damagedCave) expected(args []string) answer {
	name := strings.Join(args, " ")
	a, known := d.sound[name]
	if !known {
		if a = d.ask(args...); a.code != 0 || a.out == "" {
			d.t.Fatalf("%q of the sound book: exit %d, %s", args, a.code, a.said)
		}
		if d.sound == nil || len(d.sound) > 200 { // each is a megabyte at most
			d.sound = map[string]answer{}
		}
		d.sound[name] = a
	}
	return a
}

// sizes are the lines that change when the indexes of a damaged book are made again.
var sizes = regexp.MustCompile(`(?m)^  "(free_)?bytes": .*$`)

// meet damages the book in the nth way, asks it, and mends it.
func (d *damagedCave) meet(n int) {
	r := rand.New(rand.NewPCG(uint64(n), 23))
	how, spoilt := d.spoil(r)
	asked := slices.Clone(d.far)
	harmless := true
	for i, id := range spoilt.pages() {
		harmless = harmless && d.pages.harmless(id)
		if near := d.pages.about(id); len(near) > 0 && i < 3 {
			r.Shuffle(len(near), func(i, j int) { near[i], near[j] = near[j], near[i] })
			asked = append(asked, near[:min(2, len(near))]...)
		}
	}
	asked = append(asked, []string{"book", "info", "--json"})
	if n%20 == 0 {
		asked = append(asked, []string{"today", "--json"}, []string{"make", "list", "--json"})
	}
	if n%100 == 0 {
		asked = append(asked, []string{"log", "--json", "--on", "yesterday"})
	}
	want := make([]answer, len(asked))
	for i, args := range asked {
		want[i] = d.expected(args)
	}
	spoilt.write(d.t, d.book, false)
	bad := d.heads()
	defer d.mend(spoilt, bad)
	outcome, shown := "as before", 0
	for i, args := range asked {
		a := d.ask(args...)
		switch {
		case a.code == 2 || strings.Contains(a.said, "goroutine ") || strings.Contains(a.said, "hit a bug"):
			d.t.Errorf("damage %d, %s: %q: exit %d, %s", n, how, args, a.code, a.said)
		case a.code != 0 || a.said != want[i].said:
			outcome = "noticed"
		case sizes.ReplaceAllString(a.out, "") != sizes.ReplaceAllString(want[i].out, ""):
			d.t.Errorf("damage %d, %s: %q shows something else:\n%s", n, how, args, otherLine(want[i].out, a.out))
		}
		if i < len(d.far) && a.code == 0 {
			shown++
		}
	}
	if least := len(d.far) - len(spoilt.now); harmless && shown < least {
		d.t.Errorf("damage %d, %s: of records in %s; %d wheels of %d are shown: %s", n, how,
			d.pages.bucketOf(spoilt.pages()[0]), shown, len(d.far), d.ask(d.far[0]...).said)
	}
	if shown == 0 {
		outcome = "refused"
		if d.tally["refused"]%250 == 3 { // it takes long
			d.salvage(n, how)
		}
	}
	d.tally[outcome]++
}

// heads are the pages that every write to the book changes.
func (d *damagedCave) heads() []byte {
	f, err := os.Open(d.book)
	if err != nil {
		d.t.Fatal(err)
	}
	defer f.Close()
	b := make([]byte, 2*pageSize)
	if _, err := f.ReadAt(b, 0); err != nil {
		d.t.Fatal(err)
	}
	return b
}

// mend makes the book sound again. If it was written to, as its indexes seemed to be of
// another version, that's by a copy.
func (d *damagedCave) mend(s spoilt, bad []byte) {
	if bytes.Equal(d.heads(), bad) {
		s.write(d.t, d.book, true)
		return
	}
	d.copy(d.whole, d.book)
	d.tally["made again"]++
}

func (d *damagedCave) copy(from, to string) {
	d.t.Helper()
	if out, err := exec.Command("cp", from, to).CombinedOutput(); err != nil {
		d.t.Fatalf("%v: %s", err, out)
	}
}

// salvage saves what can be read of the book, which is nearly all.
func (d *damagedCave) salvage(n int, how string) {
	saved := filepath.Join(d.dir, "saved.book")
	defer os.Remove(saved)
	if a := d.ask("book", "salvage", saved); a.code != 0 {
		d.t.Errorf("damage %d, %s: salvage: exit %d, %s", n, how, a.code, a.said)
		return
	}
	var info struct{ Wheels, Entries int }
	if err := json.Unmarshal([]byte(d.ask("book", "info", "--json", "--book", saved).out), &info); err != nil ||
		info.Wheels < len(d.pages.tags)*99/100 {
		d.t.Errorf("damage %d, %s: %d wheels of %d were saved, %v", n, how, info.Wheels, len(d.pages.tags), err)
	}
	d.tally["salvaged"]++
}

func otherLine(want, got string) string {
	a, b := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range a {
		if i >= len(b) || a[i] != b[i] {
			return fmt.Sprintf("line %d\n%s\n%s", i, a[i], b[min(i, len(b)-1)])
		}
	}
	return fmt.Sprintf("%d lines and %d", len(a), len(b))
}

// spoilt is a change of some pages of a file.
type spoilt struct{ was, now map[int64][]byte }

// pages are the pages that are changed.
func (s spoilt) pages() []int64 { return slices.Sorted(maps.Keys(s.now)) }

// write writes the pages as they are now, or back as they were.
func (s spoilt) write(t testing.TB, path string, back bool) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	pages := s.now
	if back {
		pages = s.was
	}
	for id, b := range pages {
		if _, err := f.WriteAt(b, id*pageSize); err != nil {
			t.Fatal(err)
		}
	}
}

// spoil thinks of one of the ways in which a disk may damage the book, or leads a branch
// page back to itself. One in five hits a page that everything needs.
func (d *damagedCave) spoil(r *rand.Rand) (how string, s spoilt) {
	d.t.Helper()
	f, err := os.Open(d.book)
	if err != nil {
		d.t.Fatal(err)
	}
	defer f.Close()
	s = spoilt{map[int64][]byte{}, map[int64][]byte{}}
	read := func(id int64) []byte {
		b := make([]byte, pageSize)
		if _, err := f.ReadAt(b, id*pageSize); err != nil {
			d.t.Fatal(err)
		}
		return b
	}
	change := func(id int64, fn func(b []byte)) {
		if s.now[id] == nil {
			s.was[id] = read(id)
			s.now[id] = slices.Clone(s.was[id])
		}
		fn(s.now[id])
	}
	any := func() int64 { return r.Int64N(d.size / pageSize) }
	some := any
	switch r.IntN(10) {
	case 0:
		some = func() int64 { return d.pages.branch[r.IntN(len(d.pages.branch))] }
	case 1:
		some = func() int64 { return d.pages.vital[r.IntN(len(d.pages.vital))] }
	}
	switch r.IntN(7) {
	case 0:
		how = "one bit"
		change(some(), func(b []byte) { b[r.IntN(pageSize)] ^= 1 << r.IntN(8) })
	case 1:
		how = "bytes at the head of a page"
		change(some(), func(b []byte) {
			for range 3 {
				b[r.IntN(200)] = byte(r.Uint32())
			}
		})
	case 2:
		how = "a bit of a page's header"
		change(some(), func(b []byte) { b[r.IntN(pageHeader)] ^= 1 << r.IntN(8) })
	case 3:
		how = "a page of nothing"
		change(some(), func(b []byte) { clear(b) })
	case 4:
		how = "a page written over another"
		other := read(any())
		change(some(), func(b []byte) { copy(b, other) })
	case 5:
		how = "bytes here and there"
		for range 20 {
			change(some(), func(b []byte) { b[r.IntN(pageSize)] = byte(r.Uint32()) })
		}
	default:
		how = "a branch that leads to itself"
		id := d.pages.branch[r.IntN(len(d.pages.branch))]
		change(id, func(b []byte) {
			count := int(binary.NativeEndian.Uint16(b[10:]))
			binary.NativeEndian.PutUint64(b[pageHeader+elementSize*r.IntN(count)+8:], uint64(id))
		})
	}
	return how, s
}
