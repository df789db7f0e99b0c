package rooms

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cave/day"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/ical"
	"rindkeep/cmd/text"
	"rindkeep/schedule"
)

func aheadCmd(c *console.Console) *cobra.Command {
	var q rooms.AheadAsked
	var most int
	var rest, file string
	cmd := c.Cmd("ahead", "The days ahead: work, what becomes ready, room on the shelves", `
rindkeep ahead                        the next two weeks
rindkeep ahead --days 60 --rest sat,sun
rindkeep ahead --room cellar
rindkeep ahead --days 90 --ics cave.ics    for the calendar on a phone or desk`, console.NoArgs,
		func(*cobra.Command, []string) error {
			var err error
			if q.Rest, err = schedule.ParseRest(rest); err != nil {
				return console.At("--rest", console.Misread(err))
			}
			if file == "-" && c.JSON {
				return console.Usagef("--json and a calendar both want standard output; name a file for the calendar")
			}
			q.Named = file != ""
			a, err := rooms.LookAhead(c.Ctx, c.App, c.Caller(), q)
			if err != nil {
				return err
			}
			if file != "" {
				if err := writeCalendar(c, a, file); err != nil || file == "-" {
					return err
				}
			}
			if c.JSON {
				return c.Document(a)
			}
			showAhead(c, a, q, most, file != "")
			return nil
		})
	f := cmd.Flags()
	f.IntVar(&q.Days, "days", 14, "number of `DAYS`, including today")
	f.StringVar(&rest, "rest", "", "`DAYS` off: sat,sun")
	f.StringVar(&file, "ics", "", "write the work and the coats expected to a calendar `FILE`; - for standard output")
	f.SortFlags = false
	c.NarrowFlags(cmd, &q.Narrow)
	f.Lookup("room").Usage = "only this `ROOM`, its work as balanced across all rooms; or room/rack, by itself"
	f.IntVar(&most, "most", 20, "list so many of a kind at most; 0 for all (--json has all)")
	return cmd
}

func writeCalendar(c *console.Console, a rooms.Ahead, file string) error {
	b, events, err := ical.Ahead(a, c.Words)
	if err != nil {
		return err
	}
	if file == "-" {
		c.Raw(string(b))
		return nil
	}
	if err := console.WriteOver(file, b, "BEGIN:VCALENDAR\r\n", true); err != nil {
		return err
	}
	c.Note("calendar of %s written to %s", text.Count(events, "event"), console.SafeWord(file))
	return nil
}

func showAhead(c *console.Console, a rooms.Ahead, q rooms.AheadAsked, most int, filed bool) {
	c.Print("%s\n", c.Style("1")(a.First.Long()+" to "+a.Last.Long()))
	where := ""
	if a.Room != nil {
		where = " in " + *a.Room
	}
	if a.Totals.Wheels == 0 {
		c.Print("no wheels%s: nothing to do\n", where)
		return
	}
	t := a.Totals
	c.Lines(text.Wrap(fmt.Sprintf("%s%s, about %s of work; fullest day %s, %s before levelling",
		text.Count(t.Wheels, "wheel"), where,
		text.Duration(*t.Minutes), text.Duration(*t.Fullest), text.Duration(*t.FullestDue)), c.Env.Columns()))
	c.Print("\n")
	showDays(c, a)
	p := c.Words
	showTimed(c, a.Timed, most)
	showEvents(c, "Dry enough to coat", most, byDay(a.Dry), func(d rooms.AheadDry) (string, string, rooms.AheadLot) {
		return p.CoatExpected(d), p.Lot(d.AheadLot), d.AheadLot
	})
	showEvents(c, "To taste", most, a.Taste, func(d rooms.AheadTaste) (string, string, rooms.AheadLot) {
		return p.DayMonth(d.On), p.Lot(d.AheadLot), d.AheadLot
	})
	showEvents(c, "Past its minimum age", most, a.Lawful, func(d rooms.AheadLawful) (string, string, rooms.AheadLot) {
		return p.DayMonth(d.On), p.Lawful(d), d.AheadLot
	})
	if len(a.Lawful) > 0 {
		c.Caution(p.AgeCaution(a.Lawful))
	}
	if t.TooCold > 0 {
		c.Print("\n")
		c.Caution(p.TooCold(t.TooCold))
	}
	showEvents(c, "Ready", most, a.Ready, func(d rooms.AheadReady) (string, string, rooms.AheadLot) {
		return p.DayMonth(d.On), p.Lot(d.AheadLot), d.AheadLot
	})
	c.Print("\n")
	showSums(c, a)
	showShelves(c, a.Rooms)
	if t.Unweighed > 0 {
		c.Next("%s never weighed: taken at the usual weight", text.Count(t.Unweighed, "wheel is", "wheels are"))
	}
	if filed {
		return
	}
	also := ""
	if len(a.Rest) > 0 {
		also += " --rest " + strings.Join(a.Rest, ",")
	}
	if a.Room != nil {
		also += " --room " + console.SafeWord(*a.Room)
	}
	c.Next("\nin a calendar: rindkeep ahead --days %d%s --ics cave.ics", q.Days, also)
}

// barWide is how many marks the fullest day has.
const barWide = 24

func showDays(c *console.Console, a rooms.Ahead) {
	most := math.Max(*a.Totals.Fullest, *a.Totals.FullestDue)
	t := text.Table{Columns: []text.Column{{Title: "day"}, {Title: "wheels", Right: true}, {Title: "as due", Right: true},
		{Title: "levelled", Right: true}, {}}}
	for _, d := range a.Days {
		mark := ""
		if most > 0 {
			mark = strings.Repeat("#", int(math.Ceil(barWide*d.Sum.Minutes/most-1e-9)))
		}
		if d.Rest {
			mark = strings.TrimSpace("rest " + mark)
		}
		if d.LateJobs > 0 {
			mark += fmt.Sprintf("  %d late", d.LateJobs)
		}
		t.Add(d.On.Short(), strconv.Itoa(d.Wheels), text.Duration(d.Sum.MinutesDue), text.Duration(d.Sum.Minutes), mark)
	}
	c.Table(t)
}

// who names wheels, with their number where they are many.
func who(c *console.Console, tags []string) string {
	s := text.Tags(tags)
	if text.Width(s) > 60 {
		s = c.Words.Tags(tags)
	}
	if len(tags) > 3 {
		return fmt.Sprintf("%d: %s", len(tags), s)
	}
	return s
}

// showTimed prints the jobs of the makes' days that have their time.
func showTimed(c *console.Console, list []rooms.AheadTimed, most int) {
	if len(list) == 0 {
		return
	}
	c.Print("\n%s\n", c.Style("1")("At their time"))
	t := text.Table{Indent: 2, Columns: []text.Column{{}, {}, {}, {Wrap: true}, {Wrap: true}}}
	list, more := app.First(list, most)
	for _, a := range list {
		t.Add(day.At(a.When, a.When.Location()).Short(), a.Time, a.Job, who(c, a.Wheels), a.Title)
	}
	c.Table(t)
	if more > 0 {
		c.Print("  and %d more\n", more)
	}
}

// showEvents prints what becomes of the wheels, a lot a line.
func showEvents[E any](
	c *console.Console, title string, most int, list []E, of func(E) (when, what string, lot rooms.AheadLot),
) {
	if len(list) == 0 {
		return
	}
	c.Print("\n%s\n", c.Style("1")(title))
	t := text.Table{Indent: 2, Columns: []text.Column{{}, {Wrap: true}, {Wrap: true}, {Right: true}}}
	list, more := app.First(list, most)
	for _, e := range list {
		when, what, lot := of(e)
		t.Add(when, who(c, lot.Wheels), what, c.Words.Mass(lot.MassG))
	}
	c.Table(t)
	if more > 0 {
		c.Print("  and %s more\n", text.Count(more, "lot"))
	}
}

// byDay puts the wheels of a lot that are expected on one day in one line, with the
// widest of their intervals.
func byDay(list []rooms.AheadDry) []rooms.AheadDry {
	var out []rooms.AheadDry
	for _, d := range list {
		k := slices.IndexFunc(out, func(o rooms.AheadDry) bool { return o.On == d.On && o.Now == d.Now && o.Make == d.Make })
		if k < 0 {
			out = append(out, d)
			continue
		}
		out[k] = out[k].Join(d)
	}
	return out
}

func showSums(c *console.Console, a rooms.Ahead) {
	t := text.Table{Columns: []text.Column{{}, {Title: "today", Wrap: true},
		{Title: "by " + c.Words.DayMonth(a.Last), Wrap: true}}}
	for _, x := range []struct {
		name string
		sum  rooms.AheadSum
	}{{"dry enough", a.Sums.Waiting}, {"old enough", a.Sums.Lawful}, {"ready", a.Sums.Ready}} {
		if x.sum.WheelsEnd == 0 {
			continue
		}
		now := "none"
		if x.sum.Wheels > 0 {
			now = text.Count(x.sum.Wheels, "wheel") + ", " + c.Words.Mass(x.sum.MassG)
		}
		t.Add(x.name, now, text.Count(x.sum.WheelsEnd, "wheel")+", "+c.Words.Mass(x.sum.MassEndG))
	}
	if len(t.Rows) > 0 {
		c.Table(t)
		c.Print("\n")
	}
}

func showShelves(c *console.Console, list []rooms.AheadShelves) {
	right := func(title string) text.Column { return text.Column{Title: title, Right: true} }
	t := text.Table{Columns: []text.Column{{Title: "room"}, right("wheels"), right("free"), right("come"), right("leave"),
		right("free then"), right("ready then"), right("water"), right("in a week")}}
	n := func(x *int) string {
		if x == nil {
			return "-"
		}
		return strconv.Itoa(*x)
	}
	water := func(x *float64) string {
		if x == nil {
			return "-"
		}
		return fmt.Sprintf("%.*f %s/h", c.Words.HourlyDigits(), *c.Words.Hourly(x), c.Words.HourlyUnit())
	}
	for _, r := range list {
		name := r.Room
		if name == "" {
			name = "no place"
		}
		t.Add(name, strconv.Itoa(r.Used), n(r.Free), strconv.Itoa(r.Come), strconv.Itoa(r.Leave), n(r.FreeEnd),
			strconv.Itoa(r.ReadyEnd), water(r.Water.Now.Best), water(r.Water.InAWeek.Best))
	}
	c.Table(t)
}
