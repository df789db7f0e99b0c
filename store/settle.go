package store

import (
	"bytes"
	"maps"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/schedule"
	"rindkeep/store/layout"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// settle makes the derived records of every touched wheel again, each once,
// with those of the sisters that a weighing bears on.
func (t *WriteTx) settle() error {
	if len(t.airIn) > 0 {
		for _, name := range []string{layout.Standings, layout.Curves, layout.Air} {
			if err := t.flushBucket(name); err != nil {
				return err
			}
		}
		if err := t.touchAir(); err != nil {
			return err
		}
		if err := t.touchCurves(); err != nil {
			return err
		}
		clear(t.airIn)
	}
	if len(t.dirty) == 0 {
		return nil
	}
	byMake := map[uuid.UUID][]uuid.UUID{}
	for id := range t.dirty {
		w, err := t.Wheel(id)
		if err != nil {
			return err
		}
		byMake[w.Make] = append(byMake[w.Make], id)
	}
	for _, ids := range byMake {
		slices.SortFunc(ids, byID)
	}
	makes := slices.SortedFunc(maps.Keys(byMake), byID)
	// What the lots are read from must all be in the book by now.
	for _, name := range []string{layout.Wheels, layout.MakeWheels, layout.Entries, layout.Air} {
		if err := t.flushBucket(name); err != nil {
			return err
		}
	}
	clear(t.lots)
	var tagged []retag
	err := t.inParallel(makes, func(mk uuid.UUID) (*lotUpdate, error) {
		return t.lotUpdateOf(mk, byMake[mk], func(id uuid.UUID) touch { return t.dirty[id] })
	}, func(j *lotUpdate) error {
		for i := range j.out {
			r, err := t.apply(j, &j.out[i])
			if err != nil {
				return err
			}
			if r.wheel != uuid.Nil {
				tagged = append(tagged, r)
			}
		}
		for i := range j.curves {
			if k, v := j.curves[i].record(j.lot.mk.ID); !bytes.Equal(t.get(layout.Curves, k), v) {
				t.put(layout.Curves, k, v)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	clear(t.dirty)
	t.retags = false
	return t.retag(tagged)
}

// touchAir marks the wheels that wait at a dry gate and have lain in a room
// whose air changed, or whose sisters have.
func (t *WriteTx) touchAir() error {
	lots, lay := map[uuid.UUID][]uuid.UUID{}, map[uuid.UUID]uint64{}
	for s, err := range t.states() {
		if err != nil {
			return err
		}
		lay[s.Make] |= s.Brief.Rooms
		if s.gated {
			lots[s.Make] = append(lots[s.Make], s.Wheel)
		}
	}
	changed := uint64(0)
	for room := range t.airIn {
		changed |= wheel.RoomBit(room)
	}
	for mk, waiting := range lots {
		if lay[mk]&changed == 0 {
			continue
		}
		for _, id := range waiting {
			t.regate(id)
		}
	}
	return nil
}

// lotUpdate is one lot's touched wheels, with all that is needed to derive their
// records away from the book.
type lotUpdate struct {
	lot    *lotFile
	out    []derived
	curves []curveUpdate
}

// derived is what comes of one wheel.
type derived struct {
	file  *wheelFile
	brief wheel.Brief
	old   *WheelState
	gate  bool // its outlook must be found again, and with it what its gate asks for

	now     WheelState
	outlook *verdict.Outlook // nil where it isn't found again, or doesn't wait
	tasks   []schedule.Task
}

// lotUpdateOf reads what deriving the wheels of a lot needs. Only an outlook needs more
// than the wheel's own entries.
func (t *ReadTx) lotUpdateOf(mk uuid.UUID, ids []uuid.UUID, stale func(uuid.UUID) touch) (*lotUpdate, error) {
	m, err := t.MakeFromLog(mk)
	if err = t.harm(mk, err); t.remaking() && t.leftOut(err) {
		return &lotUpdate{lot: &lotFile{}}, nil
	}
	if err != nil {
		return nil, err
	}
	j := &lotUpdate{lot: &lotFile{mk: m}}
	if j.lot.variety, err = t.varietyOf(m); err != nil {
		return nil, err
	}
	gate, sisters := false, false
	for _, id := range ids {
		d := derived{}
		d.file, err = t.fileOf(id, m, maxTime)
		if t.remaking() && t.leftOut(err) {
			d.file, err = t.partOf(id, m)
		}
		if err != nil {
			return nil, err
		}
		if s, ok, err := t.state(id); err != nil {
			return nil, err
		} else if ok {
			d.old = &s
		}
		d.brief = d.file.life.Brief(d.file.zone)
		how := stale(id)
		d.gate = d.file.gated() && (how.gate || d.old == nil || !d.old.gated)
		gate, sisters = gate || d.gate, sisters || how.sisters
		j.out = append(j.out, d)
	}
	if err := t.curves(j, stale); err != nil {
		return nil, err
	}
	if sisters {
		if sisters, err = t.anyWaits(mk); err != nil {
			return nil, err
		}
	}
	if !gate && !sisters {
		return j, nil
	}
	return j, t.wholeLot(j, ids, sisters)
}

// anyWaits says whether any wheel of a lot waits at a dry gate.
func (t *ReadTx) anyWaits(mk uuid.UUID) (bool, error) {
	ids, err := t.wheelIDs(mk)
	if err != nil {
		return false, err
	}
	for _, id := range ids {
		s, ok, err := t.state(id)
		if err != nil || ok && s.gated {
			return true, err
		}
	}
	return false, nil
}

// wholeLot reads the sisters too: to judge by, and, with all, to be judged.
func (t *ReadTx) wholeLot(j *lotUpdate, ids []uuid.UUID, all bool) error {
	every, err := t.wheelIDs(j.lot.mk.ID)
	if err != nil {
		return err
	}
	nth := make(map[uuid.UUID]int, len(ids))
	for i, id := range ids {
		nth[id] = i
	}
	for _, id := range every {
		if i, ok := nth[id]; ok {
			f := j.out[i].file
			j.lot.wheels = append(j.lot.wheels, f)
			j.out[i].gate = j.out[i].gate || all && f.gated()
			continue
		}
		f, err := t.fileOf(id, j.lot.mk, maxTime)
		if t.leftOut(err) {
			continue
		}
		if err != nil {
			return err
		}
		j.lot.wheels = append(j.lot.wheels, f)
		if all && f.gated() {
			s, ok, err := t.state(id)
			if err != nil {
				return err
			}
			if ok {
				j.out = append(j.out, derived{file: f, brief: f.life.Brief(f.zone), old: &s, gate: true})
			}
		}
	}
	asks := map[*wheelFile]bool{}
	for _, d := range j.out {
		asks[d.file] = d.gate
	}
	return t.fill(j.lot, maxTime, func(f *wheelFile) bool { return asks[f] })
}

// derive works the records out. It reads nothing but the job.
func (j *lotUpdate) derive(today day.Date) {
	for i := range j.out {
		d := &j.out[i]
		l := d.file.life
		s := WheelState{
			Wheel: l.Wheel.ID, Make: j.lot.mk.ID, Tag: l.Tag, Place: l.Place, Plan: l.Plan, Gone: l.GoneOn, Last: l.Last,
			Brief: d.brief, windows: verdict.Shut(), closed: day.None, entries: d.file.entries,
		}
		if d.file.gated() {
			s.gated = true
			if d.gate {
				c := j.lot.caseOf(d.file)
				f := c.Forecast()
				o := c.Outlook(f).Kept(c, f)
				d.outlook, s.windows = &o, o.Windows(c.Terms())
			} else {
				s.windows = d.old.windows
			}
		}
		d.tasks = d.file.tasks(j.lot, s.windows)
		kept := d.tasks[:0]
		for _, t := range d.tasks {
			if t.Due == day.None {
				continue
			}
			if t.Until != day.None && t.Until < today {
				s.closed = max(s.closed, t.Until)
				continue
			}
			kept = append(kept, t)
		}
		d.tasks = kept
		s.slots = slotsOf(d.tasks)
		d.now = s
	}
	for i := range j.curves {
		j.curves[i].derive(j.lot)
	}
}

// tasks is what the wheel is due by its plan.
func (f *wheelFile) tasks(l *lotFile, w verdict.Windows) []schedule.Task {
	if f.plan == nil {
		return nil
	}
	return schedule.Due(*f.plan, schedule.Subject{
		Life: f.life, DryingDays: l.variety.DryingDays, ReadyDays: l.variety.ReadyDays, Gate: w, Loc: f.zone,
	})
}

// slotsOf numbers the tasks of a wheel within the due index.
func slotsOf(ts []schedule.Task) []layout.Slot {
	out := make([]layout.Slot, len(ts))
	for i, t := range ts {
		out[i] = layout.Slot{Due: t.Due, Rank: byte(t.Job.Order())}
		for _, o := range out[:i] {
			if o.Due == out[i].Due && o.Rank == out[i].Rank {
				out[i].Seq = o.Seq + 1
			}
		}
	}
	return out
}

// inParallel reads updates here, derives them on the other processors and applies
// them here again, in order, holding no more than a few hundred at a time.
func (t *ReadTx) inParallel(makes []uuid.UUID, read func(uuid.UUID) (*lotUpdate, error),
	apply func(*lotUpdate) error) error {
	today := t.today()
	const batch = 256
	for part := range slices.Chunk(makes, batch) {
		updates := make([]*lotUpdate, len(part))
		for i, mk := range part {
			var err error
			if updates[i], err = read(mk); err != nil {
				return err
			}
		}
		parallel(len(updates), func(i int) { updates[i].derive(today) })
		for _, j := range updates {
			if err := apply(j); err != nil {
				return err
			}
		}
	}
	return nil
}

// parallel runs fn for 0 to n-1 on all processors. A panic of one comes out
// here.
func parallel(n int, fn func(int)) {
	var next atomic.Int64
	var once sync.Once
	var fault any
	var wg sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			defer func() {
				if v := recover(); v != nil {
					once.Do(func() { fault = v })
				}
			}()
			for i := next.Add(1) - 1; i < int64(n); i = next.Add(1) - 1 {
				fn(int(i))
			}
		})
	}
	wg.Wait()
	if fault != nil {
		panic(fault)
	}
}
