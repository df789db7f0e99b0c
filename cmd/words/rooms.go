package words

import (
	"fmt"
	"strconv"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app/rooms"
)

// The sentences of rooms and their air.
func init() {
	learn(
		form[cave.OddFraction]("a humidity of {RH:%.2g} % looks like a fraction; write it in percent, like 83%"),
		form[cave.OddDry]("a humidity of {RH:whole} is drier than any ripening room"),
		form[cave.OddHot]("{Temp} is hotter than any ripening room; in Fahrenheit, write it like {Temp:%.0f}F"),
		form[cave.TempLimits]("the set point {Temp} is outside its own limits, {Low} to {High}"),
		form[cave.RHLimits]("the humidity {RH:whole} is outside its own limits, {Low:whole} to {High:whole}"),
		form[rooms.OddReading]("{Why}"),
		form[rooms.FutureReading]("the reading is from {At}, which is in the future; is the time zone right?[ Set it "+
			"with --zone]"),
		form[rooms.NoReading]("no reading of {Room} at that time"),
	)
	flats(map[reason.Flat]string{
		rooms.ClockMissing: "give the reading's time of day too, as air show or the log has it",
	})
}

// Span is how long something lasted: "40 min", "2.5 hours", "3.0 days".
func (p Printer) Span(d time.Duration) string {
	switch {
	case d >= 48*time.Hour:
		return fmt.Sprintf("%.1f days", d.Hours()/24)
	case d >= 2*time.Hour:
		return fmt.Sprintf("%.1f hours", d.Hours())
	}
	return fmt.Sprintf("%.0f min", d.Minutes())
}

// FillNoted writes the sentence of a noted reading.
func (p Printer) FillNoted(n *rooms.Noted) {
	if n.Beyond != nil {
		s := p.Sentence(n.Beyond)
		n.Out = &s
	}
}

// FillAir writes the sentence of a room's alarm.
func (p Printer) FillAir(a *rooms.AirShown) {
	if len(a.Reasons) > 0 {
		s := p.Why(a.Reasons)
		a.Alarm = &s
	}
}

// FillAlarms writes the sentences of alarms.
func (p Printer) FillAlarms(list []rooms.Alarm) {
	for i := range list {
		list[i].What = p.Why(list[i].Reasons)
	}
}

// Water tells of the water that a room's wheels give off, a sentence a line.
func (p Printer) Water(w *rooms.Water) []string {
	if w == nil {
		return nil
	}
	if w.Wheels == 0 {
		return []string{"no wheels: no water load"}
	}
	f := func(x *float64) string {
		if x == nil {
			return "?"
		}
		if p.Units == quantity.Imperial {
			return fmt.Sprintf("%.2f", *p.Hourly(x))
		}
		return fmt.Sprintf("%.0f", *x)
	}
	unit := p.HourlyUnit()
	out := []string{fmt.Sprintf("water from %s: %s %s an hour (%s to %s); in a week %s %s (%s to %s)",
		count(w.Wheels, "wheel"), f(w.Now.Best), unit, f(w.Now.Low), f(w.Now.High), f(w.InAWeek.Best), unit, f(w.InAWeek.Low),
		f(w.InAWeek.High))}
	if w.Settles == nil || w.Remove == nil {
		return out
	}
	x := w.Exchange
	out = append(out, fmt.Sprintf("%.4g m3 of air changed %.4g times an hour for outside air of %s and %s: "+
		"left alone it settles at %.0f %% humidity",
		x.VolumeM3, x.ChangesPerHour, p.Temp(x.Outside.Temp), wholePct(x.Outside.RH), *w.Settles))
	word, g := "a dehumidifier must take out", *w.Remove
	if g < 0 {
		word, g = "a humidifier must add", -g
	}
	daily := fmt.Sprintf("%.1f l", g*24/1000)
	if p.Units == quantity.Imperial {
		daily = p.Units.Volume(quantity.Litres(g * 24 / 1000))
	}
	return append(out, fmt.Sprintf("to hold %s, %s %s %s an hour (%s a day)",
		wholePct(x.Room.RH), word, f(&g), unit, daily))
}

// RH is a relative humidity: "86 %".
func (p Printer) RH(f quantity.Fraction) string { return wholePct(f) }

// SetPoint is the air a room is set to.
func (p Printer) SetPoint(r cave.Room) string {
	return fmt.Sprintf("%s, %s humidity, air %s", p.Temp(r.Temp), p.RH(r.RH), r.Movement)
}

// RoomFacts are what there is to know of a room, each with its name.
func (p Printer) RoomFacts(s rooms.Shown) [][2]string {
	r := s.Room.Room
	wheels := strconv.Itoa(s.Room.Wheels)
	if s.Room.Capacity > 0 {
		wheels += fmt.Sprintf(" of %d", s.Room.Capacity)
	}
	facts := [][2]string{
		{"set to", p.SetPoint(r)},
		{"limits", fmt.Sprintf("%s to %s, %s to %s", p.Temp(r.TempLow), p.Temp(r.TempHigh), bare(r.RHLow), p.RH(r.RHHigh))},
		{"dew point", p.Temp(air.DewPoint(r.SetPoint())) + ": a colder wheel sweats when it comes in"},
		{"wheels", wheels},
	}
	if l := s.Last; l != nil {
		read := fmt.Sprintf("%s, %s at %s", p.Temp(l.Temp), p.RH(l.RH), l.At.Format("Mon 2 Jan 15:04"))
		if len(s.Alarm) > 0 {
			read += "; ALARM: " + p.Why(s.Alarm)
		}
		facts = append(facts, [2]string{"last read", read})
	}
	if n := len(r.Tests); n > 0 {
		x := r.Tests[n-1]
		facts = append(facts, [2]string{"hygrometer",
			fmt.Sprintf("%+.1f points by %s on %s", x.Offset.Percent(), x.Salt, x.At.Format("2 Jan 2006"))})
	}
	return facts
}
