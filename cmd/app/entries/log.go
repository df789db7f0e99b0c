package entries

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/history"
	"rindkeep/wheel"
)

// Question asks for entries. The caller's date asks for one day; its time is refused.
type Question struct {
	What     []string // tags, lots, places, those of wheels that are gone too; none, or all: everything
	From, To string   // dates, as typed; "": no bound
	Person   *string  // who wrote them, in any case; nil: anybody
	Jobs     []string // done or skipped; nil: whatever it was
	Kinds    []string // of entry; nil: every kind
	Struck   bool     // only what was struck
	Most     int      // only the newest; 0: all
}

// Log is entries in the order they happened.
type Log struct {
	Schema  string    `json:"schema"`
	Matched int       `json:"matched"` // more than the entries given where Most bounds them
	Entries []Logged  `json:"entries"`
	Air     []AirLine `json:"air"`
}

// Logged is one entry of the log.
type Logged struct {
	Subject string `json:"of"` // tag, or "lot" and the lot
	Kind    string `json:"kind"`
	app.EntryDoc
}

// Days sums up the log by day and person.
type Days struct {
	Schema string      `json:"schema"`
	Days   []PersonDay `json:"days"`
}

// PersonDay is what one person recorded of one day.
type PersonDay struct {
	Date    string `json:"date"`
	Person  string `json:"person"`
	Entries int    `json:"entries"`
	Struck  int    `json:"struck"`        // of the entries; they don't count as done
	Late    int    `json:"written_later"` // on a later day than they happened
	First   string `json:"first"`
	Last    string `json:"last"`
	Did     []Done `json:"did"`

	on          day.Date
	first, last time.Time
	did         map[string]int
}

// Done is how often something was done.
type Done struct {
	What  string `json:"what"`
	Count int    `json:"count"`
}

// WholeDays refuses a time of day: the log is asked for by dates.
const WholeDays reason.Flat = "log-by-whole-days"

// NotMany refuses a number of entries under 0.
type NotMany struct {
	Most int `json:"most"`
}

func (NotMany) Code() string { return "log-not-many" }

// Of gives the entries asked for.
func Of(ctx context.Context, a *app.App, c app.Caller, q Question) (Log, error) {
	d := Log{Schema: app.Schema("log"), Entries: []Logged{}}
	var err error
	d.Matched, err = Each(ctx, a, c, q, func(e Logged, _ int) error {
		d.Entries = append(d.Entries, e)
		return nil
	})
	if err == nil {
		d.Air, err = AirOf(ctx, a, c, q)
	}
	return d, err
}

// Each is Of for more entries than should be in memory at once: each is told one after
// the other, and of how many that match. It gives their number.
func Each(
	ctx context.Context, a *app.App, c app.Caller, q Question, tell func(e Logged, matched int) error,
) (int, error) {
	return app.AskLong(ctx, a, c, func(s *app.Session) (int, error) {
		lq, err := query(s, q)
		if err != nil {
			return 0, err
		}
		return s.Tx.Log(ctx, lq, func(e history.Logged, matched int) error {
			return tell(Logged{s.SubjectName(e.Subject), e.Kind.String(), s.EntryDoc(e.Entry, e.Struck)}, matched)
		})
	})
}

// ByDay sums the entries asked for up, by day and person.
func ByDay(ctx context.Context, a *app.App, c app.Caller, q Question) (Days, error) {
	return app.AskLong(ctx, a, c, func(s *app.Session) (Days, error) {
		lq, err := query(s, q)
		if err != nil {
			return Days{}, err
		}
		type key struct {
			on  day.Date
			who string
		}
		sums := map[key]*PersonDay{}
		if err := s.Tx.EachLogged(ctx, lq, func(e history.Logged) error {
			k := key{day.At(e.At, s.Zone), e.By}
			p := sums[k]
			if p == nil {
				p = &PersonDay{Person: k.who, on: k.on, first: e.At, last: e.At, did: map[string]int{}}
				sums[k] = p
			}
			p.add(e, s.Zone)
			return nil
		}); err != nil {
			return Days{}, err
		}
		d := Days{Schema: app.Schema("log-days"), Days: make([]PersonDay, 0, len(sums))}
		for _, p := range sums {
			d.Days = append(d.Days, p.summed(s.Zone))
		}
		slices.SortFunc(d.Days, func(a, b PersonDay) int {
			return cmp.Or(cmp.Compare(a.on, b.on), strings.Compare(strings.ToLower(a.Person), strings.ToLower(b.Person)),
				strings.Compare(a.Person, b.Person))
		})
		return d, nil
	})
}

func (p *PersonDay) add(e history.Logged, zone *time.Location) {
	p.Entries++
	switch {
	case e.Struck:
		p.Struck++
	case !e.SameRound(): // a round that two people did is one
		p.did[e.Word()]++
	}
	if day.At(e.Written, zone) > p.on {
		p.Late++
	}
	if e.At.Before(p.first) {
		p.first = e.At
	}
	if e.At.After(p.last) {
		p.last = e.At
	}
}

func (p *PersonDay) summed(zone *time.Location) PersonDay {
	p.Date, p.First, p.Last, p.Did = p.on.String(), app.Instant(p.first, zone), app.Instant(p.last, zone), []Done{}
	for w, n := range p.did {
		p.Did = append(p.Did, Done{w, n})
	}
	slices.SortFunc(p.Did, func(a, b Done) int { return cmp.Or(b.Count-a.Count, strings.Compare(a.What, b.What)) })
	return *p
}

// query is what a question asks of the book.
func query(s *app.Session, q Question) (history.Query, error) {
	lq := history.Query{Most: q.Most}
	switch {
	case q.Most < 0:
		return lq, app.Misuse("most", NotMany{q.Most})
	case s.At != "":
		return lq, app.Misuse("at", WholeDays)
	case s.On != "" && q.From+q.To != "":
		return lq, app.Misuse("on", reason.Together{What: "on", Other: "from-to"})
	case s.On != "":
		q.From, q.To = s.On, s.On
	}
	from, to, err := s.Period(q.From, q.To)
	if err != nil {
		return lq, err
	}
	if from.Known() {
		lq.From = from.Start(s.Zone)
	}
	if to.Known() {
		lq.To = (to + 1).Start(s.Zone)
	}
	if lq.Match, err = q.matches(); err != nil {
		return lq, err
	}
	lq.Subjects, err = subjects(s, q.What)
	return lq, err
}

// matches says whether an entry is asked for, its date and its subject apart.
func (q Question) matches() (func(history.Logged) bool, error) {
	var jobs []wheel.Job
	for _, w := range q.Jobs {
		j, err := wheel.ParseJob(w)
		if err != nil {
			return nil, app.Misread("job", err)
		}
		jobs = append(jobs, j)
	}
	var kinds []string
	for _, w := range q.Kinds {
		w = strings.ToLower(strings.TrimSpace(w))
		if !slices.Contains(wheel.Kinds(), w) {
			known := strings.Join(wheel.Kinds(), ", ")
			return nil, app.Misuse("kind", reason.Unknown{What: "kind of entry", Word: w, Known: known})
		}
		kinds = append(kinds, w)
	}
	return func(e history.Logged) bool {
		return (q.Person == nil || strings.EqualFold(e.By, strings.TrimSpace(*q.Person))) &&
			(!q.Struck || e.Struck) &&
			(jobs == nil || slices.Contains(jobs, e.Does())) &&
			(kinds == nil || slices.Contains(kinds, e.Kind.String()))
	}, nil
}

// subjects are the wheels and makes that words name; nil for everything.
func subjects(s *app.Session, words []string) ([]uuid.UUID, error) {
	named, err := s.PickPast(words)
	if err != nil || len(words) == 0 {
		return nil, err
	}
	out := []uuid.UUID{} // a place where there is nothing: nothing, not everything
	seen := map[uuid.UUID]bool{}
	for _, n := range named {
		ids := n.Wheels
		switch {
		case strings.EqualFold(n.Word, "all"):
			return nil, nil
		case n.Make != nil:
			ids = append([]uuid.UUID{n.Make.ID}, ids...)
		}
		for _, id := range ids {
			if !seen[id] {
				seen[id] = true
				out = append(out, id)
			}
		}
	}
	return out, nil
}
