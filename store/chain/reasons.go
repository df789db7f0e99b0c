package chain

import (
	"time"

	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/wheel"
)

// What is wrong with a link, or with all of them.
const (
	LinkUndecodable = reason.Flat("link-does-not-decode")
	LinkUnnumbered  = reason.Flat("link-without-number")
	LinkMisnamed    = reason.Flat("link-misnames-entry")
	NoChain         = reason.Flat("no-chain")
)

// Fact is a record of the history, as a link of the chain tells of it.
type Fact struct {
	Of   bookfile.Spot `json:"of"`
	What string        `json:"what"`          // entry, reading, picture, record
	Kind wheel.Kind    `json:"kind,omitzero"` // of an entry
	At   time.Time     `json:"at,omitzero"`   // when an entry or reading happened, in the book's zone
}

// LinkSpot is a link of the chain and the first fact it is about. Link 0 is the
// book's beginning.
type LinkSpot struct {
	Number  uint64    `json:"number"`
	Written time.Time `json:"written,omitzero"` // in the book's zone; zero where it is not known
	First   Fact      `json:"first,omitzero"`
	More    int       `json:"more,omitempty"` // facts
}

// What was changed outside the program, or is wrong with a noted head.
type (
	// HeadLength: a noted head has too few digits to find a link by, or too many.
	HeadLength struct {
		Digits int `json:"digits"`
		Least  int `json:"least"`
		Most   int `json:"most"`
	}
	// PutIn: no link speaks of the fact.
	PutIn struct {
		Fact Fact `json:"fact"`
	}
	// Altered: the fact was removed or changed; Link is where it was written.
	Altered struct {
		Fact    Fact     `json:"fact"`
		Removed bool     `json:"removed"`
		Link    LinkSpot `json:"link"`
	}
	// MovedFact: an entry was moved to another time, or made over to another subject.
	MovedFact struct {
		Fact Fact     `json:"fact"`
		To   Fact     `json:"to"`
		Link LinkSpot `json:"link"`
	}
	// LinksMissing: the links From to To were taken out between two that are there.
	LinksMissing struct {
		From   uint64    `json:"from"`
		To     uint64    `json:"to"`
		After  time.Time `json:"after,omitzero"`
		Before time.Time `json:"before"`
	}
	// LinkUnfit: a link doesn't follow from the one before it.
	LinkUnfit struct {
		Link   LinkSpot `json:"link"`
		Before LinkSpot `json:"before"`
	}
)

func (HeadLength) Code() string   { return "head-length" }
func (PutIn) Code() string        { return "put-in" }
func (a Altered) Code() string    { return map[bool]string{true: "removed", false: "changed"}[a.Removed] }
func (MovedFact) Code() string    { return "moved" }
func (LinksMissing) Code() string { return "links-missing" }
func (LinkUnfit) Code() string    { return "link-does-not-follow" }
