package reason

import (
	"errors"
	"fmt"
	"strings"
	"unicode"
)

// Error is a reason as an error: what a function returns when it refuses. Its text
// is for logs and tests; people read what cmd/words makes of the reason.
type Error struct{ Reason }

// Error gives the reason's code and its figures, shortened to 300 characters (our
// choice), and without what doesn't print.
func (e Error) Error() string {
	s := e.Code()
	if _, flat := e.Reason.(Flat); !flat {
		s = fmt.Sprintf("%s %+v", s, e.Reason)
	}
	if r := []rune(s); len(r) > 300 {
		s = string(r[:300])
	}
	return strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return '·'
		}
		return r
	}, strings.ToValidUTF8(s, "·"))
}

// Err makes an error of a reason.
func Err(r Reason) error { return Error{r} }

// Of is the outermost reason inside an error, which may be a reason itself; nil where there is none.
func Of(err error) Reason {
	var r Reason
	errors.As(err, &r)
	if e, ok := r.(Error); ok {
		return e.Reason
	}
	return r
}

// Flat is a reason that needs no figures: its own code.
type Flat string

// Code implements Reason.
func (f Flat) Code() string { return string(f) }

// Thing is what a request or a record speaks of: a weight, a date, a tag. Things
// are codes; cmd/words has the nouns, and an example of how each is written.
type Thing string

// The shapes that most refusals have. One that fits none of them is a type of its own, where it is decided.
type (
	// Missing: a thing that has to be given wasn't.
	Missing struct {
		What Thing `json:"what"`
	}
	// Unreadable: the word can't be read as the thing it should be.
	Unreadable struct {
		What Thing  `json:"what"`
		Word string `json:"word"`
	}
	// Unknown: there is no such thing among those that may be named. Known is the
	// list of those, separated by ", ", or "".
	Unknown struct {
		What  Thing  `json:"what"`
		Word  string `json:"word"`
		Known string `json:"known"`
	}
	// Together: two things were given of which only one may be.
	Together struct {
		What  Thing `json:"what"`
		Other Thing `json:"other"`
	}
	// Needs: one thing was given and makes no sense without another.
	Needs struct {
		What  Thing `json:"what"`
		Other Thing `json:"other"`
	}
	// TooLong: a text or a list has more (characters, rows, names) than it may have.
	TooLong struct {
		What Thing `json:"what"`
		Has  int   `json:"has"`
		Most int   `json:"most"`
	}
)

// Outside: a figure outside its range, in the unit of its type. High may be +Inf.
type Outside[T ~float64 | ~int] struct {
	What  Thing `json:"what"`
	Value T     `json:"value"`
	Low   T     `json:"low"`
	High  T     `json:"high"`
}

// Within refuses a figure outside its range; nil where it is inside.
func Within[T ~float64 | ~int](what Thing, value, low, high T) error {
	if value >= low && value <= high {
		return nil
	}
	return Err(Outside[T]{what, value, low, high})
}

// The codes of the shapes.

func (Missing) Code() string    { return "missing" }
func (Unreadable) Code() string { return "unreadable" }
func (Unknown) Code() string    { return "unknown" }
func (Together) Code() string   { return "not-together" }
func (Needs) Code() string      { return "needs" }
func (TooLong) Code() string    { return "too-long" }
func (Outside[T]) Code() string { return "outside" }
