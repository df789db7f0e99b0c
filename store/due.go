package store

import (
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/store/derive"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
)

// Due lists what is due on a date, in walking order: room by room in their
// order, place by place, job by job, wheel by wheel. It costs what is due and
// not what exists. Where the book holds entries from after the date, the lots
// they belong to are gone through again as they stood at its end, which costs
// what exists.
func (t *ReadTx) Due(date day.Date) ([]derive.Task, error) {
	var out []derive.Task
	if err := t.EachDue(date, func(task derive.Task) bool {
		out = append(out, task)
		return true
	}); err != nil {
		return nil, err
	}
	rooms, err := t.Rooms()
	if err != nil {
		return nil, err
	}
	derive.WalkOrder(out, rooms)
	return out, nil
}

// EachDue goes through what is due on a date, in no order that means anything
// to a person: what Due lists, without holding it all. It stops when fn says
// false.
func (t *ReadTx) EachDue(date day.Date, fn func(derive.Task) bool) error {
	return t.eachDue(date, t.eachTask, fn)
}

// EachDueAt is EachDue of one place, the deeper parts of it included; "" is of the wheels
// that have no place. It costs what is due there, and a look at each day on which
// anything fell due.
func (t *ReadTx) EachDueAt(date day.Date, at cave.Place, fn func(derive.Task) bool) error {
	return t.eachDue(date, func(by day.Date, fn func(derive.Task) bool) error { return t.eachTaskAt(by, at, fn) },
		func(task derive.Task) bool { return task.Place != at && !task.Place.Within(at) || fn(task) })
}

// eachDue is EachDue with what goes through the index as things stand.
func (t *ReadTx) eachDue(
	date day.Date, each func(day.Date, func(derive.Task) bool) error, fn func(derive.Task) bool,
) error {
	if err := t.ready(); err != nil {
		return err
	}
	c, err := t.count()
	if err != nil {
		return err
	}
	listed := func(task derive.Task) bool {
		_, on := task.On(date)
		return !on || fn(task)
	}
	end := (date + 1).Start(t.Zone())
	if c.Newest >= end.UnixMilli() || c.Closed != day.None && c.Closed >= date {
		return t.dueAsOf(date, end, listed)
	}
	return each(date, listed)
}

// eachTaskAt is eachTask of one place. The index is by date first: it's looked at once
// or twice for each.
func (t *ReadTx) eachTaskAt(by day.Date, at cave.Place, fn func(derive.Task) bool) error {
	var dates []day.Date
	c := t.tab.Walk(layout.Due)
	for k := c.SeekProven(nil); len(k) >= 4 && layout.DateOf(k) <= by; {
		dates = append(dates, layout.DateOf(k))
		k = c.SeekProven(layout.DateBytes(nil, layout.DateOf(k)+1))
	}
	noted, more := derive.Notes(t.Plan), true
	for _, d := range dates {
		for _, sep := range []string{"\x00", "/"} {
			err := t.tasksIn(append(layout.DateBytes(nil, d), string(at)+sep...), noted, func(task derive.Task) bool {
				more = fn(task)
				return more
			})
			if err != nil || !more {
				return err
			}
		}
	}
	return nil
}

// eachTask goes through every task that is due by a date, as things stand, in
// the order of the day each falls due. Those whose last day is over are among
// them where no entry came since. It stops when fn says false.
func (t *ReadTx) eachTask(by day.Date, fn func(derive.Task) bool) error {
	return t.tasksIn(nil, derive.Notes(t.Plan), func(task derive.Task) bool { return task.Due <= by && fn(task) })
}

// tasksIn goes through the tasks whose keys in the index begin so.
func (t *ReadTx) tasksIn(prefix []byte, noted func(*derive.Task) error, fn func(derive.Task) bool) error {
	var place cave.Place
	for k, v := range t.tab.In(layout.Due, prefix) {
		s, p, w, ok := layout.SplitDueKey(k)
		if !ok {
			return t.tab.Damaged(pack.ErrForm, "index", layout.Due)
		}
		if string(place) != string(p) { // neighbours share their place
			place = cave.Place(p)
		}
		task, err := derive.DecodeTask(s, place, w, v)
		if err != nil {
			return t.tab.Damaged(err, "task", w)
		}
		if err := noted(&task); err != nil || !fn(task) {
			return err
		}
	}
	return nil
}

// TasksOf lists a wheel's tasks as things stand, the first due first.
func (t *ReadTx) TasksOf(id uuid.UUID) ([]derive.Task, error) {
	s, err := t.State(id)
	if err != nil {
		return nil, err
	}
	out := make([]derive.Task, 0, len(s.Slots))
	noted := derive.Notes(t.Plan)
	for _, k := range s.Slots {
		task, err := derive.DecodeTask(k, s.Place, id, t.tab.Get(layout.Due, layout.DueKey(k, s.Place, id)))
		if err != nil {
			return nil, t.tab.Damaged(err, "task", s.Tag)
		}
		if err := noted(&task); err != nil {
			return nil, err
		}
		out = append(out, task)
	}
	return out, nil
}

// lotsSince are the makes with wheels of which something is known from a date's end on.
func (t *ReadTx) lotsSince(date day.Date, end time.Time) (map[uuid.UUID]bool, error) {
	makes := map[uuid.UUID]bool{}
	for s, err := range t.States() {
		if err != nil {
			return nil, err
		}
		if !s.Last.Before(end) || s.Closed != day.None && s.Closed >= date {
			makes[s.Make] = true
		}
	}
	return makes, nil
}

// dueAsOf goes through what was due on a date from what had happened by its end. A
// lot without anything later has its tasks in the index.
func (t *ReadTx) dueAsOf(date day.Date, end time.Time, fn func(derive.Task) bool) error {
	again, err := t.lotsSince(date, end)
	if err != nil {
		return err
	}
	lotOf := map[string]bool{}
	noted := derive.Notes(t.Plan)
	for mk := range again {
		l, err := t.readLot(mk, end)
		if err != nil {
			return err
		}
		lotOf[l.Make.Lot] = true
		if l.Make.Date > date {
			continue
		}
		if err := t.fill(l, end, (*derive.Wheel).Gated); err != nil {
			return err
		}
		j := &derive.Update{Lot: l}
		for _, f := range l.Wheels {
			if f.Life.Since > date {
				continue
			}
			j.Out = append(j.Out, derive.Outcome{File: f, Gate: f.Gated()})
		}
		j.Derive(date)
		for _, d := range j.Out {
			for _, task := range d.TasksOf(l.Make) {
				if err := noted(&task); err != nil || !fn(task) {
					return err
				}
			}
		}
	}
	return t.eachTask(date, func(task derive.Task) bool { return lotOf[task.Lot] || fn(task) })
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
	for k := range t.tab.In(layout.Shelves, []byte(under)) {
		p := cave.Place(k)
		if under != "" && !p.Within(under) {
			continue
		}
		n, err := t.onShelf(p)
		if err != nil {
			return nil, err
		}
		out = append(out, ShelfCount{p, n})
	}
	return out, nil
}
