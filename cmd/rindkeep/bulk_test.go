package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// weighings is a table of wheels weighed each as often, a few hours apart, in
// the order of the days or of the wheels.
type weighings struct {
	wheels, each int
	from         time.Time
	apart        time.Duration
	byDay        bool
}

func (w weighings) tag(k int) string {
	return fmt.Sprintf("L%04d-%02d", k/50, k%50+1)
}

func (w weighings) row(k, i int) string {
	at := w.from.Add(time.Duration(i) * w.apart)
	d := at.Sub(w.from).Hours() / 24
	g := math.Round(2000*(1-0.012*(math.Sqrt(1+d)-1))) + float64(k%7)
	return fmt.Sprintf("%s,%.0f,%s\n", w.tag(k), g, at.Format("2006-01-02 15:04"))
}

func (w weighings) write(t testing.TB, path string) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	b := bufio.NewWriterSize(f, 1<<20)
	b.WriteString("tag,weight,date\n")
	outer, inner := w.wheels, w.each
	if w.byDay {
		outer, inner = w.each, w.wheels
	}
	for x := range outer {
		for y := range inner {
			k, i := x, y
			if w.byDay {
				k, i = y, x
			}
			b.WriteString(w.row(k, i))
		}
	}
	if err := b.Flush(); err != nil {
		t.Fatal(err)
	}
}

// make makes the wheels, in lots of fifty, on the day before the first
// weighing.
func (w weighings) make(c *cave) {
	c.t.Helper()
	c.run("room", "new", "cellar", "--temp", "12C", "--rh", "90%", "--quiet")
	on := w.from.AddDate(0, 0, -1).Format("2006-01-02")
	for k := 0; k < w.wheels; k += 50 {
		c.run("make", "new", "--variety", "tomme", "--wheels", fmt.Sprint(min(50, w.wheels-k)), "--lot", fmt.Sprintf("L%04d",
			k/50), "--place", "cellar", "--on", on, "--quiet")
	}
}

func TestALoadThatIsKilledIsGoneOnWithAndDoublesNothing(t *testing.T) {
	c := newCave(t)
	w := weighings{wheels: 200, each: 600, apart: 6 * time.Hour}
	w.from = time.Now().UTC().Truncate(24*time.Hour).AddDate(0, 0, -160)
	w.make(c)
	table := filepath.Join(c.dir, "w.csv")
	w.write(t, table)
	entries := func() int {
		var info struct{ Entries int }
		if err := json.Unmarshal([]byte(c.run("book", "info", "--json")), &info); err != nil {
			t.Fatal(err)
		}
		return info.Entries
	}
	began := time.Now()
	had, within, finished := 0, 0, false
	for life := range setting("RINDKEEP_LOAD_KILLS", 5, 40) {
		cmd := c.command("weigh", "--from", table, "--quiet")
		var out bytes.Buffer
		cmd.Stdout, cmd.Stderr = &out, &out
		was, interrupted := changed(c.book), life%3 == 2 && canInterrupt
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		done := make(chan struct{})
		go func() {
			if life%2 == 0 { // from when it writes to the book
				for changed(c.book).Equal(was) {
					select {
					case <-done:
						return
					case <-time.After(time.Millisecond):
					}
				}
			}
			select {
			case <-done:
				return
			case <-time.After(time.Duration(rand.IntN(200+1500*(life%2))) * time.Millisecond):
			}
			if interrupted {
				_ = cmd.Process.Signal(os.Interrupt)
				return
			}
			_ = cmd.Process.Kill()
		}()
		err := cmd.Wait()
		close(done)
		if err == nil {
			finished = true
		} else if code := cmd.ProcessState.ExitCode(); interrupted && code != 130 || !interrupted && code != -1 {
			t.Fatalf("life %d ended by itself with exit code %d:\n%s", life, code, out.String())
		}
		c.sound()
		n := entries()
		if n < had || n > w.wheels*w.each {
			t.Fatalf("%d entries after life %d, %d before it", n, life, had)
		}
		if had = n; n > 0 && n < w.wheels*w.each {
			within++
		}
	}
	t.Logf("%d entries after the kills, %d of them in the midst, finished: %v, %.0f s",
		had, within, finished, time.Since(began).Seconds())
	out := c.run("weigh", "--from", table, "--quiet")
	all := w.wheels * w.each
	want := fmt.Sprintf("recorded %d weights of %d wheels", all-had, w.wheels)
	if had > 0 {
		want += fmt.Sprintf("; %d weights in the book already", had)
	}
	if out != want+"\n" {
		t.Errorf("the last load said %q, want %q", out, want)
	}
	if n := entries(); n != all {
		t.Errorf("%d entries, want %d", n, all)
	}
	c.sound()
	for _, k := range []int{0, 57, 199} {
		var card struct {
			Entries []struct {
				At     string
				Weight float64 `json:"weight_g"`
			}
		}
		if err := json.Unmarshal([]byte(c.run("wheel", "show", w.tag(k), "--history", "0", "--json")), &card); err != nil {
			t.Fatal(err)
		}
		if len(card.Entries) != w.each {
			t.Errorf("%s has %d entries, want %d", w.tag(k), len(card.Entries), w.each)
		}
	}
	left, err := filepath.Glob(filepath.Join(c.dir, ".*"))
	if err != nil || len(left) != 1 || filepath.Base(left[0]) != ".cave.book.queue" {
		t.Errorf("the kills left %q beside the book", left)
	}
}

// changed is when a file was last written to.
func changed(path string) time.Time {
	st, err := os.Stat(path)
	if err != nil {
		return time.Time{}
	}
	return st.ModTime()
}

// BenchmarkLoad records long tables as a whole process, beside the SQLite
// shell's import of the same file into a table with one index on wheel and
// date. The book has besides: each row's identity with an index of its own,
// the chain, and what each wheel is due. RINDKEEP_TEST_ALL=1 goes on to
// 10,000,000 rows.
func BenchmarkLoad(b *testing.B) {
	rows := []int{100_100, 1_000_000}
	if os.Getenv("RINDKEEP_TEST_ALL") == "1" {
		rows = append(rows, 10_000_000)
	}
	peer, err := exec.LookPath("sqlite3")
	if err != nil {
		if os.Getenv("RINDKEEP_TEST_ALL") == "1" {
			b.Fatal("no sqlite3 to compare with")
		}
		b.Log("no sqlite3 to compare with")
	} else if v, err := exec.Command(peer, "--version").Output(); err == nil {
		b.Logf("beside SQLite %s", strings.Fields(string(v))[0])
	}
	for _, n := range rows {
		for _, byDay := range []bool{false, true} {
			order := "by wheel"
			if byDay {
				order = "by day"
			}
			b.Run(fmt.Sprintf("%d rows %s", n, order), func(b *testing.B) {
				c := newCave(b)
				w := weighings{wheels: n / 100, each: n / (n / 100), apart: 24 * time.Hour, byDay: byDay}
				w.from = time.Now().UTC().Truncate(24*time.Hour).AddDate(0, 0, -120)
				w.make(c)
				table, empty := filepath.Join(c.dir, "w.csv"), filepath.Join(c.dir, "empty.book")
				w.write(b, table)
				c.run("book", "backup", empty)
				var ours, theirs time.Duration
				peak := 0.0
				for b.Loop() {
					c.run("book", "restore", empty, "--replace", "--quiet")
					cmd := c.command("weigh", "--from", table, "--quiet")
					from := time.Now()
					if out, err := cmd.CombinedOutput(); err != nil {
						b.Fatalf("%v\n%s", err, out)
					}
					ours += time.Since(from)
					peak = max(peak, peakMiB(cmd.ProcessState))
					if peer == "" {
						continue
					}
					db := filepath.Join(c.dir, "peer.db")
					os.Remove(db)
					cmd = exec.Command(peer, db, "create table weights(tag text, weight integer, date text); "+
						"create index by_wheel on weights(tag, date);", ".import --csv --skip 1 "+table+" weights")
					from = time.Now()
					if out, err := cmd.CombinedOutput(); err != nil {
						b.Fatalf("%v\n%s", err, out)
					}
					theirs += time.Since(from)
				}
				done := float64(b.N)
				b.ReportMetric(ours.Seconds()/done, "s")
				b.ReportMetric(float64(n)*done/ours.Seconds(), "rows/s")
				b.ReportMetric(peak, "MiB/peak")
				if theirs > 0 {
					b.ReportMetric(theirs.Seconds()/done, "s/sqlite")
					b.ReportMetric(ours.Seconds()/theirs.Seconds(), "times-sqlite")
				}
			})
		}
	}
}
