package scenario

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/schedule"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/variety"
)

// The warehouse consists of bays of racks of shelves. Lots have one size and don't share shelves.
const (
	perLot     = 40
	perShelf   = 20
	shelves    = 10 // on a rack
	bayRacks   = 25
	perBay     = bayRacks * shelves * perShelf
	lotsAtOnce = 250 // given to put in one part
)

// mix lists the varieties of the warehouse, one lot of each in turn.
var mix = []string{
	"cheddar-waxed", "gouda", "hard-grating", "alpine-hard", "edam", "tomme", "cheddar-waxed", "cheddar-cloth",
	"sheep-hard", "saint-paulin",
}

// Large invents a warehouse of n wheels up to 300 days old and gives it to put in parts, oldest lots first. Like
// real warehouses it weighs only some wheels of a lot. Of each kind of handling it has only the last, on which the
// next depends. It returns the first error of put.
func Large(today day.Date, loc *time.Location, now time.Time, seed uint64, n int, put func(Book) error) error {
	rnd := rand.New(rand.NewPCG(seed, 0xca5e))
	h := warehouse{ids: &mint{rnd: rnd}, rnd: rnd, loc: loc, today: today, now: now}
	rooms := h.rooms((n + perBay - 1) / perBay)
	if err := put(Book{Rooms: rooms}); err != nil {
		return err
	}
	lots := (n + perLot - 1) / perLot
	usual := map[string]drying.Forecast{}
	lotOf := newLots()
	var part Book
	for i := range lots {
		v, p, err := library(mix[i%len(mix)])
		if err != nil {
			return err
		}
		age := 1 + (lots-1-i)*299/max(1, lots-1)
		count := min(perLot, n-i*perLot)
		bt := batch{variety: v.Name, age: age, count: count, grams: float64(v.Weight)}
		m := makeOf(h.ids, lotOf(today-day.Date(age)), today-day.Date(age), v, bt, loc, rnd)
		f, ok := usual[v.Name]
		if !ok {
			c := v.Composition
			f = drying.Estimate(drying.Subject{
				Cheese: drying.Cheese{
					Green: v.Weight, Shape: v.Shape, Moisture: c.Moisture, Fat: c.Fat, Salt: c.Salt,
					Group: drying.Group(v.Group),
				},
				Air: []drying.Span{{Air: rooms[0].SetPoint(), Movement: air.Gentle}},
			})
			usual[v.Name] = f
		}
		part.Makes = append(part.Makes, m)
		factor := math.Exp(0.15 * rnd.NormFloat64())
		for k := 1; k <= count; k++ {
			w := wheel.Wheel{
				ID: h.ids.at(m.Written), Make: m.ID, Number: k, Tag: wheel.DefaultTag(m.Lot, k, count), Plan: v.Plan,
				Shape: v.Shape, Since: m.Written, Written: m.Written, By: m.By, Place: placeOf(i*perLot + k - 1),
			}
			part.Wheels = append(part.Wheels, w)
			part.Entries = append(part.Entries, h.history(m, w, v, p, f, factor)...)
		}
		if len(part.Makes) == lotsAtOnce || i == lots-1 {
			if err := put(part); err != nil {
				return err
			}
			part = Book{}
		}
	}
	return nil
}

// warehouse is what its wheels have in common.
type warehouse struct {
	ids   *mint
	rnd   *rand.Rand
	loc   *time.Location
	today day.Date
	now   time.Time
}

func (h warehouse) rooms(bays int) []cave.Room {
	start := (h.today - 400).Start(h.loc).UTC()
	var rooms []cave.Room
	for i := 1; i <= bays; i++ {
		r := cave.Room{
			ID: h.ids.at(start), Name: fmt.Sprintf("bay-%d", i), Order: i, Movement: air.Gentle, Written: start,
			By: people[0],
		}
		r.Around(11, 0.85)
		for k := 1; k <= bayRacks; k++ {
			r.Racks = append(r.Racks, cave.Rack{Name: fmt.Sprint(k), Shelves: shelves, PerShelf: perShelf})
		}
		rooms = append(rooms, r)
	}
	return rooms
}

func placeOf(i int) cave.Place {
	bay, rack, shelf := i/perBay, i%perBay/(shelves*perShelf), i%(shelves*perShelf)/perShelf
	return cave.Place(fmt.Sprintf("bay-%d/%d/%d", bay+1, rack+1, shelf+1))
}

// stored is one wheel of the warehouse while its history is being written.
type stored struct {
	warehouse
	make    wheel.Make
	wheel   wheel.Wheel
	plan    schedule.Plan
	by      string
	age     int
	weights func(day int) quantity.Grams
	sample  bool // it is weighed regularly
	coatDay int  // age at which it is coated; 0: never, or not in the drying room
	coated  bool
	entries []wheel.Entry
}

// history invents the entries of one wheel; factor is how fast its lot dries.
func (h warehouse) history(
	m wheel.Make, w wheel.Wheel, v variety.Variety, p schedule.Plan, f drying.Forecast, factor float64,
) []wheel.Entry {
	x := stored{
		warehouse: h, make: m, wheel: w, plan: p, by: people[h.rnd.IntN(2)], age: int(h.today - m.Date),
		sample: w.Number <= 4,
	}
	green := float64(v.Weight) * math.Exp(0.02*h.rnd.NormFloat64())
	factor *= math.Exp(0.05 * h.rnd.NormFloat64())
	x.weights = func(d int) quantity.Grams {
		loss := math.Min(0.3, factor*f.Loss(float64(d)).Best)
		return quantity.Grams(math.Round(green * (1 - loss) * (1 + 0.0005*h.rnd.NormFloat64())))
	}
	began := m.Date.Clock(17, 0, h.loc)
	x.write(wheel.Entry{Kind: wheel.Weighed, At: began, Weight: quantity.Grams(math.Round(green)), Note: "green weight"})
	x.dry(quantity.Grams(math.Round(0.028 * green)))
	x.handle()
	return x.entries
}

func (x *stored) write(e wheel.Entry) {
	if e.At.After(x.now) {
		return
	}
	e.At = e.At.UTC()
	e.ID, e.Subject, e.Written, e.By = x.ids.at(e.At), x.wheel.ID, e.At, x.by
	x.entries = append(x.entries, e)
}

// clock is an hour of a day; a lot's wheels follow each other by minutes.
func (x *stored) clock(d day.Date, hour int) time.Time {
	return d.Clock(hour, x.wheel.Number%60, x.loc)
}

// dry weighs the wheel ever more rarely. If its plan coats dry wheels, a coat of that mass ends it.
func (x *stored) dry(coat quantity.Grams) {
	gate := slices.IndexFunc(x.plan.Steps, func(s schedule.Step) bool { return s.Job == wheel.Coat && s.When == "dry" })
	last := x.age - 1
	if gate >= 0 {
		x.coatDay = 6 + x.rnd.IntN(5)
		if x.coated = x.coatDay < x.age; x.coated {
			last = x.coatDay
		}
	}
	for d := 2; d <= last; d += 1 + d/4 {
		if x.sample || d == 2 {
			x.write(wheel.Entry{Kind: wheel.Weighed, At: x.clock(x.make.Date+day.Date(d), 9), Weight: x.weights(d)})
		}
	}
	if x.coated {
		before := x.weights(x.coatDay)
		x.write(wheel.Entry{
			Kind: wheel.CoatedOn, At: x.clock(x.make.Date+day.Date(x.coatDay), 11), Coat: x.plan.Steps[gate].Coat,
			Before: before, Weight: before + coat,
		})
	}
}

// handle writes the last time of each job of the plan.
func (x *stored) handle() {
	for _, s := range x.plan.Steps {
		back := x.lastDone(s)
		if back < 1 {
			continue
		}
		e := wheel.Entry{Kind: wheel.Skipped, Job: s.Job, At: x.clock(x.today-day.Date(back), 8)}
		switch {
		case s.Job == wheel.Check:
			e.Kind, e.Job, e.Found = wheel.Checked, "", sound
		case s.Job == wheel.Coat:
			e.Kind, e.Job, e.Coat = wheel.CoatedOn, "", s.Coat
		case s.Job == wheel.Weigh && !x.sample:
			e.Note = "not in the sample"
		case s.Job == wheel.Weigh && x.coated:
			e.Note = "coated"
		case s.Job == wheel.Weigh:
			e.Kind, e.Job, e.Weight = wheel.Weighed, "", x.weights(x.age-back)
		case s.Job == wheel.Move:
			e.Note = "it ripens where it is"
		default:
			e.Kind = wheel.Did
		}
		x.write(e)
		for range s.PerDay - 1 {
			e.At = e.At.Add(9 * time.Hour)
			x.write(e)
		}
	}
}

// lastDone is how many days ago a step was last done, 0 for never. A shelf is handled as a whole, so its wheels
// share their days; one shelf in forty was missed once.
func (x *stored) lastDone(s schedule.Step) int {
	back := 0
	switch {
	case !x.covers(s):
		return 0
	case s.Every > 0 || s.PerDay > 0:
		every := max(1, s.Every)
		made, shelf := int(x.make.Date), (x.wheel.Number-1)/perShelf
		back = 1 + (made+3*shelf)%every
		if (made*7+shelf*5+len(x.make.Lot))%40 == 0 {
			back += every
		}
	case len(s.Days) > 0:
		if past, _ := slices.BinarySearch(s.Days, x.age); past > 0 {
			back = x.age - s.Days[past-1]
		}
	default:
		back = x.age - max(1, s.FromDay, x.coatDay)
	}
	return min(back, x.age-1)
}

// covers is true where the wheel is in the step's window and the step isn't one
// that dry or the make's own day deals with.
func (x *stored) covers(s schedule.Step) bool {
	over := s.UntilDay >= 0 && s.UntilDay < x.age && len(s.Days) == 0
	closed := s.After == "coated" && !x.coated || s.Until == "coated" && x.coated
	return s.FromDay <= x.age && !over && !closed && !s.Gated() && !s.Timed()
}
