// Package round lays out a day's tasks as a person walks them: room by room,
// rack by rack, shelf by shelf, at each shelf the jobs in the order hands do
// them, and one line where several wheels share a job. The command line, the
// page and the printed sheet all print this list.
package round

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/derive"
	"rindkeep/wheel"
)

// Line is one job at one place for one or more wheels.
type Line struct {
	Place      cave.Place
	Job        wheel.Job
	Lot        string // "" where the line spans lots
	Tags       []string
	Wheels     []uuid.UUID
	Varieties  []string // of its wheels, each once
	WholeShelf bool     // every wheel at Place is in the line
	Due        day.Date
	LateDays   int
	Round      int // next round to do, from 1
	Rounds     int
	Left       int     // rounds left today
	Minutes    float64 // for all its wheels and rounds left
	Why        reason.List
	Note       string
	Coat       string
	To         string
	Hazards    []app.Hazard
	Times      []time.Time // of a timed job: when each of the rounds left falls
}

// List is one day's list.
type List struct {
	Date    day.Date
	Lines   []Line
	Wheels  int
	Minutes float64
}

// Options narrow and shape a list.
type Options struct {
	Only  []wheel.Job // empty: every job
	Place cave.Place  // only what is there; "": everywhere
	ByLot bool        // keep lots apart, for programs

	Zone *time.Location // of the book, for times of day; nil: UTC
}

// key is what the wheels of one line share.
type key struct {
	place cave.Place
	job   wheel.Job
	lot   string
	due   day.Date
	round int
	left  int
	coat  string
	to    string
	note  string
	times string
}

// Make lays out the tasks that stand on date; each gives them one by one, in
// any order, and no job twice for one wheel. Rooms give the walking order;
// shelves how many wheels lie at each place.
func Make(date day.Date, each func(func(derive.Task) bool) error, rooms []cave.Room, shelves map[cave.Place]int,
	o Options) (List, error) {
	loc := o.Zone
	if loc == nil {
		loc = time.UTC
	}
	rank := ranks(rooms)
	lines := map[key]*Line{}
	list := List{Date: date}
	var last key // neighbours often share a line
	var line *Line
	err := each(func(t derive.Task) bool {
		if len(o.Only) > 0 && !slices.Contains(o.Only, t.Job) || o.Place != "" && !t.Place.Within(o.Place) {
			return true
		}
		st, ok := t.On(date)
		if !ok {
			return true
		}
		k := key{t.Place, t.Job, "", t.Due, st.Round, st.Left, t.Coat, t.To, t.Note, ""}
		if len(t.Times) > 0 {
			k.times = fmt.Sprint(t.Times)
		}
		if o.ByLot {
			k.lot = t.Lot
		}
		if line == nil || k != last {
			if line = lines[k]; line == nil {
				line = &Line{
					Place: t.Place, Job: t.Job, Lot: t.Lot, Due: t.Due, LateDays: st.LateDays, Round: st.Round,
					Rounds: max(1, t.Rounds),
					Left:   st.Left, Why: t.Why, Note: t.Note, Coat: t.Coat, To: t.To,
				}
				for r := st.Round; r <= len(t.Times); r++ {
					at, _ := t.Time(r, loc)
					line.Times = append(line.Times, at)
				}
				lines[k] = line
			}
			last = k
		}
		l := line
		if l.Lot != t.Lot {
			l.Lot = ""
		}
		l.Why = l.Why.Common(t.Why)
		l.Tags = append(l.Tags, t.Tag)
		l.Wheels = append(l.Wheels, t.Wheel)
		if !slices.Contains(l.Varieties, t.Variety) {
			l.Varieties = append(l.Varieties, t.Variety)
		}
		l.Minutes += t.Minutes * float64(st.Left)
		return true
	})
	if err != nil {
		return List{}, err
	}
	list.Lines = make([]Line, 0, len(lines))
	for _, l := range lines {
		l.WholeShelf = l.Place != "" && len(l.Tags) > 1 && len(l.Tags) == shelves[l.Place]
		sortTags(l)
		list.Lines = append(list.Lines, *l)
	}
	slices.SortFunc(list.Lines, func(a, b Line) int {
		if c := walk(a.Place, b.Place, rank); c != 0 {
			return c
		}
		if c := clock(a).Compare(clock(b)); c != 0 {
			return c
		}
		if c := cmp.Compare(a.Job.Order(), b.Job.Order()); c != 0 {
			return c
		}
		if c := cmp.Compare(a.Due, b.Due); c != 0 {
			return c
		}
		if c := cave.NaturalCompare(a.Tags[0], b.Tags[0]); c != 0 {
			return c
		}
		return cmp.Compare(a.Round, b.Round)
	})
	list.total()
	return list, nil
}

// ranks are the places of the rooms in walking order.
func ranks(rooms []cave.Room) map[string]int {
	rank := make(map[string]int, len(rooms))
	for i, r := range rooms {
		rank[r.Name] = i
	}
	return rank
}

// clock is when a line's next round falls: at a place, what has its time of day
// comes before what has none.
func clock(l Line) time.Time {
	if len(l.Times) == 0 {
		return time.Unix(1<<40, 0)
	}
	return l.Times[0]
}

func sortTags(l *Line) {
	if slices.IsSortedFunc(l.Tags, cave.NaturalCompare) {
		return
	}
	order := make([]int, len(l.Tags))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cave.NaturalCompare(l.Tags[a], l.Tags[b]) })
	tags, ids := make([]string, len(order)), make([]uuid.UUID, len(order))
	for i, k := range order {
		tags[i], ids[i] = l.Tags[k], l.Wheels[k]
	}
	l.Tags, l.Wheels = tags, ids
}

// walk orders places as a person walks: rooms in their order, then rack and
// shelf by number; what has no place comes last.
func walk(a, b cave.Place, rank map[string]int) int {
	if a == b {
		return 0
	}
	ra, rb := roomRank(a, rank), roomRank(b, rank)
	if ra != rb {
		return cmp.Compare(ra, rb)
	}
	return cave.NaturalCompare(string(a), string(b))
}

func roomRank(p cave.Place, rank map[string]int) int {
	if p == "" {
		return 1 << 30
	}
	if r, ok := rank[p.Room()]; ok {
		return r
	}
	return 1 << 29
}
