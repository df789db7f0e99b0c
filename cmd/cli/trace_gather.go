package cli

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

// curd follows curd set aside, back to the lots it came from and, where follow
// is set, on to those it went into from whole lots.
func (t *tracer) curd(follow bool) error {
	walk := func(ids []uuid.UUID, r reach) error {
		for len(ids) > 0 {
			sheet, err := t.tx.MakeSheet(ids[0])
			if err != nil {
				return err
			}
			ids = ids[1:]
			for _, l := range sheet.Lines {
				lot := l.Log.ToLot
				if r == reachFrom {
					lot = l.Log.FromLot
				}
				if lot == "" {
					continue
				}
				m, err := t.tx.MakeByLot(lot)
				if isNotFound(err) {
					continue
				}
				if err != nil {
					return err
				}
				if p := t.picks[m.ID]; p == nil || r == reachInto && !p.all {
					t.pick(m.ID, r)
					ids = append(ids, m.ID)
				}
			}
		}
		return nil
	}
	if follow {
		var whole []uuid.UUID
		for _, id := range t.order {
			if t.picks[id].all {
				whole = append(whole, id)
			}
		}
		if err := walk(whole, reachInto); err != nil {
			return err
		}
	}
	return walk(slices.Clone(t.order), reachFrom)
}

// wheelOf is a wheel with its life, read from its own entries alone.
func (t *tracer) wheelOf(w wheel.Wheel, m wheel.Make) (tracedWheel, error) {
	es, err := t.tx.History(w.ID)
	if err != nil {
		return tracedWheel{}, err
	}
	tw := tracedWheel{life: wheel.NewLife(w, m, es, t.loc, nil)}
	for _, e := range tw.life.Entries {
		switch e.Kind {
		case wheel.Sent, wheel.Voided:
			tw.ended = e.At
		case wheel.Lost:
			tw.ended, tw.lost = e.At, true
		}
	}
	return tw, nil
}

// void says whether a wheel was entered by mistake and never was.
func (w tracedWheel) void() bool {
	return slices.ContainsFunc(w.life.Entries, func(e wheel.Entry) bool { return e.Kind == wheel.Voided })
}

func (t *tracer) lotOf(mk uuid.UUID, p *picked) (*tracedLot, error) {
	sheet, err := t.tx.MakeSheet(mk)
	if err != nil {
		return nil, err
	}
	l := &tracedLot{make: sheet.FromLog(), lines: sheet.Lines, reach: p.reach, title: sheet.Make.Variety}
	if v, err := t.tx.Variety(sheet.Make.Variety); err == nil {
		l.title = v.Title
	} else if !isNotFound(err) {
		return nil, err
	}
	ws, err := t.tx.WheelsOf(mk)
	if err != nil {
		return nil, err
	}
	for _, w := range ws {
		l.of++
		if !p.all && !p.wheels[w.ID] {
			continue
		}
		tw, err := t.wheelOf(w, l.make)
		if err != nil {
			return nil, err
		}
		if tw.void() {
			l.of--
			continue
		}
		l.wheels = append(l.wheels, tw)
	}
	slices.SortStableFunc(l.wheels, func(a, b tracedWheel) int { return naturally(a.life.Tag, b.life.Tag) })
	es, err := t.tx.History(mk)
	if err != nil {
		return nil, err
	}
	t.handsOf(l, wheel.Live(es))
	return l, t.airOf(l)
}

// handsOf sums up who handled the make and the wheels concerned.
func (t *tracer) handsOf(l *tracedLot, made []wheel.Entry) {
	people := map[string]*hand{}
	add := func(by, word string, on day.Date) {
		h := people[by]
		if h == nil {
			h = &hand{by: by, first: on, last: on, did: map[string]int{}}
			people[by] = h
		}
		h.entries++
		h.first, h.last = min(h.first, on), max(h.last, on)
		h.did[word]++
	}
	add(l.make.By, madeWrote, l.make.Date)
	for _, e := range made {
		add(e.By, e.Word(), day.At(e.At, t.loc))
	}
	for _, w := range l.wheels {
		for _, e := range w.life.Entries {
			add(e.By, e.Word(), day.At(e.At, t.loc))
		}
	}
	for _, h := range people {
		l.hands = append(l.hands, *h)
	}
	slices.SortFunc(l.hands, func(a, b hand) int {
		if a.entries != b.entries {
			return b.entries - a.entries
		}
		return strings.Compare(a.by, b.by)
	})
}

func (t *tracer) deliveriesOf(l *tracedLot, w tracedWheel) []delivery {
	var out []delivery
	for _, e := range w.life.Entries {
		if e.Kind != wheel.Sent && e.Kind != wheel.SentPart || t.only != "" && !strings.EqualFold(e.To, t.only) {
			continue
		}
		out = append(out, delivery{
			wheel: w.life.Tag, lot: l.make.Lot, title: l.title, customer: e.To, on: day.At(e.At, t.loc), entry: e, document: documentOf(e.Note),
		})
	}
	return out
}

// roomStay is a spell of whole days in one room.
type roomStay struct {
	room     string
	from, to day.Date
	now      bool
}

// roomStays joins a wheel's places into rooms, until it left or now.
func (t *tracer) roomStays(w tracedWheel) []roomStay {
	end, now := w.ended, w.here()
	if now {
		end = t.session.now
	}
	var out []roomStay
	for i, st := range w.life.Stays {
		until, last := end, true
		if i+1 < len(w.life.Stays) {
			until, last = w.life.Stays[i+1].From, false
		}
		room := st.Place.Room()
		from, to := day.At(st.From, t.loc), day.At(until, t.loc)
		if n := len(out); n > 0 && out[n-1].room == room {
			out[n-1].to, out[n-1].now = to, last && now
			continue
		}
		out = append(out, roomStay{room, from, max(from, to), last && now})
	}
	return out
}

// airOf sums up the air the lot's wheels lay in, by room and by the days they
// came and went.
func (t *tracer) airOf(l *tracedLot) error {
	spells := map[roomStay]int{}
	for _, w := range l.wheels {
		for _, st := range t.roomStays(w) {
			i, ok := spells[st]
			if !ok {
				i = len(l.air)
				spells[st] = i
				l.air = append(l.air, airSpell{room: st.room, from: st.from, to: st.to, now: st.now})
			}
			l.air[i].wheels = append(l.air[i].wheels, w.life.Tag)
		}
	}
	slices.SortStableFunc(l.air, func(a, b airSpell) int {
		if a.from != b.from {
			return int(a.from) - int(b.from)
		}
		return naturally(a.room, b.room)
	})
	for _, a := range l.air {
		i := slices.IndexFunc(l.rooms, func(o airSpell) bool { return o.room == a.room })
		if i < 0 {
			l.rooms = append(l.rooms, a)
			continue
		}
		r := &l.rooms[i]
		r.from, r.to, r.now = min(r.from, a.from), max(r.to, a.to), r.now || a.now
	}
	for _, list := range [][]airSpell{l.air, l.rooms} {
		for i := range list {
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
func (t *tracer) measure(a *airSpell) error {
	r := t.rooms[a.room]
	if r == nil {
		r = &roomDays{from: a.from, to: a.from - 1}
		room, err := t.tx.Room(a.room)
		switch {
		case isNotFound(err):
			r.unknown = true
		case err != nil:
			return err
		}
		r.room = room
		t.rooms[a.room] = r
	}
	if r.unknown {
		return nil
	}
	if a.from < r.from || a.to > r.to {
		// More than is asked, so that many lots are not read day by day anew.
		const ahead = 60
		r.from, r.to = min(r.from, a.from-ahead), min(max(r.to, a.to+ahead), max(a.to, t.today))
		d := cave.Digest{Room: r.room, Loc: t.loc}
		if err := t.tx.EachReading(a.room, r.from.Start(t.loc), (r.to + 1).Start(t.loc), func(rd cave.Reading) bool {
			d.Add(r.room.Corrected(rd))
			return true
		}); err != nil {
			return err
		}
		d.Close((r.to + 1).Start(t.loc))
		r.days = d.Days
	}
	at := func(d day.Date) int {
		i, _ := slices.BinarySearchFunc(r.days, d, func(x cave.DayAir, d day.Date) int { return int(x.Date) - int(d) })
		return i
	}
	a.temp, a.rh, a.readings = cave.Over(r.days[at(a.from):at(a.to+1)])
	if a.readings == 0 {
		set := r.room.SetPoint()
		temp, rh := float64(set.Temp), set.RH.Percent()
		a.setPoint, a.temp, a.rh = true, cave.Range{Min: temp, Mean: temp, Max: temp}, cave.Range{Min: rh, Mean: rh, Max: rh}
	}
	return nil
}

// held says why a wheel that is here is held by hand, or "".
func (w tracedWheel) held() string {
	var why []string
	for _, h := range w.life.Holds {
		why = append(why, h.Why)
	}
	return text.Safe(strings.Join(why, "; "))
}
