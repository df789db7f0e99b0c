package derive

import (
	"rindkeep/cave/day"
	"rindkeep/schedule"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
)

// BearsOnGate says whether an entry of that kind may change what a dry gate asks of its
// wheel.
func BearsOnGate(k wheel.Kind) bool {
	switch k {
	case wheel.Checked, wheel.Planned, wheel.Sent, wheel.Lost, wheel.Voided:
		return true
	}
	return BearsOnSisters(k)
}

// BearsOnSisters says whether it may change what the gates ask of its sisters.
func BearsOnSisters(k wheel.Kind) bool {
	switch k {
	case wheel.Weighed, wheel.CoatedOn, wheel.Cored, wheel.Cut, wheel.SentPart, wheel.Moved, wheel.Struck,
		wheel.Received, wheel.TakenOver:
		return true
	}
	return false
}

// Update is one lot's touched wheels, with all that is needed to derive their
// records away from the book.
type Update struct {
	Lot    *Lot
	Out    []Outcome
	Curves []CurveUpdate
}

// Outcome is what comes of one wheel. File, Brief, Old and Gate are given, the rest is found.
type Outcome struct {
	File  *Wheel
	Brief wheel.Brief
	Old   *WheelState
	Gate  bool // its outlook must be found again, and with it what its gate asks for

	Now     WheelState
	Outlook *verdict.Outlook // nil where it isn't found again, or doesn't wait
	Told    *Word            // beside it, of one of the wheels that the others are judged by
	tasks   []schedule.Task
}

// Derive works the records out. It reads nothing but the update: those of several lots may
// be derived at once. Tasks that were over by today are left out.
func (j *Update) Derive(today day.Date) {
	for i := range j.Out {
		d := &j.Out[i]
		l := d.File.Life
		s := WheelState{
			Wheel: l.Wheel.ID, Make: j.Lot.Make.ID, Tag: l.Tag, Place: l.Place, Plan: l.Plan, Gone: l.GoneOn, Last: l.Last,
			Brief: d.Brief, Windows: verdict.Shut(), Closed: day.None, Entries: d.File.Entries,
		}
		if d.File.Gated() {
			s.Gated = true
			if d.Gate {
				c := j.Lot.CaseOf(d.File)
				f := c.Forecast()
				o := c.Outlook(f).Kept(c, f)
				d.Outlook, s.Windows = &o, o.Windows(c.Terms())
				if slices.Contains(j.Lot.telling(), d.File) {
					d.Told = d.File.Told
				}
			} else {
				s.Windows = d.Old.Windows
			}
		}
		d.tasks = d.File.tasks(j.Lot, s.Windows)
		kept := d.tasks[:0]
		for _, t := range d.tasks {
			if t.Due == day.None {
				continue
			}
			if t.Until != day.None && t.Until < today {
				s.Closed = max(s.Closed, t.Until)
				continue
			}
			kept = append(kept, t)
		}
		d.tasks = kept
		s.Slots = slotsOf(d.tasks)
		d.Now = s
	}
	for i := range j.Curves {
		j.Curves[i].derive(j.Lot)
	}
}

// InParallel runs fn for 0 to n-1 on all processors. A panic of one comes out
// here.
func InParallel(n int, fn func(int)) {
	if n == 1 { // another goroutine would begin with a small stack, on a processor that sleeps
		fn(0)
		return
	}
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
