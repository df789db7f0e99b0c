package scenario

import (
	"fmt"
	"testing"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/schedule"
	"rindkeep/wheel"
	"rindkeep/wheel/variety"
	"rindkeep/wheel/verdict"
)

func TestTry(t *testing.T) {
	loc, _ := time.LoadLocation("Europe/Dublin")
	today := day.Of(2026, 11, 25)
	t0 := time.Now()
	b, err := Small(today, loc, today.Clock(7, 30, loc), 1)
	if err != nil {
		t.Fatal(err)
	}
	fmt.Println(time.Since(t0), len(b.Wheels), len(b.Entries))
	makes := map[[16]byte]wheel.Make{}
	for _, m := range b.Makes {
		makes[m.ID] = m
	}
	es := map[[16]byte][]wheel.Entry{}
	for _, e := range b.Entries {
		es[e.Subject] = append(es[e.Subject], e)
	}
	byName := map[string]int{}
	for _, w := range b.Wheels {
		m := makes[w.Make]
		v, _ := variety.Find(m.Variety)
		p, _ := schedule.Find(v.Plan)
		h := hand{loc: loc, plan: p, variety: v, make: m, wheel: w, entries: es[w.ID]}
		for i, r := range b.Rooms {
			_ = i
			if h.rooms == nil {
				h.rooms = map[string]cave.Room{}
			}
			h.rooms[r.Name] = r
		}
		l := h.life()
		c := h.kase(l)
		d := c.Dry(today.Clock(7, 30, loc))
		x := verdict.Expected{}
		if d.On != nil {
			x = *d.On
		}
		fmt.Printf("%s %-14s age %3d %-13s loss %5.2f present %5.2f moisture %.1f rate %.2f [%.2f %.2f] on %s %s %s n=%d %s\n", w.Tag, v.Name, l.Age(today), d.Answer, d.Loss.Percent(), 100*d.Present.Best, 100*d.Moisture.Best, 100*d.Rate.Best, 100*d.Rate.Low, 100*d.Rate.High, x.Best, x.Low, x.High, len(es[w.ID]), d.Leak)
		for _, r := range d.Rules {
			if !r.Met {
				fmt.Printf("     %s %s need %s\n", r.Name, r.Have, r.Need)
			}
		}
		byName[string(d.Answer)]++
	}
	fmt.Println(byName)
}
