package cli

import (
	"fmt"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/plot"
	"rindkeep/cmd/text"
	"rindkeep/store"
)

func (a *app) airShowCmd() *cobra.Command {
	var days int
	var lf loadFlags
	var pic console.Picture
	c := a.cmd("show ROOM", "A room's air by day, its hours out of limits, its water load", `
rindkeep air show cellar
rindkeep air show cellar --days 60 --volume 80 --air-change 0.5
rindkeep air show cellar --days 30 --svg air.svg`, exactly("ROOM"), func(cmd *cobra.Command, args []string) error {
		if days < 1 || days > 3660 {
			return usagef("--days %d is out of range; give 1 to 3660", days)
		}
		x, err := lf.given()
		if err != nil {
			return err
		}
		if err := pic.Check(a.Console); err != nil {
			return err
		}
		return a.look(func(s *session) error { return s.airShow(args[0], days, x, lf.without, &pic) })
	})
	c.Flags().IntVar(&days, "days", 14, "the last `N` days")
	lf.add(c)
	pic.Flags(c)
	return a.completesArgs(c, roomThen)
}

type rangeDoc struct {
	Min  *float64 `json:"min"`
	Mean *float64 `json:"mean"`
	Max  *float64 `json:"max"`
}

type airDay struct {
	Date     string   `json:"date"`
	Readings int      `json:"readings"`
	Temp     rangeDoc `json:"temp_c"`
	RH       rangeDoc `json:"rh_pct"`
	HoursOut *float64 `json:"hours_out"`
}

func (s *session) airShow(name string, days int, x air.Exchange, without bool, pic *console.Picture) error {
	r, err := s.tx.Room(name)
	if err != nil {
		return at(safeWord(name), err)
	}
	until, on, err := s.asOf()
	if err != nil {
		return err
	}
	d := cave.Digest{Room: r, Loc: s.loc}
	var rows []cave.Reading
	err = s.tx.EachReading(r.Name, (on - day.Date(days-1)).Start(s.loc), until.Add(time.Millisecond), func(rd cave.Reading) bool {
		rd = r.Corrected(rd)
		d.Add(rd)
		if n := len(rows); n == 0 || rd.At.Sub(rows[n-1].At) >= time.Duration(days)*3*time.Minute {
			rows = append(rows, rd)
		}
		return true
	})
	if err != nil {
		return err
	}
	d.Close(until)
	if done, err := pic.Put(s.Console, airChart(r, rows, s.loc).SVG); err != nil || done {
		return err
	}
	last, read, err := s.tx.LastReading(r.Name, until.Add(time.Millisecond))
	if err != nil {
		return err
	}
	var alarm reason.List
	if read {
		alarm = r.Alarm(r.Corrected(last), until)
	}
	load, err := s.waterLoad(r, until, x, without)
	if err != nil {
		return err
	}
	if s.json {
		list := []airDay{}
		for _, x := range d.Days {
			list = append(list, airDay{x.Date.String(), x.Readings, rangeDoc{num(x.Temp.Min), num(x.Temp.Mean), num(x.Temp.Max)}, rangeDoc{num(x.RH.Min), num(x.RH.Mean), num(x.RH.Max)}, num(x.HoursOut)})
		}
		return s.document(struct {
			Schema  string      `json:"schema"`
			Room    string      `json:"room"`
			Days    []airDay    `json:"days"`
			Gaps    int         `json:"gaps"`
			Longest *float64    `json:"longest_gap_h"`
			Alarm   *string     `json:"alarm"`
			Reasons reason.List `json:"reasons"`
			Load    *loadDoc    `json:"water_load"`
		}{schema("air"), r.Name, list, d.Gaps, num(d.Worst.Hours()), orNull(s.printer().Why(alarm)), alarm, load.doc()})
	}
	s.print("%s  set to %s, %.0f %%\n", s.style("1")(r.Name), s.units.Temp(r.Temp), r.RH.Percent())
	if len(alarm) > 0 {
		s.print("ALARM: %s\n", s.printer().Why(alarm))
	}
	s.print("\n")
	if len(d.Days) == 0 {
		s.print("no readings in these days\n")
		s.next("note one: rindkeep air log %s 12.1C 86%%   or load a logger: rindkeep air import %s FILE", r.Name, r.Name)
	} else {
		if len(rows) > 2 {
			ch := airChart(r, rows, s.loc)
			ch.Panels = ch.Panels[1:] // the humidity; the table has the temperature
			s.lines(ch.Text(s.env.Columns(), 9))
			s.lines(ch.Legend(s.env.Columns()))
			s.print("\n")
		}
		t := text.Table{Columns: []text.Column{{Title: "day"}, {Title: "temp min", Right: true}, {Title: "mean", Right: true}, {Title: "max", Right: true}, {Title: "humidity min", Right: true}, {Title: "mean", Right: true}, {Title: "max", Right: true}, {Title: "hours out", Right: true}}}
		for _, x := range d.Days {
			c := func(v float64) string { return s.units.Temp(quantity.Celsius(v)) }
			t.Add(x.Date.Short(), c(x.Temp.Min), c(x.Temp.Mean), c(x.Temp.Max), fmt.Sprintf("%.0f %%", x.RH.Min), fmt.Sprintf("%.0f %%", x.RH.Mean), fmt.Sprintf("%.0f %%", x.RH.Max), fmt.Sprintf("%.1f", x.HoursOut))
		}
		s.lines(t.Lines(s.env.Columns()))
		if d.Gaps > 0 {
			s.print("%s of over %s, the longest %s\n", text.Count(d.Gaps, "gap"), plainSpan(cave.MaxStand), plainSpan(d.Worst))
		}
	}
	s.print("\n")
	s.loadText(load)
	return nil
}

// airChart is the readings of a room under each other, with its limits.
func airChart(r cave.Room, rows []cave.Reading, loc *time.Location) plot.Chart {
	const gap = 36 * time.Hour
	temp := plot.Measured{Name: "temperature, C", Low: float64(r.TempLow), High: float64(r.TempHigh), Gap: gap}
	humid := plot.Measured{Name: "humidity, %", Low: r.RHLow.Percent(), High: r.RHHigh.Percent(), Gap: gap}
	for _, rd := range rows {
		temp.Moments = append(temp.Moments, plot.Moment{At: rd.At, Y: float64(rd.Temp)})
		humid.Moments = append(humid.Moments, plot.Moment{At: rd.At, Y: rd.RH.Percent()})
	}
	return plot.Course{Title: "air of " + r.Name, Loc: loc, Measured: []plot.Measured{temp, humid}}.Chart()
}

type alarmDoc struct {
	Room    string      `json:"room"`
	What    string      `json:"what"`
	Reasons reason.List `json:"reasons"`
	Read    string      `json:"last_read"`
}

// alarms are the rooms whose air is wrong or not being read. A room that was
// never read is none of them: its maker may have no hygrometer.
func (s *session) alarms(until time.Time) ([]alarmDoc, error) {
	rooms, err := s.tx.Rooms()
	if err != nil {
		return nil, err
	}
	out := []alarmDoc{}
	for _, r := range rooms {
		last, ok, err := s.tx.LastReading(r.Name, until.Add(time.Millisecond))
		if err != nil {
			return nil, err
		}
		if !ok {
			continue
		}
		what := r.Alarm(r.Corrected(last), until)
		if len(what) > 0 && until.Sub(last.At) > cave.Stale {
			// Nobody reads the air of a room that is empty.
			shelves, err := s.tx.ShelfCounts(cave.Place(r.Name))
			if err != nil {
				return nil, err
			}
			if !slices.ContainsFunc(shelves, func(c store.ShelfCount) bool { return c.Wheels > 0 }) {
				continue
			}
		}
		if len(what) > 0 {
			out = append(out, alarmDoc{r.Name, s.printer().Why(what), what, instant(last.At, s.loc)})
		}
	}
	return out, nil
}
