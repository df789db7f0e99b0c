package store

import (
	"errors"
	"fmt"

	"rindkeep/cave/reason"
)

// NotFound says that the book has no such thing. Near are names it does have
// that may have been meant, nearest first. It is a reason itself.
type NotFound struct {
	Thing string   `json:"thing"` // wheel, lot, room, plan, variety, entry
	Name  string   `json:"name"`
	Near  []string `json:"near,omitempty"`
}

// Code implements reason.Reason.
func (NotFound) Code() string { return "not-found" }

// Error is for logs and tests.
func (e NotFound) Error() string {
	return fmt.Sprintf("not-found %s %q", e.Thing, e.Name[:min(80, len(e.Name))])
}

// Refused is a fact the book will not take. Cause says why: a reason, or an error
// that holds one. Subject is the tag, lot or name of what it is about, "" where the
// reason says it all. Index is the place of the entry, wheel or reading in the list
// that was given, from 0. Field is the part of an entry that is wrong, as the columns
// of a table are named; "" where no part is.
type Refused struct {
	Subject string
	Index   int
	Field   string
	Cause   error
}

// Error is for logs and tests.
func (e Refused) Error() string {
	if e.Subject == "" {
		return e.Cause.Error()
	}
	return e.Subject + ": " + e.Cause.Error()
}

// Unwrap gives why.
func (e Refused) Unwrap() error { return e.Cause }

func refuse(subject string, why reason.Reason) error {
	return Refused{Subject: subject, Cause: reason.Err(why)}
}

// RefusalsOf lists what an error of Put or AddWheels refused, in the order it
// was given; none where the error is of another sort.
func RefusalsOf(err error) []Refused {
	var many Refusals
	if errors.As(err, &many) {
		return many
	}
	var one Refused
	if errors.As(err, &one) {
		return []Refused{one}
	}
	return nil
}
