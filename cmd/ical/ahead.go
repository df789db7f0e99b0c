package ical

import (
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/wheel"
)

// Ahead writes the days ahead as a calendar and says how many events it has: one a day and room with its jobs, one
// for each job of a make's day that has its time, and one for each lot that waits for its coat. An event keeps its
// identity when the file is written again, so that a calendar changes it and adds no other.
func Ahead(a rooms.Ahead, p words.Printer) (file []byte, events int, err error) {
	w := aheadWriter{p: p, book: a.Book}
	for _, d := range a.Days {
		for _, r := range d.Rooms {
			w.day(d, r)
		}
	}
	for _, t := range a.Timed {
		w.timed(t)
	}
	w.coats(a.Dry)
	name := a.BookName
	if name == "" {
		name = "rindkeep"
	}
	file, err = Write(name, a.Asked, w.events)
	return file, len(w.events), err
}

type aheadWriter struct {
	p      words.Printer
	book   uuid.UUID
	events []Event
}

func (w *aheadWriter) uid(kind string, parts ...string) string {
	return uuid.NewSHA1(w.book, []byte("ahead/"+kind+"/"+strings.Join(parts, "/"))).String()
}

func (w *aheadWriter) day(d rooms.AheadDay, r rooms.AheadRoomDay) {
	var short, long []string
	for _, j := range wheel.Jobs {
		if tags := r.Tags[j]; len(tags) > 0 {
			short = append(short, fmt.Sprintf("%s %d", j, len(tags)))
			long = append(long, fmt.Sprintf("%s %d: %s", j, len(tags), w.p.Tags(tags)))
		}
	}
	if len(short) == 0 { // all of it was moved to other days
		return
	}
	title := r.Room
	if title == "" {
		title = "no place given"
	}
	w.events = append(w.events, Event{
		UID: w.uid("day", r.Room, d.Date), First: d.On, Last: d.On, Location: r.Room,
		Summary:     fmt.Sprintf("%s: %s (%s)", title, strings.Join(short, ", "), text.Duration(*r.Minutes)),
		Description: strings.Join(long, "\n"),
	})
}

func (w *aheadWriter) timed(t rooms.AheadTimed) {
	took := max(time.Minute, time.Duration(t.Took*float64(time.Minute)))
	w.events = append(w.events, Event{
		UID:   w.uid("time", t.Make.String(), t.Job, t.Room, t.When.UTC().Format(time.RFC3339)),
		Start: t.When, End: t.When.Add(took), Location: t.Room, Busy: true,
		Summary:     fmt.Sprintf("%s: %s %d", t.Lot, t.Job, len(t.Wheels)),
		Description: fmt.Sprintf("%s %s", t.Job, w.p.Tags(t.Wheels)),
	})
}

func (w *aheadWriter) coats(list []rooms.AheadDry) {
	lots := map[string]int{}
	for _, d := range list {
		line := fmt.Sprintf("%s: %s", w.p.DayMonth(d.On), w.p.Tags(d.Wheels))
		if !d.Now && d.Expected.LowOn != d.Expected.HighOn {
			line += ", " + w.p.Interval(d.Expected)
		}
		k, ok := lots[d.Lot]
		if !ok {
			k = len(w.events)
			lots[d.Lot] = k
			w.events = append(w.events, Event{
				UID: w.uid("coat", d.Make.String()), First: d.On, Last: d.On,
				Summary:     d.Lot + ": should be dry enough to coat",
				Description: "weigh it and feel it all over before you coat it",
			})
		}
		e := &w.events[k]
		e.Last = max(e.Last, d.On)
		e.Description += "\n" + line
	}
}
