package bookfile

import (
	"encoding/binary"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"testing"
	"time"
)

// TestMain lets the test run as another process, which waits for a book.
func TestMain(m *testing.M) {
	if path := os.Getenv("WAIT_FOR_BOOK"); path != "" {
		_, _ = acquire(path, How{Write: true, Wait: time.Hour})
		return
	}
	os.Exit(m.Run())
}

// drawn is the last number that was drawn for a book.
func drawn(t *testing.T, path string) int {
	t.Helper()
	dir, name := filepath.Split(path)
	b, err := os.ReadFile(filepath.Join(dir, "."+name+".queue"))
	if err != nil || len(b) != drawing {
		t.Fatalf("the queue's file: %v, %d bytes", err, len(b))
	}
	return int(binary.LittleEndian.Uint64(b))
}

// TestWhoCameFirstIsServedFirst has readers and writers come one after another while the
// book is in use. Some of them give up and one is killed, and the others keep their order.
func TestWhoCameFirstIsServedFirst(t *testing.T) {
	if runtime.GOOS != "linux" && runtime.GOOS != "darwin" && runtime.GOOS != "windows" {
		t.Skip("there is no queue on this system")
	}
	path := filepath.Join(t.TempDir(), "cave.book")
	if err := os.WriteFile(path, make([]byte, 4096), 0o600); err != nil {
		t.Fatal(err)
	}
	first, err := acquire(path, How{Write: true})
	if err != nil {
		t.Fatal(err)
	}
	var all sync.WaitGroup
	var mu sync.Mutex
	var served []int
	other := exec.Command(os.Args[0])
	other.Env = append(os.Environ(), "WAIT_FOR_BOOK="+path)
	const people = 40
	for n := 1; n <= people; n++ {
		wait := time.Hour
		switch {
		case n == 7:
			if err := other.Start(); err != nil {
				t.Fatal(err)
			}
		case n%5 == 0:
			wait = time.Millisecond
			fallthrough
		default:
			all.Go(func() {
				h, err := acquire(path, How{Write: n%3 > 0, Wait: wait})
				if wait < time.Hour {
					if k, is := err.(*Error); !is || k.Kind != ErrBusy {
						t.Errorf("%d, in a hurry: %v", n, err)
					}
					return
				}
				if err != nil {
					t.Errorf("%d: %v", n, err)
					return
				}
				if n%3 > 0 { // readers are let in together
					mu.Lock()
					served = append(served, n)
					mu.Unlock()
				}
				h.close()
			})
		}
		for drawn(t, path) != n+1 {
			time.Sleep(time.Millisecond)
		}
	}
	if err := other.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = other.Wait()
	first.close()
	all.Wait()
	var want []int
	for n := 1; n <= people; n++ {
		if n%3 > 0 && n%5 > 0 && n != 7 {
			want = append(want, n)
		}
	}
	if !slices.Equal(served, want) {
		t.Errorf("served in the order %v", served)
	}
}

// TestAQueueWhoseNumbersAreLostGoesOn wipes the queue's file while people wait.
func TestAQueueWhoseNumbersAreLostGoesOn(t *testing.T) {
	for _, left := range [][]byte{nil, {1, 2}, {255, 255, 255, 255, 255, 255, 255, 255}} {
		path := filepath.Join(t.TempDir(), "cave.book")
		if err := os.WriteFile(path, make([]byte, 4096), 0o600); err != nil {
			t.Fatal(err)
		}
		var all sync.WaitGroup
		h, err := acquire(path, How{Write: true})
		if err != nil {
			t.Fatal(err)
		}
		for n := range 9 {
			if n == 4 {
				if err := os.WriteFile(filepath.Join(filepath.Dir(path), ".cave.book.queue"), left, 0o600); err != nil {
					t.Fatal(err)
				}
			}
			all.Go(func() {
				h, err := acquire(path, How{Write: true, Wait: time.Hour})
				if err != nil {
					t.Error(err)
					return
				}
				h.close()
			})
			time.Sleep(time.Millisecond)
		}
		h.close()
		all.Wait()
	}
}
