package round

import (
	"context"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store"
	"rindkeep/wheel"
)

// Job asks to record that a job was done, or skipped, for wheels.
type Job struct {
	Job     wheel.Job
	What    []string // tags, lots, places
	Due     bool     // only the wheels it is due for
	Skipped bool     // it was passed over; Note is then the reason, and has to be there
	Note    string
}

// JobDone is what was recorded of a job.
type JobDone struct {
	Schema   string   `json:"schema"`
	Job      string   `json:"job"`
	At       string   `json:"at"`
	Wheels   []string `json:"wheels"`    // it was recorded for
	NoChange []string `json:"no_change"` // it was in the book for already
	app.Cautioned

	When    time.Time `json:"-"` // in the book's zone; zero: now
	Skipped bool      `json:"-"`
}

// OwnCommand refuses a job that is recorded by an act of its own, which says more
// than that it was done.
type OwnCommand struct {
	Job wheel.Job `json:"job"`
}

func (OwnCommand) Code() string { return "job-has-own-command" }

// LikeOwnCommand is the remedy for OwnCommand.
type LikeOwnCommand OwnCommand

func (LikeOwnCommand) Code() string { return "like-own-command" }

// Did records that a job was done or skipped, all of it or nothing.
func Did(ctx context.Context, a *app.App, c app.Caller, q Job) (app.Did[JobDone], error) {
	if q.Skipped && q.Note == "" {
		return app.Did[JobDone]{}, app.Misuse("why", reason.Missing{What: "why"})
	}
	switch q.Job {
	case wheel.Weigh, wheel.Coat, wheel.Move, wheel.Check:
		if !q.Skipped {
			return app.Did[JobDone]{}, app.Misuse("", OwnCommand{q.Job}, LikeOwnCommand{q.Job})
		}
	}
	return app.Act(ctx, a, c, func(s *app.Session) (JobDone, error) { return did(s, q) })
}

func did(s *app.Session, q Job) (JobDone, error) {
	out := JobDone{Schema: app.Schema("did"), Job: string(q.Job), Wheels: []string{}, NoChange: []string{},
		Skipped: q.Skipped}
	when, exact, err := s.Moment()
	if err != nil {
		return out, err
	}
	out.When, out.At = s.Earlier(when), app.Instant(when, s.Zone)
	exact = exact || day.At(when, s.Zone) == s.Today
	ws, err := s.Pick(q.What)
	if err != nil {
		return out, err
	}
	if q.Due {
		if ws, err = onlyDue(s, ws, q.Job, day.At(when, s.Zone)); err != nil {
			return out, err
		}
	}
	if !q.Skipped {
		hs, err := s.Hazards(q.Job, "", ws)
		if err != nil {
			return out, err
		}
		out.Warn(hs...)
	}
	var entries []wheel.Entry
	var done []string
	for _, w := range ws {
		t := when
		if !exact {
			var again bool
			if t, again, err = roundTime(s, w, q.Job, when); err != nil {
				return out, err
			}
			if again {
				out.NoChange = append(out.NoChange, w.Tag)
				continue
			}
		}
		kind := wheel.Did
		if q.Skipped {
			kind = wheel.Skipped
		}
		entries = append(entries, s.Entry(wheel.Entry{Subject: w.Wheel, Kind: kind, Job: q.Job, At: t, Note: q.Note}))
		done = append(done, w.Tag)
	}
	if len(entries) == 0 {
		return out, nil
	}
	res, err := s.Write.Put(entries...)
	if err != nil || res.Repeated == 0 {
		out.Wheels = done
		return out, err
	}
	// An entry that told nothing new isn't in the book under its own ID.
	for i, e := range entries {
		_, err := s.Tx.EntryByID(e.ID)
		switch {
		case err == nil:
			out.Wheels = append(out.Wheels, done[i])
		case app.IsNotFound(err):
			out.NoChange = append(out.NoChange, done[i])
		default:
			return out, err
		}
	}
	return out, nil
}

// roundTime finds the instant for a job of which only the date is known. Each
// round of that day gets a minute of its own after noon; once the plan's rounds of
// the day are all there, again is true and nothing should be written: most likely
// the same act was sent twice.
func roundTime(s *app.Session, w store.WheelState, job wheel.Job, noon time.Time) (t time.Time, again bool, err error) {
	l, err := s.Tx.Life(w.Wheel)
	if err != nil {
		return noon, false, err
	}
	on := day.At(noon, s.Zone)
	n := 0
	for _, e := range l.Entries {
		if (e.Kind == wheel.Did || e.Kind == wheel.Skipped) && e.Job == job && day.At(e.At, s.Zone) == on {
			n++
		}
	}
	rounds := 1
	p, err := s.Tx.Plan(w.Plan)
	if err != nil {
		return noon, false, err
	}
	for _, st := range p.Steps {
		if st.Job == job {
			rounds = max(rounds, st.PerDay, len(st.MinutesAfter))
		}
	}
	return noon.Add(time.Duration(n) * time.Minute), n >= rounds, nil
}

func onlyDue(s *app.Session, ws []store.WheelState, job wheel.Job, on day.Date) ([]store.WheelState, error) {
	tasks, err := s.Tx.Due(on)
	if err != nil {
		return nil, err
	}
	isDue := map[[16]byte]bool{}
	for _, t := range tasks {
		if _, ok := t.On(on); ok && t.Job == job {
			isDue[t.Wheel] = true
		}
	}
	out := ws[:0]
	for _, w := range ws {
		if isDue[w.Wheel] {
			out = append(out, w)
		}
	}
	return out, nil
}
