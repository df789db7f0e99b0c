// Package ical writes days of work as an iCalendar file (RFC 5545) that a
// phone or desk calendar subscribes to or imports. Every event is a VEVENT, of
// whole days or with its time of day: some calendars pass VTODO over. It knows nothing of cheese; what
// an event says is handed in, and no clock is read.
package ical

import (
	"bytes"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	ics "github.com/arran4/golang-ical"

	"rindkeep/cave/day"
)

// Event is something on one or more whole days or, where Start is set, at a time
// of day. Times are written in UTC, which every calendar shows in its own zone.
type Event struct {
	UID         string // the same thing written again bears the same one
	First, Last day.Date
	Start, End  time.Time
	Summary     string
	Description string // lines apart by \n
	Location    string // "" for none
	Busy        bool   // its days count as taken
}

// fold is how long a line of the file may be, in octets, its end not counted
// (RFC 5545, 3.1).
const fold = 75

// Write lays the events out as one calendar of that name, stamped with the
// moment it was made. Lines end in CRLF and are folded at 75 octets.
func Write(name string, stamp time.Time, events []Event) ([]byte, error) {
	c := ics.NewCalendarFor("rindkeep")
	c.SetProductId("-//rindkeep//ahead//EN")
	c.SetMethod(ics.MethodPublish)
	c.SetXWRCalName(clean(name))
	for _, e := range events {
		v := c.AddEvent(e.UID)
		v.SetDtStampTime(stamp.UTC())
		if e.Start.IsZero() {
			v.SetAllDayStartAt(utc(e.First))
			v.SetAllDayEndAt(utc(e.Last + 1)) // the day after: DTEND is not part of it
		} else {
			v.SetStartAt(e.Start.UTC())
			v.SetEndAt(e.End.UTC())
		}
		v.SetSummary(clean(e.Summary))
		if e.Description != "" {
			v.SetDescription(clean(e.Description))
		}
		if e.Location != "" {
			v.SetLocation(clean(e.Location))
		}
		v.SetProperty(ics.ComponentPropertyTransp, "TRANSPARENT")
		if e.Busy {
			v.SetProperty(ics.ComponentPropertyTransp, "OPAQUE")
		}
	}
	var b bytes.Buffer
	err := c.SerializeTo(&b, ics.WithLineLength(fold), ics.WithNewLine("\r\n"))
	return b.Bytes(), err
}

// clean drops what a TEXT value may not hold: control characters other than
// the line break (RFC 5545, 3.3.11), and bytes that are no UTF-8.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if r != '\n' && unicode.IsControl(r) || r == utf8.RuneError {
			return -1
		}
		return r
	}, s)
}

func utc(d day.Date) time.Time { return d.Start(time.UTC) }
