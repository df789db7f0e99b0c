package cli

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/wheel/drying"
)

// loadFlags are what it takes to say what the wheels' water does to a room.
func (f *loadFlags) add(c *cobra.Command) {
	c.Flags().Float64Var(&f.volume, "volume", 0, "the room's air, `M3`: what its wheels' water does to the humidity")
	c.Flags().Float64Var(&f.change, "air-change", 0.2, "air changes with outside air, `TIMES` an hour")
	c.Flags().StringVar(&f.outsideTemp, "outside-temp", "10C", "the outside air's `TEMPERATURE`")
	c.Flags().StringVar(&f.outsideRH, "outside-rh", "75%", "the outside air's humidity, `PERCENT`")
	c.Flags().BoolVar(&f.without, "no-water", false, "leave out the water of the wheels, which takes a forecast of each")
}

type loadFlags struct {
	volume, change         float64
	outsideTemp, outsideRH string
	without                bool
}

// given reads the flags; a volume of 0 means that nothing was asked.
func (f *loadFlags) given() (air.Exchange, error) {
	x := air.Exchange{VolumeM3: f.volume, ChangesPerHour: f.change}
	if f.without && f.volume > 0 {
		return x, usagef("--no-water leaves out what --volume is for; give one of them")
	}
	if f.volume < 0 || f.volume > 1e6 || f.change < 0 || f.change > 100 {
		return x, usagef("--volume runs from 0 to 1000000 m3 and --air-change from 0 to 100 an hour")
	}
	var err error
	if x.Outside.Temp, err = need("--outside-temp", f.outsideTemp, quantity.ParseTemp); err != nil {
		return x, err
	}
	x.Outside.RH, err = need("--outside-rh", f.outsideRH, quantity.ParsePercent)
	return x, err
}

// roomLoad is the water a room's wheels give off and what becomes of it.
type roomLoad struct {
	drying.Load
	x       air.Exchange
	burden  air.Burden // meaningless without a volume
	without bool       // nobody asked
}

// waterLoad sums the water that a room's wheels give to its air.
func (s *session) waterLoad(r cave.Room, at time.Time, x air.Exchange, without bool) (roomLoad, error) {
	out := roomLoad{x: x, without: without}
	if without {
		return out, nil
	}
	ws, err := s.tx.WheelsAt(cave.Place(r.Name))
	if err != nil {
		return out, err
	}
	var lodgers []drying.Lodger
	for i, w := range ws {
		if i%64 == 0 && s.ctx.Err() != nil {
			return out, s.ctx.Err()
		}
		c, err := s.caseAt(w, at)
		if err != nil {
			return out, err
		}
		if day.At(at, s.loc) < c.Life.Make.Date {
			continue
		}
		lodgers = append(lodgers, drying.Lodger{Forecast: c.Forecast(), Day: max(0, c.Day(at))})
	}
	out.Load = drying.WaterLoad(lodgers)
	if x.VolumeM3 > 0 {
		out.x.Room = r.SetPoint()
		last, ok, err := s.tx.LastReading(r.Name, at.Add(time.Millisecond))
		if err != nil {
			return out, err
		}
		if ok && at.Sub(last.At) < cave.Stale {
			out.x.Room = r.Corrected(last).State()
		}
		if out.burden, err = out.x.Burden(max(0, out.Now.Best)); err != nil {
			return out, err
		}
	}
	return out, nil
}

type loadDoc struct {
	Wheels  int      `json:"wheels"`
	Now     est      `json:"now_g_per_h"`
	InAWeek est      `json:"in_a_week_g_per_h"`
	Volume  *float64 `json:"volume_m3"`
	Change  *float64 `json:"air_changes_per_h"`
	Settles *float64 `json:"settles_at_rh_pct"`
	Remove  *float64 `json:"to_remove_g_per_h"`
	Rise    *float64 `json:"g_per_h_for_a_point"`
}

func (l roomLoad) doc() *loadDoc {
	if l.without {
		return nil
	}
	d := &loadDoc{Wheels: l.Wheels, Now: estOf(l.Now), InAWeek: estOf(l.InAWeek)}
	if l.x.VolumeM3 > 0 {
		d.Volume, d.Change = num(l.x.VolumeM3), num(l.x.ChangesPerHour)
		d.Settles, d.Remove, d.Rise = pctNum(l.burden.Settles), num(l.burden.RemoveGH), num(l.burden.RiseGH)
	}
	return d
}

func (s *session) loadText(l roomLoad) {
	if l.without {
		return
	}
	if l.Wheels == 0 {
		s.print("no wheels: no water load\n")
		return
	}
	s.print("water from %d wheels: %.0f g an hour (%.0f to %.0f); in a week %.0f g (%.0f to %.0f)\n", l.Wheels, l.Now.Best, l.Now.Low, l.Now.High, l.InAWeek.Best, l.InAWeek.Low, l.InAWeek.High)
	if l.x.VolumeM3 == 0 {
		s.next("what that does to the humidity: give --volume and --air-change")
		return
	}
	s.indented(fmt.Sprintf("%.4g m3 of air changed %.4g times an hour for outside air of %s and %.0f %%: left alone it settles at %.0f %% humidity", l.x.VolumeM3, l.x.ChangesPerHour, s.units.Temp(l.x.Outside.Temp), l.x.Outside.RH.Percent(), l.burden.Settles.Percent()))
	word, g := "a dehumidifier must take out", l.burden.RemoveGH
	if g < 0 {
		word, g = "a humidifier must add", -g
	}
	s.indented(fmt.Sprintf("to hold %.0f %%, %s %.0f g an hour (%.1f l a day)", l.x.Room.RH.Percent(), word, g, g*24/1000))
}
