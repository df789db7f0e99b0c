package rooms

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/schedule"
	"rindkeep/wheel"
)

// Ahead is the days ahead.
type Ahead struct {
	Schema string         `json:"schema"`
	From   string         `json:"from"`
	To     string         `json:"to"`
	Room   *string        `json:"room"`
	Rest   []string       `json:"rest"`
	Totals AheadTotals    `json:"totals"`
	Days   []AheadDay     `json:"days"`
	Timed  []AheadTimed   `json:"timed"`
	Dry    []AheadDry     `json:"dry"`
	Taste  []AheadTaste   `json:"taste"`
	Lawful []AheadLawful  `json:"lawful"`
	Ready  []AheadReady   `json:"ready"`
	Sums   AheadSums      `json:"sums"`
	Rooms  []AheadShelves `json:"rooms"`
	app.Cautioned

	First, Last day.Date          `json:"-"`
	RestDays    schedule.Rest     `json:"-"`
	Load        schedule.Workload `json:"-"`
	Book        uuid.UUID         `json:"-"` // so that a calendar's events keep their identity
	BookName    string            `json:"-"`
	Asked       time.Time         `json:"-"`
}

// AheadTotals sums the days up.
type AheadTotals struct {
	Wheels      int      `json:"wheels"`
	Unweighed   int      `json:"unweighed"`
	TooCold     int      `json:"too_cold_to_count"`
	Tasks       int      `json:"tasks"`
	Minutes     *float64 `json:"minutes"`
	Fullest     *float64 `json:"fullest_day_minutes"`
	FullestDue  *float64 `json:"fullest_day_minutes_due"`
	OwnForecast bool     `json:"own_forecasts"` // every wheel has a forecast of its own
}

// AheadJob is one job of a room on a day.
type AheadJob struct {
	Job        string   `json:"job"`
	Wheels     int      `json:"wheels"`
	WheelsDue  int      `json:"wheels_due"`
	Minutes    *float64 `json:"minutes"`
	MinutesDue *float64 `json:"minutes_due"`
}

// AheadRoomDay is a room's work on a day.
type AheadRoomDay struct {
	Room       string     `json:"room"`
	Wheels     int        `json:"wheels"`
	WheelsDue  int        `json:"wheels_due"`
	Minutes    *float64   `json:"minutes"`
	MinutesDue *float64   `json:"minutes_due"`
	Late       int        `json:"late"`
	Jobs       []AheadJob `json:"jobs"`

	Tags map[wheel.Job][]string `json:"-"` // where they were asked for
}

// AheadDay is a day's work.
type AheadDay struct {
	Date       string         `json:"date"`
	Rest       bool           `json:"rest"`
	Wheels     int            `json:"wheels"`
	WheelsDue  int            `json:"wheels_due"`
	Tasks      int            `json:"tasks"`
	TasksDue   int            `json:"tasks_due"`
	Minutes    *float64       `json:"minutes"`
	MinutesDue *float64       `json:"minutes_due"`
	Late       int            `json:"late"`      // jobs of a wheel
	LateJobs   int            `json:"late_jobs"` // as the day's list counts them, wheels of a place together
	Rooms      []AheadRoomDay `json:"rooms"`

	On  day.Date      `json:"-"`
	Sum schedule.Work `json:"-"`
}

// AheadLot is wheels of one lot of which something becomes.
type AheadLot struct {
	Lot       string   `json:"lot"`
	Variety   string   `json:"variety"`
	Wheels    []string `json:"wheels"`
	Held      int      `json:"held"`
	Unweighed int      `json:"unweighed"`
	Mass      app.Est  `json:"mass_kg"`

	Title string            `json:"-"` // of the variety
	Make  uuid.UUID         `json:"-"`
	On    day.Date          `json:"-"`
	MassG quantity.Estimate `json:"-"`
}

// AheadExpected is the date something is expected, with its 90 % interval.
type AheadExpected struct {
	Best string  `json:"best"`
	Low  string  `json:"low"`
	High *string `json:"high"`

	LowOn, HighOn day.Date `json:"-"` // HighOn None: perhaps never
}

// AheadDry is a coat that is expected.
type AheadDry struct {
	AheadLot
	Expected AheadExpected `json:"expected_on"`
	Now      bool          `json:"now"` // the figures are met already
}

// AheadTaste is a tasting.
type AheadTaste struct {
	AheadLot
	Day string `json:"on"`
	Due string `json:"due"` // before levelling
}

// AheadLawful is wheels past a minimum age.
type AheadLawful struct {
	AheadLot
	Day     string   `json:"on"`
	Days    int      `json:"days"`
	RawMilk bool     `json:"raw_milk"`
	Assumed bool     `json:"raw_milk_assumed"`
	MinTemp *float64 `json:"counts_from_temp_c"`
	Counted string   `json:"counted_by"`
	Law     *string  `json:"law"` // whose asks for it; null: the limits of its variety

	Limit schedule.OldEnough `json:"-"`
}

// AheadTimed is a job of a make's day that has its time.
type AheadTimed struct {
	At      string   `json:"at"`
	Time    string   `json:"time"`
	Job     string   `json:"job"`
	Lot     string   `json:"lot"`
	Variety string   `json:"variety"`
	Wheels  []string `json:"wheels"`
	Room    string   `json:"room"`
	Minutes *float64 `json:"minutes"`

	When  time.Time `json:"-"` // in the book's zone
	Title string    `json:"-"` // of the variety
	Make  uuid.UUID `json:"-"`
	Took  float64   `json:"-"` // minutes
}

// AheadReady is wheels that come of the age their variety is eaten at.
type AheadReady struct {
	AheadLot
	Day string `json:"on"`
}

// AheadSum is how many wheels are something at the start and at the end.
type AheadSum struct {
	Wheels    int     `json:"wheels"`
	Mass      app.Est `json:"mass_kg"`
	WheelsEnd int     `json:"wheels_at_end"`
	MassEnd   app.Est `json:"mass_at_end_kg"`

	MassG, MassEndG quantity.Estimate `json:"-"`
}

// AheadSums are the wheels that are dry, old enough, ready.
type AheadSums struct {
	Waiting AheadSum `json:"dry_and_waiting_for_a_coat"`
	Lawful  AheadSum `json:"lawful"`
	Ready   AheadSum `json:"ready"`
}

// AheadShelves is a room's shelves and water.
type AheadShelves struct {
	Room     string     `json:"room"`
	Capacity *int       `json:"capacity"`
	Used     int        `json:"used"`
	Free     *int       `json:"free"`
	Come     int        `json:"come"`
	Leave    int        `json:"leave"`
	UsedEnd  int        `json:"used_at_end"`
	FreeEnd  *int       `json:"free_at_end"`
	ReadyEnd int        `json:"ready_at_end"`
	Water    AheadWater `json:"water"`
}

// AheadWater is the water that a room's wheels give off.
type AheadWater struct {
	Wheels  int     `json:"wheels"`
	Now     app.Est `json:"now_g_per_h"`
	InAWeek app.Est `json:"in_a_week_g_per_h"`
}

// kilos is a mass given in grams for JSON, in kilograms.
func kilos(g quantity.Estimate) app.Est { return app.EstOf(g.Times(1e-3)) }

func newAhead(s *app.Session, q AheadAsked, from, to day.Date) Ahead {
	set := s.Tx.Settings()
	none := AheadSum{Mass: kilos(quantity.Estimate{}), MassEnd: kilos(quantity.Estimate{})}
	a := Ahead{
		Schema: app.Schema("ahead"), From: from.String(), To: to.String(), Rest: q.Rest.Days(), RestDays: q.Rest,
		Days: []AheadDay{}, Timed: []AheadTimed{}, Dry: []AheadDry{}, Taste: []AheadTaste{}, Lawful: []AheadLawful{},
		Ready: []AheadReady{}, Rooms: []AheadShelves{}, Sums: AheadSums{none, none, none},
		First: from, Last: to, Book: set.ID, BookName: set.Name, Asked: s.Time,
	}
	if q.Room != "" {
		a.Room = &q.Room
	}
	return a
}

func lotOf(g *group) AheadLot {
	w := g.wheels[0]
	l := AheadLot{
		Lot: w.make.Lot, Variety: w.variety.Name, Mass: kilos(g.mass), Wheels: make([]string, len(g.wheels)),
		Title: w.variety.Title, Make: w.Make, On: g.on, MassG: g.mass,
	}
	for i, w := range g.wheels {
		l.Wheels[i] = w.Tag
		if w.Brief.Held {
			l.Held++
		}
		if w.Brief.Weighings == 0 {
			l.Unweighed++
		}
	}
	return l
}

func expectedOf(e event) AheadExpected {
	return AheadExpected{Best: e.on.String(), Low: e.low.String(), High: app.DateOrNull(e.high), LowOn: e.low,
		HighOn: e.high}
}

func lawfulOf(g *group) AheadLawful {
	l := g.limit
	x := AheadLawful{
		AheadLot: lotOf(g), Day: g.on.String(), Days: l.Days, RawMilk: l.RawMilk, Assumed: l.Unsaid, Counted: "age", Limit: l,
	}
	if l.By != "" {
		x.Law = &l.By
	}
	if l.ByAir {
		x.Counted = "days warm enough"
	}
	if l.RawMilk {
		x.MinTemp = app.Num(float64(l.MinTemp))
	}
	return x
}

// Join is the coats of two groups of one lot and day as one, with the wider
// interval.
func (d AheadDry) Join(o AheadDry) AheadDry {
	d.Wheels = append(slices.Clone(d.Wheels), o.Wheels...)
	slices.SortStableFunc(d.Wheels, cave.NaturalCompare)
	d.Held, d.Unweighed = d.Held+o.Held, d.Unweighed+o.Unweighed
	d.MassG = schedule.Sum(d.MassG, o.MassG)
	d.Mass = kilos(d.MassG)
	low, high := min(d.Expected.LowOn, o.Expected.LowOn), max(d.Expected.HighOn, o.Expected.HighOn)
	if d.Expected.HighOn == day.None || o.Expected.HighOn == day.None {
		high = day.None
	}
	d.Expected = expectedOf(event{on: d.On, low: low, high: high})
	return d
}
