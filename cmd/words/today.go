package words

import (
	"fmt"
	"strings"

	"rindkeep/cave"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

// FillToday writes why each task is due, and the alarms.
func (p Printer) FillToday(t *round.Today) {
	p.Zone = t.Zone
	for i := range t.Tasks {
		t.Tasks[i].Why = p.Why(t.Tasks[i].Reasons)
	}
	p.FillAlarms(t.Alarms)
	p.FillCautions(t)
}

// DaySum sums a day's list up: "6 wheels to handle, 5 jobs, about 30 min, 2 late".
func (p Printer) DaySum(t round.Today) string {
	return p.ListSum(t.List)
}

// ListSum says how much a list is.
func (Printer) ListSum(l round.List) string {
	if len(l.Lines) == 0 {
		return "nothing to do"
	}
	wheels, jobs := text.Count(l.Wheels, "wheel"), text.Count(len(l.Lines), "job")
	return fmt.Sprintf("%s to handle, %s, about %s", wheels, jobs, text.Duration(l.Minutes))
}

// ShareDone is how much of some jobs is done: "35 %"; "" for nothing.
func ShareDone(done, left int) string {
	switch percent := done * 100 / max(1, done+left); {
	case done <= 0:
		return ""
	case percent == 0:
		return "under 1 %"
	default:
		return fmt.Sprintf("%d %%", percent)
	}
}

// LatestEntry says what a person last recorded: "turned at cellar/B/1, 10:31".
func LatestEntry(l round.Latest) string {
	what := "an entry"
	if l.Job != "" {
		what = l.Job.Done()
	}
	if l.Place != "" {
		what += " at " + string(l.Place)
	}
	return what + ", " + l.At.Format("15:04")
}

// RoomHeading is a room of the walk, by name.
func RoomHeading(room string) string {
	if room == "" {
		return "no place given"
	}
	return room
}

// ShelfName is a place within its room; "" for the room at large.
func ShelfName(p cave.Place) string {
	_, within, _ := strings.Cut(string(p), "/")
	rack, shelf, ok := strings.Cut(within, "/")
	switch {
	case within == "":
		return ""
	case !ok:
		return "rack " + rack
	}
	return "rack " + rack + ", shelf " + shelf
}

// Doing is a line's job with what it needs: "coat wax", "move to cellar/B/1".
func Doing(n round.Line) string {
	switch {
	case n.Job == wheel.Coat && n.Coat != "":
		return string(n.Job) + " " + n.Coat
	case n.Job == wheel.Move && n.To != "":
		return string(n.Job) + " to " + n.To
	}
	return string(n.Job)
}

// LineWheels are a line's wheels: "all 6: 261121A-01 to -06".
func LineWheels(n round.Line) string {
	tags := text.Tags(n.Tags)
	switch {
	case n.WholeShelf:
		return fmt.Sprintf("all %d: %s", len(n.Tags), tags)
	case len(n.Tags) > 3:
		return fmt.Sprintf("%d: %s", len(n.Tags), tags)
	}
	return tags
}

// LineTimes says when a timed job is to be done: "at 10:30, 12:00"; "" for others.
func LineTimes(n round.Line) string {
	if len(n.Times) == 0 {
		return ""
	}
	return "at " + strings.Join(n.Clocks(), ", ")
}

// LineWhy says when a line is to be done and why, and its note where the list has
// not said it before: said remembers those.
func (p Printer) LineWhy(n round.Line, said map[string]bool) string {
	note := n.Note
	if said[note] {
		note = ""
	}
	said[note] = true
	var parts []string
	for _, s := range []string{LineTimes(n), p.Why(n.Why), note} {
		if s != "" {
			parts = append(parts, s)
		}
	}
	return strings.Join(parts, "; ")
}

// LineLate says how late a line is: "LATE 2 days"; "" where it isn't.
func LineLate(t round.Today, n round.Line) string {
	if d := t.Overdue(n); d > 0 {
		return "LATE " + text.Duration(d.Minutes())
	}
	if n.LateDays > 0 {
		return "LATE " + text.Count(n.LateDays, "day")
	}
	return ""
}
