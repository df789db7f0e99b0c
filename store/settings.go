package store

import (
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/wheel/holdrule"
)

// Format is the newest format of book this program reads, and the one it
// writes.
const Format = 3

// Settings are what a book is told when it is made.
type Settings struct {
	ID      uuid.UUID `json:"id"` // Nil: Create gives it one
	Created time.Time `json:"created"`
	Zone    string    `json:"zone"` // IANA name: the dates are days there
	Name    string    `json:"name,omitempty"`
	By      string    `json:"by,omitempty"`    // who writes where nobody else is named
	Units   string    `json:"units,omitempty"` // metric or imperial, as the edge takes it

	Countries string `json:"countries,omitempty"` // whose law its wheels follow at first, "CA US"; see Follow
}

// Check says what is wrong with the settings. "Local" is no zone: it means
// another thing on another machine.
func (s Settings) Check() error {
	if s.Zone == "" || s.Zone == "Local" {
		return reason.Err(reason.Missing{What: "zone"})
	}
	if _, err := time.LoadLocation(s.Zone); err != nil {
		return reason.Err(reason.Unreadable{What: "zone", Word: s.Zone})
	}
	if err := holdrule.CheckJoined(s.Countries); err != nil {
		return err
	}
	for _, n := range []struct{ thing, name string }{{"book", s.Name}, {"person", s.By}, {"choice of units", s.Units}} {
		if n.name == "" {
			continue
		}
		if err := cave.CheckName(reason.Thing(n.thing), n.name); err != nil {
			return err
		}
	}
	return nil
}

// ZoneUnknown: this machine doesn't know the book's IANA time zone.
type ZoneUnknown struct {
	Zone string `json:"zone"`
}

// Code implements reason.Reason.
func (ZoneUnknown) Code() string { return "zone-unknown-here" }
