package rooms

import (
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/schedule"
	"rindkeep/store/derive"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

// ownForecasts is up to how many wheels each gets a forecast of its own, found from all that
// bears on it. Of more, those that wait for a coat have the outlook that the book keeps, and
// the others the curve that it keeps of those of their make that stand alike. Our choice.
const ownForecasts = 100

// foreseenTogether is how many forecasts are found at once: each holds some hundred kilobytes
// until it's written down. Our choice.
const foreseenTogether = 64

// foreseen is how wheels that stand alike go on.
type foreseen struct {
	track drying.Track
	long  *drying.LongTrack
	began time.Time
	net   quantity.Grams  // when last known, by the curve itself; 0 where its weights say so
	known float64         // the day of that
	gate  verdict.Windows // of one that waits for its coat
	dry   verdict.Dry
}

// standing is what wheels share that are foreseen alike: all of it, or the wheel itself.
type standing struct {
	mk    uuid.UUID
	alike uint64
	wheel uuid.UUID
}

// foresight says how wheels go on from an instant, and on a date.
type foresight struct {
	s     *app.Session
	at    time.Time
	on    day.Date
	judge bool // say too of those that wait for a coat when they get it
	own   bool // each by a forecast of its own, or else as the book keeps it
	known map[standing]*foreseen
}

// foresee says of each wheel how it goes on. Wheels whose entries can't be read are left out.
func (f *foresight) foresee(ws []*coming) ([]*coming, error) {
	s, at := f.s, f.at
	past := at.Before(s.Time)
	var open []*coming
	for i, w := range ws {
		if i%256 == 0 && s.Ctx.Err() != nil {
			return nil, s.Ctx.Err()
		}
		k := standing{mk: w.Make, alike: w.Brief.Alike}
		if f.own || w.waits {
			k = standing{wheel: w.Wheel}
		}
		if w.foreseen = f.known[k]; w.foreseen != nil {
			continue
		}
		w.foreseen = &foreseen{}
		if !f.own && !past {
			if ok, err := f.keeps(w); err != nil {
				return nil, err
			} else if ok {
				continue
			}
		}
		f.known[k] = w.foreseen
		open = append(open, w)
	}
	for part := range slices.Chunk(open, foreseenTogether) {
		if err := find(s, part, at, f.on); err != nil {
			return nil, err
		}
	}
	return slices.DeleteFunc(ws, func(w *coming) bool { return w.track.Green == 0 }), nil
}

// keeps reads what the book keeps of a wheel; ok is false where it's too little.
func (f *foresight) keeps(w *coming) (ok bool, err error) {
	k := standing{mk: w.Make, alike: w.Brief.Alike}
	all := f.known[k]
	if !w.waits || all == nil {
		c, ok, err := f.s.Tx.CurveOf(w.WheelState)
		if !ok || err != nil {
			return false, err
		}
		all = &foreseen{track: c.Track.Track, long: &c.Track, began: c.Began, net: c.Net, known: c.Known}
		f.known[k] = all
	}
	if !w.waits {
		w.foreseen = all
		return true, nil
	}
	o, ok, err := f.s.Tx.Kept(w.WheelState)
	if !ok || err != nil || f.judge && !o.Outlook.Knows(f.at) {
		return false, err
	}
	*w.foreseen = foreseen{
		track: o.Outlook.Track, long: all.long, began: o.Outlook.Began, net: all.net, known: all.known,
	}
	if f.judge {
		w.gate, w.dry = o.Outlook.Windows(o.Terms), o.Outlook.Dry(o.Terms, f.at)
	}
	return true, nil
}

// find fits curves to the entries of wheels, on all processors.
func find(s *app.Session, ws []*coming, at time.Time, on day.Date) error {
	if s.Ctx.Err() != nil {
		return s.Ctx.Err()
	}
	cases := make([]*verdict.Case, len(ws))
	for i, w := range ws {
		c, err := s.CaseAt(w.WheelState, at)
		if s.Tx.LeaveOut(err) {
			continue
		}
		if err != nil {
			return err
		}
		cases[i] = &c
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(len(ws), runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for i := next.Add(1) - 1; i < int64(len(ws)); i = next.Add(1) - 1 {
				if cases[i] != nil && s.Ctx.Err() == nil {
					ws[i].find(*cases[i], at, on)
				}
			}
		})
	}
	wg.Wait()
	return s.Ctx.Err()
}

func (w *coming) find(c verdict.Case, at time.Time, on day.Date) {
	f := c.Forecast()
	var coat string
	next := day.None
	if w.waits {
		o := c.Outlook(f)
		w.gate, w.dry = o.Windows(c.Terms()), o.By(c.Terms(), f, at)
		coat, next = w.plan.GateCoatOn(o, on)
	} else if w.plan != nil {
		coat, next = schedule.NextCoat(schedule.Due(*w.plan, w.subject(c, verdict.Shut())), on)
	}
	t := c.LongTrack(f, c.TrackFrom(at, on), coat, next)
	w.track, w.long, w.began = t.Track, &t, c.Began()
	if !math.IsNaN(c.Life.Chain.Gap) {
		w.net, w.known = c.Life.Chain.Present()
	}
}

// lay is what wheels share that a law treats alike: their make, and where they lay and when.
type lay struct {
	mk    uuid.UUID
	where uint64
}

// heldBy are the holds by law on wheels at an instant.
type heldBy struct {
	s     *app.Session
	at    time.Time
	known map[lay]lawful
}

// lawful is what laws say of a wheel, and whether they say anything at all.
type lawful struct {
	holds []verdict.LawHold
	air   []drying.Span // that it lay in
}

// of is what laws say of a wheel.
func (h *heldBy) of(w *coming) (lawful, error) {
	binds := false
	for _, r := range w.law.Rules {
		binds = binds || r.Binds(w.make.Milk.Treatment)
	}
	if !binds {
		return lawful{}, nil
	}
	k := lay{w.Make, w.Brief.Lay}
	l, ok := h.known[k]
	if ok {
		return l, nil
	}
	find := h.s.CaseAt
	if !h.at.Before(h.s.Time) {
		find = func(st derive.WheelState, _ time.Time) (verdict.Case, error) { return h.s.Tx.CaseAlone(st.Wheel) }
	}
	c, err := find(w.WheelState, h.at)
	if h.s.Tx.LeaveOut(err) {
		return l, nil
	}
	if err != nil {
		return l, err
	}
	if h.known == nil {
		h.known = map[lay]lawful{}
	}
	l = lawful{c.LawHolds(h.at), c.Air}
	h.known[k] = l
	return l, nil
}
