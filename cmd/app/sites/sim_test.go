package sites

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cmd/app"
	"rindkeep/cmd/carrier"
	"rindkeep/cmd/carrier/keys"
	"rindkeep/store"
	"rindkeep/store/bundle"
	"rindkeep/store/history"
	"rindkeep/store/refusal"
	"rindkeep/store/register"
	"rindkeep/wheel"
	"rindkeep/wheel/shape"
)

// memory is a carrier that can fail in every way a real one can.
type memory struct {
	kept   map[store.SiteKeyOf][][]byte
	before map[store.SiteKeyOf][][]byte // an older state, for stale reads
	rnd    *rand.Rand
	away   bool
	lossy  bool
}

func (m *memory) Close() error                  { return nil }
func (m *memory) Faults() []carrier.Trouble     { return nil }
func (m *memory) Wait(context.Context) error    { return nil }
func (m *memory) Prepare(context.Context) error { return nil }

func (m *memory) Put(_ context.Context, raw []byte) error {
	if m.away || m.lossy && m.rnd.IntN(6) == 0 {
		return carrier.Trouble{Kind: carrier.Away}
	}
	b, _, err := bundle.Open(raw)
	if err != nil {
		return err
	}
	of := store.SiteKeyOf{Site: b.Site, Epoch: b.Epoch}
	for range 1 + m.rnd.IntN(2) { // kept twice now and then
		m.kept[of] = append(m.kept[of], slices.Clone(raw))
	}
	if m.lossy && m.rnd.IntN(6) == 0 { // it's kept, and nobody hears of it
		return carrier.Trouble{Kind: carrier.Away}
	}
	return nil
}

func (m *memory) Heads(context.Context) ([]bundle.Head, error) {
	if m.away {
		return nil, carrier.Trouble{Kind: carrier.Away}
	}
	from := m.kept
	if m.lossy && m.before != nil && m.rnd.IntN(4) == 0 {
		from = m.before
	}
	var out []bundle.Head
	for _, raws := range from {
		n, tips := uint64(0), map[bundle.Head]bool{}
		for more := true; more; { // without a gap
			more = false
			for _, raw := range raws {
				if b, _ := bundle.Peek(raw); b.First <= n+1 && b.Last > n {
					n, more = b.Last, true
				}
			}
		}
		for _, raw := range raws {
			if b, _ := bundle.Peek(raw); b.Last == n {
				tips[b.Head()] = true
			}
		}
		for h := range tips {
			out = append(out, h)
		}
	}
	slices.SortFunc(out, func(a, b bundle.Head) int { return strings.Compare(fmt.Sprint(a), fmt.Sprint(b)) })
	return out, nil
}

func (m *memory) Fetch(
	_ context.Context, site, epoch uuid.UUID, after uint64, each func([]byte) error,
) error {
	if m.away {
		return carrier.Trouble{Kind: carrier.Away}
	}
	raws := slices.Clone(m.kept[store.SiteKeyOf{Site: site, Epoch: epoch}])
	if m.lossy {
		m.rnd.Shuffle(len(raws), func(i, j int) { raws[i], raws[j] = raws[j], raws[i] })
	}
	for _, raw := range raws {
		if b, _ := bundle.Peek(raw); b.Last <= after {
			continue
		}
		if m.lossy && m.rnd.IntN(10) == 0 {
			return carrier.Trouble{Kind: carrier.Away}
		}
		if err := each(raw); err != nil {
			return err
		}
	}
	return nil
}

// rollBack loses what came last of every list, as a server does that was cut off.
func (m *memory) rollBack() {
	for of, raws := range m.kept {
		m.kept[of] = raws[:m.rnd.IntN(len(raws)+1)]
	}
}

func (m *memory) remember() {
	m.before = map[store.SiteKeyOf][][]byte{}
	for of, raws := range m.kept {
		m.before[of] = slices.Clone(raws)
	}
}

// world is some sites, their clocks and what carries bundles between them.
type world struct {
	t     *testing.T
	rnd   *rand.Rand
	now   time.Time
	sites []*member
	links []*memory
	n     int
}

type member struct {
	*app.App
	name   string
	off    time.Duration // of its clock
	makes  []uuid.UUID
	wheels []uuid.UUID
	copies []string // older states of its book
}

var start = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

func newWorld(t *testing.T, seed uint64, n int) *world {
	w := &world{t: t, rnd: rand.New(rand.NewPCG(seed, 1)), now: start}
	dir := t.TempDir()
	for i := range 1 + w.rnd.IntN(2) {
		w.links = append(w.links, &memory{
			kept: map[store.SiteKeyOf][][]byte{}, rnd: rand.New(rand.NewPCG(seed, uint64(2+i))), lossy: true,
		})
	}
	for i := range n {
		m := &member{name: string(rune('a' + i)), off: time.Duration(w.rnd.IntN(9)-4) * time.Minute}
		m.App = &app.App{Book: filepath.Join(dir, m.name+".book"), Now: func() time.Time { return w.now.Add(m.off) }}
		w.sites = append(w.sites, m)
		if i == 0 {
			_, err := m.Create(store.Settings{Zone: "Europe/Dublin"})
			w.must(err)
			w.act(m, "before") // what it held before there were others stays its own
			_, err = Found(t.Context(), m.App, app.Caller{}, FoundQuery{Name: m.name})
			w.must(err)
			continue
		}
		by := w.sites[w.rnd.IntN(i)]
		if by != w.sites[0] { // the site that invites must have joined
			w.calm(func() { w.exchangeAll(w.sites[:i]) })
		}
		inv, err := Invite(t.Context(), by.App, app.Caller{}, InviteQuery{Name: m.name, For: 240 * time.Hour})
		w.must(err)
		_, err = Join(t.Context(), m.App, app.Caller{}, JoinQuery{
			Invitation: inv.Result.Text, Settings: store.Settings{Zone: "Europe/Dublin"},
		})
		w.must(err)
	}
	return w
}

func (w *world) must(err error) {
	w.t.Helper()
	if err != nil {
		w.t.Fatal(err)
	}
}

func (w *world) id() uuid.UUID {
	var id uuid.UUID
	for i := range id {
		id[i] = byte(w.rnd.Uint32())
	}
	id[6], id[8] = id[6]&0x0f|0x40, id[8]&0x3f|0x80
	return id
}

// act does something at a site.
func (w *world) act(m *member, what string) {
	w.t.Helper()
	w.n++
	b, err := store.Open(m.Book, store.Write, store.Options{Now: m.Now})
	w.must(err)
	defer b.Close()
	now := m.Now()
	err = b.Update(func(t *store.WriteTx) error {
		room := cave.Room{
			ID: w.id(), Name: "cellar", Written: now, Temp: 12, TempLow: 8, TempHigh: 14, RH: 0.88, RHLow: 0.7, RHHigh: 0.95,
		}
		switch what {
		case "room", "before":
			if err := t.PutRoom(room); err != nil || what == "room" {
				return err
			}
			fallthrough
		case "make":
			if _, err := t.Room("cellar"); err != nil {
				if err := t.PutRoom(room); err != nil {
					return err
				}
			}
			lot := wheel.DefaultLot(day.At(now, b.Zone()), t.HasLot)
			mk := wheel.Make{ID: w.id(), Lot: lot, Date: day.At(now, b.Zone()), Variety: "gouda", Written: now}
			mk.Start = wheel.Composition{Moisture: 0.42, MoistureSD: 0.015, Fat: 0.28, FatSD: 0.01, Salt: 0.015, SaltSD: 0.002}
			if err := t.PutMake(mk); err != nil {
				return err
			}
			m.makes = append(m.makes, mk.ID)
			var ws []wheel.Wheel
			for i := range 1 + w.rnd.IntN(2) {
				ws = append(ws, wheel.Wheel{
					ID: w.id(), Make: mk.ID, Number: i + 1, Tag: fmt.Sprintf("%s-%02d", lot, i+1), Place: "cellar",
					Plan: "waxed-semi-hard", Shape: shape.Shape{}, Since: now, Written: now,
				})
				m.wheels = append(m.wheels, ws[i].ID)
			}
			return t.AddWheels(ws)
		case "air":
			if _, err := t.Room("cellar"); err != nil {
				return nil
			}
			_, err := t.PutAir("cellar", []cave.Reading{{At: now, Temp: 12, RH: 0.8}})
			return err
		case "customer":
			return t.PutCustomer(register.Customer{
				ID: w.id(), Name: "Shop" + strconv.Itoa(w.rnd.IntN(2)), Note: strconv.Itoa(w.n), Written: now,
			})
		case "plan":
			_, err := t.PutPlan("plan", []byte(fmt.Sprintf(planText, w.rnd.IntN(2), 1+w.n%9)))
			return err
		}
		if err := w.entry(t, what, now); len(refusal.Of(err)) == 0 {
			return err
		}
		return errRefused // the wheel had gone, say
	})
	if !errors.Is(err, errRefused) {
		w.must(err)
	}
}

var errRefused = errors.New("refused")

const planText = `name  = "house-%d"
title = "Our own"

[[step]]
job   = "turn"
every = "%dd"
`

// entry records something about any wheel the site knows.
func (w *world) entry(t *store.WriteTx, what string, now time.Time) error {
	var all []uuid.UUID
	for x, err := range t.EachWheel() {
		if err != nil {
			return err
		}
		all = append(all, x.ID)
	}
	if len(all) == 0 {
		return nil
	}
	e := wheel.Entry{ID: w.id(), Subject: all[w.rnd.IntN(len(all))], At: now, Written: now}
	switch what {
	case "turn":
		e.Kind, e.Job = wheel.Did, wheel.Turn
	case "weigh":
		e.Kind, e.Weight = wheel.Weighed, 2000
	case "move":
		e.Kind, e.Place = wheel.Moved, cave.Place("cellar/A/"+strconv.Itoa(w.rnd.IntN(3)))
	case "send":
		e.Kind, e.To = wheel.Sent, "Shop1"
	case "tag":
		e.Kind, e.Tag = wheel.Tagged, "X"+strconv.Itoa(w.rnd.IntN(50))
	case "strike":
		var es []history.Logged
		if err := t.EachLogged(context.Background(), history.Query{Subjects: []uuid.UUID{e.Subject}},
			func(l history.Logged) error { es = append(es, l); return nil }); err != nil || len(es) == 0 {
			return err
		}
		e.Kind, e.Target = wheel.Struck, es[w.rnd.IntN(len(es))].ID
	}
	_, err := t.Put(e)
	return err
}

var acts = []string{
	"room", "make", "make", "turn", "turn", "turn", "weigh", "move", "move", "send", "tag", "strike", "strike", "air",
	"customer", "plan",
}

func (w *world) exchange(m *member, l *memory) {
	w.t.Helper()
	_, err := Exchange(w.t.Context(), m.App, keys.Open(m.Book), l)
	if err != nil && !errors.Is(err, carrier.Away) && !errors.Is(err, carrier.Behind) {
		w.t.Fatalf("%s: %v", m.name, err)
	}
}

func (w *world) exchangeAll(ms []*member) {
	for _, m := range ms {
		for _, l := range w.links {
			w.exchange(m, l)
		}
	}
}

// calm runs fn while nothing fails.
func (w *world) calm(fn func()) {
	for _, l := range w.links {
		l.lossy, l.away = false, false
	}
	fn()
	for _, l := range w.links {
		l.lossy = true
	}
}

// step lets something happen.
func (w *world) step() {
	w.now = w.now.Add(time.Duration(1+w.rnd.IntN(120)) * time.Minute)
	m := w.sites[w.rnd.IntN(len(w.sites))]
	l := w.links[w.rnd.IntN(len(w.links))]
	switch r := w.rnd.IntN(44); {
	case r < 22:
		w.act(m, acts[w.rnd.IntN(len(acts))])
	case r < 34:
		w.exchange(m, l)
	case r == 34:
		l.rollBack()
	case r == 35:
		l.remember()
	case r == 36:
		l.away = !l.away
	case r == 37:
		m.off = time.Duration(w.rnd.IntN(9)-4) * time.Minute
	case r < 41: // a copy for later
		raw, err := os.ReadFile(m.Book)
		w.must(err)
		name := fmt.Sprintf("%s.%d", m.Book, len(m.copies))
		w.must(os.WriteFile(name, raw, 0o600))
		m.copies = append(m.copies, name)
	case len(m.copies) > 0: // the book is lost, or another copy of it is used
		other := m.copies[w.rnd.IntN(len(m.copies))]
		old, err := os.ReadFile(other)
		w.must(err)
		raw, err := os.ReadFile(m.Book)
		w.must(err)
		w.must(os.WriteFile(m.Book, old, 0o600))
		if w.rnd.IntN(2) == 0 { // and the one that was used is taken up again later: a fork
			w.must(os.WriteFile(other, raw, 0o600))
		}
	}
}

// TestSitesConverge lets three to eight sites act, lose their links, their carriers and their
// books, and proves that all end with the same. RINDKEEP_SITES says how many times, from the
// run that RINDKEEP_SITES_FROM says.
func TestSitesConverge(t *testing.T) {
	runs, err := strconv.Atoi(os.Getenv("RINDKEEP_SITES"))
	if err != nil {
		runs = 200
	}
	from, _ := strconv.Atoi(os.Getenv("RINDKEEP_SITES_FROM"))
	for seed := from; seed < from+runs; seed++ {
		t.Run(strconv.Itoa(seed), func(t *testing.T) {
			t.Parallel()
			n := 3 + seed%3
			if seed%8 == 7 {
				n = 6 + seed%3
			}
			w := newWorld(t, uint64(seed), n)
			for range 30 + w.rnd.IntN(60) {
				w.step()
			}
			w.converge()
		})
	}
}
