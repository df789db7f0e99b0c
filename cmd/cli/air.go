package cli

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

func (a *app) airCmd() *cobra.Command {
	return a.group("air", "The rooms' air: log it, load a logger's file, look at it, test a hygrometer",
		a.airLogCmd(), a.airImportCmd(), a.airShowCmd(), a.airTestCmd(), a.airStrikeCmd())
}

func roomThen(s *session, nth int, _ string) []string {
	if nth > 0 {
		return nil
	}
	return s.roomNames()
}

func (a *app) airLogCmd() *cobra.Command {
	var sure bool
	c := a.cmd("log ROOM TEMP RH", "Note a room's temperature and humidity", `
rindkeep air log cellar 12.1C 86%
rindkeep air log fridge 45F 81% --at 07:30`, exactly("ROOM", "TEMP", "RH"), func(cmd *cobra.Command, args []string) error {
		t, err := need("TEMP", args[1], quantity.ParseTemp)
		if err != nil {
			return err
		}
		h, err := need("RH", args[2], quantity.ParsePercent)
		if err != nil {
			return err
		}
		return a.update(func(s *session) error {
			r, err := s.tx.Room(args[0])
			if err != nil {
				return at(safeWord(args[0]), err)
			}
			when, _, err := s.moment()
			if err != nil {
				return err
			}
			rd := cave.Reading{At: when, Temp: t, RH: h}
			if why := rd.Odd(); why != "" && !sure {
				return at("RH", unsure(errors.New(why), ""))
			}
			n, err := s.write.PutAir(r.Name, []cave.Reading{rd})
			if err != nil {
				return err
			}
			fixed := r.Corrected(rd)
			p, err := air.Of(fixed.State())
			if err != nil {
				return err
			}
			out := reason.ListOf(r.Out(fixed.State()))
			if s.json {
				return s.document(struct {
					Schema   string      `json:"schema"`
					Room     string      `json:"room"`
					At       string      `json:"at"`
					Temp     *float64    `json:"temp_c"`
					Read     *float64    `json:"rh_read_pct"`
					RH       *float64    `json:"rh_pct"`
					DewPoint *float64    `json:"dew_point_c"`
					Out      *string     `json:"out_of_limits"`
					Reasons  reason.List `json:"reasons"`
					Same     bool        `json:"no_change"`
				}{
					schema("air-log"), r.Name, instant(when, s.loc), num(float64(t)), pctNum(h), pctNum(fixed.RH), num(float64(p.DewPoint)),
					orNull(s.printer().Why(out)), out, n == 0,
				})
			}
			if n == 0 {
				s.print("no change, noted already\n")
				return nil
			}
			s.print("%s  %s, %.0f %% humidity, dew point %s\n", r.Name, s.units.Temp(t), fixed.RH.Percent(), s.units.Temp(p.DewPoint))
			if fixed.RH != rd.RH {
				s.print("  the hygrometer read %.0f %%; %+.1f points by its last test\n", rd.RH.Percent(), (fixed.RH - rd.RH).Percent())
			}
			if len(out) > 0 {
				s.print("  OUT OF LIMITS: %s\n", s.printer().Why(out))
			}
			return nil
		})
	})
	c.Flags().BoolVar(&sure, "sure", false, "record it although it looks wrong")
	return a.completesArgs(c, roomThen)
}

func (a *app) airStrikeCmd() *cobra.Command {
	var why string
	c := a.cmd("strike ROOM TIME", "Take a reading back: it stays in the book and counts no more", `
rindkeep air strike cellar "2026-11-25 08:10" --why "12 C, not 2 C"
rindkeep air strike cellar last --why "read the wrong dial"`, exactly("ROOM", "TIME"), func(cmd *cobra.Command, args []string) error {
		if strings.TrimSpace(why) == "" {
			return usagef("--why is missing: say why the reading is taken back")
		}
		return a.update(func(s *session) error {
			r, err := s.tx.Room(args[0])
			if err != nil {
				return at(safeWord(args[0]), err)
			}
			if err := wheel.CheckNote(why); err != nil {
				return at("--why", err)
			}
			from, to := time.Time{}, s.now.Add(time.Hour)
			if !strings.EqualFold(args[1], "last") {
				t, exact, err := s.momentOf(args[1], "TIME")
				if err != nil {
					return err
				}
				if !exact {
					return at("TIME", usagef("give the reading's time of day too, as air show or the log has it"))
				}
				from, to = t.Truncate(time.Minute), t.Truncate(time.Minute).Add(time.Minute)
			}
			rd, ok, err := s.tx.LastReading(r.Name, to)
			if err != nil {
				return err
			}
			if !ok || rd.At.Before(from) {
				return at(safeWord(args[1]), fmt.Errorf("no reading of %s at that time", r.Name))
			}
			r.Struck = append(r.Struck, cave.StruckReading{At: rd.At, Why: why, By: s.who, Written: s.now})
			if err := s.write.PutRoom(r); err != nil {
				return err
			}
			if s.json {
				return s.document(struct {
					Schema string   `json:"schema"`
					Room   string   `json:"room"`
					At     string   `json:"at"`
					Temp   *float64 `json:"temp_c"`
					RH     *float64 `json:"rh_read_pct"`
				}{schema("air-strike"), r.Name, instant(rd.At, s.loc), num(float64(rd.Temp)), pctNum(rd.RH)})
			}
			s.print("taken back: %s  %s, %.0f %% of %s\n", r.Name, s.units.Temp(rd.Temp), rd.RH.Percent(), rd.At.In(s.loc).Format("2006-01-02 15:04"))
			return nil
		})
	})
	c.Flags().StringVar(&why, "why", "", "the reason, a `TEXT`")
	return a.completesArgs(c, roomThen)
}

func orNull(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

func (a *app) airImportCmd() *cobra.Command {
	var zone, form, unit, sheet string
	var sure bool
	c := a.cmd("import ROOM FILE", "Load a logger's CSV or XLSX", `
rindkeep air import cellar logger.csv
rindkeep air import cellar logger.csv --time-format dmy --zone UTC
rindkeep air import fridge - --unit F < logger.csv`, exactly("ROOM", "FILE"), func(cmd *cobra.Command, args []string) error {
		o := intake.AirOptions{Form: form}
		switch form {
		case "auto", "ymd", "dmy", "mdy", "unix":
		default:
			return at("--time-format", usagef("no time format %q; give auto, ymd, dmy, mdy or unix", safeWord(form)))
		}
		switch unit {
		case "", "C", "F":
		case "c", "f":
			unit = map[string]string{"c": "C", "f": "F"}[unit]
		default:
			return at("--unit", usagef("no unit %q; give C or F", safeWord(unit)))
		}
		o.Unit = unit
		if zone != "" {
			loc, err := time.LoadLocation(zone)
			if err != nil || zone == "Local" {
				return at("--zone", usagef("no time zone %q; give an IANA name like Europe/Dublin", safeWord(zone)))
			}
			o.Loc = loc
		}
		return a.airImport(args[0], args[1], sheet, o, sure)
	})
	f := c.Flags()
	f.StringVar(&zone, "zone", "", "IANA `ZONE` of the file's times (default: the book's)")
	f.StringVar(&sheet, "sheet", "", "the workbook's sheet of this `NAME` (default: its first)")
	f.StringVar(&form, "time-format", "auto", "order of its dates: `auto|ymd|dmy|mdy|unix`")
	f.BoolVar(&sure, "sure", false, "load it although readings look wrong")
	f.StringVar(&unit, "unit", "", "of its temperatures: `C|F` (default: as its heading says)")
	return a.completesArgs(c, roomThen)
}

// airBatch is how many readings one transaction takes: enough to be quick, few
// enough to bound memory.
const airBatch = 50_000

// airImport reads the file twice: once to see that all of it is sound, once to
// write it, part by part. A run that is cut short may be run again: what is in
// the book already changes nothing.
func (a *app) airImport(room, file, sheet string, o intake.AirOptions, sure bool) error {
	path := file
	if file == "-" {
		tmp, err := os.CreateTemp("", "rindkeep-air-*.csv")
		if err != nil {
			return fmt.Errorf("no room for a temporary copy: %s", plainOS(err))
		}
		defer os.Remove(tmp.Name())
		if _, err := io.Copy(tmp, a.env.In); err != nil {
			tmp.Close()
			return fmt.Errorf("cannot read standard input: %s", plainOS(err))
		}
		if err := tmp.Close(); err != nil {
			return err
		}
		path = tmp.Name()
	}
	var r cave.Room
	var now time.Time
	if err := a.view(func(s *session) error {
		var err error
		if r, err = s.tx.Room(room); err != nil {
			return at(safeWord(room), err)
		}
		if o.Loc == nil {
			o.Loc = s.loc
		}
		now = s.now
		return nil
	}); err != nil {
		return err
	}
	read := func(fn func(cave.Reading) error) (intake.AirReport, error) {
		in, err := a.openTable(path, file, sheet)
		if err != nil {
			return intake.AirReport{}, err
		}
		defer in.Close()
		rep, bad, err := intake.Air(in, o, fn)
		if err != nil {
			return rep, at(file, fmt.Errorf("%s: %w", safeWord(file), err))
		}
		if len(bad) > 0 {
			return rep, a.problems(file, bad)
		}
		return rep, nil
	}
	n := 0
	rep, err := read(func(rd cave.Reading) error {
		if n++; n%10000 == 0 && a.ctx.Err() != nil {
			return a.ctx.Err()
		}
		odd := ""
		if !sure {
			odd = rd.Odd()
		}
		if odd != "" {
			return fmt.Errorf("reading %d: %s; if the file is right, repeat with --sure", n, odd)
		}
		if rd.At.After(now.Add(2 * time.Minute)) {
			return fmt.Errorf("reading %d is of %s, which is in the future; is the time zone right? say it with --zone", n, rd.At.In(o.Loc).Format("2006-01-02 15:04"))
		}
		return nil
	})
	if err != nil {
		return err
	}
	added := 0
	var batch []cave.Reading
	flush := func() error {
		return a.update(func(s *session) error {
			k, err := s.write.PutAir(r.Name, batch)
			added += k
			batch = batch[:0]
			return err
		})
	}
	if _, err := read(func(rd cave.Reading) error {
		batch = append(batch, rd)
		if len(batch) == airBatch {
			return flush()
		}
		return nil
	}); err != nil {
		return err
	}
	if len(batch) > 0 {
		if err := flush(); err != nil {
			return err
		}
	}
	return a.airImported(r, rep, added, o)
}

func (a *app) airImported(r cave.Room, rep intake.AirReport, added int, o intake.AirOptions) error {
	if a.json {
		return a.document(struct {
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
		}{schema("air-import"), r.Name, rep.Rows, added, rep.Rows - added, rep.Blank, rep.Twice, rep.Back, rep.Gaps, num(rep.Worst.Hours()), instant(rep.First, o.Loc), instant(rep.Last, o.Loc), rep.Suffix})
	}
	a.print("%s: %s from %s to %s, %d new\n", r.Name, text.Count(rep.Rows, "reading"), rep.First.In(o.Loc).Format("2006-01-02 15:04"), rep.Last.In(o.Loc).Format("2006-01-02 15:04"), added)
	for _, x := range []struct {
		n    int
		what string
	}{{rep.Blank, "without a reading, left out"}, {rep.Twice, "of the same time as the row before"}, {rep.Back, "from before the row before them, put in their place"}} {
		if x.n > 0 {
			a.print("  %s %s\n", text.Count(x.n, "row"), x.what)
		}
	}
	if rep.Gaps > 0 {
		a.print("  %s longer than three times the usual step of %s; the longest %s\n", text.Count(rep.Gaps, "gap"), plainSpan(rep.Step), plainSpan(rep.Worst))
	}
	a.next("temperatures taken as %s; see them: rindkeep air show %s", rep.Suffix, r.Name)
	return nil
}

func plainSpan(d time.Duration) string {
	switch {
	case d >= 48*time.Hour:
		return fmt.Sprintf("%.1f days", d.Hours()/24)
	case d >= 2*time.Hour:
		return fmt.Sprintf("%.1f hours", d.Hours())
	}
	return fmt.Sprintf("%.0f min", d.Minutes())
}

func (a *app) airTestCmd() *cobra.Command {
	var room, temp string
	c := a.cmd("test SALT READING", "Check a hygrometer over a saturated salt, and keep its offset", `
rindkeep air test NaCl 78% --room cellar --temp 12C
rindkeep air test KCl 84% --temp 20C                 only reckons`, exactly("SALT", "READING"), func(cmd *cobra.Command, args []string) error {
		salt, err := need("SALT", args[0], air.ParseSalt)
		if err != nil {
			return err
		}
		read, err := need("READING", args[1], quantity.ParsePercent)
		if err != nil {
			return err
		}
		t, err := need("--temp", temp, quantity.ParseTemp)
		if err != nil {
			return err
		}
		truth, err := salt.RH(t)
		if err != nil {
			return err
		}
		off, err := salt.Offset(read, t)
		if err != nil {
			return err
		}
		if room != "" {
			if err := a.update(func(s *session) error {
				r, err := s.tx.Room(room)
				if err != nil {
					return at(safeWord(room), err)
				}
				when, _, err := s.moment()
				if err != nil {
					return err
				}
				r.Tests = append(r.Tests, cave.SensorTest{At: when, Salt: salt.Formula, Temp: t, Read: read, True: truth, Offset: off, By: s.who})
				return s.write.PutRoom(r)
			}); err != nil {
				return err
			}
		}
		if a.json {
			return a.document(struct {
				Schema string   `json:"schema"`
				Salt   string   `json:"salt"`
				Temp   *float64 `json:"temp_c"`
				Read   *float64 `json:"rh_read_pct"`
				True   *float64 `json:"rh_true_pct"`
				Offset *float64 `json:"offset_points"`
				Room   *string  `json:"room"`
			}{schema("air-test"), salt.Formula, num(float64(t)), pctNum(read), pctNum(truth), num(off.Percent()), orNull(room)})
		}
		a.print("over %s (%s) at %s the air holds %.1f %%, good to 2 points; the hygrometer read %.1f %%: add %+.1f points\n", salt.Name, salt.Formula, a.units.Temp(t), truth.Percent(), read.Percent(), off.Percent())
		if room != "" {
			a.print("kept for %s: readings from now on are corrected by it\n", room)
		} else {
			a.next("to keep it, name the room of that hygrometer with --room")
		}
		return nil
	})
	c.Flags().StringVar(&room, "room", "", "the hygrometer's `ROOM`: keep the offset")
	c.Flags().StringVar(&temp, "temp", "20C", "`TEMPERATURE` of the test")
	a.completes(c, "room", (*session).roomNames)
	return a.completesArgs(c, func(_ *session, nth int, _ string) []string {
		if nth > 0 {
			return nil
		}
		var out []string
		for _, k := range air.Salts() {
			out = append(out, k.Formula)
		}
		return out
	})
}
