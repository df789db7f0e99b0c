package scenario

import (
	"fmt"
	"math"
	"math/rand/v2"
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

// The warehouse: bays of racks of shelves, and lots of one size. A lot fills
// shelves of its own.
const (
	perLot    = 40
	perShelf  = 20
	shelves   = 10 // on a rack
	bayRacks  = 25
	perBay    = bayRacks * shelves * perShelf
	lotsAtime = 250 // lots handed over at once
)

// mix is what the warehouse holds, in turn.
var mix = []string{"cheddar-waxed", "gouda", "hard-grating", "alpine-hard", "edam", "tomme", "cheddar-waxed", "cheddar-cloth", "sheep-hard", "saint-paulin"}

// Large invents a warehouse of n wheels, aged up to 300 days, and hands it over
// in parts, oldest lots first. As warehouses do, it weighs a few wheels of a
// lot and keeps of each handling what the next one hangs on: the last time.
func Large(today day.Date, loc *time.Location, now time.Time, seed uint64, n int, put func(Book) error) error {
	rnd := rand.New(rand.NewPCG(seed, 0xca5e))
	ids := &mint{rnd: rnd}
	start := (today - 400).Start(loc).UTC()
	bays := (n + perBay - 1) / perBay
	var rooms []cave.Room
	for i := 1; i <= bays; i++ {
		r := cave.Room{ID: ids.at(start), Name: fmt.Sprintf("bay-%d", i), Order: i, Movement: air.Gentle, Written: start, By: people[0]}
		r.Around(11, 0.85)
		for k := 1; k <= bayRacks; k++ {
			r.Racks = append(r.Racks, cave.Rack{Name: fmt.Sprint(k), Shelves: shelves, PerShelf: perShelf})
		}
		rooms = append(rooms, r)
	}
	if err := put(Book{Rooms: rooms}); err != nil {
		return err
	}
	lots := (n + perLot - 1) / perLot
	usual := map[string]drying.Forecast{}
	var part Book
	used := map[day.Date]int{}
	for i := range lots {
		v, ok := variety.Find(mix[i%len(mix)])
		if !ok {
			return fmt.Errorf("the demo's variety %q is not in the library", mix[i%len(mix)])
		}
		p, ok := schedule.Find(v.Plan)
		if !ok {
			return fmt.Errorf("the demo's plan %q is not in the library", v.Plan)
		}
		age := 1 + (lots-1-i)*299/max(1, lots-1)
		date := today - day.Date(age)
		k := used[date]
		used[date]++
		lot := wheel.DefaultLot(date, func(string) bool { k--; return k >= 0 })
		count := min(perLot, n-i*perLot)
		m := makeOf(ids, lot, date, v, batch{variety: v.Name, age: age, count: count, grams: float64(v.Weight)}, loc, rnd)
		f, ok := usual[v.Name]
		if !ok {
			f = drying.Estimate(drying.Subject{
				Cheese: drying.Cheese{Green: v.Weight, Shape: v.Shape, Moisture: v.Composition.Moisture, Fat: v.Composition.Fat, Salt: v.Composition.Salt, Group: drying.Group(v.Group)},
				Air:    []drying.Span{{Air: rooms[0].SetPoint(), Movement: air.Gentle}},
			})
			usual[v.Name] = f
		}
		part.Makes = append(part.Makes, m)
		factor := math.Exp(0.15 * rnd.NormFloat64())
		slot := i * perLot
		for w := 1; w <= count; w++ {
			x := wheel.Wheel{
				ID: ids.at(m.Written), Make: m.ID, Number: w, Tag: wheel.DefaultTag(lot, w, count), Plan: v.Plan, Shape: v.Shape,
				Since: m.Written, Written: m.Written, By: m.By, Place: placeOf(slot + w - 1),
			}
			part.Wheels = append(part.Wheels, x)
			part.Entries = append(part.Entries, warehoused(ids, rnd, loc, today, now, m, x, v, p, f, factor)...)
		}
		if len(part.Makes) == lotsAtime || i == lots-1 {
			if err := put(part); err != nil {
				return err
			}
			part = Book{}
		}
	}
	return nil
}

func placeOf(i int) cave.Place {
	return cave.Place(fmt.Sprintf("bay-%d/%d/%d", i/perBay+1, i%perBay/(shelves*perShelf)+1, i%(shelves*perShelf)/perShelf+1))
}

// warehoused is what a warehouse's book tells of one wheel.
func warehoused(ids *mint, rnd *rand.Rand, loc *time.Location, today day.Date, now time.Time, m wheel.Make, w wheel.Wheel, v variety.Variety, p schedule.Plan, f drying.Forecast, factor float64) []wheel.Entry {
	var es []wheel.Entry
	by := people[rnd.IntN(2)]
	write := func(e wheel.Entry) {
		if e.At.After(now) {
			return
		}
		e.At = e.At.UTC()
		e.ID, e.Subject, e.Written, e.By = ids.at(e.At), w.ID, e.At, by
		es = append(es, e)
	}
	green := float64(v.Weight) * math.Exp(0.02*rnd.NormFloat64())
	own := factor * math.Exp(0.05*rnd.NormFloat64())
	began := m.Date.Clock(17, 0, loc)
	write(wheel.Entry{Kind: wheel.Weighed, At: began, Weight: quantity.Grams(math.Round(green)), Note: "green weight"})
	age := int(today - m.Date)
	weigh := func(d int) quantity.Grams {
		return quantity.Grams(math.Round(green * (1 - math.Min(0.3, own*f.Loss(float64(d)).Best)) * (1 + 0.0005*rnd.NormFloat64())))
	}
	coatDay := 0
	for _, s := range p.Steps {
		if s.Job == wheel.Coat && coatDay == 0 && s.When == "dry" {
			coatDay = 6 + rnd.IntN(5)
		}
	}
	coated := coatDay > 0 && coatDay < age
	sample := w.Number <= 4
	last := age - 1
	if coated {
		last = coatDay
	}
	for d := 2; d <= last; d += 1 + d/4 {
		if sample || d == 2 {
			write(wheel.Entry{Kind: wheel.Weighed, At: (m.Date + day.Date(d)).Clock(9, w.Number%60, loc), Weight: weigh(d)})
		}
	}
	if coated {
		at := (m.Date + day.Date(coatDay)).Clock(11, w.Number%60, loc)
		before := weigh(coatDay)
		coat := "wax"
		for _, s := range p.Steps {
			if s.Job == wheel.Coat && s.Coat != "" {
				coat = s.Coat
				break
			}
		}
		write(wheel.Entry{Kind: wheel.CoatedOn, At: at, Coat: coat, Before: before, Weight: before + quantity.Grams(math.Round(0.028*green))})
	}
	// The last time of each job of the plan. A shelf is seen to as a whole, so
	// its wheels share their days; one shelf in forty was missed once.
	shelf := (w.Number - 1) / perShelf
	turnOf := int(m.Date) + 3*shelf
	missed := (int(m.Date)*7+shelf*5+len(m.Lot))%40 == 0
	for _, s := range p.Steps {
		if s.FromDay > age || s.UntilDay >= 0 && s.UntilDay < age && len(s.Days) == 0 {
			continue
		}
		if s.After == "coated" && !coated || s.Until == "coated" && coated || s.Gated() || s.Timed() {
			continue
		}
		back := 0
		switch every := s.Every; {
		case every > 0 || s.PerDay > 0:
			back = 1 + turnOf%max(1, every)
			if missed {
				back += max(1, every)
			}
		case len(s.Days) > 0:
			for _, d := range s.Days {
				if d < age {
					back = age - d
				}
			}
		default:
			back = age - max(1, s.FromDay, coatDay)
		}
		back = min(back, age-1)
		if back < 1 {
			continue
		}
		at := (today - day.Date(back)).Clock(8, w.Number%60, loc)
		switch s.Job {
		case wheel.Check:
			write(wheel.Entry{Kind: wheel.Checked, At: at, Found: wheel.HandCheck{DryToTouch: wheel.Yes, Weeping: wheel.No, Cracks: wheel.No, Mould: wheel.No}})
		case wheel.Coat:
			write(wheel.Entry{Kind: wheel.CoatedOn, At: at, Coat: s.Coat})
		case wheel.Weigh:
			if !sample {
				write(wheel.Entry{Kind: wheel.Skipped, Job: s.Job, At: at, Note: "not in the sample"})
			} else if !coated {
				write(wheel.Entry{Kind: wheel.Weighed, At: at, Weight: weigh(age - back)})
			} else {
				write(wheel.Entry{Kind: wheel.Skipped, Job: s.Job, At: at, Note: "coated"})
			}
		case wheel.Move:
			write(wheel.Entry{Kind: wheel.Skipped, Job: s.Job, At: at, Note: "it ripens where it lies"})
		default:
			for range max(1, s.PerDay) {
				write(wheel.Entry{Kind: wheel.Did, Job: s.Job, At: at})
				at = at.Add(9 * time.Hour)
			}
		}
	}
	return es
}
