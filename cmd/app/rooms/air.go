package rooms

import (
	"context"
	"slices"
	"strings"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store"
	"rindkeep/store/register"
	"rindkeep/wheel"
)

// Read asks to note a reading of a room's air.
type Read struct {
	Room string
	Temp quantity.Celsius
	RH   quantity.Fraction
	Sure bool
	Why  string // needed where a safety hold ends with it
}

// Noted is a reading that was noted.
type Noted struct {
	Schema   string   `json:"schema"`
	Room     string   `json:"room"`
	At       string   `json:"at"`
	Temp     *float64 `json:"temp_c"`
	Read     *float64 `json:"rh_read_pct"`
	RH       *float64 `json:"rh_pct"`
	DewPoint *float64 `json:"dew_point_c"`
	Out      *string  `json:"out_of_limits"` // in words, filled by cmd/words; null: within
	NoChange bool     `json:"no_change"`
	By       string   `json:"by"`
	app.Cautioned

	Reading, Corrected cave.Reading     `json:"-"`
	Dew                quantity.Celsius `json:"-"`
	Beyond             reason.Reason    `json:"-"` // the limit it is out of; nil: within
}

// LogAir notes a reading.
func LogAir(ctx context.Context, a *app.App, c app.Caller, q Read) (app.Did[Noted], error) {
	return app.Act(ctx, a, c, func(s *app.Session) (Noted, error) {
		r, err := room(s, q.Room)
		if err != nil {
			return Noted{}, err
		}
		when, _, err := s.Moment()
		if err != nil {
			return Noted{}, err
		}
		rd := cave.Reading{At: when, Temp: q.Temp, RH: q.RH}
		if odd := rd.Odd(); odd != nil && !q.Sure {
			return Noted{}, app.Unsure(odd).In("rh")
		}
		last, before, err := s.Tx.LastReading(r.Name, when)
		if err != nil {
			return Noted{}, err
		}
		n, err := q.put(s, r, rd)
		if err != nil {
			return Noted{}, err
		}
		fixed := r.Corrected(rd)
		p, err := air.Of(fixed.State())
		d := Noted{
			Schema: app.Schema("air-log"), Room: r.Name, At: app.Instant(when, s.Zone), NoChange: n == 0, By: s.Who,
			Temp: app.Num(float64(rd.Temp)), Read: app.PctNum(rd.RH), RH: app.PctNum(fixed.RH),
			DewPoint: app.Num(float64(p.DewPoint)), Dew: p.DewPoint, Reading: rd, Corrected: fixed, Beyond: r.Out(fixed.State()),
		}
		once := !before || day.At(last.At, s.Zone) != day.At(when, s.Zone) // a day is enough
		if once && walkedInto(r) {
			d.Warn(app.ClosedRoom)
		}
		return d, err
	})
}

// put writes a reading, unless safety holds end by it that its writer may not end.
func (q Read) put(s *app.Session, r cave.Room, rd cave.Reading) (n int, err error) {
	fresh, err := s.Tx.NewAir(r.Name, []cave.Reading{rd})
	if err != nil || len(fresh) == 0 {
		return 0, err
	}
	was, over, err := readAt(s, r.Name, rd.At)
	if err != nil {
		return 0, err
	}
	if rd.Source, err = s.AirFrom(register.AirSource{Room: r.Name, Over: over}); err != nil {
		return 0, err
	}
	do := func() error {
		n, err = s.Write.PutAir(r.Name, []cave.Reading{rd})
		return err
	}
	own, err := s.Slip(was)
	switch {
	case err != nil:
	case own:
		err = do()
	default:
		x := app.AirChange{Room: r.Name, From: rd.At, To: rd.At, Late: app.LateTyped}
		err = s.KeepingAir(lift(r, q.Why, q.Sure), x, do)
	}
	return n, err
}

func lift(r cave.Room, why string, sure bool) app.Lift {
	return app.Lift{Why: why, Field: "why", Sure: sure, Deed: "air of " + r.Name}
}

// readAt is the reading of an instant; ok is false where there is none.
func readAt(s *app.Session, room string, at time.Time) (rd cave.Reading, ok bool, err error) {
	err = s.Tx.EachReading(room, at, at.Add(time.Millisecond), func(x cave.Reading) bool {
		rd, ok = x, true
		return false
	})
	return rd, ok, err
}

// Cancelled is a reading that counts no longer.
type Cancelled struct {
	Schema string   `json:"schema"`
	Room   string   `json:"room"`
	At     string   `json:"at"`
	Temp   *float64 `json:"temp_c"`
	RH     *float64 `json:"rh_read_pct"`

	Reading cave.Reading `json:"-"` // in the book's zone
}

// NoReading: the room has no reading at that time.
type NoReading struct {
	Room string `json:"room"`
}

// ClockMissing: a reading is named by its date and time of day.
const ClockMissing reason.Flat = "clock-missing"

func (NoReading) Code() string { return "no-reading" }

// CancelAir cancels a room's reading of an instant given to the minute, or its
// last. It stays in the history, but no longer counts.
func CancelAir(
	ctx context.Context, a *app.App, c app.Caller, name, word, why string, sure bool,
) (app.Did[Cancelled], error) {
	if strings.TrimSpace(why) == "" {
		return app.Did[Cancelled]{}, app.Misuse("why", reason.Missing{What: "why"})
	}
	if err := wheel.CheckNote(why); err != nil {
		return app.Did[Cancelled]{}, app.At("why", err)
	}
	return app.Act(ctx, a, c, func(s *app.Session) (Cancelled, error) {
		r, err := room(s, name)
		if err != nil {
			return Cancelled{}, err
		}
		from, to := time.Time{}, s.Time.Add(time.Hour)
		if !strings.EqualFold(word, "last") {
			t, exact, err := s.MomentOf(word, "time")
			if err == nil && !exact {
				err = app.Misuse("time", ClockMissing)
			}
			if err != nil {
				return Cancelled{}, err
			}
			from, to = t.Truncate(time.Minute), t.Truncate(time.Minute).Add(time.Minute)
		}
		rd, ok, err := s.Tx.LastReading(r.Name, to)
		if err != nil {
			return Cancelled{}, err
		}
		if !ok || rd.At.Before(from) {
			return Cancelled{}, app.Refuse(NoReading{r.Name}).Of(word)
		}
		r.Struck = append(r.Struck, cave.StruckReading{At: rd.At, Why: why, By: s.Who, Written: s.Time})
		do := func() error { return s.Write.PutRoom(r) }
		own, err := s.Slip(rd)
		switch {
		case err != nil:
		case own:
			err = do()
		default:
			x := app.AirChange{Room: r.Name, From: rd.At, To: rd.At, Cancels: true}
			err = s.KeepingAir(lift(r, why, sure), x, do)
		}
		rd.At = rd.At.In(s.Zone)
		return Cancelled{
			Schema: app.Schema("air-strike"), Room: r.Name, At: app.Instant(rd.At, s.Zone),
			Temp: app.Num(float64(rd.Temp)), RH: app.PctNum(rd.RH), Reading: rd,
		}, err
	})
}

// Tested is a hygrometer's test over a saturated salt.
type Tested struct {
	Schema string   `json:"schema"`
	Salt   string   `json:"salt"`
	Temp   *float64 `json:"temp_c"`
	Read   *float64 `json:"rh_read_pct"`
	True   *float64 `json:"rh_true_pct"`
	Offset *float64 `json:"offset_points"`
	Room   *string  `json:"room"` // it was kept for; null: only calculated

	Test cave.SensorTest `json:"-"`
	Name string          `json:"-"` // of the salt
}

// Hygrometer asks to check a hygrometer over a saturated salt.
type Hygrometer struct {
	Salt air.Salt
	Read quantity.Fraction
	Temp quantity.Celsius
	Room string // keep the offset for this room; "": only calculate, no book needed
}

// TestHygrometer calculates the offset, and keeps it where a room is named.
func TestHygrometer(ctx context.Context, a *app.App, c app.Caller, q Hygrometer) (app.Did[Tested], error) {
	truth, err := q.Salt.RH(q.Temp)
	if err != nil {
		return app.Did[Tested]{}, err
	}
	off, err := q.Salt.Offset(q.Read, q.Temp)
	if err != nil {
		return app.Did[Tested]{}, err
	}
	t := Tested{
		Schema: app.Schema("air-test"), Salt: q.Salt.Formula, Name: q.Salt.Name, Temp: app.Num(float64(q.Temp)),
		Read: app.PctNum(q.Read), True: app.PctNum(truth), Offset: app.Num(off.Percent()),
		Test: cave.SensorTest{Salt: q.Salt.Formula, Temp: q.Temp, Read: q.Read, True: truth, Offset: off},
	}
	if q.Room == "" {
		return app.Did[Tested]{Result: t}, nil
	}
	t.Room = &q.Room
	return app.Act(ctx, a, c, func(s *app.Session) (Tested, error) {
		r, err := room(s, q.Room)
		if err != nil {
			return t, err
		}
		if t.Test.At, _, err = s.Moment(); err != nil {
			return t, err
		}
		t.Test.By = s.Who
		r.Tests = append(r.Tests, t.Test)
		return t, s.Write.PutRoom(r)
	})
}

// Alarm is a room whose air is wrong, or isn't being read.
type Alarm struct {
	Room string `json:"room"`
	What string `json:"what"` // in words, filled by cmd/words
	Read string `json:"last_read"`

	Reasons reason.List `json:"reasons"`
}

// Alarms are the rooms whose air was wrong, or hadn't been read lately, at an
// instant. A room that was never read is none of them: its maker may have no
// hygrometer.
func Alarms(s *app.Session, until time.Time) ([]Alarm, error) {
	all, err := s.Tx.Rooms()
	if err != nil {
		return nil, err
	}
	out := []Alarm{}
	for _, r := range all {
		last, ok, err := lastReading(s, r, until)
		if err != nil {
			return nil, err
		}
		if !ok {
			continue
		}
		why := r.Alarm(last, until)
		if len(why) > 0 && until.Sub(last.At) > cave.Stale {
			// Nobody reads the air of an empty room.
			shelves, err := s.Tx.ShelfCounts(cave.Place(r.Name))
			if err != nil {
				return nil, err
			}
			if !slices.ContainsFunc(shelves, func(c store.ShelfCount) bool { return c.Wheels > 0 }) {
				continue
			}
		}
		if len(why) > 0 {
			out = append(out, Alarm{Room: r.Name, Read: app.Instant(last.At, s.Zone), Reasons: why})
		}
	}
	return out, nil
}

// Range is the least, the mean and the greatest of a day's readings.
type Range struct {
	Min  *float64 `json:"min"`
	Mean *float64 `json:"mean"`
	Max  *float64 `json:"max"`
}

func rangeOf(r cave.Range) Range { return Range{app.Num(r.Min), app.Num(r.Mean), app.Num(r.Max)} }

// AirDay is a room's air on one day.
type AirDay struct {
	Date     string   `json:"date"`
	Readings int      `json:"readings"`
	Temp     Range    `json:"temp_c"`
	RH       Range    `json:"rh_pct"`
	HoursOut *float64 `json:"hours_out"`
}

// AirShown is a room's air day by day.
type AirShown struct {
	Schema  string   `json:"schema"`
	Room    string   `json:"room"`
	Days    []AirDay `json:"days"`
	Gaps    int      `json:"gaps"`
	Longest *float64 `json:"longest_gap_h"`
	Alarm   *string  `json:"alarm"` // in words, filled by cmd/words; null: none
	Water   *Water   `json:"water_load"`
	app.Cautioned

	Entered   []app.AirEntered `json:"entered"`   // who entered the readings
	Cancelled []NoLonger       `json:"cancelled"` // readings of these days that don't count

	Set     cave.Room      `json:"-"`
	Digest  cave.Digest    `json:"-"`
	Points  []cave.Reading `json:"-"` // to draw: corrected, thinned out over many days
	Zone    *time.Location `json:"-"`
	Reasons reason.List    `json:"reasons"`
}

// NoLonger is a reading that was cancelled.
type NoLonger struct {
	Room    string `json:"room"`
	At      string `json:"at"`
	Why     string `json:"why"`
	By      string `json:"by"`
	Written string `json:"written"`
}

func noLonger(s *app.Session, r cave.Room, from, until time.Time) []NoLonger {
	out := []NoLonger{}
	for _, x := range r.Struck {
		if !x.At.Before(from) && !x.At.After(until) {
			out = append(out, NoLonger{r.Name, app.Instant(x.At, s.Zone), x.Why, x.By, app.Instant(x.Written, s.Zone)})
		}
	}
	return out
}

// MaxDays is the longest span of days that ShowAir tells of.
const MaxDays = 3660

// ShowAir tells of a room's air over the last days.
func ShowAir(ctx context.Context, a *app.App, c app.Caller, name string, days int, w WaterAsked) (AirShown, error) {
	if days < 1 || days > MaxDays {
		return AirShown{}, app.Misuse("days", reason.Outside[int]{What: "days", Value: days, Low: 1, High: MaxDays})
	}
	return app.AskLong(ctx, a, c, func(s *app.Session) (AirShown, error) {
		r, err := room(s, name)
		if err != nil {
			return AirShown{}, err
		}
		until, on, err := s.AsOf()
		if err != nil {
			return AirShown{}, err
		}
		out := AirShown{
			Schema: app.Schema("air"), Room: r.Name, Days: []AirDay{}, Set: r, Zone: s.Zone,
			Digest: cave.Digest{Room: r, Loc: s.Zone}, Reasons: reason.List{}, Cancelled: []NoLonger{},
		}
		if walkedInto(r) {
			out.Warn(app.ClosedRoom)
		}
		from := (on - day.Date(days-1)).Start(s.Zone)
		step := time.Duration(days) * 3 * time.Minute
		entered := app.AirEntries{Session: s, Room: r.Name}
		err = s.Tx.EachReading(r.Name, from, until.Add(time.Millisecond), func(rd cave.Reading) bool {
			entered.Add(rd)
			rd = r.Corrected(rd)
			out.Digest.Add(rd)
			if n := len(out.Points); n == 0 || rd.At.Sub(out.Points[n-1].At) >= step {
				out.Points = append(out.Points, rd)
			}
			return true
		})
		if err != nil {
			return out, err
		}
		out.Cancelled = noLonger(s, r, from, until)
		if out.Entered, err = entered.Done(); err != nil {
			return out, err
		}
		out.Digest.Close(until)
		for _, x := range out.Digest.Days {
			out.Days = append(out.Days, AirDay{x.Date.String(), x.Readings, rangeOf(x.Temp), rangeOf(x.RH), app.Num(x.HoursOut)})
		}
		out.Gaps, out.Longest = out.Digest.Gaps, app.Num(out.Digest.Worst.Hours())
		last, ok, err := lastReading(s, r, until)
		if err != nil {
			return out, err
		}
		if ok {
			out.Reasons = append(out.Reasons, r.Alarm(last, until)...)
		}
		out.Water, err = waterLoad(s, r, until, w)
		return out, err
	})
}
