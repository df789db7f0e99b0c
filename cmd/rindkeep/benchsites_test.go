package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// BenchmarkSites measures what it takes to share a book over a folder, as whole processes: to send
// all of it, to be a new site that takes it all, and to exchange with nothing new; and the last with
// more and more sites.
//
//	RINDKEEP_SIZES=1000,10000,100000 go test ./cmd/rindkeep -run '^$' -bench 'Sites$' -benchtime 1x -timeout 5h
//
// RINDKEEP_BOOKS is as for BenchmarkSizes, and RINDKEEP_SITES says how many sites there are at most.
func BenchmarkSites(b *testing.B) {
	for b.Loop() {
		for word := range strings.SplitSeq(cmp.Or(os.Getenv("RINDKEEP_SIZES"), "1000,10000"), ",") {
			n, err := strconv.Atoi(word)
			if err != nil {
				b.Fatal(err)
			}
			catchUp(b, n)
		}
		most, err := strconv.Atoi(cmp.Or(os.Getenv("RINDKEEP_SITES"), "10"))
		if err != nil {
			b.Fatal(err)
		}
		for _, n := range []int{2, 10, 100} {
			if n <= most {
				manySites(b, n)
			}
		}
	}
}

// site is another site's book in the same folder.
func (m *bench) site(name string) *bench {
	m.t.Helper()
	s := &bench{cave: &cave{m.t, m.dir, filepath.Join(m.dir, name+".book"), m.exe}, out: m.out}
	invitation := strings.TrimSpace(m.run("sites", "invite", name, "--quiet"))
	s.run("sites", "join", invitation, "--via", filepath.Join(m.dir, "stick"), "--quiet")
	return s
}

func firstSite(b *testing.B, wheels int, made string) *bench {
	b.Helper()
	m := &bench{cave: newCave(b), out: &sized{wheels: wheels}}
	m.begin(made)
	stick := filepath.Join(m.dir, "stick")
	if err := os.Mkdir(stick, 0o700); err != nil {
		b.Fatal(err)
	}
	m.run("sites", "found", "first", "--via", stick)
	return m
}

// exchanged is what an exchange costs, how long it takes, and how many facts it took up.
func (m *bench) exchanged() (c cost, took time.Duration, facts int) {
	m.t.Helper()
	cmd := m.command("sites", "exchange", "--json")
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	began := time.Now()
	if err := cmd.Run(); err != nil {
		m.t.Fatalf("%v\n%s", err, errs.String())
	}
	took = time.Since(began)
	p := cmd.ProcessState
	var said struct {
		Exchanges []struct{ Taken []struct{ Facts int } }
	}
	if err := json.Unmarshal(out.Bytes(), &said); err != nil {
		m.t.Fatal(err)
	}
	for _, x := range said.Exchanges {
		for _, f := range x.Taken {
			facts += f.Facts
		}
	}
	return cost{p.UserTime() + p.SystemTime(), peakMiB(p)}, took, facts
}

// idle is what an exchange with nothing new costs: the median of five.
func (m *bench) idle() (c cost, took time.Duration) {
	var all []cost
	for range 5 {
		one, t, _ := m.exchanged()
		if all = append(all, one); took == 0 || t < took {
			took = t
		}
	}
	return middle(all), took
}

func sizeOf(t testing.TB, folder string) (bytes int64) {
	t.Helper()
	err := filepath.WalkDir(folder, func(_ string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			i, ierr := d.Info()
			if err = ierr; err == nil {
				bytes += i.Size()
			}
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return bytes
}

func catchUp(b *testing.B, wheels int) {
	m := firstSite(b, wheels, filepath.Join(os.Getenv("RINDKEEP_BOOKS"), fmt.Sprint(wheels, ".book")))
	send, took, _ := m.exchanged()
	stick := sizeOf(b, filepath.Join(m.dir, "stick"))
	s := m.site("second")
	take, tookUp, facts := s.exchanged()
	m.exchanged()
	s.exchanged()
	idle, tookIdle := s.idle()
	fmt.Fprintf(os.Stderr, "%d wheels, %d facts: sent in %s ms CPU, %s, %.0f MiB; on the stick %.1f MB, %.1f bytes each; "+
		"taken up in %s ms CPU, %s, %.0f MiB: %.0f a second of CPU; nothing new: %s ms CPU, %s\n",
		wheels, facts, millis(send.cpu), took.Round(time.Millisecond), send.peak, float64(stick)/1e6,
		float64(stick)/float64(facts), millis(take.cpu), tookUp.Round(time.Millisecond), take.peak,
		float64(facts)/take.cpu.Seconds(), millis(idle.cpu), tookIdle.Round(time.Millisecond))
}

// manySites has some sites join, and one write that all others take up.
func manySites(b *testing.B, count int) {
	m := firstSite(b, 100, "")
	m.exchanged()
	all := []*bench{m}
	for i := 1; i < count; i++ {
		all = append(all, m.site(fmt.Sprint("s", i)))
		all[i].exchanged()
	}
	for range 2 {
		for _, s := range all {
			s.exchanged()
		}
	}
	last := all[count-1]
	idle, took := last.idle()
	m.run("did", "turn", "all", "--quiet")
	m.exchanged()
	take, _, facts := last.exchanged()
	fmt.Fprintf(os.Stderr, "%d sites: nothing new: %s ms CPU, %s; %d more facts taken up: %s ms CPU; "+
		"the book has %.2f MB, the stick %.2f MB\n", count, millis(idle.cpu), took.Round(time.Millisecond), facts,
		millis(take.cpu), float64(sizeOf(b, last.book))/1e6, float64(sizeOf(b, filepath.Join(m.dir, "stick")))/1e6)
}
