package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// TestNoDamageOfALargeBookMisleads damages a book of the demo in many ways and asks the
// program what people ask. A command ends in time and without a trace. What it shows at
// exit 0 is what the sound book shows, unless it says what it left out. If no wheel can be
// shown any more, the other pages are salvaged. RINDKEEP_LARGE_WHEELS=47000 makes a book
// of 200 MB, and RINDKEEP_LARGE sets how often it's damaged.
func TestNoDamageOfALargeBookMisleads(t *testing.T) {
	c := newCave(t)
	wheels := setting("RINDKEEP_LARGE_WHEELS", 500, 1500)
	c.run("demo", "--wheels", strconv.Itoa(wheels), "--book", c.book, "--quiet")
	st, err := os.Stat(c.book)
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now().UTC().Format(time.RFC3339) // each answer is of the same moment
	ask := func(args ...string) (out, said string, code int) {
		ctx, stop := context.WithTimeout(t.Context(), 10*time.Minute)
		defer stop()
		cmd := exec.CommandContext(ctx, c.exe, args...)
		cmd.Dir = c.dir
		cmd.Env = append(os.Environ(), "RINDKEEP_BOOK="+c.book, "RINDKEEP_BY=Nora", "TZ=Europe/Dublin",
			"RINDKEEP_TEST_NOW="+now, "TMPDIR="+c.dir)
		var stdout, stderr bytes.Buffer
		cmd.Stdout, cmd.Stderr = &stdout, &stderr
		err := cmd.Run()
		var exit *exec.ExitError
		if err != nil && !errors.As(err, &exit) || ctx.Err() != nil {
			t.Fatalf("%q: %v, %v", args, err, ctx.Err())
		}
		return stdout.String(), stderr.String(), cmd.ProcessState.ExitCode()
	}
	var asked [][]string
	for _, l := range strings.Split(c.run("wheel", "list"), "\n") {
		if tag, _, ok := strings.Cut(l, " "); ok && strings.Contains(tag, "-") {
			asked = append(asked, []string{"wheel", "show", tag, "--history", "0", "--json"})
		}
	}
	r := rand.New(rand.NewPCG(5, 14))
	r.Shuffle(len(asked), func(i, j int) { asked[i], asked[j] = asked[j], asked[i] })
	wheels = min(4, len(asked))
	all := []string{"log", "--json"}
	if st.Size() > 50_000_000 { // it would take longer than all the rest
		all = append(all, "--on", "yesterday")
	}
	asked = append(asked[:wheels:wheels], []string{"today", "--json"}, []string{"make", "list", "--json"}, all,
		[]string{"book", "info", "--json"})
	want, hints := make([]string, len(asked)), make([]string, len(asked))
	for i, args := range asked {
		out, said, code := ask(args...)
		if want[i], hints[i] = out, said; code != 0 || out == "" {
			t.Fatalf("%q of the sound book: exit %d, %s", args, code, said)
		}
	}
	tally, refusedAll := map[string]int{}, 0
	for n := range setting("RINDKEEP_LARGE", 8, 60) {
		how, mend := spoilPages(t, c.book, st.Size(), rand.New(rand.NewPCG(uint64(n), 23)))
		outcome, shown := "as before", 0
		for i, args := range asked {
			out, said, code := ask(args...)
			switch {
			case code == 2 || strings.Contains(said, "goroutine ") || strings.Contains(said, "hit a bug"):
				t.Errorf("damage %d, %s: %q: exit %d, %s", n, how, args, code, said)
			case code != 0 || said != hints[i]:
				outcome = "noticed"
			case out != want[i]:
				t.Errorf("damage %d, %s: %q shows something else:\n%s", n, how, args, otherLine(want[i], out))
			}
			if code == 0 && i < wheels {
				shown++
			}
		}
		if shown == 0 {
			if refusedAll++; refusedAll%20 == 1 { // it takes long
				saved := filepath.Join(c.dir, "saved.book")
				if _, said, code := ask("book", "salvage", saved); code != 0 {
					t.Errorf("damage %d, %s: salvage: exit %d, %s", n, how, code, said)
				}
				os.Remove(saved)
			}
			outcome = "for salvage"
		}
		tally[outcome]++
		mend()
	}
	t.Logf("%d MB: %v", st.Size()/1_000_000, tally)
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

// spoilPages damages a file in one of the ways a disk may, or leads a branch page back to
// itself, and gives what mends it.
func spoilPages(t *testing.T, path string, size int64, r *rand.Rand) (how string, mend func()) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	const page = 4096
	was := map[int64][]byte{}
	read := func(at int64) []byte {
		b := make([]byte, page)
		if _, err := f.ReadAt(b, at); err != nil {
			t.Fatal(err)
		}
		return b
	}
	change := func(at int64, fn func(b []byte)) {
		b := read(at)
		if was[at] == nil {
			was[at] = slices.Clone(b)
		}
		fn(b)
		if _, err := f.WriteAt(b, at); err != nil {
			t.Fatal(err)
		}
	}
	somewhere := func() int64 { return r.Int64N(size/page) * page }
	switch r.IntN(6) {
	case 0:
		how = "one bit"
		change(somewhere(), func(b []byte) { b[r.IntN(page)] ^= 1 << r.IntN(8) })
	case 1:
		how = "bytes at the head of a page"
		change(somewhere(), func(b []byte) {
			for range 3 {
				b[r.IntN(200)] = byte(r.Uint32())
			}
		})
	case 2:
		how = "a page of nothing"
		change(somewhere(), func(b []byte) { clear(b) })
	case 3:
		how = "a page written over another"
		other := read(somewhere())
		change(somewhere(), func(b []byte) { copy(b, other) })
	case 4:
		how = "bytes here and there"
		for range 20 {
			change(somewhere(), func(b []byte) { b[r.IntN(page)] = byte(r.Uint32()) })
		}
	default:
		const header, element, branch = 16, 16, 1
		how = "no branch found"
		for range 20_000 {
			at := somewhere()
			b := read(at)
			if count := int(binary.NativeEndian.Uint16(b[10:])); binary.NativeEndian.Uint16(b[8:]) == branch &&
				binary.NativeEndian.Uint64(b) == uint64(at/page) && count > 0 && header+count*element < page {
				how = "a branch that leads to itself"
				change(at, func(b []byte) {
					binary.NativeEndian.PutUint64(b[header+element*r.IntN(count)+8:], uint64(at/page))
				})
				break
			}
		}
	}
	return how, func() {
		f, err := os.OpenFile(path, os.O_RDWR, 0)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		for at, b := range was {
			if _, err := f.WriteAt(b, at); err != nil {
				t.Fatal(err)
			}
		}
	}
}
