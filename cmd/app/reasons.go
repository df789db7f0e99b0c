package app

import (
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/store/members"
	"rindkeep/store/refusal"
)

// The reasons and remedies that every use case shares. cmd/words has a sentence
// for each.

// NoSuchZone: the IANA time zone asked for doesn't exist.
type NoSuchZone struct {
	Zone string `json:"zone"`
}

// NotUUID: the word isn't a UUID (RFC 9562).
type NotUUID struct {
	Word string `json:"word"`
}

// FutureDate and FutureTime: only what has happened can be recorded.
type (
	FutureDate = refusal.FutureDate
	FutureTime = refusal.FutureTime
)

// TooLongAgo: this caller can only record what happened in the last so many hours.
type TooLongAgo struct {
	At    time.Time `json:"at"`
	Hours int       `json:"hours"`
}

// ToBeforeFrom: the period ends before it begins.
type ToBeforeFrom struct {
	From day.Date `json:"from"`
	To   day.Date `json:"to"`
}

// NameTooLong: no tag, lot or place has a name of that many bytes.
type NameTooLong struct {
	Bytes int `json:"bytes"`
}

// NameUnprintable: the name has characters that don't print.
type NameUnprintable struct{}

// SharedNumber refuses a number for a tag that several wheels' tags end in.
type SharedNumber struct {
	Word   string `json:"word"`
	Tags   string `json:"tags"` // the first of them, separated by spaces
	Wheels int    `json:"wheels"`
}

// StarInside: a * may stand only at the end of a word.
type StarInside struct {
	Word string `json:"word"`
}

// BadRange: a run of tags is of one lot, the lower number first.
type BadRange struct {
	Word string `json:"word"`
}

// RowNeedsDate refuses a row of a table without a date where the caller gives none
// either: it would be another day when the table is read again.
const RowNeedsDate reason.Flat = "row-needs-date"

// DidYouMean is a remedy: the names that are nearest, separated by ", ".
type DidYouMean struct {
	Names string `json:"names"`
}

// LotHas is a remedy: the tags a lot has, separated by spaces.
type LotHas struct {
	Lot  string `json:"lot"`
	Tags string `json:"tags"`
}

// The codes.

func (NoSuchZone) Code() string      { return "no-such-zone" }
func (NotUUID) Code() string         { return "not-a-uuid" }
func (TooLongAgo) Code() string      { return "too-long-ago" }
func (ToBeforeFrom) Code() string    { return "to-before-from" }
func (NameTooLong) Code() string     { return "name-too-long" }
func (NameUnprintable) Code() string { return "name-unprintable" }
func (BadRange) Code() string        { return "bad-range-of-tags" }
func (SharedNumber) Code() string    { return "shared-number" }
func (StarInside) Code() string      { return "star-inside" }
func (DidYouMean) Code() string      { return "did-you-mean" }
func (LotHas) Code() string          { return "lot-has" }

// NotShared is a book that no other site shares.
const NotShared reason.Flat = "book-not-shared"

// HasLeft is a book whose site left the others.
type HasLeft struct {
	Name  string `json:"name"`
	First string `json:"first"` // whose invitation lets it in again; its own where it was the first itself
}

// Code implements reason.Reason.
func (HasLeft) Code() string { return "site-has-left" }

// TakesPart refuses what only a book can do that exchanges with other sites.
func (s *Session) TakesPart() (own members.Own, err error) {
	own, shared := s.Tx.Own()
	switch {
	case !shared:
		err = Refuse(NotShared)
	case own.Left != nil:
		err = Refuse(HasLeft{own.Name, own.Root.Name})
	}
	return own, err
}
