package tomlfile

import (
	"fmt"

	"rindkeep/cave/reason"
)

// Fault is what is wrong with a file: an error that is a reason itself. Line counts
// from 1; 0 means the file as a whole. Key is the key or table it is about, "" for
// none. Why is one of the shapes of package reason or of the types below.
type Fault struct {
	File string        `json:"file"`
	Line int           `json:"line"`
	Key  string        `json:"key"`
	Why  reason.Reason `json:"why"`
}

// Code is that of what is wrong.
func (f Fault) Code() string { return f.Why.Code() }

// Error is for logs and tests; cmd/words has the sentence for people.
func (f Fault) Error() string {
	return visible(fmt.Sprintf("%s line %d: %s: %s %+v", f.File, f.Line, f.Key, f.Code(), f.Why))
}

type (
	// Hidden is a character that acts on a terminal or a page instead of showing; 0 where it is in a text.
	Hidden struct {
		Char rune `json:"char"`
	}
	// NotTOML is what the TOML library says of a file it can't read.
	NotTOML struct {
		Detail string `json:"detail"`
	}
	// WrongKind is a value that is not a text, texts, numbers, table or tables.
	WrongKind struct {
		Want string `json:"want"`
	}
	// Range is a figure outside its bounds, in Unit: %, C, g, cm or a word.
	Range struct {
		Low   float64 `json:"low"`
		High  float64 `json:"high"`
		Unit  string  `json:"unit"`
		Whole bool    `json:"whole"`
	}
	// Twice is a text in a list a second time.
	Twice struct {
		Word string `json:"word"`
	}
	// NotRising is a number in a list that is not over the one before it.
	NotRising struct {
		Before int `json:"before"`
		After  int `json:"after"`
	}
	// NotUnder is a figure that has to be under another key's.
	NotUnder struct {
		Value float64 `json:"value"`
		Other string  `json:"other"`
		Limit float64 `json:"limit"`
		Unit  string  `json:"unit"`
	}
	// NotOver is a figure that has to be over another key's.
	NotOver NotUnder
)

// Empty is a text or list with nothing in it.
const Empty reason.Flat = "empty"

// The codes of the reasons.

func (Hidden) Code() string    { return "hidden-character" }
func (NotTOML) Code() string   { return "not-toml" }
func (WrongKind) Code() string { return "wrong-kind" }
func (Range) Code() string     { return "out-of-range" }
func (Twice) Code() string     { return "twice" }
func (NotRising) Code() string { return "not-rising" }
func (NotUnder) Code() string  { return "not-under" }
func (NotOver) Code() string   { return "not-over" }
