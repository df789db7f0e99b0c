package page

import (
	"bytes"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/day"
	"rindkeep/cmd/app"
	"rindkeep/cmd/page/access"
	"rindkeep/store"
	"rindkeep/wheel"
	"rindkeep/wheel/variety"

	"github.com/google/uuid"
	"github.com/rs/zerolog"
)

// cheap makes passwords quick to check: what they cost is tested by itself.
var cheap = access.Cost{Passes: 1, KiB: 8, Threads: 1}

// stage is a server of a small book, with a clock that is set. Whatever asks the
// book looks at the App's clock: that is how it is counted, and where a test gets
// in between.
type stage struct {
	t      testing.TB
	server *Server
	h      http.Handler
	access *access.List
	book   string
	now    time.Time
	rev    atomic.Uint64
	log    bytes.Buffer

	asked atomic.Int64
	mu    sync.Mutex
	play  func() // runs as the book is asked, in its transaction
}

// bookOfTwo is a book of one lot with the wheels a and 261121A-01, made once.
var bookOfTwo = sync.OnceValues(func() ([]byte, error) {
	dir, err := os.MkdirTemp("", "rindkeep-page-*")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	path, now := filepath.Join(dir, "cave.book"), time.Date(2026, 11, 21, 8, 0, 0, 0, time.UTC)
	b, err := store.Create(path, store.Settings{Created: now, Zone: "UTC"}, store.Options{})
	if err != nil {
		return nil, err
	}
	v, _ := variety.Find("gouda")
	id := func(n byte) uuid.UUID { return uuid.UUID{6: 0x70, 8: 0x80, 15: n} }
	err = b.Update(func(tx *store.WriteTx) error {
		cellar := cave.Room{
			ID: id(4), Name: "cellar", Temp: 12, RH: 0.85, TempLow: 8, TempHigh: 14, RHLow: 0.75, RHHigh: 0.95,
			Movement: air.Gentle, Written: now,
		}
		if err := tx.PutRoom(cellar); err != nil {
			return err
		}
		m := wheel.Make{ID: id(1), Lot: "261121A", Date: day.At(now, time.UTC), Variety: v.Name, Written: now}
		m.Start = wheel.Composition{Moisture: 0.38, MoistureSD: 0.015, Fat: 0.32, Salt: 0.018, PH: 5.2}
		if err := tx.PutMake(m); err != nil {
			return err
		}
		w := wheel.Wheel{ID: id(2), Make: m.ID, Number: 1, Tag: "261121A-01", Plan: v.Plan, Shape: v.Shape, Since: now,
			Written: now}
		w2 := w
		w2.ID, w2.Number, w2.Tag = id(3), 2, "a"
		return tx.AddWheels([]wheel.Wheel{w, w2})
	})
	if err := errors.Join(err, b.Close()); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
})

func newStage(t testing.TB, change ...func(*Options, *limits)) *stage {
	t.Helper()
	book, err := bookOfTwo()
	if err != nil {
		t.Fatal(err)
	}
	st := &stage{t: t, now: time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC), book: filepath.Join(t.TempDir(), "cave.book")}
	if err := os.WriteFile(st.book, book, 0o600); err != nil {
		t.Fatal(err)
	}
	st.access = access.Open(st.book+".access", nil)
	st.access.Cost = cheap
	clock := func() time.Time {
		st.asked.Add(1)
		st.mu.Lock()
		play := st.play
		st.mu.Unlock()
		if play != nil {
			play()
		}
		return st.now
	}
	o := Options{
		App:    &app.App{Book: st.book, Now: clock, Log: zerolog.Nop()},
		Access: st.access, Rev: func() (uint64, error) { return st.rev.Load(), nil },
		Now: func() time.Time { return st.now }, Log: zerolog.New(zerolog.SyncWriter(&st.log)),
	}
	l := usualLimits()
	for _, c := range change {
		c(&o, &l)
	}
	s, err := newServer(o, l)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	st.server, st.h = s, s.Handler()
	return st
}

func beyond(o *Options, _ *limits) { o.Beyond = true }

// ran says whether the book was asked for anything, and forgets it.
func (st *stage) ran() bool { return st.asked.Swap(0) > 0 }

// playing sets what happens as the book is asked; nil: nothing.
func (st *stage) playing(fn func()) {
	st.mu.Lock()
	defer st.mu.Unlock()
	st.play = fn
}

// request is a request in short: its head in lines, then its body.
func (st *stage) do(method, target string, head map[string]string, body string) *http.Response {
	st.t.Helper()
	r := httptest.NewRequest(method, "http://localhost:4870"+target, strings.NewReader(body))
	r.RemoteAddr = "192.0.2.7:50000"
	for k, v := range head {
		switch k {
		case "Host":
			r.Host = v
			continue
		case "from":
			r.RemoteAddr = v
			continue
		}
		r.Header.Set(k, v)
	}
	w := httptest.NewRecorder()
	st.h.ServeHTTP(w, r)
	return w.Result()
}

func saidBy(t testing.TB, r *http.Response) string {
	t.Helper()
	b, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

var isJSON = map[string]string{"Content-Type": "application/json"}

func with(base map[string]string, more ...string) map[string]string {
	out := map[string]string{}
	for k, v := range base {
		out[k] = v
	}
	for i := 0; i < len(more); i += 2 {
		out[more[i]] = more[i+1]
	}
	return out
}

const (
	secret = "three wet wheels"
	turn   = `{"job":"turn","wheels":["261121A-01"]}`
)

// person lets somebody in and gives the head of their requests.
func (st *stage) person(name string, role access.Role) map[string]string {
	st.t.Helper()
	if _, err := st.access.SetPassword(name, role, secret, st.now); err != nil {
		st.t.Fatal(err)
	}
	return st.cookieOf(name)
}

func (st *stage) cookieOf(name string) map[string]string {
	st.t.Helper()
	r := st.do("POST", "/login", map[string]string{"Content-Type": "application/x-www-form-urlencoded"},
		url.Values{"name": {name}, "password": {secret}}.Encode())
	if r.StatusCode != http.StatusSeeOther || len(r.Cookies()) != 2 {
		st.t.Fatalf("log-in of %s: %d\n%s", name, r.StatusCode, saidBy(st.t, r))
	}
	c := r.Cookies()[0]
	return map[string]string{"Cookie": c.Name + "=" + c.Value}
}
