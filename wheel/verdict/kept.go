package verdict

import (
	"math"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/wheel"
	"rindkeep/wheel/variety"
)

// Kept is a stretch of a wheel's life, from an instant until the next one, as laws count
// its days: how warm it was, and whether anybody read that.
type Kept struct {
	From time.Time
	Temp quantity.Celsius
	Read bool // somebody read it; false: a set point, or the usual air
	Away bool // the wheel was elsewhere, and nobody here knows
}

// ReadFor is how long a reading speaks for its room: a week, and a day's grace. Our
// choice, as no law that was read says how often.
const ReadFor = 8 * 24 * time.Hour

// KeptIn lays out how warm a wheel was kept. A reading speaks for the days until the next
// one, by the colder of the two, but for ReadFor at the most; the first one, also for as
// long before it. The room's set point stands for all other days, as one that nobody read.
func KeptIn(l wheel.Life, v variety.Variety, rooms Rooms) []Kept {
	usual := Kept{Temp: (v.Room.TempLow + v.Room.TempHigh) / 2, Away: len(l.Arrivals) > 0}
	out := []Kept{usual}
	usual.Away = false
	for i, st := range l.Stays {
		end := time.Time{}
		if i+1 < len(l.Stays) {
			end = l.Stays[i+1].From
		}
		r, known := rooms.RoomNamed(st.Place.Room())
		switch {
		case st.Away:
			out = append(out, Kept{From: st.From, Temp: usual.Temp, Away: true})
		case !known:
			out = append(out, Kept{From: st.From, Temp: usual.Temp})
		default:
			out = append(out, keptInRoom(r, rooms, st.From, end)...)
		}
	}
	return out
}

// keptInRoom is how warm a room was between two instants; a zero end is open.
func keptInRoom(r cave.Room, rooms Rooms, from, end time.Time) (out []Kept) {
	to := end
	if to.IsZero() {
		to = time.Date(9990, time.January, 1, 0, 0, 0, 0, time.UTC) // our choice: after every reading
	}
	put := func(t time.Time, temp quantity.Celsius, read bool) {
		if !end.IsZero() && !t.Before(end) {
			return
		}
		if t.Before(from) {
			t = from
		}
		if n := len(out); n > 0 && !t.After(out[n-1].From) {
			out = out[:n-1]
		}
		out = append(out, Kept{From: t, Temp: temp, Read: read})
	}
	set := r.SetPoint().Temp
	put(from, set, false)
	readings := rooms.AirBetween(r.Name, from.Add(-ReadFor), to.Add(ReadFor))
	for i, rd := range readings {
		if i == 0 {
			put(rd.At.Add(-ReadFor), rd.Temp, true)
		}
		temp := rd.Temp
		if i+1 == len(readings) || readings[i+1].At.Sub(rd.At) > ReadFor {
			put(rd.At, temp, true)
			put(rd.At.Add(ReadFor), set, false)
			continue
		}
		if next := readings[i+1]; next.At.Sub(rd.At) > maxGap {
			temp = min(temp, next.Temp)
		}
		put(rd.At, temp, true)
	}
	return out
}

// UnreadBetween says whether the wheel was anywhere between two instants that a law may
// count and nobody read.
func (c Case) UnreadBetween(from, to time.Time) bool {
	for i, s := range c.Kept {
		ended := i+1 < len(c.Kept) && !c.Kept[i+1].From.After(from)
		if !s.Read && !s.Away && !ended && (i == 0 || s.From.Before(to)) {
			return true
		}
	}
	return false
}

// warmDays counts the days between two instants at or above a temperature, those of them
// without a reading, and the days elsewhere, which aren't among them.
func (c Case) warmDays(begin, now time.Time, over quantity.Celsius) (days, unread, away float64) {
	for i, s := range c.Kept {
		from, to := s.From, now
		if i == 0 || from.Before(begin) {
			from = begin
		}
		if i+1 < len(c.Kept) && c.Kept[i+1].From.Before(now) {
			to = c.Kept[i+1].From
		}
		lay := math.Max(0, to.Sub(from).Hours()/24)
		switch {
		case s.Away:
			away += lay
		case s.Temp >= over:
			days += lay
			if !s.Read {
				unread += lay
			}
		}
	}
	return days, unread, away
}

// CountsMore compares how warm the wheel was kept, up to an instant, with what the case said
// before its air was entered, corrected or cancelled. over: a law that asks for warm days held
// the wheel for a time that was read as too cold, and doesn't now, or nobody has read it any
// more. filled: days that nobody had read count now.
func (c Case) CountsMore(was Case, now time.Time) (over, filled bool) {
	milk := c.Life.Make.Milk.Treatment
	for _, r := range c.Laws().Rules {
		if !r.Warm || !r.Binds(milk) {
			continue
		}
		for _, list := range [][]Kept{was.Kept, c.Kept} {
			for i, k := range list {
				at := k.From
				if i == 0 {
					at = c.Life.Make.Date.Start(c.Loc)
				}
				if !at.Before(now) {
					break
				}
				x, y := keptAt(was.Kept, at), keptAt(c.Kept, at)
				cold := func(k Kept) bool { return k.Read && k.Temp < r.MinTemp }
				over = over || cold(x) && !cold(y)
				filled = filled || !x.Read && !x.Away && y.Read && y.Temp >= r.MinTemp
			}
		}
	}
	return over, filled
}

// keptAt is the stretch that an instant is in.
func keptAt(ks []Kept, at time.Time) (k Kept) {
	for i, x := range ks {
		if i > 0 && x.From.After(at) {
			break
		}
		k = x
	}
	return k
}
