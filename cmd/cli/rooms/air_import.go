package rooms

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/spf13/cobra"

	"rindkeep/cave"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/text"
)

// importFlags say how a logger writes its file.
type importFlags struct {
	zone, form, unit, sheet, mapping, sensor string

	sure, try bool
}

func importCmd(c *console.Console) *cobra.Command {
	var f importFlags
	cmd := c.Cmd("import ROOM FILE", "Load a logger's CSV or XLSX", `
rindkeep air import cellar logger.csv
rindkeep air import cellar logger.csv --time-format dmy --zone UTC
rindkeep air import fridge - --unit F < logger.csv
rindkeep air import cellar logger.csv --map="temperature=Probe 2,humidity=RH 2" --dry-run
rindkeep air import cellar bare.csv --map=time=A,temperature=B,humidity=C   no headings`,
		console.Exactly("ROOM", "FILE"), func(_ *cobra.Command, args []string) error {
			o, err := f.options()
			if err != nil {
				return err
			}
			return importAir(c, args[0], args[1], f, o)
		})
	fl := cmd.Flags()
	fl.StringVar(&f.zone, "zone", "", "IANA `ZONE` of the file's times (default: the book's)")
	fl.StringVar(&f.sheet, "sheet", "", "`NAME` of the workbook's sheet (default: its first)")
	fl.StringVar(&f.form, "time-format", "auto", "order of its dates: `auto|ymd|dmy|mdy|unix`")
	fl.StringVar(&f.mapping, "map", "", "its columns, `FIELD=HEADING,..`; a letter where it has no headings")
	fl.StringVar(&f.sensor, "sensor", "", "`NAME` of the sensor, where its rows are of several")
	fl.BoolVar(&f.try, "dry-run", false, "show what would be recorded, and record nothing")
	fl.BoolVar(&f.sure, "sure", false, "load it although readings look wrong")
	fl.StringVar(&f.unit, "unit", "", "unit of its temperatures: `C|F` (default: as its heading says)")
	return c.CompletesArgs(cmd, roomNames)
}

func (f importFlags) options() (intake.AirOptions, error) {
	o := intake.AirOptions{Form: f.form}
	switch f.form {
	case "auto", "ymd", "dmy", "mdy", "unix":
	default:
		return o, console.At("--time-format",
			console.Usagef("no time format %q; give auto, ymd, dmy, mdy or unix", console.SafeWord(f.form)))
	}
	switch f.unit {
	case "", "C", "F":
		o.Unit = f.unit
	case "c":
		o.Unit = "C"
	case "f":
		o.Unit = "F"
	default:
		return o, console.At("--unit", console.Usagef("no unit %q; give C or F", console.SafeWord(f.unit)))
	}
	var err error
	if o.Columns, err = intake.AirMapping(f.mapping); err != nil {
		return o, app.Misread("map", err)
	}
	o.Sensor = f.sensor
	if f.zone != "" {
		loc, err := time.LoadLocation(f.zone)
		if err != nil || f.zone == "Local" {
			return o, app.Misuse("zone", app.NoSuchZone{Zone: f.zone})
		}
		o.Loc = loc
	}
	return o, nil
}

func importAir(c *console.Console, room, file string, f importFlags, o intake.AirOptions) error {
	path := file
	if file == "-" { // it is read twice
		tmp, err := spooled(c)
		if err != nil {
			return err
		}
		defer os.Remove(tmp)
		path = tmp
	}
	var rep intake.AirReport
	row := 0
	got, err := rooms.ImportAir(c.Ctx, c.App, c.Caller(), room, f.sure, f.try,
		func(zone *time.Location, each func(cave.Reading) error) error {
			if o.Loc == nil {
				o.Loc = zone
			}
			if o.Form == "auto" {
				in, err := c.OpenTable(path, file, f.sheet)
				if err != nil {
					return err
				}
				o.Form = cmp.Or(intake.AirOrder(in, o), o.Form)
				in.Close()
			}
			in, err := c.OpenTable(path, file, f.sheet)
			if err != nil {
				return err
			}
			defer in.Close()
			var bad []intake.Problem
			rep, bad, err = intake.Air(in, o, func(line int, rd cave.Reading) error {
				row = line
				return each(rd)
			})
			if p := new(intake.Problem); errors.As(err, p) {
				err = intake.In(file, err)
			}
			if err != nil {
				return app.About(file, err)
			}
			if len(bad) > 0 {
				return c.Problems(file, bad)
			}
			return nil
		})
	if err != nil {
		switch r := app.AsRefusal(err); r.Why.(type) {
		case rooms.OddReading, rooms.FutureReading:
			r.Why = intake.Problem{File: file, Line: row, Why: r.Why}
			return r.Of(fmt.Sprintf("%s:%d", file, row))
		}
		return err
	}
	c.Committed = !f.try
	return showImported(c, got, rep, o.Loc)
}

// spooled copies standard input to a file.
func spooled(c *console.Console) (string, error) {
	tmp, err := os.CreateTemp("", "rindkeep-air-*.csv")
	if err != nil {
		return "", fmt.Errorf("no room for a temporary copy: %s", console.PlainOS(err))
	}
	_, err = io.Copy(tmp, c.Env.In)
	if cerr := tmp.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		os.Remove(tmp.Name())
		return "", fmt.Errorf("cannot read standard input: %s", console.PlainOS(err))
	}
	return tmp.Name(), nil
}

func showImported(c *console.Console, got rooms.Imported, rep intake.AirReport, zone *time.Location) error {
	known := rep.Rows - got.Added
	if got.Try {
		known = 0 // nobody looked
	}
	if c.JSON {
		return c.Document(struct {
			Schema  string   `json:"schema"`
			Room    string   `json:"room"`
			Rows    int      `json:"rows"`
			Added   int      `json:"added"`
			Known   int      `json:"known_already"`
			Blank   int      `json:"blank"`
			Twice   int      `json:"twice"`
			Back    int      `json:"out_of_order"`
			Gaps    int      `json:"gaps"`
			Longest *float64 `json:"longest_gap_h"`
			First   string   `json:"first"`
			Last    string   `json:"last"`
			Unit    string   `json:"unit"`
			Try     bool     `json:"dry_run"`
		}{app.Schema("air-import"), got.Room, rep.Rows, got.Added, known, rep.Blank, rep.Twice, rep.Back,
			rep.Gaps,
			app.Num(rep.Worst.Hours()), app.Instant(rep.First, zone), app.Instant(rep.Last, zone), rep.Suffix, got.Try})
	}
	at := func(t time.Time) string { return t.In(zone).Format("2006-01-02 15:04") }
	added := fmt.Sprintf("%d new", got.Added)
	if got.Try {
		added = "none recorded: a dry run"
	}
	c.Print("%s: %s from %s to %s, %s\n", got.Room, text.Count(rep.Rows, "reading"), at(rep.First), at(rep.Last), added)
	for _, x := range []struct {
		n    int
		what string
	}{
		{rep.Blank, "without a reading, left out"},
		{rep.Twice, "with the same time as the row before"},
		{rep.Back, "older than the row before, put in their place"},
	} {
		if x.n > 0 {
			c.Print("  %s %s\n", text.Count(x.n, "row"), x.what)
		}
	}
	if rep.Gaps > 0 {
		c.Print("  %s longer than three times the usual step of %s; the longest %s\n",
			text.Count(rep.Gaps, "gap"), c.Words.Span(rep.Step), c.Words.Span(rep.Worst))
	}
	c.Next("temperatures taken as %s; see them: rindkeep air show %s", rep.Suffix, got.Room)
	return nil
}
