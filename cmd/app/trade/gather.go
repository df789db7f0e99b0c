package trade

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cmd/app"
	"rindkeep/wheel"
)

func sends(e wheel.Entry) bool { return e.Kind == wheel.Sent || e.Kind == wheel.SentPart }

// curd follows curd set aside, back to the lots it came from and, where follow is
// set, on to those it went into from whole lots.
func (t *finder) curd(follow bool) error {
	if follow {
		var whole []uuid.UUID
		for _, id := range t.order {
			if t.picks[id].all {
				whole = append(whole, id)
			}
		}
		if err := t.walk(whole, ViaInto); err != nil {
			return err
		}
	}
	return t.walk(slices.Clone(t.order), ViaFrom)
}

func (t *finder) walk(ids []uuid.UUID, via Via) error {
	for len(ids) > 0 {
		sheet, err := t.Tx.MakeSheet(ids[0])
		if err != nil {
			return err
		}
		ids = ids[1:]
		for _, l := range sheet.Lines {
			lot := l.Log.ToLot
			if via == ViaFrom {
				lot = l.Log.FromLot
			}
			if lot == "" {
				continue
			}
			m, err := t.Tx.MakeByLot(lot)
			if app.IsNotFound(err) {
				continue
			}
			if err != nil {
				return err
			}
			if p := t.picks[m.ID]; p == nil || via == ViaInto && !p.all {
				t.pick(m.ID, via)
				ids = append(ids, m.ID)
			}
		}
	}
	return nil
}

// tracedWheel is a wheel with its life, read from its own entries alone.
type tracedWheel struct {
	wheel.Life
	ended      time.Time   // when it left; zero while it is here
	left       wheel.Entry // with which it left
	lost, void bool        // void: it was entered by mistake
	before     []string    // tags that it had
}

func (t *finder) wheelOf(w wheel.Wheel, m wheel.Make) (tracedWheel, error) {
	es, err := t.Tx.History(w.ID)
	if err != nil {
		return tracedWheel{}, err
	}
	tw := tracedWheel{Life: wheel.NewLife(w, m, es, t.Zone, nil), before: []string{}}
	for _, e := range append([]wheel.Entry{{Kind: wheel.Tagged, Tag: w.Tag}}, es...) {
		if e.Kind == wheel.Tagged && e.Tag != tw.Tag && !slices.Contains(tw.before, e.Tag) {
			tw.before = append(tw.before, e.Tag)
		}
	}
	for _, e := range tw.Entries {
		switch e.Kind {
		case wheel.Sent, wheel.Voided, wheel.Lost:
			tw.ended, tw.left = e.At, e
			tw.lost, tw.void = tw.lost || e.Kind == wheel.Lost, tw.void || e.Kind == wheel.Voided
		}
	}
	return tw, nil
}

// lotOf is what the book says of a make and of the wheels picked of it, and what
// was sent of them.
func (t *finder) lotOf(mk uuid.UUID, p *picked) (*Lot, []Delivery, error) {
	sheet, err := t.Tx.MakeSheet(mk)
	if err != nil {
		return nil, nil, err
	}
	made := sheet.FromLog()
	told, err := t.Tx.MakeFromLog(mk)
	if err != nil {
		return nil, nil, err
	}
	made.Lab = told.Lab
	l := newLot(made, sheet.Lines)
	for _, x := range sheet.Tests {
		d := Tested{Sample: x.Number, Test: x.Test, Lab: x.Lab, Taken: day.At(x.Entry.At, t.Zone), Open: x.Open()}
		if x.Result != nil {
			d.Result, d.Report = x.Result.Found, x.Result.Report
		}
		l.Samples = append(l.Samples, d)
	}
	l.Reach = p.via
	if v, err := t.Tx.Variety(made.Variety); err == nil {
		l.Title = v.Title
	} else if !app.IsNotFound(err) {
		return nil, nil, err
	}
	ws, err := t.Tx.WheelsOf(mk)
	if err != nil {
		return nil, nil, err
	}
	var traced []tracedWheel
	for _, w := range ws {
		if !p.all && !p.wheels[w.ID] {
			continue
		}
		tw, err := t.wheelOf(w, made)
		if err != nil {
			return nil, nil, err
		}
		if !tw.void {
			traced = append(traced, tw)
		}
	}
	all, err := t.others(l, p, made, ws, traced)
	if err != nil {
		return nil, nil, err
	}
	byTag := func(a, b tracedWheel) int { return cave.NaturalCompare(a.Tag, b.Tag) }
	slices.SortStableFunc(traced, byTag)
	slices.SortStableFunc(all, byTag)
	if err := t.arrived(l, all, traced); err != nil {
		return nil, nil, err
	}
	var sent []Delivery
	for _, w := range traced {
		l.Wheels = append(l.Wheels, wheelDoc(w))
		went, err := t.sentOf(l, w)
		if err != nil {
			return nil, nil, err
		}
		sent = append(sent, went...)
	}
	es, err := t.Tx.History(mk)
	if err != nil {
		return nil, nil, err
	}
	t.hands(l, made, wheel.Live(es), traced)
	return l, sent, t.air(l, traced)
}

// others counts the wheels of a lot, and gives all of one that was bought in: it came whole,
// whichever wheels a trace concerns. traced are those picked.
func (t *finder) others(
	l *Lot, p *picked, made wheel.Make, ws []wheel.Wheel, traced []tracedWheel,
) (all []tracedWheel, err error) {
	bought := slices.ContainsFunc(traced, func(w tracedWheel) bool { _, ok := w.Received(); return ok })
	l.WheelsOfLot, all = len(traced), slices.Clone(traced)
	for _, w := range ws {
		if p.all || p.wheels[w.ID] {
			continue
		}
		st, err := t.Tx.State(w.ID)
		if err != nil {
			return nil, err
		}
		if !bought && st.Here() {
			l.WheelsOfLot++
			continue
		}
		tw, err := t.wheelOf(w, made)
		if err != nil {
			return nil, err
		}
		if !tw.void {
			all = append(all, tw)
			l.WheelsOfLot++
		}
	}
	return all, nil
}

// newLot is a make as its log tells of it or, where the log says nothing, as it was
// written down.
func newLot(m wheel.Make, lines []wheel.MakeLine) *Lot {
	l := &Lot{
		Lot: m.Lot, Made: m.Date, Variety: m.Variety, Title: m.Variety, Milk: []Milk{}, Ingredients: []Ingredient{},
		DateKnown: !m.MadeBefore, Received: []Receipt{},
		Salt: []Salt{}, CurdFrom: []Curd{}, CurdInto: []Curd{}, Air: []Air{}, Hands: []Hand{}, Wheels: []Wheel{},
		Samples: []Tested{},
	}
	for _, x := range lines {
		g := x.Log
		input, code := "", g.Lot
		switch g.What {
		case wheel.LogMilk:
			l.Milk = append(l.Milk, Milk{
				g.Source, g.Lot, g.Species, app.Some(float64(g.Litres)), app.OrNull(string(g.Treatment)),
				app.Some(float64(g.HeatTemp)), app.Some(g.HeatFor),
			})
			input = "milk"
		case wheel.LogIngredient:
			l.Ingredients = append(l.Ingredients, Ingredient{g.Name, g.Kind, g.Lot, g.Source, g.Amount})
			input = g.Name
		case wheel.LogSalt:
			l.Salt = append(l.Salt, Salt{app.Grams(g.Weight), g.Where, g.Lot})
			input = "salt"
		case wheel.LogFrom:
			l.CurdFrom = append(l.CurdFrom, Curd{app.OrNull(g.FromLot), app.Grams(g.Weight), g.For})
			input, code = "curd", g.FromLot
		case wheel.LogSetAside:
			l.CurdInto = append(l.CurdInto, Curd{app.OrNull(g.ToLot), app.Grams(g.Weight), g.For})
		}
		if s := input + " " + code; input != "" && code != "" && !slices.Contains(l.Inputs, s) {
			l.Inputs = append(l.Inputs, s)
		}
	}
	if milk := m.Milk; len(l.Milk) == 0 && milk != (wheel.Milk{}) {
		treatment := app.OrNull(string(milk.Treatment))
		l.Milk = append(l.Milk, Milk{Species: milk.Species, Litres: app.Some(float64(milk.Litres)), Treatment: treatment})
	}
	if len(l.Salt) == 0 && m.SaltMass > 0 {
		l.Salt = append(l.Salt, Salt{Weight: app.Grams(m.SaltMass), Where: m.SaltWhere})
	}
	if len(l.CurdInto) == 0 && m.SetAside > 0 {
		l.CurdInto = append(l.CurdInto, Curd{Weight: app.Grams(m.SetAside), For: m.SetAsideFor})
	}
	return l
}

func wheelDoc(w tracedWheel) Wheel {
	d := Wheel{
		Tag: w.Tag, Here: w.ended.IsZero(), Weight: app.Grams(w.WeightNow()), Held: []string{}, Lost: w.lost,
		Before:  w.before,
		Reasons: app.Filled(w.GoneWhy),
	}
	_, d.Destroyed = w.left.Disposal()
	if w.GoneOn != day.None {
		d.Gone = &w.GoneOn
	}
	if d.Here {
		d.Place = string(w.Place)
		for _, h := range w.Holds {
			d.Held = append(d.Held, h.Why)
		}
	}
	return d
}

func (t *finder) sentOf(l *Lot, w tracedWheel) (out []Delivery, err error) {
	then := w.Wheel.Tag
	for _, e := range w.Entries {
		if e.Kind == wheel.Tagged {
			then = e.Tag
		}
		if !sends(e) || t.only != "" && !strings.EqualFold(e.To, t.only) {
			continue
		}
		part := "whole"
		code, source, err := t.outward(l, w, e)
		if err != nil {
			return nil, err
		}
		if e.Kind == wheel.SentPart {
			part = "piece"
		}
		out = append(out, Delivery{
			Wheel: w.Tag, Lot: l.Lot, Customer: e.To, Date: day.At(e.At, t.Zone), Weight: app.Grams(e.Weight), Part: part,
			Document: documentOf(e), By: e.By, Note: e.Note, Code: code, Source: source, Then: then, at: e.At, title: l.Title,
		})
	}
	return out, nil
}

// WroteMake is what the person did who wrote a make down.
const WroteMake = "wrote the make"

// hands sums up who handled the make and the wheels concerned.
func (t *finder) hands(l *Lot, made wheel.Make, log []wheel.Entry, traced []tracedWheel) {
	at := map[string]int{}
	add := func(by, what string, on day.Date) {
		i, ok := at[by]
		if !ok {
			i = len(l.Hands)
			at[by] = i
			l.Hands = append(l.Hands, Hand{By: by, First: on, Last: on})
		}
		h := &l.Hands[i]
		h.Entries++
		h.First, h.Last = min(h.First, on), max(h.Last, on)
		n := slices.IndexFunc(h.Did, func(d Deed) bool { return d.What == what })
		if n < 0 {
			n = len(h.Did)
			h.Did = append(h.Did, Deed{What: what})
		}
		h.Did[n].Count++
	}
	wrote := made.Date
	if len(l.Received) > 0 { // nobody here made it
		wrote = day.At(made.Written, t.Zone)
	}
	add(made.By, WroteMake, wrote)
	for _, e := range log {
		add(e.By, e.Word(), day.At(e.At, t.Zone))
	}
	for _, w := range traced {
		for _, e := range w.Entries {
			add(e.By, e.Word(), day.At(e.At, t.Zone))
		}
	}
	for _, h := range l.Hands {
		slices.SortFunc(h.Did, func(a, b Deed) int { return cmp.Or(b.Count-a.Count, strings.Compare(a.What, b.What)) })
	}
	slices.SortFunc(l.Hands, func(a, b Hand) int { return cmp.Or(b.Entries-a.Entries, strings.Compare(a.By, b.By)) })
}

// stay is a spell of whole days in one room.
type stay struct {
	room     string
	from, to day.Date
	now      bool
	away     bool // elsewhere, before it came
	own      bool // away, and taken over, so not at a supplier
}

// stays joins a wheel's places into rooms, until it left or now.
func (t *finder) stays(w tracedWheel) []stay {
	end, here := w.ended, w.ended.IsZero()
	if here {
		end = t.Time
	}
	_, bought := w.Received()
	var out []stay
	for i, st := range w.Stays {
		until, now := end, here
		if i+1 < len(w.Stays) {
			until, now = w.Stays[i+1].From, false
		}
		room := st.Place.Room()
		from, to := day.At(st.From, t.Zone), day.At(until, t.Zone)
		if room == "" && !st.Away {
			continue
		}
		if n := len(out); n > 0 && out[n-1].room == room {
			out[n-1].to, out[n-1].now = to, now
			continue
		}
		out = append(out, stay{room, from, max(from, to), now, st.Away, st.Away && !bought})
	}
	return out
}

// air sums up the air the lot's wheels lay in, by room and by the days they came
// and went.
func (t *finder) air(l *Lot, traced []tracedWheel) error {
	spells := map[stay]int{}
	for _, w := range traced {
		for _, st := range t.stays(w) {
			i, ok := spells[st]
			if !ok {
				i = len(l.Air)
				spells[st] = i
				l.Air = append(l.Air, Air{
					Room: st.room, From: st.from, To: st.to, Now: st.now, Elsewhere: st.away, Own: st.own,
				})
			}
			l.Air[i].Wheels = append(l.Air[i].Wheels, w.Tag)
		}
	}
	slices.SortStableFunc(l.Air, func(a, b Air) int {
		if a.From != b.From {
			return int(a.From) - int(b.From)
		}
		return cave.NaturalCompare(a.Room, b.Room)
	})
	for _, a := range l.Air {
		i := slices.IndexFunc(l.Rooms, func(o Air) bool { return o.Room == a.Room })
		if i < 0 {
			l.Rooms = append(l.Rooms, a)
			continue
		}
		r := &l.Rooms[i]
		r.From, r.To, r.Now = min(r.From, a.From), max(r.To, a.To), r.Now || a.Now
	}
	for _, list := range [][]Air{l.Air, l.Rooms} {
		for i := range list {
			list[i].Days = int(list[i].To-list[i].From) + 1
			if err := t.measure(&list[i]); err != nil {
				return err
			}
		}
	}
	return nil
}

// roomDays is a room's air day by day, as far as it was read.
type roomDays struct {
	room     cave.Room
	unknown  bool
	from, to day.Date
	days     []cave.DayAir
}

// measure fills in a spell's air, by whole days.
func (t *finder) measure(a *Air) error {
	r, err := t.roomOf(a)
	if err != nil || r.unknown {
		return err
	}
	at := func(d day.Date) int {
		i, _ := slices.BinarySearchFunc(r.days, d, func(x cave.DayAir, d day.Date) int { return int(x.Date) - int(d) })
		return i
	}
	var temp, rh cave.Range
	temp, rh, a.Readings = cave.Over(r.days[at(a.From):at(a.To+1)])
	if a.Readings == 0 {
		set := r.room.SetPoint()
		t, h := float64(set.Temp), set.RH.Percent()
		a.SetPoint, temp, rh = true, cave.Range{Min: t, Mean: t, Max: t}, cave.Range{Min: h, Mean: h, Max: h}
	}
	a.Temp, a.RH = rangeOf(temp), rangeOf(rh)
	return nil
}

func rangeOf(r cave.Range) Range { return Range{app.Num(r.Min), app.Num(r.Mean), app.Num(r.Max)} }

// roomOf is the room of a spell, its days read.
func (t *finder) roomOf(a *Air) (*roomDays, error) {
	r := t.rooms[a.Room]
	if r == nil {
		r = &roomDays{from: a.From, to: a.From - 1}
		room, err := t.Tx.Room(a.Room)
		if err != nil && !app.IsNotFound(err) {
			return nil, err
		}
		r.room, r.unknown = room, err != nil
		t.rooms[a.Room] = r
	}
	if r.unknown || a.From >= r.from && a.To <= r.to {
		return r, nil
	}
	// More than is asked, so that many lots don't read day by day.
	const ahead = 60
	r.from, r.to = min(r.from, a.From-ahead), min(max(r.to, a.To+ahead), max(a.To, t.Today))
	end := (r.to + 1).Start(t.Zone)
	d := cave.Digest{Room: r.room, Loc: t.Zone}
	if err := t.Tx.EachReading(a.Room, r.from.Start(t.Zone), end, func(rd cave.Reading) bool {
		d.Add(r.room.Corrected(rd))
		return true
	}); err != nil {
		return nil, err
	}
	d.Close(end)
	r.days = d.Days
	return r, nil
}
