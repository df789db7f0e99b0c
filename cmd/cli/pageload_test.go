package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"
)

func TestTwoHundredWritersAtOnceLoseNothing(t *testing.T) {
	w := newWorld(t).kept().ticking()
	p := w.page()
	var wg sync.WaitGroup
	var bad atomic.Int64
	for i := range 200 {
		wg.Go(func() {
			b, _ := json.Marshal(obj{"wheel": fmt.Sprintf("261110A-%02d", i%4+1), "text": fmt.Sprint("note ",
				i), "id": uuid.Must(uuid.NewV7()).String()})
			status, doc, err := p.send("note", b)
			if err != nil || status != 200 {
				bad.Add(1)
				t.Errorf("note %d: %d %v %v", i, status, doc, err)
			}
		})
	}
	wg.Wait()
	notes := w.notes()
	for i := range 200 {
		if notes[fmt.Sprint("note ", i)] != 1 {
			t.Errorf("note %d is in the book %d times", i, notes[fmt.Sprint("note ", i)])
		}
	}
	w.sound()
}

// notes counts what notes of wheels say.
func (w *world) notes() map[string]int {
	w.t.Helper()
	var log struct {
		Entries []struct{ Note string }
	}
	w.doc(&log, "log --most 0")
	out := map[string]int{}
	for _, e := range log.Entries {
		out[e.Note]++
	}
	return out
}

// phone sends entries in order until each was acknowledged, as the page in a
// browser does: again after a busy answer, and now and then again although it
// was acknowledged, as when the answer is lost on the way.
func (p *paged) phone(r *rand.Rand, name string, entries [][]byte) error {
	for _, b := range entries {
		for try := 0; ; try++ {
			status, doc, err := p.send("note", b)
			switch {
			case err != nil:
				return err
			case status == 503 && try < 50:
				time.Sleep(time.Duration(r.IntN(50)) * time.Millisecond)
				continue
			case status != 200:
				return fmt.Errorf("%s: %d %v", name, status, doc)
			}
			if try == 0 && r.IntN(4) == 0 {
				continue
			}
			break
		}
	}
	return nil
}

func TestTwentyPhonesSendingARoundAtOnceLoseNothing(t *testing.T) {
	w := newWorld(t).kept().ticking()
	p := w.page()
	const phones, each = 20, 15
	var wg sync.WaitGroup
	for n := range phones {
		var entries [][]byte
		for i := range each {
			b, err := json.Marshal(obj{"wheel": fmt.Sprintf("261110A-%02d", i%4+1), "text": fmt.Sprintf("phone %d entry %d", n,
				i), "id": uuid.Must(uuid.NewV7()).String(), "at": morning.Add(time.Duration(i) * time.Second).Format(time.RFC3339)})
			if err != nil {
				t.Fatal(err)
			}
			entries = append(entries, b)
		}
		wg.Go(func() {
			if err := p.phone(rand.New(rand.NewPCG(1, uint64(n))), fmt.Sprint("phone ", n), entries); err != nil {
				t.Error(err)
			}
		})
	}
	// The command line writes meanwhile, and is not starved.
	for i := range 10 {
		w.must(fmt.Sprintf("wheel note 261110A-01 desk%d", i))
	}
	wg.Wait()
	notes := w.notes()
	for n := range phones {
		for i := range each {
			if s := fmt.Sprintf("phone %d entry %d", n, i); notes[s] != 1 {
				t.Errorf("%q is in the book %d times", s, notes[s])
			}
		}
	}
	for i := range 10 {
		if s := fmt.Sprint("desk", i); notes[s] != 1 {
			t.Errorf("%q is in the book %d times", s, notes[s])
		}
	}
	w.sound()
}

func TestUnderLoadEveryAcknowledgedEntryIsInTheBook(t *testing.T) {
	clients, long := 50, 3*time.Second
	if os.Getenv("RINDKEEP_TEST_ALL") == "1" {
		long = 30 * time.Second
	}
	if testing.Short() {
		long = time.Second
	}
	w := newWorld(t).ticking()
	w.must("room new drying --racks A:8x8")
	w.must("make new --variety cheddar-waxed --wheels 50 --lot L --weight 2100 --place drying/A/1 --at 2026-11-10T17:00 " +
		"--quiet --sure")
	p := w.page()
	type sent struct{ id, what string }
	acked := make([][]sent, clients)
	took := make([][]time.Duration, clients)
	var busy atomic.Int64
	var wg sync.WaitGroup
	until := time.Now().Add(long)
	for c := range clients {
		wg.Go(func() {
			r := rand.New(rand.NewPCG(7, uint64(c)))
			tag := fmt.Sprintf("L-%02d", c+1)
			for i := 0; time.Now().Before(until); i++ {
				id := uuid.Must(uuid.NewV7()).String()
				act, body := "did", obj{"job": "turn", "wheels": []string{tag}, "id": id, "note": id}
				switch r.IntN(10) {
				case 0:
					act, body = "weigh", obj{"wheel": tag, "weight_g": 2080, "sure": true, "id": id, "note": id}
				case 1:
					act, body = "note", obj{"wheel": tag, "text": id, "id": id}
				case 2:
					act, body = "check", obj{"wheels": []string{tag}, "dry_to_touch": "yes", "id": id, "note": id}
				}
				b, _ := json.Marshal(body)
				from := time.Now()
				status, doc, err := p.send(act, b)
				switch {
				case err != nil:
					t.Errorf("%s: %v", act, err)
					return
				case status == 503:
					busy.Add(1)
				case status != 200:
					t.Errorf("%s: %d %v", act, status, doc)
					return
				default:
					acked[c] = append(acked[c], sent{id, act})
					took[c] = append(took[c], time.Since(from))
				}
			}
		})
	}
	wg.Wait()
	var all []time.Duration
	notes := w.notes()
	n := 0
	for c := range acked {
		all = append(all, took[c]...)
		for _, s := range acked[c] {
			n++
			if notes[s.id] != 1 {
				t.Errorf("%s %s was acknowledged and is in the book %d times", s.what, s.id, notes[s.id])
			}
		}
	}
	if n < clients {
		t.Fatalf("only %d entries were acknowledged", n)
	}
	slices.Sort(all)
	t.Logf("%d clients for %v: %d entries acknowledged and found, %.0f a second, p50 %v, p99 %v, worst %v; "+
		"%d told to come back", clients, long, n, float64(n)/long.Seconds(),
		all[len(all)/2].Round(time.Millisecond), all[len(all)*99/100].Round(time.Millisecond), all[len(all)-1].Round(
			time.Millisecond), busy.Load())
	w.sound()
}

func TestABookPutInItsPlaceIsServedWithoutAStop(t *testing.T) {
	w := newWorld(t).kept().ticking()
	back := filepath.Join(w.dir, "back.book")
	w.must("book backup " + back)
	p := w.page()
	p.post("note", obj{"wheel": "261110A-01", "text": "after the backup"})
	if w.notes()["after the backup"] != 1 {
		t.Fatal("the note is not in the book")
	}
	w.must("book restore " + back + " --replace")
	if status, doc := p.post("note", obj{"wheel": "261110A-01", "text": "after the restore"}); status != 200 {
		t.Fatalf("%d %v", status, doc)
	}
	if n := w.notes(); n["after the backup"] != 0 || n["after the restore"] != 1 {
		t.Errorf("the book holds %v", n)
	}
	if err := os.Rename(w.book, w.book+".away"); err != nil {
		t.Fatal(err)
	}
	for act, body := range map[string]obj{"note": {"wheel": "261110A-01", "text": "x"},
		"make": {"variety": "gouda", "wheels": 1, "weight": 2000}} {
		if status, doc := p.post(act, body); status != 503 {
			t.Errorf("%s without a book: %d %v", act, status, doc)
		}
	}
	if _, err := os.Stat(w.book); !errors.Is(err, os.ErrNotExist) {
		t.Error("the page began a new book in its place")
	}
	if err := os.Rename(w.book+".away", w.book); err != nil {
		t.Fatal(err)
	}
	if status, _ := p.get("/api/today"); status != 200 {
		t.Errorf("once it is back: %d", status)
	}
	w.sound()
}

func TestWhoeverIsInterruptedOnTheWayWroteAllOrNothing(t *testing.T) {
	w := newWorld(t).kept().ticking()
	p := w.page()
	r := rand.New(rand.NewPCG(3, 4))
	var acked []string
	for i := range 60 {
		ctx, cancel := context.WithTimeout(t.Context(), time.Duration(r.IntN(12_000))*time.Microsecond)
		b, _ := json.Marshal(obj{"job": "turn", "what": []string{"261110A"}, "note": fmt.Sprint("try ",
			i), "id": uuid.Must(uuid.NewV7()).String()})
		req, err := http.NewRequestWithContext(ctx, "POST", p.url+"/api/did", bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Content-Type", "application/json")
		if res, err := p.client.Do(req); err == nil {
			if _, err := io.ReadAll(res.Body); err == nil && res.StatusCode == 200 {
				acked = append(acked, fmt.Sprint("try ", i))
			}
			res.Body.Close()
		}
		cancel()
	}
	notes := w.notes()
	for s, n := range notes {
		if strings.HasPrefix(s, "try") && n != 4 {
			t.Errorf("%q is on %d of 4 wheels", s, n)
		}
	}
	for _, s := range acked {
		if notes[s] != 4 {
			t.Errorf("%q was acknowledged and is on %d of 4 wheels", s, notes[s])
		}
	}
	w.sound()
}
