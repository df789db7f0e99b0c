package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

// setting reads a number from the environment.
func setting(name string, normal, all int) int {
	if n, err := strconv.Atoi(os.Getenv(name)); err == nil {
		return n
	}
	if os.Getenv("RINDKEEP_TEST_ALL") == "1" {
		return all
	}
	return normal
}

// cave is a book on disk and the program to work on it.
type cave struct {
	t    testing.TB
	dir  string
	book string
	exe  string
}

func newCave(t testing.TB) *cave {
	t.Helper()
	exe, err := exec.LookPath("rindkeep")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	return &cave{t, dir, filepath.Join(dir, "cave.book"), exe}
}

// command is the program with its arguments, ready to start.
func (c *cave) command(args ...string) *exec.Cmd {
	cmd := exec.Command(c.exe, args...)
	cmd.Dir = c.dir
	cmd.Env = append(os.Environ(), "RINDKEEP_BOOK="+c.book, "RINDKEEP_BY=Nora", "TZ=Europe/Dublin", "RINDKEEP_TEST_NOW=")
	return cmd
}

// run runs the program, which must succeed, and gives its stdout.
func (c *cave) run(args ...string) string {
	c.t.Helper()
	cmd := c.command(args...)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	if err := cmd.Run(); err != nil {
		c.t.Fatalf("rindkeep %q: %v\n%s%s", args, err, out.String(), errs.String())
	}
	return out.String()
}

// filled puts a room and a lot of wheels in the book, made ten days ago.
func (c *cave) filled(wheels int) *cave {
	c.run("room", "new", "drying", "--racks", "A:4x8", "--quiet")
	c.run("make", "new", "--variety", "cheddar-waxed", "--wheels", strconv.Itoa(wheels), "--lot", "big", "--weight",
		"2100", "--place", "drying/A/1", "--at", time.Now().AddDate(0, 0, -10).Format("2006-01-02")+"T12:00", "--quiet")
	return c
}

// entries gives the identities and weights of all entries that count.
func (c *cave) entries(wheels int) map[string]string {
	c.t.Helper()
	all := map[string]string{}
	for i := 1; i <= wheels; i++ {
		var card struct {
			Entries []struct {
				ID     string
				What   string
				At     string
				Weight *float64 `json:"weight_g"`
			}
		}
		tag := fmt.Sprintf("big-%02d", i)
		if err := json.Unmarshal([]byte(c.run("wheel", "show", tag, "--history", "0", "--json")), &card); err != nil {
			c.t.Fatal(err)
		}
		for _, e := range card.Entries {
			all[e.ID] = tag + " " + e.What
			all[tag+" "+e.What+" "+e.At] = e.ID
		}
	}
	return all
}

// sound wants book check to find nothing.
func (c *cave) sound() {
	c.t.Helper()
	if out := c.run("book", "check"); !strings.Contains(out, "sound") {
		c.t.Fatalf("book check: %s", out)
	}
}

// The loop is a shell's: one process of the program after the other, as a
// person or a script calls it, and the whole of it is killed at once.
const loop = `
i=0
while :; do
  i=$((i+1))
  printf 'tag,weight,date,id\n' >rows.csv
  for k in 1 2 3; do
    printf 'big-%02d,%d,%s,%08x-%04x-7%03x-8000-%012x\n' \
      $(( (i+k) % 6 + 1 )) $((2050 - k)) "$DAY" $RUN $i $k $i >>rows.csv
  done
  "$RINDKEEP" weigh --from rows.csv --sure --json || exit 1
  "$RINDKEEP" did turn all --note "$RUN-$i" --json || exit 1
done`

func TestAKillAtAnyMomentLeavesTheBookSoundAndAllThatWasPrintedInIt(t *testing.T) {
	sh, err := exec.LookPath("sh")
	if err != nil {
		t.Fatal("no shell to run the loop in")
	}
	const wheels = 6
	c := newCave(t).filled(wheels)
	kills := setting("RINDKEEP_KILLS", 15, 200)
	acknowledged := map[string]string{} // what was printed as done -> by which life
	began := time.Now()
	span := 120 * time.Millisecond // a life's length, at most
	for life := range kills {
		cmd := exec.Command(sh, "-c", loop)
		cmd.Dir = c.dir
		cmd.Env = append(os.Environ(), "RINDKEEP="+c.exe, "RINDKEEP_BOOK="+c.book, "RINDKEEP_BY=Nora", "TZ=Europe/Dublin",
			"RINDKEEP_TEST_NOW=",
			fmt.Sprintf("RUN=%d",
				1000+life), "DAY="+time.Now().AddDate(0, 0, -9).Add(time.Duration(life)*time.Minute).Format("2006-01-02T15:04"))
		ownGroup(cmd)
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		var errs bytes.Buffer
		cmd.Stderr = &errs
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.AfterFunc(5*time.Millisecond+rand.N(span), func() { killGroup(cmd) })
		read := json.NewDecoder(bufio.NewReader(out))
		for {
			var doc struct {
				Schema  string
				At      string
				Wheels  []string
				Results []struct{ Wheel, Entry string }
			}
			if err := read.Decode(&doc); err != nil {
				if !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
					t.Fatalf("life %d printed what is no document: %v", life, err)
				}
				break // cut off in the midst of a document: acknowledged by no whole one
			}
			for _, r := range doc.Results {
				acknowledged[r.Entry] = fmt.Sprintf("life %d: %s weighed", life, r.Wheel)
			}
			for _, tag := range doc.Wheels {
				acknowledged[tag+" turned "+doc.At] = fmt.Sprintf("life %d: %s turned", life, tag)
			}
		}
		if err := cmd.Wait(); err == nil || strings.Contains(err.Error(), "exit status") {
			t.Fatalf("life %d ended by itself: %v\n%s", life, err, errs.String())
		}
		if len(acknowledged) <= life { // a machine with other things to do
			span = min(2*span, 4*time.Second)
		}
		c.sound()
		if life%20 == 19 || life == kills-1 {
			have := c.entries(wheels)
			for what, by := range acknowledged {
				if _, ok := have[what]; !ok {
					t.Fatalf("%s was printed as done (%s) and is not in the book after kill %d", by, what, life+1)
				}
			}
		}
	}
	t.Logf("%d kills in %.0f s, %d entries acknowledged, all there", kills, time.Since(began).Seconds(), len(acknowledged))
	if len(acknowledged) < kills {
		t.Errorf("%d entries in %d lives: the loop was hardly at work", len(acknowledged), kills)
	}
	left, err := os.ReadDir(c.dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, x := range left {
		names = append(names, x.Name())
	}
	// The folder of backups has come with the first entry that was followed by no kill.
	names = slices.DeleteFunc(names, func(n string) bool { return n == "cave.book.backups" })
	if want := []string{".cave.book.queue", "cave.book", "rows.csv"}; !slices.Equal(names, want) {
		t.Errorf("the folder holds %q after the kills, want %q", names, want)
	}
}

func TestManyProcessesAtOnceOnOneBookAllSucceed(t *testing.T) {
	const wheels, each = 8, 6
	c := newCave(t).filled(wheels)
	var wait sync.WaitGroup
	failed := make(chan string, wheels*each)
	for i := 1; i <= wheels; i++ {
		wait.Add(1)
		go func() {
			defer wait.Done()
			tag := fmt.Sprintf("big-%02d", i)
			for k := 1; k <= each; k++ {
				at := time.Now().AddDate(0, 0, -9+k).Format("2006-01-02")
				args := []string{"did", "turn", tag, "--at", at + "T08:00"}
				switch k % 3 {
				case 0:
					args = []string{"weigh", tag, strconv.Itoa(2100 - 8*k), "--sure", "--at", at + "T09:00"}
				case 1:
					args = []string{"today", "--json"}
				}
				if out, err := c.command(args...).CombinedOutput(); err != nil {
					failed <- fmt.Sprintf("rindkeep %q: %v\n%s", args, err, out)
				}
			}
		}()
	}
	wait.Wait()
	close(failed)
	for f := range failed {
		t.Error(f)
	}
	c.sound()
	var info struct{ Entries int }
	if err := json.Unmarshal([]byte(c.run("book", "info", "--json")), &info); err != nil {
		t.Fatal(err)
	}
	if want := wheels + wheels*each*2/3; info.Entries != want {
		t.Errorf("the book holds %d entries, want %d", info.Entries, want)
	}
}

func TestEightFirstCommandsAtOnceAllUseOneNewBook(t *testing.T) {
	const rooms = 8
	c := newCave(t)
	failed := make(chan string, rooms)
	var wait sync.WaitGroup
	for i := range rooms {
		wait.Go(func() {
			if out, err := c.command("room", "new", fmt.Sprint("room", i)).CombinedOutput(); err != nil {
				failed <- fmt.Sprintf("room %d: %v\n%s", i, err, out)
			}
		})
	}
	wait.Wait()
	close(failed)
	for f := range failed {
		t.Error(f)
	}
	c.sound()
	var info struct{ Rooms int }
	if err := json.Unmarshal([]byte(c.run("book", "info", "--json")), &info); err != nil || info.Rooms != rooms {
		t.Errorf("the book holds %d rooms, want %d: %v", info.Rooms, rooms, err)
	}
}

func TestFewFilesThatMayBeOpenAreToldInASentence(t *testing.T) {
	sh, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("there is no shell to limit it")
	}
	c := newCave(t).filled(2)
	// Go's runtime takes three and wants two more before the program begins.
	for n := 7; n <= 12; n++ {
		cmd := c.command()
		cmd.Path, cmd.Args = sh, []string{"sh", "-c", fmt.Sprintf("ulimit -n %d && exec %q today", n, c.exe)}
		out, err := cmd.CombinedOutput()
		if err != nil && !strings.HasPrefix(string(out), "rindkeep: too many files are open on this machine") {
			t.Errorf("with %d: %v\n%.300s", n, err, out)
		}
	}
}

func TestAnInterruptEndsAProcessAtOnceWithItsExitCode(t *testing.T) {
	if !canInterrupt {
		t.Skip("this system cannot send an interrupt to one process")
	}
	c := newCave(t).filled(2)
	cmd := c.command("weigh", "--from", "-")
	in, err := cmd.StdinPipe() // kept open: a person who types nothing
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	time.Sleep(300 * time.Millisecond)
	began := time.Now()
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	late := time.AfterFunc(10*time.Second, func() { cmd.Process.Kill() })
	_ = cmd.Wait()
	late.Stop()
	if code := cmd.ProcessState.ExitCode(); code != 130 || out.Len() > 0 ||
		!strings.Contains(errs.String(), "interrupted") {
		t.Errorf("exit code %d after %v, stdout %q, stderr %q; want 130 and a word on stderr",
			code, time.Since(began).Round(time.Millisecond), out.String(), errs.String())
	}
	c.sound()
}

func TestWhatTheSystemForbidsIsSaidInOneSentence(t *testing.T) {
	if !canForbid {
		t.Skip("this system has no permissions that bind a test")
	}
	c := newCave(t).filled(2)
	// The folder and a copy of the program where another user reaches them.
	place := filepath.Join(c.dir, "open")
	if err := os.Mkdir(place, 0o755); err != nil {
		t.Fatal(err)
	}
	for d := c.dir; d != os.TempDir() && d != filepath.Dir(d); d = filepath.Dir(d) {
		if err := os.Chmod(d, 0o755); err != nil {
			break
		}
	}
	exe := filepath.Join(place, "rindkeep")
	b, err := os.ReadFile(c.exe)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(exe, b, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(exe, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, x := range []struct {
		what string
		mode os.FileMode
		args []string
		code int
		says string
	}{
		{"a book that may only be read, read", 0o444, []string{"today", "--json"}, 0, ""},
		{"a book that may only be read, written", 0o444, []string{"did", "turn", "all"}, 1,
			"no permission to write to " + c.book},
		{"a book that may not be read", 0o000, []string{"today"}, 1, "no permission to read " + c.book},
		{"a folder where no book may be made", 0o444, []string{"make", "new", "--variety", "edam", "--wheels", "1", "--book",
			filepath.Join(place, "new.book")}, 1, "no permission"},
		{"a folder where no folder may be made", 0o444, []string{"room", "new", "x", "--book",
			filepath.Join(place, "deep", "new.book")}, 1, "no folder " + filepath.Join(place, "deep") + " for the book"},
		{"a backup where nothing may be written", 0o444, []string{"book", "backup", filepath.Join(place, "copy.book")}, 1,
			"no permission"},
		{"a picture where nothing may be written", 0o444,
			[]string{"curve", "big-01", "--svg", filepath.Join(place, "curve.svg")}, 1, "no permission"},
	} {
		if err := os.Chmod(c.book, x.mode); err != nil {
			t.Fatal(err)
		}
		cmd := c.command(x.args...)
		cmd.Path, cmd.Dir = exe, place
		asNobody(cmd)
		var out, errs bytes.Buffer
		cmd.Stdout, cmd.Stderr = &out, &errs
		_ = cmd.Run()
		if cmd.ProcessState == nil {
			t.Fatalf("%s: it did not start", x.what)
		}
		if code := cmd.ProcessState.ExitCode(); code != x.code || !strings.Contains(errs.String(), x.says) || code != 0 &&
			out.Len() > 0 {
			t.Errorf("%s: exit code %d, want %d and %q\nstdout %s\nstderr %s",
				x.what, code, x.code, x.says, out.String(), errs.String())
		}
	}
	if err := os.Chmod(c.book, 0o644); err != nil {
		t.Fatal(err)
	}
	c.sound()
}
