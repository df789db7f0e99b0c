package sheet

import (
	"fmt"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/wheel"
)

// GatherDay takes the day's list from the book, to be laid out later; on is its date.
func GatherDay(
	s *app.Session, p words.Printer, h Head, q round.Asked,
) (draw func() (Doc, error), on string, err error) {
	t, err := round.Day(s, q)
	if err != nil {
		return nil, "", err
	}
	p.FillToday(&t)
	d := DayOf(p, t, t.List.Date < s.Today)
	return func() (Doc, error) { return Today(h, d) }, t.Date, nil
}

// DayOf is a day's list in words, to be laid out. The air of a day gone by is left out.
func DayOf(p words.Printer, t round.Today, past bool) Day {
	p.Zone = t.Zone
	d := Day{Date: t.List.Date.Long(), Summary: p.DaySum(t), Unit: "g"}
	if p.Units == quantity.Imperial {
		d.Unit = "lb oz"
	}
	for _, x := range t.Alarms {
		if !past {
			d.Alarms = append(d.Alarms, "AIR of "+x.Room+": "+x.What)
		}
	}
	late := 0
	said := map[string]bool{} // a note is read once, on its first line
	for _, r := range t.List.ByRoom() {
		room := Room{Name: words.RoomHeading(r.Room)}
		for _, sh := range r.Shelves {
			shelf := Shelf{Name: words.ShelfName(sh.Place)}
			for _, n := range sh.Lines {
				x := Line{Boxes: n.Left, Job: words.Doing(n), Who: words.LineWheels(n), Why: p.LineWhy(n, said)}
				if n.Job == wheel.Weigh {
					x.Weigh = n.Tags
				}
				if n.LateDays > 0 { // a time of day that is past says nothing on paper
					late++
					x.Late = "LATE " + text.Count(n.LateDays, "day")
				}
				shelf.Lines = append(shelf.Lines, x)
			}
			room.Shelves = append(room.Shelves, shelf)
		}
		d.Rooms = append(d.Rooms, room)
	}
	if late > 0 {
		d.Summary += fmt.Sprintf(", %d LATE", late)
	}
	for _, x := range t.Cautions {
		d.Cautions = append(d.Cautions, x.Words)
	}
	return d
}
