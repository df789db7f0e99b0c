package cli

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/ical"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

type aheadDoc struct {
	Schema string         `json:"schema"`
	From   string         `json:"from"`
	To     string         `json:"to"`
	Room   *string        `json:"room"`
	Rest   []string       `json:"rest"`
	Totals aheadTotals    `json:"totals"`
	Days   []aheadDay     `json:"days"`
	Timed  []aheadTimed   `json:"timed"`
	Dry    []aheadDry     `json:"dry"`
	Taste  []aheadTaste   `json:"taste"`
	Lawful []aheadLawful  `json:"lawful"`
	Ready  []aheadReady   `json:"ready"`
	Sums   aheadSums      `json:"sums"`
	Rooms  []aheadShelves `json:"rooms"`
}

type aheadTotals struct {
	Wheels      int      `json:"wheels"`
	Unweighed   int      `json:"unweighed"`
	TooCold     int      `json:"too_cold_to_count"`
	Tasks       int      `json:"tasks"`
	Minutes     *float64 `json:"minutes"`
	Fullest     *float64 `json:"fullest_day_minutes"`
	FullestDue  *float64 `json:"fullest_day_minutes_due"`
	OwnForecast bool     `json:"own_forecasts"`
}

type aheadJob struct {
	Job        string   `json:"job"`
	Wheels     int      `json:"wheels"`
	WheelsDue  int      `json:"wheels_due"`
	Minutes    *float64 `json:"minutes"`
	MinutesDue *float64 `json:"minutes_due"`
}

type aheadRoomDay struct {
	Room       string     `json:"room"`
	Wheels     int        `json:"wheels"`
	WheelsDue  int        `json:"wheels_due"`
	Minutes    *float64   `json:"minutes"`
	MinutesDue *float64   `json:"minutes_due"`
	Late       int        `json:"late"`
	Jobs       []aheadJob `json:"jobs"`
}

type aheadDay struct {
	Date       string         `json:"date"`
	Rest       bool           `json:"rest"`
	Wheels     int            `json:"wheels"`
	WheelsDue  int            `json:"wheels_due"`
	Tasks      int            `json:"tasks"`
	TasksDue   int            `json:"tasks_due"`
	Minutes    *float64       `json:"minutes"`
	MinutesDue *float64       `json:"minutes_due"`
	Late       int            `json:"late"`
	Rooms      []aheadRoomDay `json:"rooms"`
}

// aheadLot is wheels of one lot that become something.
type aheadLot struct {
	Lot       string   `json:"lot"`
	Variety   string   `json:"variety"`
	Wheels    []string `json:"wheels"`
	Held      int      `json:"held"`
	Unweighed int      `json:"unweighed"`
	Mass      est      `json:"mass_kg"`
}

type aheadDry struct {
	aheadLot
	On  expectedDoc `json:"expected_on"`
	Now bool        `json:"now"`
}

type aheadTaste struct {
	aheadLot
	On  string `json:"on"`
	Due string `json:"due"`
}

type aheadLawful struct {
	aheadLot
	On      string   `json:"on"`
	Days    int      `json:"days"`
	RawMilk bool     `json:"raw_milk"`
	Assumed bool     `json:"raw_milk_assumed"`
	MinTemp *float64 `json:"counts_from_temp_c"`
	Counted string   `json:"counted_by"`
	Law     *string  `json:"law"` // whose asks for it; null: the limits of its variety
}

// aheadTimed is a job of a make's day that has its time.
type aheadTimed struct {
	At      string   `json:"at"`
	Time    string   `json:"time"`
	Job     string   `json:"job"`
	Lot     string   `json:"lot"`
	Variety string   `json:"variety"`
	Wheels  []string `json:"wheels"`
	Room    string   `json:"room"`
	Minutes *float64 `json:"minutes"`
}

type aheadReady struct {
	aheadLot
	On string `json:"on"`
}

type aheadSum struct {
	Wheels    int `json:"wheels"`
	Mass      est `json:"mass_kg"`
	WheelsEnd int `json:"wheels_at_end"`
	MassEnd   est `json:"mass_at_end_kg"`
}

type aheadSums struct {
	Waiting aheadSum `json:"dry_and_waiting_for_a_coat"`
	Lawful  aheadSum `json:"lawful"`
	Ready   aheadSum `json:"ready"`
}

type aheadShelves struct {
	Room     string   `json:"room"`
	Capacity *int     `json:"capacity"`
	Used     int      `json:"used"`
	Free     *int     `json:"free"`
	Come     int      `json:"come"`
	Leave    int      `json:"leave"`
	UsedEnd  int      `json:"used_at_end"`
	FreeEnd  *int     `json:"free_at_end"`
	ReadyEnd int      `json:"ready_at_end"`
	Water    waterDoc `json:"water"`
}

type waterDoc struct {
	Wheels  int `json:"wheels"`
	Now     est `json:"now_g_per_h"`
	InAWeek est `json:"in_a_week_g_per_h"`
}

// kiloEst is a mass in kilograms.
func kiloEst(grams quantity.Estimate) est { return estOf(grams.Times(1e-3)) }

// zeroed is a figure that is known to be nothing where it is nothing.
func zeroed(x float64) *float64 {
	if x == 0 {
		return &x
	}
	return num(x)
}

func (h *happening) doc() aheadLot {
	held, unweighed := h.held()
	return aheadLot{Lot: h.lot(), Variety: h.wheels[0].variety.Name, Wheels: h.tags(), Held: held, Unweighed: unweighed, Mass: kiloEst(h.mass)}
}

func (p *prospect) doc(loc *time.Location) aheadDoc {
	d := aheadDoc{
		Schema: schema("ahead"), From: p.from.String(), To: p.to.String(), Rest: p.rest.Days(),
		Days: []aheadDay{}, Timed: []aheadTimed{}, Dry: []aheadDry{}, Taste: []aheadTaste{}, Lawful: []aheadLawful{}, Ready: []aheadReady{}, Rooms: []aheadShelves{},
	}
	if p.room != "" {
		d.Room = &p.room
	}
	var minutes, peak, peakDue float64
	tasks := 0
	for i := range p.days {
		sum, late, jobs, rooms := p.day(i)
		x := aheadDay{Date: (p.from + day.Date(i)).String(), Rest: p.rest.On(p.from + day.Date(i)), Wheels: sum.wheels, WheelsDue: sum.wheelsDue, Minutes: zeroed(sum.minutes), MinutesDue: zeroed(sum.minutesDue), Late: late, Rooms: []aheadRoomDay{}}
		for _, j := range jobs {
			x.Tasks += j.wheels
			x.TasksDue += j.wheelsDue
		}
		for _, name := range rooms {
			r := p.days[i][name]
			y := aheadRoomDay{Room: name, Wheels: r.wheels, WheelsDue: r.wheelsDue, Minutes: zeroed(r.minutes), MinutesDue: zeroed(r.minutesDue), Late: r.late, Jobs: []aheadJob{}}
			for _, j := range wheel.Jobs {
				if z := r.jobs[j]; z != nil {
					y.Jobs = append(y.Jobs, aheadJob{string(j), z.wheels, z.wheelsDue, zeroed(z.minutes), zeroed(z.minutesDue)})
				}
			}
			x.Rooms = append(x.Rooms, y)
		}
		minutes, peak, peakDue, tasks = minutes+sum.minutes, max(peak, sum.minutes), max(peakDue, sum.minutesDue), tasks+x.Tasks
		d.Days = append(d.Days, x)
	}
	d.Totals = aheadTotals{Wheels: p.wheels, Unweighed: p.unweighed, TooCold: p.tooCold, Tasks: tasks, Minutes: zeroed(minutes), Fullest: zeroed(peak), FullestDue: zeroed(peakDue), OwnForecast: p.own}
	for _, a := range p.timed {
		d.Timed = append(d.Timed, aheadTimed{instant(a.at, loc), a.at.In(loc).Format("15:04"), string(a.job), a.lot(), a.wheels[0].variety.Name, a.tags(), a.room, zeroed(a.minutes)})
	}
	for _, h := range p.dry {
		d.Dry = append(d.Dry, aheadDry{h.doc(), expectedDoc{h.on.String(), h.low.String(), dateOrNull(h.high)}, h.now})
	}
	for _, h := range p.taste {
		d.Taste = append(d.Taste, aheadTaste{h.doc(), h.on.String(), h.due.String()})
	}
	for _, h := range p.lawful {
		x := aheadLawful{aheadLot: h.doc(), On: h.on.String(), Days: h.limit.Days, RawMilk: h.limit.RawMilk, Assumed: h.limit.Unsaid, Counted: "age"}
		if h.limit.By != "" {
			x.Law = &h.limit.By
		}
		if h.limit.ByAir {
			x.Counted = "days warm enough"
		}
		if h.limit.RawMilk {
			x.MinTemp = num(float64(h.limit.MinTemp))
		}
		d.Lawful = append(d.Lawful, x)
	}
	for _, h := range p.ready {
		d.Ready = append(d.Ready, aheadReady{h.doc(), h.on.String()})
	}
	sum := func(s standing) aheadSum { return aheadSum{s.wheels, kiloEst(s.mass), s.wheelsEnd, kiloEst(s.massEnd)} }
	d.Sums = aheadSums{sum(p.waiting), sum(p.isLawful), sum(p.isReady)}
	for _, r := range p.rooms {
		x := aheadShelves{Room: r.name, Used: r.used, Come: r.come, Leave: r.left, UsedEnd: r.used + r.come - r.left, ReadyEnd: r.ready, Water: waterDoc{r.water.Wheels, estOf(r.water.Now), estOf(r.water.InAWeek)}}
		if r.capacity > 0 {
			free, then := r.capacity-x.Used, r.capacity-x.UsedEnd
			x.Capacity, x.Free, x.FreeEnd = &r.capacity, &free, &then
		}
		d.Rooms = append(d.Rooms, x)
	}
	return d
}

// calendar writes the days as events: one a day and room with its jobs, one for
// each job of a make's day that has its time, and one a lot that waits for its
// coat. An event keeps its identity when the file is
// written again, so that a calendar changes it and does not add another.
func (s *session) calendar(p *prospect, file string) error {
	set := s.tx.Settings()
	uid := func(kind string, words ...string) string {
		return uuid.NewSHA1(set.ID, []byte("ahead/"+kind+"/"+strings.Join(words, "/"))).String()
	}
	var events []ical.Event
	for i := range p.days {
		on := p.from + day.Date(i)
		_, _, _, rooms := p.day(i)
		for _, name := range rooms {
			d := p.days[i][name]
			var short, long []string
			for _, j := range wheel.Jobs {
				tags := d.tags[j]
				if len(tags) == 0 {
					continue
				}
				slices.SortStableFunc(tags, naturally)
				short = append(short, fmt.Sprintf("%s %d", j, len(tags)))
				long = append(long, fmt.Sprintf("%s %d: %s", j, len(tags), someOf(tags)))
			}
			if len(short) == 0 { // all of it was moved to other days
				continue
			}
			title := name
			if name == "" {
				title = "no place given"
			}
			events = append(events, ical.Event{
				UID: uid("day", name, on.String()), First: on, Last: on, Location: name,
				Summary:     fmt.Sprintf("%s: %s (%s)", title, strings.Join(short, ", "), text.Duration(d.minutes)),
				Description: strings.Join(long, "\n"),
			})
		}
	}
	for _, a := range p.timed {
		events = append(events, ical.Event{
			UID:   uid("time", a.wheels[0].life.Make.ID.String(), string(a.job), a.room, a.at.UTC().Format(time.RFC3339)),
			Start: a.at, End: a.at.Add(max(time.Minute, time.Duration(a.minutes*float64(time.Minute)))), Location: a.room, Busy: true,
			Summary:     fmt.Sprintf("%s: %s %d", a.lot(), a.job, len(a.wheels)),
			Description: fmt.Sprintf("%s %s", a.job, someOf(a.tags())),
		})
	}
	lots := map[string]int{}
	for _, h := range p.dry {
		line := fmt.Sprintf("%s: %s", shortDate(h.on), someOf(h.tags()))
		if !h.now && h.low != h.high {
			line += ", " + strings.TrimPrefix(between(h), " ")
		}
		k, ok := lots[h.lot()]
		if !ok {
			k = len(events)
			lots[h.lot()] = k
			events = append(events, ical.Event{
				UID: uid("coat", h.wheels[0].life.Make.ID.String()), First: h.on, Last: h.on,
				Summary:     fmt.Sprintf("%s: dry enough to coat, as expected", h.lot()),
				Description: "weigh it and feel it all over before it is coated",
			})
		}
		events[k].Last = max(events[k].Last, h.on)
		events[k].Description += "\n" + line
	}
	name := set.Name
	if name == "" {
		name = "rindkeep"
	}
	b, err := ical.Write(name, s.now, events)
	if err != nil {
		return err
	}
	if file == "-" {
		_, _ = s.env.Out.Write(b) // pipe remembers a failure
		return nil
	}
	if err := mayReplace(file, "BEGIN:VCALENDAR\r\n"); err != nil {
		return err
	}
	if err := writeFile(file, b); err != nil {
		return err
	}
	s.note("calendar of %s written to %s", text.Count(len(events), "event"), safeWord(file))
	return nil
}

// between is the interval of an expected day.
func between(h *happening) string {
	if h.high == day.None {
		return "from " + shortDate(h.low) + " on"
	}
	return shortDate(h.low) + " to " + shortDate(h.high)
}
