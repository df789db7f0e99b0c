package app

import (
	"context"
	"errors"

	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/store/refusal"
)

// Kind is how a refusal is answered: the command line has an exit code for each,
// the page a status.
type Kind int

// The kinds of refusal.
const (
	Refused     Kind = iota // the facts say no
	Misused                 // the request can't be understood
	Missing                 // what it names isn't there
	Busy                    // the book is in use
	NoBook                  // no book there, or one from a newer program
	Interrupted             // the caller went away
)

// Exit is the exit code of the command line for a kind, which the page's API
// publishes too: both are a contract.
func (k Kind) Exit() int { return [...]int{1, 2, 4, 3, 5, 130}[k] }

// Place is where in a request a refusal arose.
type Place struct {
	Field string // the request's field, as in its JSON; "" where it is about the whole
	Of    string // the tag, lot, room, file or word it is about
}

// Refusal is why a request was not carried out, as a value. Sentences are made of
// it by cmd/words.
type Refusal struct {
	Kind   Kind
	Why    reason.Reason // nil: Cause says it
	At     Place
	Also   []string    // the tags, lots or words that it is about besides At.Of
	Remedy reason.List // what to do about it, the likeliest first
	Sure   bool        // it only looks wrong: sent again with sure, it is recorded
	Cause  error       // what lay below, or nil
}

// Error is for logs and tests; people are shown what cmd/words makes of it.
func (r *Refusal) Error() string {
	if r.Why == nil {
		return r.Cause.Error()
	}
	return r.Why.Code()
}

// Code is that of the reason: a refusal is a reason itself, of what is wrong with a
// row of a table.
func (r *Refusal) Code() string {
	if r.Why == nil {
		return "refused"
	}
	return r.Why.Code()
}

// Unwrap gives the cause.
func (r *Refusal) Unwrap() error { return r.Cause }

// Refuse is a refusal for a reason, with remedies.
func Refuse(why reason.Reason, remedy ...reason.Reason) *Refusal {
	return &Refusal{Why: why, Remedy: remedy}
}

// Misuse refuses a request that can't be understood, at one of its fields.
func Misuse(field string, why reason.Reason, remedy ...reason.Reason) *Refusal {
	return &Refusal{Kind: Misused, Why: why, At: Place{Field: field}, Remedy: remedy}
}

// Unsure refuses what looks wrong and may be right: sent again with sure, it is
// recorded.
func Unsure(why reason.Reason, remedy ...reason.Reason) *Refusal {
	return &Refusal{Why: why, Remedy: remedy, Sure: true}
}

// Of names what the refusal is about.
func (r *Refusal) Of(name string) *Refusal {
	r.At.Of = name
	return r
}

// In names the request's field the refusal is about.
func (r *Refusal) In(field string) *Refusal {
	r.At.Field = field
	return r
}

// At says at which field of the request an error arose; an error that knows its
// place keeps it.
func At(field string, err error) error { return placed(err, Place{Field: field}) }

// About says about which tag, lot, room or file an error is.
func About(name string, err error) error { return placed(err, Place{Of: name}) }

func placed(err error, p Place) error {
	if err == nil {
		return nil
	}
	r := AsRefusal(err)
	if r.At == (Place{}) {
		r.At = p
	}
	return r
}

// AsRefusal gives any error as a refusal: one of another package keeps its kind
// and is the cause.
func AsRefusal(err error) *Refusal {
	var r *Refusal
	if errors.As(err, &r) {
		return r
	}
	return &Refusal{Kind: kindOf(err), Cause: err, Why: reason.Of(err)}
}

func kindOf(err error) Kind {
	switch {
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return Interrupted
	case errors.Is(err, bookfile.ErrBusy):
		return Busy
	case IsNotFound(err):
		return Missing
	case errors.Is(err, bookfile.ErrNoBook), errors.Is(err, bookfile.ErrNewer):
		return NoBook
	}
	return Refused
}

// IsNotFound says whether an error is that something named isn't in the book.
func IsNotFound(err error) bool {
	var nf refusal.NotFound
	return errors.As(err, &nf)
}
