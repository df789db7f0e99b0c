package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app/round"
	roundcmd "rindkeep/cmd/cli/round"
	"rindkeep/cmd/cli/sheets"
	"rindkeep/cmd/sheet"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/wheel"
)

func (a *app) sheetTodayCmd() *cobra.Command {
	var f sheets.Flags
	var only, room string
	c := a.cmd("today", "The day's list for a clipboard, with boxes to tick and room for weights", `
rindkeep sheet today                         writes today-2026-11-25.pdf
rindkeep sheet today --on tomorrow --large
rindkeep sheet today --room cellar --out cellar.pdf --paper letter
rindkeep sheet today --out - | lp`, none, func(cmd *cobra.Command, _ []string) error {
		return a.sheet(&f, func(s *session, h sheet.Head) (sheets.Printed, error) { return s.sheetToday(h, only, room) })
	})
	f.Add(c)
	c.Flags().StringVar(&only, "only", "", "only these `JOB,..`")
	c.Flags().StringVar(&room, "room", "", "only this `ROOM`")
	a.completes(c, "only", func(*session) []string { return roundcmd.JobNames() })
	a.completes(c, "room", (*session).roomNames)
	return c
}

func (s *session) sheetToday(h sheet.Head, only, room string) (sheets.Printed, error) {
	l, err := s.dayList(only, room, false)
	if err != nil {
		return sheets.Printed{}, err
	}
	until, _, err := s.asOf()
	if err != nil {
		return sheets.Printed{}, err
	}
	alarms, err := roomsAlarms(s, earlier(until, s.now))
	if err != nil {
		return sheets.Printed{}, err
	}
	d := sheetDay(l, s.printer())
	for _, x := range alarms {
		if l.Date >= s.today {
			d.Alarms = append(d.Alarms, "AIR of "+x.Room+": "+x.What)
		}
	}
	draw := func() (sheet.Doc, error) { return sheet.Today(h, d) }
	return sheets.Printed{Draw: draw, Name: sheets.FileName("today", l.Date.String())}, nil
}

// sheetDay puts the day's list in the words of a sheet.
func sheetDay(l round.List, p words.Printer) sheet.Day {
	d := sheet.Day{Date: l.Date.Long(), Summary: "nothing to do", Unit: "g"}
	if p.Units == quantity.Imperial {
		d.Unit = "lb oz"
	}
	if len(l.Lines) == 0 {
		return d
	}
	d.Summary = fmt.Sprintf("%s to handle, %s, about %s", text.Count(l.Wheels, "wheel"), text.Count(len(l.Lines), "job"), text.Duration(l.Minutes))
	late := 0
	noted := map[string]bool{} // a note is read once, on its first line
	for i, n := range l.Lines {
		if i == 0 || n.Place.Room() != l.Lines[i-1].Place.Room() {
			d.Rooms = append(d.Rooms, sheet.Room{Name: roomHeading(n.Place)})
		}
		r := &d.Rooms[len(d.Rooms)-1]
		if len(r.Shelves) == 0 || n.Place != l.Lines[i-1].Place {
			r.Shelves = append(r.Shelves, sheet.Shelf{Name: within(n.Place)})
		}
		shelf := &r.Shelves[len(r.Shelves)-1]
		x := sheet.Line{Boxes: n.Left, Job: string(n.Job), Who: text.Tags(n.Tags)}
		x.Why = strings.TrimPrefix(timed(n)+"; "+p.Why(n.Why), "; ")
		switch {
		case n.WholeShelf:
			x.Who = fmt.Sprintf("all %d: %s", len(n.Tags), x.Who)
		case len(n.Tags) > 3:
			x.Who = fmt.Sprintf("%d: %s", len(n.Tags), x.Who)
		}
		switch {
		case n.Job == wheel.Coat && n.Coat != "":
			x.Job += " " + n.Coat
		case n.Job == wheel.Move && n.To != "":
			x.Job += " to " + n.To
		case n.Job == wheel.Weigh:
			x.Weigh = n.Tags
		}
		if n.LateDays > 0 {
			late++
			x.Late = "LATE " + text.Count(n.LateDays, "day")
		}
		if n.Note != "" && !noted[n.Note] {
			noted[n.Note] = true
			x.Why = strings.TrimPrefix(x.Why+"; "+n.Note, "; ")
		}
		shelf.Lines = append(shelf.Lines, x)
	}
	if late > 0 {
		d.Summary += fmt.Sprintf(", %d LATE", late)
	}
	if c := cautions(l); c != "" {
		d.Cautions = []string{spaced(c)}
	}
	return d
}
