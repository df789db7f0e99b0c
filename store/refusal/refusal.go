// Package refusal says why the book doesn't take a fact, or what it hasn't got: as errors
// that hold reasons, with the place in a list and the names that may have been meant.
package refusal

import (
	"errors"
	"fmt"

	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
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

// Because refuses something for a reason.
func Because(subject string, why reason.Reason) error {
	return Refused{Subject: subject, Cause: reason.Err(why)}
}

// Of lists what an error of Put or AddWheels refused, in the order it
// was given; none where the error is of another sort.
func Of(err error) []Refused {
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

// Refusals are all the entries of one Put that the book will not take, in the
// order they were given.
type Refusals []Refused

// Error gives the first sentence and how many more there are.
func (r Refusals) Error() string {
	if len(r) == 0 {
		return "nothing refused"
	}
	if len(r) == 1 {
		return r[0].Error()
	}
	return fmt.Sprintf("%s (and %d more)", r[0].Error(), len(r)-1)
}

// Unwrap gives each refusal.
func (r Refusals) Unwrap() []error {
	out := make([]error, len(r))
	for i := range r {
		out[i] = r[i]
	}
	return out
}

// At puts the place in the list, and the subject, to an error.
func At(err error, subject string, i int) error {
	var r Refused
	var be *bookfile.Error
	switch {
	case errors.As(err, &be):
		return err
	case errors.As(err, &r):
		r.Index = i
		if r.Subject == "" {
			r.Subject = subject
		}
		return r
	}
	return Refused{Subject: subject, Index: i, Cause: err}
}

// IsNotFound says whether an error is only that there is no such thing.
func IsNotFound(err error) bool {
	var nf NotFound
	return errors.As(err, &nf)
}
