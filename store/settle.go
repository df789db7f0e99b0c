package store

import (
	"bytes"
	"maps"
	"slices"

	"github.com/google/uuid"

	"rindkeep/store/derive"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/register"
	"rindkeep/wheel"
)

// settle makes the derived records of every touched wheel again, each once,
// with those of the sisters that a weighing bears on.
func (t *WriteTx) settle() error {
	if len(t.airIn) > 0 {
		if err := t.tab.Flush(layout.Standings, layout.Curves, layout.Air); err != nil {
			return err
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
	byMake, err := t.dirtyLots()
	if err != nil {
		return err
	}
	makes := slices.SortedFunc(maps.Keys(byMake), byID)
	// What the lots are read from must all be in the book by now.
	if err := t.tab.Flush(layout.Wheels, layout.MakeWheels, layout.Entries, layout.Air); err != nil {
		return err
	}
	clear(t.lots)
	var tagged []retag
	err = t.inParallel(makes, func(mk uuid.UUID) (*derive.Update, error) {
		return t.lotUpdateOf(mk, byMake[mk], func(id uuid.UUID) touch { return t.dirty[id] }, false)
	}, func(j *derive.Update) error {
		if len(t.lots) < 16 && len(j.Lot.Wheels) > 0 { // a weight is judged by what it was derived from
			t.lots[lotKey{j.Lot.Make.ID, pack.MaxTime.UnixMilli()}] = j.Lot
		}
		for i := range j.Out {
			r, err := t.apply(j, &j.Out[i])
			if err != nil {
				return err
			}
			if r.wheel != uuid.Nil {
				tagged = append(tagged, r)
			}
		}
		for i := range j.Curves {
			if k, v := j.Curves[i].Record(j.Lot.Make.ID); !bytes.Equal(t.tab.Get(layout.Curves, k), v) {
				t.tab.Put(layout.Curves, k, v)
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

// dirtyLots are the touched wheels of each make, in order.
func (t *WriteTx) dirtyLots() (map[uuid.UUID][]uuid.UUID, error) {
	byMake := map[uuid.UUID][]uuid.UUID{}
	for id := range t.dirty {
		w, err := t.Wheel(id)
		if err != nil {
			return nil, err
		}
		byMake[w.Make] = append(byMake[w.Make], id)
	}
	for _, ids := range byMake {
		slices.SortFunc(ids, byID)
	}
	return byMake, nil
}

// follow marks what follows from a change of a register as stale.
func (t *WriteTx) follow(c register.Change) error {
	clear(t.lots)
	switch c.Thing {
	case "air":
		if from, known := t.airIn[c.Name]; !known || c.From.Before(from) {
			t.airIn[c.Name] = c.From
		}
	case "variety":
		return t.touchAll(func(s derive.WheelState) (bool, error) {
			m, err := t.Make(s.Make)
			return m.Variety == c.Name, err
		})
	case "plan":
		return t.touchAll(func(s derive.WheelState) (bool, error) { return s.Plan == c.Name, nil })
	}
	return nil
}

// touchAll marks the wheels in the cave that which picks.
func (t *WriteTx) touchAll(which func(derive.WheelState) (bool, error)) error {
	if err := t.flush(); err != nil {
		return err
	}
	for s, err := range t.states() {
		if err != nil {
			return err
		}
		if !s.Here() {
			continue
		}
		if yes, err := which(s); err != nil {
			return err
		} else if yes {
			t.regate(s.Wheel)
		}
	}
	return nil
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
		if s.Gated {
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

// lotUpdateOf reads what deriving the wheels of a lot needs. Only an outlook needs more
// than the wheel's own entries. Curves, and what sisters say, are found again where nothing
// changed, if that's asked.
func (t *ReadTx) lotUpdateOf(mk uuid.UUID, ids []uuid.UUID, stale func(uuid.UUID) touch,
	again bool) (*derive.Update, error) {
	m, err := t.MakeFromLog(mk)
	if err = t.harm(mk, err); t.tab.Remaking && t.leftOut(err) {
		return &derive.Update{Lot: &derive.Lot{}}, nil
	}
	if err != nil {
		return nil, err
	}
	j := &derive.Update{Lot: &derive.Lot{Make: m}}
	if j.Lot.Variety, err = t.VarietyOf(m); err != nil {
		return nil, err
	}
	gate, sisters := false, false
	for _, id := range ids {
		how := stale(id)
		d, err := t.outcomeOf(id, m, how.gate)
		if err != nil {
			return nil, err
		}
		gate, sisters = gate || d.Gate, sisters || how.sisters
		j.Out = append(j.Out, d)
	}
	if err := t.curves(j, stale, again); err != nil {
		return nil, err
	}
	if !gate && !sisters {
		return j, nil
	}
	err = t.sisters(j, stale)
	for _, f := range j.Lot.Wheels {
		if again {
			f.Told = nil
		}
	}
	return j, err
}

// together is how many wheels are derived at once, or a few more where their lot has more.
// Our choice: a thousand wheels take some 20 MB.
const together = 1000

// outcomeOf reads what deriving one wheel needs. gate: what its gate waits for is stale.
func (t *ReadTx) outcomeOf(id uuid.UUID, m wheel.Make, gate bool) (d derive.Outcome, err error) {
	d.File, err = t.fileOf(id, m, pack.MaxTime)
	if t.tab.Remaking && t.leftOut(err) {
		d.File, err = t.partOf(id, m)
	}
	if err != nil {
		return d, err
	}
	s, ok, err := t.state(id)
	if ok {
		d.Old = &s
	}
	d.Brief = d.File.Life.Brief(d.File.Zone)
	d.Gate = d.File.Gated() && (gate || d.Old == nil || !d.Old.Gated)
	return d, err
}

// inParallel reads updates here, derives them on the other processors and applies
// them here again, in order, holding those of a thousand wheels or so at a time.
func (t *ReadTx) inParallel(makes []uuid.UUID, read func(uuid.UUID) (*derive.Update, error),
	apply func(*derive.Update) error) error {
	today := t.tab.Today()
	for len(makes) > 0 {
		var updates []*derive.Update
		for wheels := 0; wheels < together && len(updates) < len(makes); {
			j, err := read(makes[len(updates)])
			if err != nil {
				return err
			}
			updates = append(updates, j)
			wheels += max(1, len(j.Out))
		}
		makes = makes[len(updates):]
		derive.InParallel(len(updates), func(i int) { updates[i].Derive(today) })
		for _, j := range updates {
			if err := apply(j); err != nil {
				return err
			}
		}
	}
	return nil
}
