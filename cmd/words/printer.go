// Package words turns what the program knows (reasons, refusals, remedies,
// dates and figures) into sentences, in the reader's units. It is the only place
// that holds them: a second language would be one more file here. Help texts and
// labels stay with the command line and the page.
package words

import (
	"time"

	"rindkeep/cave/quantity"
)

// Surface is where a sentence is read. It decides how a remedy is given: as a
// command to type, or as what to do on the page.
type Surface int

// The surfaces.
const (
	CommandLine Surface = iota
	Page
	API
	Paper
)

// Printer writes sentences for one reader. The zero Printer writes metric units
// for the command line.
type Printer struct {
	Units quantity.Units
	For   Surface
	Book  string         // the book's path, for remedies that name it
	Zone  *time.Location // of the book, for instants; nil: as they come
}
