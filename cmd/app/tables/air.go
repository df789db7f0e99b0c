package tables

import (
	"cmp"
	"io"
	"time"

	"rindkeep/cave"
	"rindkeep/cmd/app"
	"rindkeep/cmd/intake"
	"rindkeep/store/register"
)

// Air reads a logger's table.
type Air struct {
	intake.AirOptions
	Open   func() (io.ReadCloser, error) // the table from its start; it may be read twice
	Report intake.AirReport              // what the last reading of it came to
	Row    int                           // the line read last
}

// AirOf reads a logger's table as a mapping says.
func AirOf(m register.Mapping, open func() (io.ReadCloser, error)) (*Air, error) {
	x := &Air{Open: open, AirOptions: intake.AirOptions{
		Form: cmp.Or(m.Dates, "auto"), Unit: m.Unit, Columns: m.Columns, Sensor: m.Sensor,
	}}
	if m.Zone != "" {
		var err error
		if x.Loc, err = time.LoadLocation(m.Zone); err != nil {
			return nil, app.Misuse("zone", app.NoSuchZone{Zone: m.Zone})
		}
	}
	return x, nil
}

// Read hands the readings over in the file's order; times that name no zone are in that of
// the mapping, or else in zone. An error may be intake.Problems or an intake.Problem.
func (x *Air) Read(zone *time.Location, each func(cave.Reading) error) error {
	if x.Loc == nil {
		x.Loc = zone
	}
	if x.Form == "auto" {
		in, err := x.Open()
		if err != nil {
			return err
		}
		x.Form = cmp.Or(intake.AirOrder(in, x.AirOptions), x.Form)
		in.Close()
	}
	in, err := x.Open()
	if err != nil {
		return err
	}
	defer in.Close()
	rep, bad, err := intake.Air(in, x.AirOptions, func(line int, rd cave.Reading) error {
		x.Row = line
		return each(rd)
	})
	if x.Report = rep; err == nil && len(bad) > 0 {
		err = intake.Problems(bad)
	}
	return err
}
