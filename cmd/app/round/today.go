package round

import (
	"cmp"
	"context"
	"errors"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/rooms"
	"rindkeep/store/derive"
	"rindkeep/wheel"
)

// Asked narrows the day's list.
type Asked struct {
	Only     []wheel.Job // empty: every job
	Share    Share       // the part of it that one person does
	Cut      *Cut        // how the day was split before, which then stays; nil: it's split as it is now
	At       string      // only what's there of the list or the share: a room, rack or shelf
	Together bool        // wheels of several lots in one line, as people read it
	Most     int         // lines at most; 0: all
	Site     string      // of several: its name, or AllSites; "": this one
	app.Narrow
}

// Today is the list of one day, and what is wrong with the air.
type Today struct {
	Schema string        `json:"schema"`
	Date   string        `json:"date"`
	Alarms []rooms.Alarm `json:"alarms"`
	Tasks  []Task        `json:"tasks"`
	More   int           `json:"more"` // tasks that would have been listed after these; Totals has them
	Totals Totals        `json:"totals"`
	Share  string        `json:"share,omitempty"`  // 2/3, the list then being this part
	Shares []Part        `json:"shares,omitempty"` // where the day was split and no part named

	app.Cautioned

	List  List           `json:"-"`
	Cut   *Cut           `json:"-"` // how the day was split; nil: it wasn't
	Now   time.Time      `json:"-"` // of today's list, in the book's zone; zero: it is another day's
	Zone  *time.Location `json:"-"`
	Lots  []string       `json:"-"` // the newest lots, where the book has no wheels yet
	Empty bool           `json:"-"` // the book has no wheels yet
}

// Task is a line of the list as it is published.
type Task struct {
	Job      string      `json:"job"`
	Wheels   []string    `json:"wheels"`
	Lot      string      `json:"lot"`
	Place    string      `json:"place"`
	Due      string      `json:"due"`
	LateDays int         `json:"late_days"`
	Round    int         `json:"round"`
	Rounds   int         `json:"rounds"`
	Left     int         `json:"rounds_left"`
	Whole    bool        `json:"whole_shelf"` // every wheel at the place
	Minutes  *float64    `json:"minutes"`
	Why      string      `json:"why"` // in words, filled by cmd/words
	Reasons  reason.List `json:"reasons"`
	Time     *string     `json:"time"`  // of the next round of a timed job, 10:30
	Times    []string    `json:"times"` // of all its rounds left
	Coat     string      `json:"coat,omitempty"`
	To       string      `json:"to,omitempty"`
	Note     string      `json:"note,omitempty"`
}

// Totals sums the list up.
type Totals struct {
	Wheels  int      `json:"wheels"`
	Tasks   int      `json:"tasks"`
	Minutes *float64 `json:"minutes"`
}

// ListDay lists what is due on the day asked for.
func ListDay(ctx context.Context, a *app.App, c app.Caller, q Asked) (Today, error) {
	return app.Ask(ctx, a, c, func(s *app.Session) (Today, error) { return Day(s, q) })
}

// Day is ListDay in a transaction that is open.
func Day(s *app.Session, q Asked) (Today, error) {
	o := Options{Only: q.Only, ByLot: !q.Together, Zone: s.Zone}
	var err error
	if o.Place, err = s.PlaceOf("room", cmp.Or(q.Room, q.Rack)); err != nil {
		return Today{}, err
	}
	at, err := s.PlaceOf("at", q.At)
	if err != nil {
		return Today{}, err
	}
	until, date, err := s.AsOf()
	if err != nil {
		return Today{}, err
	}
	all, err := s.Tx.Rooms()
	if err != nil {
		return Today{}, err
	}
	shelves, err := wheelsOn(s, o.Place)
	if err != nil {
		return Today{}, err
	}
	place, part := o.Place, q.Cut != nil && q.Share.Nth > 0 // it's known what's in it
	if at != "" && (part || q.Share.Of == 0) {
		place = at
	}
	site, any, err := siteOf(s, q.Site, place)
	if err != nil {
		return Today{}, err
	}
	due, err := duesOf(s, q, date, place, shelves)
	if err != nil {
		return Today{}, err
	}
	if !any {
		due = ofSite(site, due)
	}
	l, err := Make(date, due, all, shelves, o)
	if err != nil {
		return Today{}, err
	}
	var parts []List
	cut := q.Cut
	if q.Share.Of > 0 && !part {
		if cut == nil {
			c := l.cut(q.Share.Of, ranks(all), shelves)
			cut = &c
		}
		parts = l.parts(*cut, q.Share.Of)
		if q.Share.Nth > 0 {
			l = parts[q.Share.Nth-1]
		}
	}
	if at != "" {
		l = l.at(at)
	}
	t := todayOf(l, q.Most)
	t.Cut, t.Zone = cut, s.Zone
	t.share(q.Share, parts)
	if err = t.caution(s, t.List); err != nil {
		return t, err
	}
	if date == s.Today {
		t.Now = s.Time.In(s.Zone)
	}
	if s.Time.Before(until) {
		until = s.Time
	}
	if t.Alarms, err = rooms.Alarms(s, until); err != nil {
		return t, err
	}
	if !any {
		t.Alarms = alarmsOf(site, t.Alarms)
	}
	return t, t.nothingDue(s)
}

// wheelsOn counts the wheels on each shelf of a place.
func wheelsOn(s *app.Session, place cave.Place) (map[cave.Place]int, error) {
	counts, err := s.Tx.ShelfCounts(place)
	shelves := make(map[cave.Place]int, len(counts))
	for _, c := range counts {
		shelves[c.Place] = c.Wheels
	}
	return shelves, err
}

// duesOf goes through the tasks of a day at a place, of the part and the wheels asked for.
func duesOf(s *app.Session, q Asked, date day.Date, place cave.Place, shelves map[cave.Place]int) (dues, error) {
	fits, err := s.Narrowed(q.Narrow)
	dueAt := func(p cave.Place, fn func(derive.Task) bool) error { return s.Tx.EachDueAt(date, p, fn) }
	due := func(fn func(derive.Task) bool) error {
		switch {
		case q.Cut != nil && q.Share.Nth > 0:
			return q.Cut.each(q.Share.Nth-1, shelves, place, dueAt, fn)
		case place != "":
			return dueAt(place, fn)
		}
		return s.Tx.EachDue(date, fn)
	}
	if q.Narrow != (app.Narrow{Room: q.Room}) { // the index knows the room
		due = fitting(s, fits, due)
	}
	return due, err
}

// nothingDue says of a list without lines whether the book has wheels, or lots to add some to.
func (t *Today) nothingDue(s *app.Session) error {
	if len(t.List.Lines) > 0 {
		return nil
	}
	n, err := s.Tx.Counts()
	if t.Empty = n.Wheels == 0; !t.Empty || err != nil {
		return err
	}
	for m, err := range s.Tx.Makes() {
		if err != nil || len(t.Lots) == 1 {
			return err
		}
		t.Lots = append(t.Lots, m.Lot)
	}
	return nil
}

// dues goes through tasks until it's stopped.
type dues = func(func(derive.Task) bool) error

// fitting leaves of tasks those of wheels that fit.
func fitting(s *app.Session, fits func(derive.WheelState) (bool, error), due dues) dues {
	known := map[uuid.UUID]bool{}
	return func(fn func(derive.Task) bool) error {
		var failed error
		return errors.Join(due(func(t derive.Task) bool {
			ok, asked := known[t.Wheel]
			if !asked {
				st, err := s.Tx.State(t.Wheel)
				if err == nil {
					ok, err = fits(st)
				}
				if err != nil && !s.Tx.LeaveOut(err) {
					failed = err
					return false
				}
				known[t.Wheel] = ok
			}
			return !ok || fn(t)
		}), failed)
	}
}

// share says which part the list is, or which parts it has.
func (t *Today) share(q Share, parts []List) {
	if q.Nth > 0 {
		t.Share = q.String()
		return
	}
	for i, l := range parts {
		p := Part{Share: Share{i + 1, q.Of}.String(), Wheels: l.Wheels, Tasks: len(l.Lines),
			Minutes: app.Zeroed(l.Minutes), List: l}
		if n := len(l.Lines); n > 0 {
			p.From, p.To = string(l.Lines[0].Place), string(l.Lines[n-1].Place)
		}
		t.Shares = append(t.Shares, p)
	}
}

// caution adds the cautions of the list's jobs. A wheel is taken at its variety's usual
// weight.
func (t *Today) caution(s *app.Session, l List) error {
	for i, n := range l.Lines {
		var heaviest quantity.Grams
		for _, name := range n.Varieties {
			v, err := s.Tx.Variety(name)
			if err != nil && !app.IsNotFound(err) {
				return err
			}
			heaviest = max(heaviest, v.Weight)
		}
		l.Lines[i].Hazards = app.HazardsOf(n.Job, n.Coat, heaviest)
		t.Warn(l.Lines[i].Hazards...)
	}
	return nil
}

func todayOf(l List, most int) Today {
	t := Today{Schema: app.Schema("today"), Date: l.Date.String(), Alarms: []rooms.Alarm{}, Tasks: []Task{}}
	t.Totals = Totals{l.Wheels, len(l.Lines), app.Zeroed(l.Minutes)}
	l.Lines, t.More = app.First(l.Lines, most)
	t.List = l
	for _, n := range l.Lines {
		x := Task{
			Job: string(n.Job), Wheels: n.Tags, Lot: n.Lot, Place: string(n.Place), Due: n.Due.String(), LateDays: n.LateDays,
			Round: n.Round, Rounds: n.Rounds, Left: n.Left, Whole: n.WholeShelf, Minutes: app.Num(n.Minutes), Reasons: n.Why,
			Times: app.Filled(n.Clocks()), Coat: n.Coat, To: n.To, Note: n.Note,
		}
		if len(x.Times) > 0 {
			x.Time = &x.Times[0]
		}
		t.Tasks = append(t.Tasks, x)
	}
	return t
}

// Clocks are the times of day of a line's rounds left.
func (n Line) Clocks() []string {
	return app.Each(n.Times, func(t time.Time) string { return t.Format("15:04") })
}

// Overdue is how long a line's next round is past its time of day; 0 for one that
// isn't, or was for another day, or for the list of another day.
func (t Today) Overdue(n Line) time.Duration {
	if len(n.Times) == 0 || n.LateDays > 0 || t.Now.IsZero() {
		return 0
	}
	return max(0, t.Now.Sub(n.Times[0]).Truncate(time.Minute))
}

// Late is how many lines are late.
func (t Today) Late() int {
	late := 0
	for _, n := range t.List.Lines {
		if n.LateDays > 0 || t.Overdue(n) > 0 {
			late++
		}
	}
	return late
}

// RoomLines are a room's lines, shelf by shelf.
type RoomLines struct {
	Room    string // "" where no place is given
	Shelves []ShelfLines
}

// ShelfLines are the lines of one place.
type ShelfLines struct {
	Place cave.Place
	Lines []Line
}

// ByRoom lays the lines out by room and shelf, in walking order.
func (l List) ByRoom() []RoomLines {
	var out []RoomLines
	for i, n := range l.Lines {
		if i == 0 || n.Place.Room() != l.Lines[i-1].Place.Room() {
			out = append(out, RoomLines{Room: n.Place.Room()})
		}
		r := &out[len(out)-1]
		if len(r.Shelves) == 0 || n.Place != l.Lines[i-1].Place {
			r.Shelves = append(r.Shelves, ShelfLines{Place: n.Place})
		}
		sh := &r.Shelves[len(r.Shelves)-1]
		sh.Lines = append(sh.Lines, n)
	}
	return out
}
