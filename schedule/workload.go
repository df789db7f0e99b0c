package schedule

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/wheel"
)

// Handled is one wheel with its chores of the days ahead. Wheels of one lot and
// place that share their chores (one slice) are handled together.
type Handled struct {
	Tag    string // "": the days don't name it
	Make   uuid.UUID
	Place  cave.Place
	Chores []Chore
}

// Work is work as it falls due, and as it is after levelling.
type Work struct {
	Wheels, WheelsDue   int
	Minutes, MinutesDue float64
}

func (w Work) plus(o Work) Work {
	return Work{w.Wheels + o.Wheels, w.WheelsDue + o.WheelsDue, w.Minutes + o.Minutes, w.MinutesDue + o.MinutesDue}
}

// RoomDay is a room's work on a day.
type RoomDay struct {
	Work
	Late  int                    // wheel-jobs past due
	Lines int                    // of the day's list that they are in
	Jobs  map[wheel.Job]*Work    // each job by itself
	Tags  map[wheel.Job][]string // of the wheels, after levelling

	lines map[lateLine]bool
}

// lateLine is what wheels share that are late in one line of a day's list.
type lateLine struct {
	place cave.Place
	job   wheel.Job
	due   day.Date
	left  int // rounds
	coat  string
	to    string
}

func (d *RoomDay) late(l lateLine) {
	if d.lines == nil {
		d.lines = map[lateLine]bool{}
	}
	d.lines[l] = true
	d.Lines = len(d.lines)
}

// Timed is a job of a make's day that has its time, for wheels of one lot.
type Timed struct {
	At      time.Time
	Job     wheel.Job
	Room    string
	Wheels  []int // as they were given
	Minutes float64
}

// Tasting is a wheel that is tasted in the days ahead.
type Tasting struct {
	Wheel   int // as they were given
	On, Due day.Date
}

// Workload is the work of the days ahead, by day and room.
type Workload struct {
	From, To    day.Date
	Days        []map[string]*RoomDay // from From on; "" is no room
	Come, Leave map[string]int        // wheels that move into and out of each known room
	Timed       []Timed
	Tastings    []Tasting
}

// handful is how many wheels of a batch are at most moved as one: more and
// levelling has too little to work with. Our choice.
const handful = 40

// batch is wheels of one lot at one place that are handled alike.
type batch struct {
	wheels []int
	chores []Chore
	room   string
	rooms  []string // of each chore, where a move takes the later ones along; nil: all in room
	on     []day.Date
}

// Spread lays the chores of wheels, given in walking order, over the days from
// from to to and levels them. rooms are those that are known.
func Spread(ws []Handled, rooms []string, from, to day.Date, rest Rest, loc *time.Location) Workload {
	l := Workload{From: from, To: to, Days: make([]map[string]*RoomDay, to-from+1), Come: map[string]int{},
		Leave: map[string]int{}}
	for i := range l.Days {
		l.Days[i] = map[string]*RoomDay{}
	}
	batches := batched(ws, rooms)
	n := 0
	for _, b := range batches {
		n += len(b.chores)
	}
	loads := make([]Load, 0, n)
	for _, b := range batches {
		for _, c := range b.chores {
			loads = append(loads, Load{On: c.On, Low: c.Low, High: c.High, Minutes: c.Minutes * float64(len(b.wheels))})
		}
	}
	on := Level(loads, from, to, rest)
	for _, b := range batches {
		b.on, on = on[:len(b.chores)], on[len(b.chores):]
		l.count(b, ws)
		l.moves(b, rooms)
		for i, c := range b.chores {
			l.appoint(c, b, b.at(i), ws, loc)
			if c.Job == wheel.Taste {
				for _, w := range b.wheels {
					l.Tastings = append(l.Tastings, Tasting{w, b.on[i], c.On})
				}
			}
		}
	}
	slices.SortStableFunc(l.Timed, func(a, b Timed) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Job.Order(), b.Job.Order()))
	})
	return l
}

func batched(ws []Handled, rooms []string) []*batch {
	type alike struct {
		place  cave.Place
		mk     uuid.UUID
		chores *Chore
	}
	open := map[alike]*batch{}
	var out []*batch
	for i, w := range ws {
		if len(w.Chores) == 0 {
			continue
		}
		k := alike{w.Place, w.Make, &w.Chores[0]}
		b := open[k]
		if b == nil || len(b.wheels) == handful {
			b = &batch{chores: w.Chores, room: w.Place.Room()}
			if slices.ContainsFunc(w.Chores, func(c Chore) bool { return c.Job == wheel.Move }) {
				b.follow(rooms)
			}
			open[k], out = b, append(out, b)
		}
		b.wheels = append(b.wheels, i)
	}
	return out
}

// follow takes a batch along from room to room.
func (b *batch) follow(rooms []string) {
	room := b.room
	for _, c := range b.chores {
		b.rooms = append(b.rooms, room)
		if to := cave.Place(c.To).Room(); c.Job == wheel.Move && slices.Contains(rooms, to) {
			room = to
		}
	}
}

// at is the room of a chore.
func (b *batch) at(chore int) string {
	if b.rooms == nil {
		return b.room
	}
	return b.rooms[chore]
}

// count adds a batch's chores to the days they fall due and those they are
// levelled to.
func (l *Workload) count(b *batch, ws []Handled) {
	type visit struct {
		room string
		on   day.Date
	}
	due, levelled := map[visit]bool{}, map[visit]bool{}
	n := len(b.wheels)
	for i, c := range b.chores {
		r, minutes := b.at(i), c.Minutes*float64(n)
		d := l.at(c.On, r)
		if c.Late > 0 {
			d.Late += n
			d.late(lateLine{ws[b.wheels[0]].Place, c.Job, c.On - day.Date(c.Late), c.Rounds, c.Coat, c.To})
		}
		d.MinutesDue += minutes
		d.job(c.Job).MinutesDue += minutes
		d.job(c.Job).WheelsDue += n
		if v := (visit{r, c.On}); !due[v] {
			due[v] = true
			d.WheelsDue += n
		}
		d = l.at(b.on[i], r)
		d.Minutes += minutes
		d.job(c.Job).Minutes += minutes
		d.job(c.Job).Wheels += n
		if v := (visit{r, b.on[i]}); !levelled[v] {
			levelled[v] = true
			d.Wheels += n
		}
		for _, w := range b.wheels {
			if tag := ws[w].Tag; tag != "" {
				d.Tags[c.Job] = append(d.Tags[c.Job], tag)
			}
		}
	}
}

// moves counts the wheels that change rooms.
func (l *Workload) moves(b *batch, rooms []string) {
	if b.rooms == nil {
		return
	}
	n := len(b.wheels)
	move := func(from, to string) {
		if to == from || !slices.Contains(rooms, to) {
			return
		}
		l.Come[to] += n
		if slices.Contains(rooms, from) {
			l.Leave[from] += n
		}
	}
	for i := range b.rooms[1:] {
		move(b.rooms[i], b.rooms[i+1])
	}
	// A move that is the last chore has nothing after it to show it.
	last := len(b.chores) - 1
	if c := b.chores[last]; c.Job == wheel.Move {
		move(b.rooms[last], cave.Place(c.To).Room())
	}
}

// appoint notes the times of a chore; one that is a day late has lost its time.
func (l *Workload) appoint(c Chore, b *batch, room string, ws []Handled, loc *time.Location) {
	mk := ws[b.wheels[0]].Make
	for _, t := range c.Times {
		if day.At(t, loc) != c.On {
			continue
		}
		i := slices.IndexFunc(l.Timed, func(a Timed) bool {
			return a.At.Equal(t) && a.Job == c.Job && a.Room == room && ws[a.Wheels[0]].Make == mk
		})
		if i < 0 {
			i = len(l.Timed)
			l.Timed = append(l.Timed, Timed{At: t, Job: c.Job, Room: room})
		}
		a := &l.Timed[i]
		a.Wheels = append(a.Wheels, b.wheels...)
		a.Minutes += c.Minutes / float64(c.Rounds) * float64(len(b.wheels))
	}
}

func (l *Workload) at(on day.Date, room string) *RoomDay {
	m := l.Days[on-l.From]
	d := m[room]
	if d == nil {
		d = &RoomDay{Jobs: map[wheel.Job]*Work{}, Tags: map[wheel.Job][]string{}}
		m[room] = d
	}
	return d
}

func (d *RoomDay) job(j wheel.Job) *Work {
	x := d.Jobs[j]
	if x == nil {
		x = &Work{}
		d.Jobs[j] = x
	}
	return x
}

// Day sums a day over the rooms that shown wants, and names those in the given
// order, rooms unknown to it last.
func (l Workload) Day(i int, order []string, shown func(room string) bool) (sum RoomDay, rooms []string) {
	for name := range l.Days[i] {
		if shown(name) {
			rooms = append(rooms, name)
		}
	}
	rank := func(name string) int {
		if k := slices.Index(order, name); k >= 0 {
			return k
		}
		return len(order)
	}
	slices.SortFunc(rooms, func(a, b string) int { return cmp.Or(rank(a)-rank(b), strings.Compare(a, b)) })
	sum.Jobs = map[wheel.Job]*Work{}
	for _, name := range rooms { // in order, so that sums come out the same to the last digit
		d := l.Days[i][name]
		sum.Work, sum.Late = sum.plus(d.Work), sum.Late+d.Late
		sum.Lines += d.Lines
		for _, j := range wheel.Jobs {
			if x := d.Jobs[j]; x != nil {
				*sum.job(j) = sum.job(j).plus(*x)
			}
		}
	}
	return sum, rooms
}
