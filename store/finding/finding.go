// Package finding has what a check of a book finds.
package finding

import (
	"time"

	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/wheel"
)

// What is wrong with a page, record or index.
const (
	EntriesMissing = reason.Flat("entries-missing") // the wheel has more than were found
	OfNothing      = reason.Flat("about-nothing")   // an entry of no wheel or make
	OfNoMake       = reason.Flat("of-no-make")
	NoState        = reason.Flat("not-in-standings")
	OtherState     = reason.Flat("stands-otherwise")
	NoTask         = reason.Flat("task-not-in-index")
	UnnamedTask    = reason.Flat("task-unnamed") // its standing names no such task
	ClosedAhead    = reason.Flat("tasks-closed-ahead")
	OtherCounts    = reason.Flat("counts-differ")
	HalfMetadata   = reason.Flat("one-copy-of-metadata")
)

type (
	// NotIndexed: a record isn't in an index.
	NotIndexed struct {
		Index string `json:"index"`
	}
	// OtherIndexed: a record is otherwise in an index.
	OtherIndexed NotIndexed
	// OtherTask: a wheel's job is otherwise in the index of what is due.
	OtherTask struct {
		Job wheel.Job `json:"job"`
	}
	// OtherCount: a place or an index holds another number than it says.
	OtherCount struct {
		Has  int `json:"has"`
		Says int `json:"says"`
	}
)

// UnreadEntry: an entry of a wheel or make can't be read. At is when it happened.
type UnreadEntry struct {
	At time.Time `json:"at"`
}

// HalfKept: the file is kept at Path as it was when one copy of its metadata was damaged.
type HalfKept struct {
	Path string `json:"path"`
}

func (NotIndexed) Code() string   { return "not-in-index" }
func (OtherIndexed) Code() string { return "otherwise-in-index" }
func (OtherTask) Code() string    { return "task-differs" }
func (OtherCount) Code() string   { return "count-differs" }
func (UnreadEntry) Code() string  { return bookfile.Undecodable.Code() }
func (HalfKept) Code() string     { return "one-copy-of-metadata-kept" }

// What a check finds in what other sites wrote.
const (
	BundleUnreadable reason.Flat = "bundle-unreadable"
	BundleUnfit      reason.Flat = "bundle-unfit" // it doesn't follow from the one before
	BundlesMissing   reason.Flat = "bundles-missing"
	FactMissing      reason.Flat = "other-sites-fact-missing"
)
