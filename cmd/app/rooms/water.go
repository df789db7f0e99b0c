package rooms

import (
	"time"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/wheel/drying"
)

// WaterAsked is what to tell of the water that a room's wheels give off.
type WaterAsked struct {
	Exchange air.Exchange // volume 0: what it does to the humidity isn't asked
	Without  bool         // leave it out: it takes a forecast of each wheel
}

// The bounds of a room and its ventilation: beyond them a figure was mistyped.
const (
	maxVolumeM3       = 1e6
	maxChangesPerHour = 100
)

// Check refuses figures that no room has.
func (w WaterAsked) Check() error {
	x := w.Exchange
	switch {
	case w.Without && x.VolumeM3 > 0:
		return app.Misuse("", reason.Together{What: "no-water", Other: "volume"})
	case !(x.VolumeM3 >= 0 && x.VolumeM3 <= maxVolumeM3):
		return app.Misuse("volume", reason.Outside[float64]{What: "volume_m3", Value: x.VolumeM3, High: maxVolumeM3})
	case !(x.ChangesPerHour >= 0 && x.ChangesPerHour <= maxChangesPerHour):
		return app.Misuse("air-change",
			reason.Outside[float64]{What: "air-change", Value: x.ChangesPerHour, High: maxChangesPerHour})
	}
	return nil
}

// Water is the water a room's wheels give off, and what comes of it.
type Water struct {
	Wheels  int      `json:"wheels"`
	Now     app.Est  `json:"now_g_per_h"`
	InAWeek app.Est  `json:"in_a_week_g_per_h"`
	Volume  *float64 `json:"volume_m3"`
	Change  *float64 `json:"air_changes_per_h"`
	Settles *float64 `json:"settles_at_rh_pct"`   // left alone
	Remove  *float64 `json:"to_remove_g_per_h"`   // to hold the room's humidity; below 0: to add
	Rise    *float64 `json:"g_per_h_for_a_point"` // of humidity

	Exchange air.Exchange `json:"-"`
}

func waterLoad(s *app.Session, r cave.Room, at time.Time, w WaterAsked) (*Water, error) {
	if w.Without {
		return nil, nil
	}
	ws, err := s.Tx.WheelsAt(cave.Place(r.Name))
	if err != nil {
		return nil, err
	}
	var load drying.Load
	for i, st := range ws {
		if i%64 == 0 && s.Ctx.Err() != nil {
			return nil, s.Ctx.Err()
		}
		c, err := s.CaseAt(st, at)
		if err != nil {
			return nil, err
		}
		if day.At(at, s.Zone) >= c.Life.Make.Date {
			f := c.Forecast()
			load.Add(f, f.Start().Green, max(0, c.Day(at)))
		}
	}
	out := &Water{Wheels: load.Wheels, Now: app.EstOf(load.Now), InAWeek: app.EstOf(load.InAWeek), Exchange: w.Exchange}
	if w.Exchange.VolumeM3 == 0 {
		return out, nil
	}
	x := &out.Exchange
	x.Room = r.SetPoint()
	last, ok, err := lastReading(s, r, at)
	if err != nil {
		return nil, err
	}
	if ok && at.Sub(last.At) < cave.Stale {
		x.Room = last.State()
	}
	b, err := x.Burden(max(0, load.Now.Best))
	if err != nil {
		return nil, err
	}
	out.Volume, out.Change = app.Num(x.VolumeM3), app.Num(x.ChangesPerHour)
	out.Settles, out.Remove, out.Rise = app.PctNum(b.Settles), app.Num(b.RemoveGH), app.Num(b.RiseGH)
	return out, nil
}

// lastReading is the last reading of a room by an instant, corrected by the test
// of its hygrometer, in the book's zone; ok is false where there is none.
func lastReading(s *app.Session, r cave.Room, at time.Time) (rd cave.Reading, ok bool, err error) {
	rd, ok, err = s.Tx.LastReading(r.Name, at.Add(time.Millisecond))
	if ok && err == nil {
		rd = r.Corrected(rd)
		rd.At = rd.At.In(s.Zone)
	}
	return rd, ok, err
}
