package rooms

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"rindkeep/cave"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/app/tables"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/text"
	"rindkeep/store/register"
)

// importFlags say how a logger writes its file.
type importFlags struct {
	console.TableFlags

	zone, form, sensor string
	sure               bool
	why                string
}

func importCmd(c *console.Console) *cobra.Command {
	var f importFlags
	cmd := c.Cmd("import ROOM FILE", "Load a logger's CSV or XLSX", `
rindkeep air import cellar logger.csv
rindkeep air import cellar logger.csv --time-format dmy --zone UTC
rindkeep air import fridge - --unit F < logger.csv
rindkeep air import cellar logger.csv --map="temperature=Probe 2,humidity=RH 2" --dry-run
rindkeep air import cellar bare.csv --map=time=A,temperature=B,humidity=C   no headings
rindkeep air import cellar march.csv --mapping "cellar logger"     as its file was read before`,
		console.Exactly("ROOM", "FILE"), func(_ *cobra.Command, args []string) error {
			return importAir(c, args[0], args[1], &f)
		})
	fl := cmd.Flags()
	fl.StringVar(&f.zone, "zone", "", "IANA `ZONE` of the file's times (default: the book's)")
	fl.StringVar(&f.form, "time-format", "auto", "order of its dates: `auto|ymd|dmy|mdy|unix`")
	f.MapFlag(fl, "")
	f.Add(fl, "")
	fl.StringVar(&f.sensor, "sensor", "", "`NAME` of the sensor, where its rows are of several")
	fl.BoolVar(&f.sure, "sure", false, "load it although readings look wrong, or end a safety hold")
	whyFlag(cmd, &f.why)
	fl.StringVar(&f.Unit, "unit", "", "unit of its temperatures: `C|F` (default: as its heading says)")
	return c.CompletesArgs(cmd, roomNames)
}

// given is what the flags say of the file.
func (f *importFlags) given() (register.Mapping, error) {
	unit := strings.ToUpper(f.Unit)
	if unit != "" && unit != "C" && unit != "F" {
		return register.Mapping{}, console.At("--unit", console.Usagef("no unit %q; give C or F", console.SafeWord(f.Unit)))
	}
	named := f.TableFlags
	named.Unit = ""
	m, err := named.Given(register.OfAir)
	m.Unit, m.Sensor, m.Zone = unit, f.sensor, f.zone
	switch f.form {
	case "auto":
	case "ymd", "dmy", "mdy", "unix":
		m.Dates = f.form
	default:
		return m, console.At("--time-format",
			console.Usagef("no time format %q; give auto, ymd, dmy, mdy or unix", console.SafeWord(f.form)))
	}
	if _, lerr := time.LoadLocation(f.zone); lerr != nil || f.zone == "Local" {
		return m, app.Misuse("zone", app.NoSuchZone{Zone: f.zone})
	}
	return m, err
}

func importAir(c *console.Console, room, file string, f *importFlags) error {
	given, err := f.given()
	if err != nil {
		return err
	}
	path := file
	if file == "-" { // it is read twice
		tmp, err := spooled(c)
		if err != nil {
			return err
		}
		defer os.Remove(tmp)
		path = tmp
	}
	return c.Tabled(given, console.Table{File: file, Flags: &f.TableFlags,
		Take: func(m register.Mapping, try bool) (func() error, error) {
			return takeAir(c, room, file, path, f, m, try)
		}})
}

// takeAir loads the file as the mapping says.
func takeAir(
	c *console.Console, room, file, path string, f *importFlags, m register.Mapping, try bool,
) (func() error, error) {
	var unopened error
	air, err := tables.AirOf(m, func() (in io.ReadCloser, err error) {
		in, unopened = c.OpenTable(path, file, f.Sheet)
		return in, unopened
	})
	if err != nil {
		return nil, err
	}
	named := filepath.Base(file)
	if file == "-" {
		named = ""
	}
	got, err := console.AskedAgain(c, func(yes bool) (rooms.Imported, error) {
		q := rooms.Load{Room: room, File: named, Try: try, Sure: f.sure || yes, Why: f.why}
		return rooms.ImportAir(c.Ctx, c.App, c.Caller(), q, func(zone *time.Location, each func(cave.Reading) error) error {
			err := air.Read(zone, each)
			var bad intake.Problems
			if err == nil || unopened != nil || errors.As(err, &bad) {
				return err
			}
			if p := new(intake.Problem); errors.As(err, p) {
				err = intake.In(file, err)
			}
			return app.About(file, err)
		})
	})
	if err != nil {
		switch r := app.AsRefusal(err); r.Why.(type) {
		case rooms.OddReading, rooms.FutureReading:
			r.Why = intake.Problem{File: file, Line: air.Row, Why: r.Why}
			return nil, r.Of(fmt.Sprintf("%s:%d", file, air.Row))
		}
		return nil, err
	}
	c.Committed = c.Committed || !try
	return func() error { return showImported(c, got, air.Report, air.Loc) }, nil
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
