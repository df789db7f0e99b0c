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
	"testing"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/carrier"
	"rindkeep/cmd/carrier/keys"
	"rindkeep/store"
	"rindkeep/store/history"
	"rindkeep/store/refusal"
	"rindkeep/store/register"
	"rindkeep/wheel"
	"rindkeep/wheel/shape"
)

// world is some sites, their clocks and what carries bundles between them.
type world struct {
	t     testing.TB
	dir   string
	rnd   *rand.Rand
	now   time.Time
	sites []*member
	links []*memory
	n     int
	hasty bool   // sites begin to work before the others have heard of them
	twin  string // the site that two computers are: somebody copied its book and its keys

	received, settled, left int
}

type member struct {
	*app.App
	name   string
	off    time.Duration // of its clock
	copies []string      // older states of its book

	alone bool              // it left the others
	told  map[string]string // the facts of its book when it did
}

// member is a computer with a site's book.
func (w *world) member(name string) *member {
	m := &member{name: name, off: w.offset()}
	book := filepath.Join(w.dir, fmt.Sprintf("%s%d.book", name, len(w.sites)))
	m.App = &app.App{Book: book, Now: func() time.Time { return w.now.Add(m.off) }}
	w.sites = append(w.sites, m)
	return m
}

// offset is by how much a clock is off: a few minutes, or sometimes many.
func (w *world) offset() time.Duration {
	off := time.Duration(w.rnd.IntN(9)-4) * time.Minute
	if w.rnd.IntN(8) == 0 {
		off *= 12
	}
	return off
}

var start = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

func newWorld(t testing.TB, seed uint64, n int) *world {
	w := &world{t: t, dir: t.TempDir(), rnd: rand.New(rand.NewPCG(seed, 1)), now: start}
	w.hasty = w.rnd.IntN(2) == 0
	for i := range 1 + w.rnd.IntN(2) {
		w.links = append(w.links, &memory{
			rnd: rand.New(rand.NewPCG(seed, uint64(2+i))), lossy: true,
		})
	}
	for i := range n {
		m := w.member(string(rune('a' + i)))
		if i == 0 {
			_, err := m.Create(store.Settings{Zone: "Europe/Dublin"})
			w.must(err)
			w.act(m, "before") // what it held before there were others stays its own
			_, err = Found(t.Context(), m.App, app.Caller{}, FoundQuery{Name: m.name})
			w.must(err)
			continue
		}
		w.join(m, w.sites[w.rnd.IntN(i)])
	}
	return w
}

// join makes a new book of a site that another invites.
func (w *world) join(m, by *member) {
	w.t.Helper()
	inv, err := Invite(w.t.Context(), by.App, app.Caller{}, InviteQuery{Name: m.name, For: 240 * time.Hour})
	w.must(err)
	_, err = Join(w.t.Context(), m.App, app.Caller{}, JoinQuery{
		Invitation: inv.Result.Text, Settings: store.Settings{Zone: "Europe/Dublin"},
	})
	w.must(err)
	if w.hasty && by == w.sites[0] {
		return
	}
	w.calm(func() {
		for range 2 {
			w.exchangeAll([]*member{w.sites[0], by, m})
		}
	})
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
			lot := wheel.DefaultLot(day.At(now, b.Zone()), "", t.HasLot)
			mk := wheel.Make{ID: w.id(), Lot: lot, Date: day.At(now, b.Zone()), Variety: "gouda", Written: now}
			mk.Start = wheel.Composition{Moisture: 0.42, MoistureSD: 0.015, Fat: 0.28, FatSD: 0.01, Salt: 0.015, SaltSD: 0.002}
			if err := t.PutMake(mk); err != nil {
				return err
			}
			plan := "brushed-young"
			if w.rnd.IntN(4) == 0 { // it waits for a coat, and its curve is the most work of all
				plan = "waxed-semi-hard"
			}
			var ws []wheel.Wheel
			for i := range 1 + w.rnd.IntN(2) {
				ws = append(ws, wheel.Wheel{
					ID: w.id(), Make: mk.ID, Number: i + 1, Tag: fmt.Sprintf("%s-%02d", lot, i+1), Place: "cellar",
					Plan: plan, Shape: shape.Shape{}, Since: now, Written: now,
				})
			}
			return t.AddWheels(ws)
		case "air":
			if _, err := t.Room("cellar"); err != nil {
				return nil
			}
			_, err := t.PutAir("cellar", []cave.Reading{{At: now, Temp: quantity.Celsius(8 + w.n%5), RH: 0.8}})
			return err
		case "customer":
			return t.PutCustomer(register.Customer{
				ID: w.id(), Name: "Shop" + strconv.Itoa(w.rnd.IntN(2)), Note: strconv.Itoa(w.n), Written: now,
			})
		case "plan":
			_, err := register.Plans.Put(t.Writer, "plan", []byte(fmt.Sprintf(planText, w.rnd.IntN(2), 1+w.n%9)))
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
	case "ship":
		own, _ := t.Own()
		to := w.sites[w.rnd.IntN(len(w.sites))].name
		if e.Kind, e.Place = wheel.Moved, cave.Place(to+":"); to == own.Name {
			return nil
		}
	case "send":
		e.Kind, e.To = wheel.Sent, "Shop1"
	case "tag":
		e.Kind, e.Tag = wheel.Tagged, "X"+strconv.Itoa(w.rnd.IntN(50))
	case "correct":
		x, err := t.Wheel(e.Subject)
		if err != nil {
			return err
		}
		m, err := t.Make(x.Make)
		if err != nil {
			return err
		}
		other := m
		other.Note = strconv.Itoa(w.n)
		c, _ := wheel.CorrectionOf(m, other)
		e.Subject, e.Kind, e.Detail = m.ID, wheel.Corrected, c.Detail()
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
	"customer", "plan", "correct", "ship", "ship",
}

// exchange lets a computer exchange over one carrier.
func (w *world) exchange(m *member, l *memory) Exchanged {
	w.t.Helper()
	if m.alone {
		return Exchanged{}
	}
	l.away = l.down || l.cut[m]
	d, err := Exchange(w.t.Context(), m.App, keys.Open(m.Book), l)
	if err != nil && !errors.Is(err, carrier.Away) && !errors.Is(err, carrier.Behind) {
		w.t.Fatalf("%s: %v", m.name, err)
	}
	return d
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
		defer func(down bool, cut map[*member]bool) { l.lossy, l.down, l.cut = true, down, cut }(l.down, l.cut)
		l.lossy, l.down, l.cut = false, false, nil
	}
	fn()
}

// step lets something happen.
func (w *world) step() {
	w.now = w.now.Add(time.Duration(1+w.rnd.IntN(120)) * time.Minute)
	m := w.sites[w.rnd.IntN(len(w.sites))]
	l := w.links[w.rnd.IntN(len(w.links))]
	switch r := w.rnd.IntN(58); {
	case r > 56:
		w.rebuild(m)
	case r > 55:
		w.leave(m)
	case r > 53:
		w.back(m)
	case r > 51:
		w.settleOne(m)
	case r > 47:
		w.receive(m)
	case r < 22:
		w.act(m, acts[w.rnd.IntN(len(acts))])
	case r < 34:
		w.exchange(m, l)
	case r == 34:
		l.rollBack()
	case r == 35:
		l.remember()
	case r == 36:
		l.down = !l.down
	case r < 40: // some are cut off from it, or have their links back
		l.cut = map[*member]bool{}
		for range w.rnd.IntN(len(w.sites)) {
			l.cut[w.sites[w.rnd.IntN(len(w.sites))]] = true
		}
	case r == 40:
		m.off = w.offset()
	case r < 44 && !m.alone:
		m.copies = append(m.copies, w.copy(m.Book, fmt.Sprintf("%s.%d", m.Book, len(m.copies))))
	case r == 44:
		w.lose(m)
	case r == 45:
		w.double(m)
	default:
		w.restore(m)
	}
}

// copy copies a book.
func (w *world) copy(from, to string) string {
	raw, err := os.ReadFile(from)
	w.must(err)
	w.must(os.WriteFile(to, raw, 0o600))
	return to
}

// restore puts an older copy of a book in its place.
func (w *world) restore(m *member) {
	if len(m.copies) == 0 || m.alone {
		return
	}
	other := m.copies[w.rnd.IntN(len(m.copies))]
	w.copy(m.Book, other+".now")
	w.copy(other, m.Book)
	if w.rnd.IntN(2) == 0 { // and the one that was used is taken up again later: a fork
		w.copy(other+".now", other)
	}
}

// lose has one of a site's two computers vanish, or a site begin again with nothing, as the first site
// invites it again. An invitation that nobody else had heard of would be lost with the book.
func (w *world) lose(m *member) {
	if m.name == w.twin && len(w.computers(m.name)) > 1 && m != w.sites[0] && w.rnd.IntN(2) == 0 {
		w.sites = slices.DeleteFunc(w.sites, func(o *member) bool { return o == m })
		return
	}
	if w.hasty || m.name == w.sites[0].name || m.alone {
		return
	}
	w.must(errors.Join(os.Remove(m.Book), os.Remove(keys.Open(m.Book).Path())))
	m.copies = nil
	w.join(m, w.sites[0])
}

// computers are those that use a site's book.
func (w *world) computers(name string) []*member {
	return slices.DeleteFunc(slices.Clone(w.sites), func(m *member) bool { return m.name != name })
}

// double has two computers be one site: somebody copied its book and its keys, and uses both.
func (w *world) double(m *member) {
	if w.twin != "" || m.alone {
		return
	}
	w.twin = m.name
	d := w.member(m.name)
	w.copy(m.Book, d.Book)
	w.copy(keys.Open(m.Book).Path(), keys.Open(d.Book).Path())
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
