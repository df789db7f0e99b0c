package chain

import (
	"time"

	"rindkeep/store/bookfile"
)

// How a history differs from that of another file, at Path.
type (
	// AnotherBook: the other file holds another book.
	AnotherBook struct {
		Path string `json:"path"`
	}
	// Parted: both have the same history up to a link; 0: they share none. Then they differ.
	Parted struct {
		Path    string    `json:"path"`
		Link    int       `json:"link"`
		Written time.Time `json:"written,omitzero"` // that link, in the book's zone
	}
	// Behind: the other file goes on after this one's last link.
	Behind struct {
		Path  string    `json:"path"`
		Links int       `json:"links"`
		Since time.Time `json:"since"` // when the last link of both was written, in the book's zone
	}
	// TakenAltered: the book was imported from a file whose history was altered.
	TakenAltered struct {
		On time.Time `json:"on"` // in the book's zone
	}
)

func (AnotherBook) Code() string { return "another-book-than" }
func (Parted) Code() string      { return "history-parted" }
func (Behind) Code() string      { return "history-behind" }

// Code implements reason.Reason.
func (TakenAltered) Code() string { return "imported-altered" }

// OtherHistory refuses a backup or an export at Path whose history was altered, or isn't
// that of the book it's for.
type OtherHistory struct {
	Path     string             `json:"path"`
	Findings []bookfile.Finding `json:"findings"`
}

// Code implements reason.Reason.
func (*OtherHistory) Code() string { return "other-history" }
