package round

import (
	"context"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cmd/app"
	"rindkeep/wheel"
)

// Done is what was done of a day so far. The zero value is of no day; Update makes it
// today's and keeps it so, at the cost of what was written since it was last asked.
type Done struct {
	On     day.Date
	Jobs   map[cave.Place]int // by rack: what was done at how many wheels
	Latest map[string]Latest  // by person

	newest uint64 // link of the book's chain
}

// Latest is the last thing that a person recorded.
type Latest struct {
	By    string
	At    time.Time // it was written, in the book's zone
	Job   wheel.Job // "" for what is no job
	Place cave.Place
	Jobs  int // that they did today, at how many wheels
}

// Update adds what was done since.
func (d *Done) Update(ctx context.Context, a *app.App, c app.Caller) error {
	_, err := app.Ask(ctx, a, c, func(s *app.Session) (struct{}, error) { return struct{}{}, d.update(s) })
	if err != nil {
		*d = Done{} // half of it may have been added
	}
	return err
}

func (d *Done) update(s *app.Session) error {
	if d.On != s.Today || d.Jobs == nil {
		*d = Done{On: s.Today, Jobs: map[cave.Place]int{}, Latest: map[string]Latest{}}
	}
	since := s.Today.Start(s.Zone)
	newest, err := s.Tx.EachWritten(since, d.newest, func(e wheel.Entry) error { return d.add(s, e, since) })
	if err != nil {
		return err
	}
	if newest < d.newest { // it's another book
		*d = Done{}
		return d.update(s)
	}
	d.newest = newest
	return nil
}

// add counts an entry; one that's struck counts no longer.
func (d *Done) add(s *app.Session, e wheel.Entry, since time.Time) error {
	st, err := s.Tx.State(e.Subject)
	if app.IsNotFound(err) { // it's of a make
		return nil
	}
	if err != nil {
		return err
	}
	job, n := jobOf(e), 1
	if e.Kind == wheel.Struck {
		of, err := s.Tx.EntryByID(e.Target)
		if err != nil && !app.IsNotFound(err) {
			return err
		}
		if job, n = jobOf(of), -1; err != nil || of.At.Before(since) {
			job = ""
		}
	}
	l := d.Latest[e.By]
	if e.Written.After(l.At) {
		l.By, l.At, l.Job, l.Place = e.By, e.Written.In(s.Zone), jobOf(e), st.Place
	}
	if job != "" {
		d.Jobs[st.Place.Rack()] += n
		l.Jobs += n
	}
	d.Latest[e.By] = l
	return nil
}

// jobOf is the job that an entry records as done or skipped; "" if it's none, or the
// round that another recorded.
func jobOf(e wheel.Entry) wheel.Job {
	switch e.Kind {
	case wheel.Did, wheel.Skipped:
		if e.SameRound() {
			return ""
		}
		return e.Job
	case wheel.Weighed:
		return wheel.Weigh
	case wheel.Checked:
		return wheel.Check
	case wheel.CoatedOn:
		return wheel.Coat
	case wheel.Moved:
		return wheel.Move
	}
	return ""
}

// At is how many jobs were done at a place, its deeper parts included; "" is everywhere.
func (d *Done) At(p cave.Place) (n int) {
	for rack, jobs := range d.Jobs {
		if p == "" || rack.Within(p) {
			n += jobs
		}
	}
	return n
}

// WheelJobs is how many jobs a list has left, counted for each wheel and round.
func (l List) WheelJobs() (n int) {
	for _, x := range l.Lines {
		n += len(x.Tags) * x.Left
	}
	return n
}
