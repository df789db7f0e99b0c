package store

import "rindkeep/cave/day"

// EachDue goes through what is due on a date, in no order that means anything
// to a person: what Due lists, without holding it all. It stops when fn says
// false.
func (t *ReadTx) EachDue(date day.Date, fn func(Task) bool) error {
	if err := t.ready(); err != nil {
		return err
	}
	c, err := t.count()
	if err != nil {
		return err
	}
	end := (date + 1).Start(t.book.zone)
	if c.Newest >= end.UnixMilli() || c.Closed != day.None && c.Closed >= date {
		tasks, err := t.dueAsOf(date, end)
		for _, task := range tasks {
			if !fn(task) {
				break
			}
		}
		return err
	}
	return t.EachTask(date, func(task Task) bool {
		if _, listed := task.On(date); !listed {
			return true
		}
		return fn(task)
	})
}
