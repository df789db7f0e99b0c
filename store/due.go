package store

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
)

// Due lists what is due on a date, in walking order: room by room in their
// order, place by place, job by job, wheel by wheel. It costs what is due and
// not what exists. Where the book holds entries from after the date, the lots
// they belong to are gone through again as they stood at its end, which costs
// what exists.
func (t *ReadTx) Due(date day.Date) ([]Task, error) {
	if err := t.ready(); err != nil {
		return nil, err
	}
	out, err := t.due(date)
	if err != nil {
		return nil, err
	}
	return out, t.walkOrder(out)
}

func (t *ReadTx) due(date day.Date) ([]Task, error) {
	c, err := t.count()
	if err != nil {
		return nil, err
	}
	end := (date + 1).Start(t.book.zone)
	if c.Newest >= end.UnixMilli() || c.Closed != day.None && c.Closed >= date {
		return t.dueAsOf(date, end)
	}
	var out []Task
	err = t.EachTask(date, func(task Task) bool {
		if _, listed := task.On(date); listed {
			out = append(out, task)
		}
		return true
	})
	return out, err
}

// EachTask goes through every task that is due by a date, as things stand, in
// the order of the day each falls due. Those whose last day is over are among
// them where no entry came since. It stops when fn says false.
func (t *ReadTx) EachTask(by day.Date, fn func(Task) bool) error {
	if err := t.ready(); err != nil {
		return err
	}
	c := t.bucket(bDue).Cursor()
	noted := t.notes()
	var place cave.Place
	for k, v := c.First(); k != nil; k, v = c.Next() {
		s, p, w, ok := splitDueKey(k)
		if !ok {
			return t.damaged(errPacked, "the index of what is due")
		}
		if s.due > by {
			return nil
		}
		if string(place) != string(p) { // neighbours share their place
			place = cave.Place(p)
		}
		task, err := decodeTask(s, place, w, v)
		if err != nil {
			return t.damaged(err, "the index of what is due (wheel %s)", uuid.UUID(w))
		}
		if err := noted(&task); err != nil {
			return err
		}
		if !fn(task) {
			return nil
		}
	}
	return nil
}

// TasksOf lists a wheel's tasks as things stand, the first due first.
func (t *ReadTx) TasksOf(id uuid.UUID) ([]Task, error) {
	s, err := t.State(id)
	if err != nil {
		return nil, err
	}
	out := make([]Task, 0, len(s.slots))
	noted := t.notes()
	for _, k := range s.slots {
		task, err := decodeTask(k, s.Place, id, t.get(bDue, dueKey(k, s.Place, id)))
		if err != nil {
			return nil, t.damaged(err, "the index of what is due (wheel %s)", s.Tag)
		}
		if err := noted(&task); err != nil {
			return nil, err
		}
		out = append(out, task)
	}
	return out, nil
}

// dueAsOf lists what was due on a date from what had happened by its end. A
// lot without anything later has its tasks in the index.
func (t *ReadTx) dueAsOf(date day.Date, end time.Time) ([]Task, error) {
	again := map[uuid.UUID]bool{}
	for s, err := range t.States() {
		if err != nil {
			return nil, err
		}
		if !s.Last.Before(end) || s.closed != day.None && s.closed >= date {
			again[s.Make] = true
		}
	}
	var out []Task
	add := func(task Task) {
		if _, listed := task.On(date); listed {
			out = append(out, task)
		}
	}
	lotOf := map[string]bool{}
	noted := t.notes()
	for mk := range again {
		l, err := t.readLot(mk, end)
		if err != nil {
			return nil, err
		}
		lotOf[l.mk.Lot] = true
		if l.mk.Date > date {
			continue
		}
		if err := t.fill(l, end, (*wheelFile).gated); err != nil {
			return nil, err
		}
		j := &job{lot: l}
		for _, f := range l.wheels {
			if f.life.Since > date {
				continue
			}
			d := derived{file: f, gate: f.gated()}
			if d.gate && f.leans() {
				d.sisters = l.sistersOf(f, mostIndex)
			}
			j.out = append(j.out, d)
		}
		j.derive(date)
		for _, d := range j.out {
			for _, task := range d.tasksOf(l.mk) {
				if err := noted(&task); err != nil {
					return nil, err
				}
				add(task)
			}
		}
	}
	err := t.EachTask(date, func(task Task) bool {
		if !lotOf[task.Lot] {
			add(task)
		}
		return true
	})
	return out, err
}

// walkOrder sorts tasks as a person walks by them. Places without a room come
// last.
func (t *ReadTx) walkOrder(ts []Task) error {
	rooms, err := t.Rooms()
	if err != nil {
		return err
	}
	rank := map[string]int{}
	for i, r := range rooms {
		rank[r.Name] = i + 1
	}
	rooms = nil
	of := func(p cave.Place) int {
		if r, ok := rank[p.Room()]; ok {
			return r
		}
		return len(rank) + 1
	}
	var places []cave.Place
	seen := map[cave.Place]int{}
	for _, task := range ts {
		if _, ok := seen[task.Place]; !ok {
			seen[task.Place] = 0
			places = append(places, task.Place)
		}
	}
	slices.SortFunc(places, func(a, b cave.Place) int {
		if d := of(a) - of(b); d != 0 {
			return d
		}
		if cave.NaturalLess(string(a), string(b)) {
			return -1
		}
		return 1
	})
	for i, p := range places {
		seen[p] = i
	}
	type key struct{ place, job, at int }
	keys := make([]key, len(ts))
	for i, task := range ts {
		keys[i] = key{seen[task.Place], task.Job.Order(), i}
	}
	slices.SortFunc(keys, func(a, b key) int {
		switch {
		case a.place != b.place:
			return a.place - b.place
		case a.job != b.job:
			return a.job - b.job
		}
		x, y := &ts[a.at], &ts[b.at]
		switch {
		case x.Tag == y.Tag:
			return int(x.Due - y.Due)
		case cave.NaturalLess(x.Tag, y.Tag):
			return -1
		}
		return 1
	})
	sorted := make([]Task, len(ts))
	for i, k := range keys {
		sorted[i] = ts[k.at]
	}
	copy(ts, sorted)
	return nil
}

// ShelfCount is how many wheels lie in one place.
type ShelfCount struct {
	Place  cave.Place
	Wheels int
}

// ShelfCounts says how many wheels lie in each place under one, the place
// itself with it; "" gives every place. Its order is that of the names' bytes.
func (t *ReadTx) ShelfCounts(under cave.Place) ([]ShelfCount, error) {
	if err := t.ready(); err != nil {
		return nil, err
	}
	var out []ShelfCount
	err := t.scan(bShelves, []byte(under), func(k, _ []byte) (bool, error) {
		p := cave.Place(k)
		if under != "" && !p.Within(under) {
			return true, nil
		}
		n, err := t.onShelf(p)
		out = append(out, ShelfCount{p, n})
		return err == nil, err
	})
	return out, err
}

// OnShelf says how many wheels lie in exactly that place.
func (t *ReadTx) OnShelf(p cave.Place) (int, error) {
	if err := t.ready(); err != nil {
		return 0, err
	}
	return t.onShelf(p)
}
