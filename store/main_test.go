package store

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"rindkeep/store/bookfile"
	"rindkeep/wheel"
)

// childRole names what the test binary does when a test starts it again.
const childRole = "RINDKEEP_STORE_CHILD"

func TestMain(m *testing.M) {
	if role := os.Getenv(childRole); role != "" {
		if err := child(role, os.Args[len(os.Args)-1]); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// childNow is the clock of other processes: it goes, but from the day the test
// books are set in. No two of them are at the same instant.
func childNow() time.Time {
	return time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC).Add(time.Duration(time.Now().UnixNano() % int64(10*time.Hour)))
}

// child is another process at work on the book at path.
func child(role, path string) error {
	switch role {
	case "churn-read", "churn-write":
		return churn(path, map[string]Mode{"churn-read": Read, "churn-write": Write}[role])
	case "hold-read", "hold-write":
		b, err := Open(path, map[string]Mode{"hold-read": Read, "hold-write": Write}[role], Options{})
		if err != nil {
			return err
		}
		fmt.Println("held")
		io.Copy(io.Discard, os.Stdin)
		return b.Close()
	case "write":
		return writeOn(path)
	case "fill":
		if err := limitFiles(path, 0); err != nil {
			return err
		}
		err := writeOn(path)
		if errors.Is(err, bookfile.ErrFull) {
			fmt.Println(err)
			return nil
		}
		return err
	case "put":
		fmt.Println(putOne(path))
		return nil
	case "open":
		b, err := Open(path, Read, Options{})
		if err == nil {
			b.Close()
		}
		fmt.Println(err)
		return nil
	}
	return fmt.Errorf("no role %q", role)
}

// churn opens and closes the book without a pause until its input ends.
func churn(path string, m Mode) error {
	over := make(chan bool)
	go func() { io.Copy(io.Discard, os.Stdin); close(over) }()
	fmt.Println("churning")
	for n := 0; ; n++ {
		b, err := Open(path, m, Options{})
		if err != nil {
			return err
		}
		b.Close()
		select {
		case <-over:
			fmt.Println(n)
			return nil
		default:
		}
	}
}

// writeOn writes entries, one transaction each, a fresh opening now and then,
// and says on its output which are in the book, until it is killed.
func writeOn(path string) error {
	out := bufio.NewWriter(os.Stdout)
	for round := 0; ; round++ {
		b, err := Open(path, Write, Options{Now: childNow})
		if err != nil {
			return err
		}
		var ws []wheel.Wheel
		if err := b.View(func(t *ReadTx) error {
			for w, err := range t.EachWheel() {
				if err != nil {
					return err
				}
				ws = append(ws, w)
			}
			return nil
		}); err != nil {
			return err
		}
		for i := range 7 {
			var ids []uuid.UUID
			if err := b.Update(func(t *WriteTx) error {
				now := childNow()
				var es []wheel.Entry
				for k := range 1 + (round+i)%4 {
					id, err := uuid.NewV7()
					if err != nil {
						return err
					}
					e := wheel.Entry{ID: id, Subject: ws[(round*7+i*3+k*5)%len(ws)].ID,
						At: now.Add(time.Duration(k) * time.Millisecond), Written: now, By: "Ann"}
					switch (i + k) % 3 {
					case 0:
						e.Kind, e.Weight = wheel.Weighed, 1900
					case 1:
						e.Kind, e.Job = wheel.Did, wheel.Turn
					default:
						e.Kind, e.Note = wheel.Noted, strings.Repeat("a long note ", 20)
					}
					es, ids = append(es, e), append(ids, id)
				}
				_, err := t.Put(es...)
				return err
			}); err != nil {
				return err
			}
			for _, id := range ids {
				fmt.Fprintln(out, id)
			}
			out.Flush()
		}
		if err := b.Close(); err != nil {
			return err
		}
	}
}

// process is a child that was started.
type process struct {
	cmd *exec.Cmd
	in  io.WriteCloser
	out *bufio.Scanner
}

func start(t testing.TB, role, path string) *process {
	t.Helper()
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	p := &process{cmd: exec.Command(exe, path)}
	p.cmd.Env = append(os.Environ(), childRole+"="+role)
	p.cmd.Stderr = os.Stderr
	if p.in, err = p.cmd.StdinPipe(); err != nil {
		t.Fatal(err)
	}
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	p.out = bufio.NewScanner(out)
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { p.cmd.Process.Kill(); p.cmd.Wait() })
	return p
}

func (p *process) line(t testing.TB) string {
	t.Helper()
	if !p.out.Scan() {
		t.Fatal("the other process said nothing")
	}
	return p.out.Text()
}

// finish ends the child's input and waits for it.
func (p *process) finish(t testing.TB) (last string) {
	t.Helper()
	p.in.Close()
	for p.out.Scan() {
		last = p.out.Text()
	}
	if err := p.cmd.Wait(); err != nil {
		t.Fatal(err)
	}
	return last
}

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
