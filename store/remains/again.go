package remains

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/store/bookfile"
	"rindkeep/store/derive"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel"
	"rindkeep/wheel/variety"
)

// tellsOfLost are the indexes that tell of wheels and makes whose records are lost.
var tellsOfLost = map[string]bool{
	layout.Standings: true, layout.MakeWheels: true, layout.Lots: true, layout.Dates: true, layout.Corrected: true,
}

// Lot is a lot whose own record is lost.
type Lot struct {
	Lot     string   `json:"lot"`
	Variety string   `json:"variety"`
	Date    day.Date `json:"date"`
	Guessed bool     `json:"date_guessed"` // Date is the first day of which anything is known
}

// MakeAgain makes wheels and lots again whose records are lost, from what the others say of
// them. Dates are days of the zone.
func (r *Remains) MakeAgain(zone *time.Location) {
	first := r.firsts()
	r.wheelsAgain(first)
	r.makesAgain(first, zone)
}

// wheelsAgain makes wheels again whose records are lost, from what the indexes say of
// them: their tag, make, place and plan, and the shape of a sister.
func (r *Remains) wheelsAgain(first map[uuid.UUID]time.Time) {
	numbers, sisters := map[uuid.UUID]int{}, map[uuid.UUID]wheel.Wheel{}
	for k := range r.read[layout.MakeWheels] {
		if len(k) == 36 {
			numbers[uuid.UUID([]byte(k[20:]))] = int(binary.BigEndian.Uint32([]byte(k[16:20])))
		}
	}
	for _, v := range r.read[layout.Wheels] {
		var w wheel.Wheel
		if pack.ReadJSON(v, &w) == nil {
			sisters[w.Make] = w
		}
	}
	for k, v := range r.read[layout.Standings] {
		if len(k) != 16 {
			continue
		}
		id := uuid.UUID([]byte(k))
		st, err := derive.DecodeState(id, v)
		was := r.read[layout.Wheels][k]
		if err != nil || was != nil && pack.ReadJSON(was, new(wheel.Wheel)) == nil || numbers[id] == 0 || first[id].IsZero() {
			continue
		}
		w := wheel.Wheel{
			ID: id, Make: st.Make, Number: numbers[id], Tag: st.Tag, Place: st.Place, Plan: st.Plan,
			Shape: sisters[st.Make].Shape, Since: first[id], Written: first[id],
		}
		if rec, err := pack.JSON(w); err == nil {
			r.keep(layout.Wheels, []byte(k), rec)
			r.Again = append(r.Again, bookfile.At("wheel", st.Tag))
		}
	}
}

// firsts are when the first entry of each wheel and make happened.
func (r *Remains) firsts() map[uuid.UUID]time.Time {
	first := map[uuid.UUID]time.Time{}
	for k := range r.read[layout.Entries] {
		if len(k) == pack.EntryKeySize {
			id, at := uuid.UUID([]byte(k[:16])), time.UnixMilli(pack.EntryMilli([]byte(k))).UTC()
			if t, ok := first[id]; !ok || at.Before(t) {
				first[id] = at
			}
		}
	}
	return first
}

// likeliest counts the wheels that have a plan, by the plan's name and by variety.
type likeliest map[string]map[string]*counted

type counted struct {
	wheels int
	start  wheel.Composition // of one of their makes
}

// makesAgain makes lots again whose records are lost, so that their wheels come out: from
// what corrected them, or else from what the indexes and the tags say of them. Their
// variety is that of most wheels with their plan, or the first of ours with it.
func (r *Remains) makesAgain(first map[uuid.UUID]time.Time, zone *time.Location) {
	makes, wheels := map[uuid.UUID]wheel.Make{}, map[uuid.UUID][]wheel.Wheel{}
	for _, v := range r.read[layout.Makes] {
		var m wheel.Make
		if pack.ReadJSON(v, &m) == nil {
			makes[m.ID] = m
		}
	}
	plans := likeliest{}
	for _, k := range slices.Sorted(maps.Keys(r.read[layout.Wheels])) {
		var w wheel.Wheel
		if pack.ReadJSON(r.read[layout.Wheels][k], &w) != nil {
			continue
		}
		wheels[w.Make] = append(wheels[w.Make], w)
		if m, ok := makes[w.Make]; ok {
			plans.count(w.Plan, m)
		}
	}
	lots, dates := r.indexed()
	ids := slices.SortedFunc(maps.Keys(wheels), func(a, b uuid.UUID) int { return bytes.Compare(a[:], b[:]) })
	for _, id := range ids {
		if _, there := makes[id]; there {
			continue
		}
		var known derive.CorrectedMake
		ws := wheels[id]
		m := wheel.Make{ID: id, Lot: lotOfTags(ws, lots[id]), Written: ws[0].Written}
		m.Variety, m.Start = plans.variety(ws[0].Plan)
		on, dated := dates[id]
		switch {
		case pack.ReadJSON(r.read[layout.Corrected][string(id[:])], &known) == nil && known.Make.ID == id:
			m, dated = known.Make, true
		case dated:
			m.Date = on
		default:
			m.Date, m.MadeBefore = firstDay(ws, first, zone), true
		}
		if rec, err := pack.JSON(m); err == nil {
			r.keep(layout.Makes, id[:], rec)
			r.Again = append(r.Again, bookfile.At("lot", m.Lot))
			r.Lots = append(r.Lots, Lot{m.Lot, m.Variety, m.Date, !dated})
		}
	}
}

// indexed is what the indexes say of lots and the days of makes.
func (r *Remains) indexed() (map[uuid.UUID]string, map[uuid.UUID]day.Date) {
	lots, dates := map[uuid.UUID]string{}, map[uuid.UUID]day.Date{}
	for k, v := range r.read[layout.Lots] {
		if id, err := layout.DecodeID(v); err == nil {
			lots[id] = k
		}
	}
	for k := range r.read[layout.Dates] {
		if len(k) == 20 {
			dates[uuid.UUID([]byte(k[4:]))] = layout.DateOf([]byte(k))
		}
	}
	return lots, dates
}

func (p likeliest) count(plan string, m wheel.Make) {
	if p[plan] == nil {
		p[plan] = map[string]*counted{}
	}
	x := cmp.Or(p[plan][m.Variety], &counted{})
	x.wheels++
	x.start = m.Start
	p[plan][m.Variety] = x
}

// variety is the likeliest variety of wheels with a plan, and what it begins with.
func (p likeliest) variety(plan string) (string, wheel.Composition) {
	found, most, start := "", 0, wheel.Composition{}
	for _, name := range slices.Sorted(maps.Keys(p[plan])) {
		if x := p[plan][name]; x.wheels > most {
			found, most, start = name, x.wheels, x.start
		}
	}
	if v, ours := variety.Find(found); ours || found == "" {
		all := variety.Builtin()
		if i := slices.IndexFunc(all, func(v variety.Variety) bool { return v.Plan == plan }); found == "" {
			v = all[max(i, 0)]
		}
		c := v.Composition
		return v.Name, wheel.Composition{Moisture: c.Moisture, MoistureSD: c.MoistureSD, Fat: c.Fat, Salt: c.Salt, PH: c.PH}
	}
	start.Measured = false
	return found, start
}

// lotOfTags is the lot of wheels whose make is lost: the index has it in lower case, and
// their tags usually begin with it.
func lotOfTags(ws []wheel.Wheel, folded string) string {
	for _, w := range ws {
		lot, _, ok := strings.Cut(w.Tag, "-")
		if ok && (folded == "" || strings.EqualFold(lot, folded)) {
			return lot
		}
	}
	if folded == "" {
		return "lost-" + ws[0].Make.String()[:8]
	}
	return folded
}

// firstDay is the earliest day of which the book knows something of some wheels.
func firstDay(ws []wheel.Wheel, first map[uuid.UUID]time.Time, zone *time.Location) day.Date {
	on := day.At(ws[0].Since, zone)
	for _, w := range ws {
		if on = min(on, day.At(w.Since, zone)); !first[w.ID].IsZero() {
			on = min(on, day.At(first[w.ID], zone))
		}
	}
	return on
}
