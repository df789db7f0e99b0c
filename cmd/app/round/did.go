package round

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/schedule"
	"rindkeep/store/derive"
	"rindkeep/wheel"
)

// Job asks to record that a job was done, or skipped, for wheels.
type Job struct {
	Job     wheel.Job
	Then    []wheel.Job // more jobs done at the same wheels
	What    []string    // tags, lots, places
	Due     bool        // only the wheels it is due for
	Skipped bool        // it was passed over; Note is then the reason, and has to be there
	Note    string
	Twice   bool // it was done again: never the round that another recorded
	Round   int  // which of the day's rounds it was, as the list had it; 0: not said
}

// JobDone is what was recorded of a job.
type JobDone struct {
	Schema   string   `json:"schema"`
	Job      string   `json:"job"`
	At       string   `json:"at"`
	Wheels   []string `json:"wheels"`         // it was recorded for
	NoChange []string `json:"no_change"`      // it was in the book for already
	Shared   []Shared `json:"same_round"`     // of wheels, where another recorded the same round; it counts once
	Jobs     []OfJob  `json:"jobs,omitempty"` // each apart, where it was several; the lists above join theirs
	app.Cautioned

	When    time.Time `json:"-"` // in the book's zone; zero: now
	Skipped bool      `json:"-"`
}

// OfJob is what was recorded of one job among several.
type OfJob struct {
	Job      wheel.Job `json:"job"`
	Wheels   []string  `json:"wheels"`
	NoChange []string  `json:"no_change"`
	Shared   []Shared  `json:"same_round"`
}

// Shared is a wheel whose round another entry recorded before.
type Shared struct {
	Wheel string `json:"wheel"`
	Entry string `json:"entry"` // its ID
	By    string `json:"by"`
	At    string `json:"at"`

	When time.Time `json:"-"` // in the book's zone
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

// Did records that a job was done or skipped, all of it or nothing up to app.AtOnce wheels.
func Did(ctx context.Context, a *app.App, c app.Caller, q Job) (app.Did[JobDone], error) {
	if q.Skipped && q.Note == "" {
		return app.Did[JobDone]{}, app.Misuse("why", reason.Missing{What: "why"})
	}
	for _, j := range q.jobs() {
		switch j {
		case wheel.Weigh, wheel.Coat, wheel.Move, wheel.Check:
			if !q.Skipped {
				return app.Did[JobDone]{}, app.Misuse("", OwnCommand{j}, LikeOwnCommand{j})
			}
		}
	}
	return app.ActOn(ctx, a, c, func(s *app.Session) (JobDone, error) { return did(s, q) }, (*JobDone).add)
}

// add adds what was recorded of more wheels.
func (d *JobDone) add(o JobDone) {
	d.Wheels, d.NoChange = append(d.Wheels, o.Wheels...), append(d.NoChange, o.NoChange...)
	d.Shared = append(d.Shared, o.Shared...)
	for i := range d.Jobs {
		j, k := &d.Jobs[i], o.Jobs[i]
		j.Wheels, j.NoChange = append(j.Wheels, k.Wheels...), append(j.NoChange, k.NoChange...)
		j.Shared = append(j.Shared, k.Shared...)
	}
	d.Warn(o.Hazards()...)
}

// jobs are the jobs that are recorded, each once.
func (q Job) jobs() (out []wheel.Job) {
	for _, j := range append([]wheel.Job{q.Job}, q.Then...) {
		if !slices.Contains(out, j) {
			out = append(out, j)
		}
	}
	return out
}

func did(s *app.Session, q Job) (JobDone, error) {
	out := JobDone{Schema: app.Schema("did"), Wheels: []string{}, NoChange: []string{}, Shared: []Shared{},
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
	for _, q.Job = range q.jobs() {
		part := JobDone{Wheels: []string{}, NoChange: []string{}, Shared: []Shared{}}
		ws := ws
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
		if err := part.record(s, q, ws, when, exact); err != nil {
			return out, err
		}
		out.join(OfJob{q.Job, part.Wheels, part.NoChange, part.Shared})
	}
	if len(out.Jobs) == 1 {
		out.Jobs = nil
	}
	return out, nil
}

// join adds what was recorded of one job.
func (d *JobDone) join(j OfJob) {
	d.Jobs = append(d.Jobs, j)
	if d.Job != "" {
		d.Job += ","
	}
	d.Job += string(j.Job)
	d.Wheels, d.NoChange = union(d.Wheels, j.Wheels), union(d.NoChange, j.NoChange)
	d.Shared = append(d.Shared, j.Shared...)
}

// union is both lists without a tag twice.
func union(to, from []string) []string {
	if len(to) == 0 {
		return from
	}
	has := make(map[string]bool, len(to))
	for _, t := range to {
		has[t] = true
	}
	for _, t := range from {
		if !has[t] {
			to = append(to, t)
		}
	}
	return to
}

// record writes one entry for every wheel.
func (d *JobDone) record(s *app.Session, q Job, ws []derive.WheelState, when time.Time, exact bool) error {
	kind := wheel.Did
	if q.Skipped {
		kind = wheel.Skipped
	}
	var entries []wheel.Entry
	var done []string
	shared := map[uuid.UUID]Shared{}
	for _, w := range ws {
		e := wheel.Entry{Subject: w.Wheel, Kind: kind, Job: q.Job, At: when, Note: q.Note}
		if exact {
			with, err := joined(s, w, &e, q)
			if err != nil {
				return err
			}
			e = s.Entry(e)
			if with.Wheel != "" {
				shared[e.ID] = with
			}
		} else {
			at, again, err := roundTime(s, w, q.Job, when)
			if err != nil {
				return err
			}
			if e.At = at; again {
				d.NoChange = append(d.NoChange, w.Tag)
				continue
			}
			e = s.Entry(e)
		}
		entries, done = append(entries, e), append(done, w.Tag)
	}
	return d.put(s, entries, done, shared)
}

// put records the entries, and tells those that told nothing new apart.
func (d *JobDone) put(s *app.Session, entries []wheel.Entry, tags []string, shared map[uuid.UUID]Shared) error {
	if len(entries) == 0 {
		return nil
	}
	res, err := s.Write.Put(entries...)
	if err != nil {
		return err
	}
	for i, e := range entries {
		if res.Repeated > 0 {
			// An entry that told nothing new isn't in the book under its own ID.
			if _, err := s.Tx.EntryByID(e.ID); app.IsNotFound(err) {
				d.NoChange = append(d.NoChange, tags[i])
				continue
			} else if err != nil {
				return err
			}
		}
		d.Wheels = append(d.Wheels, tags[i])
		if with, ok := shared[e.ID]; ok {
			d.Shared = append(d.Shared, with)
		}
	}
	return nil
}

// joined lets an entry share the round that another records within half the job's
// interval: most likely two people did it together. Who says that it was done again, or
// names a later round of the day, records a round more.
func joined(s *app.Session, w derive.WheelState, e *wheel.Entry, q Job) (Shared, error) {
	all, err := s.Tx.History(w.Wheel)
	if err != nil || q.Twice {
		return Shared{}, err
	}
	near, again, today := nearest(wheel.Live(all), *e, s.Zone)
	if again || near.ID == uuid.Nil || q.Round > today {
		e.Target = near.Target
		return Shared{}, nil
	}
	p, err := s.PlanOf(w.Plan)
	apart := near.At.Sub(e.At).Abs()
	if err != nil || apart >= p.LongestInterval(q.Job)/2 {
		return Shared{}, err
	}
	l, err := s.Tx.LifeAlone(w.Wheel)
	if err != nil {
		return Shared{}, err
	}
	v, err := s.Tx.VarietyOf(l.Make)
	if err != nil {
		return Shared{}, err
	}
	on := day.At(e.At, s.Zone)
	of := schedule.Subject{Life: l, DryingDays: v.DryingDays, ReadyDays: v.ReadyDays, Loc: s.Zone}
	every := of.Interval(p, q.Job, on)
	// What comes daily was done yesterday evening and is due this morning.
	if apart >= every/2 || every <= 24*time.Hour && day.At(near.At, s.Zone) != on {
		return Shared{}, nil
	}
	e.Target = near.ID
	return Shared{Wheel: w.Tag, Entry: near.ID.String(), By: near.By, At: app.Instant(near.At, s.Zone),
		When: near.At.In(s.Zone)}, nil
}

// nearest finds the round recorded nearest to an entry's time that says the same of its
// job, done or skipped; again is true if it's the very same fact. today is how many
// rounds of the job were done or skipped on the entry's date.
func nearest(live []wheel.Entry, e wheel.Entry, zone *time.Location) (near wheel.Entry, again bool, today int) {
	for _, o := range live {
		if o.Job != e.Job || o.Kind != wheel.Did && o.Kind != wheel.Skipped {
			continue
		}
		apart := o.At.Sub(e.At).Abs()
		if o.Kind == e.Kind && apart == 0 && o.Note == e.Note {
			return o, true, today
		}
		if o.SameRound() {
			continue
		}
		if day.At(o.At, zone) == day.At(e.At, zone) {
			today++
		}
		if o.Kind == e.Kind && (near.ID == uuid.Nil || apart < near.At.Sub(e.At).Abs()) {
			near = o
		}
	}
	return near, false, today
}

// roundTime finds the instant for a job of which only the date is known. Each
// round of that day gets a minute of its own after noon; once the plan's rounds of
// the day are all there, again is true and nothing should be written: most likely
// the same act was sent twice.
func roundTime(s *app.Session, w derive.WheelState, job wheel.Job, noon time.Time) (
	t time.Time, again bool, err error,
) {
	l, err := s.Tx.LifeAlone(w.Wheel)
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
	p, err := s.PlanOf(w.Plan)
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

func onlyDue(s *app.Session, ws []derive.WheelState, job wheel.Job, on day.Date) ([]derive.WheelState, error) {
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
	var out []derive.WheelState
	for _, w := range ws {
		if isDue[w.Wheel] {
			out = append(out, w)
		}
	}
	return out, nil
}
