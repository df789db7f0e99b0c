// Package ical writes days of work as an iCalendar file (RFC 5545) for a phone or desk calendar. Every item is a
// VEVENT, because some calendars ignore VTODO. The package knows nothing about cheese and reads no clock.
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

// Event takes whole days, from First to Last, or the time from Start to End if
// Start is set. Times are written in UTC; calendars show them in their own zone.
type Event struct {
	UID         string // stays the same when the event is written again
	First, Last day.Date
	Start, End  time.Time
	Summary     string
	Description string // lines separated by \n
	Location    string // "" for none
	Busy        bool   // its time counts as taken
}

// fold is the longest line of the file in octets, without its end (RFC 5545, 3.1).
const fold = 75

// Write writes the events as one named calendar with the time it was made. Lines
// end in CRLF and are folded at 75 octets.
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
			v.SetAllDayEndAt(utc(e.Last + 1)) // DTEND is exclusive
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

// clean drops what a TEXT value may not contain: control characters other than
// line breaks (RFC 5545, 3.3.11) and invalid UTF-8.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if r != '\n' && unicode.IsControl(r) || r == utf8.RuneError {
			return -1
		}
		return r
	}, s)
}

func utc(d day.Date) time.Time { return d.Start(time.UTC) }
