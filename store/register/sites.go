package register

import (
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/reason"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/table"
	"rindkeep/wheel"
)

// Whose lot code goes on cheese that was bought in.
const (
	OwnCode    = "own"
	MakersCode = "maker"
)

// What comes first in dates in figures, such as 5/6/2026.
const (
	DayFirst   = "day-first"
	MonthFirst = "month-first"
)

// Site says where the book's cheese is kept, and whose lot code goes on what was bought
// in, from the moment it was written. It is never changed.
type Site struct {
	ID      uuid.UUID `json:"id"`
	Name    string    `json:"name,omitempty"` // of the business
	Address string    `json:"address,omitempty"`
	Contact string    `json:"contact,omitempty"` // telephone
	// LotCode is whose code bought-in cheese leaves under: OwnCode, with the maker's as its
	// input, or MakersCode; "" where nobody has said, and then it's the maker's.
	LotCode string    `json:"lot_code,omitempty"`
	Dates   string    `json:"dates,omitempty"` // DayFirst, MonthFirst; "": as its countries write them
	Note    string    `json:"note,omitempty"`
	Written time.Time `json:"written"`
	By      string    `json:"by,omitempty"`
}

// Check says what is wrong with it.
func (s Site) Check() error {
	if err := checkWritten(s.ID, s.Written, s.By); err != nil {
		return err
	}
	if s.LotCode != "" && s.LotCode != OwnCode && s.LotCode != MakersCode {
		return reason.Err(reason.Unknown{What: "lot-code", Word: s.LotCode, Known: OwnCode + ", " + MakersCode})
	}
	if s.Dates != "" && s.Dates != DayFirst && s.Dates != MonthFirst {
		return reason.Err(reason.Unknown{What: "dates", Word: s.Dates, Known: DayFirst + ", " + MonthFirst})
	}
	if err := checkName("site", s.Name); err != nil {
		return err
	}
	for _, text := range []string{s.Address, s.Contact, s.Note} {
		if err := wheel.CheckNote(text); err != nil {
			return err
		}
	}
	return nil
}

// Key is the key of its record.
func (s Site) Key() []byte { return layout.WrittenKey(s.Written, s.ID) }

// PutSite has another site count from now on. The same again changes nothing: written is
// false then.
func (t *Writer) PutSite(s Site) (written bool, err error) {
	s.Written = pack.Milli(s.Written)
	if err := t.mayCount(s.Check(), s.Written); err != nil {
		return false, err
	}
	all, err := t.read.Sites()
	if err != nil {
		return false, err
	}
	if n := len(all); n > 0 {
		was := all[n-1]
		was.ID, was.Written, was.By, was.Note = s.ID, s.Written, s.By, s.Note
		if was == s {
			return false, nil
		}
	}
	return table.PutRecord(t.tab, layout.Sites, s.Key(), s)
}

// Sites lists the sites, the earliest first.
func (t *Reader) Sites() ([]Site, error) { return table.List[Site](t.tab, layout.Sites, "site") }

// Site is the site that counts now; the zero one where the book has none.
func (t *Reader) Site() (last Site, err error) {
	all, err := t.Sites()
	if n := len(all); n > 0 {
		last = all[n-1]
	}
	return last, err
}

// Transforms says whether cheese that left at an instant left under the book's own code: what
// Site said then counts. From before Site said anything, cheese leaves under the maker's code,
// unless the sending was written later: then the first that Site said counts.
func (t *Reader) Transforms(at, written time.Time) (own bool, err error) {
	all, err := t.Sites()
	said := false
	for _, s := range all {
		if s.LotCode == "" {
			continue
		}
		if first := !said && !s.Written.After(written); first || !s.Written.After(at) {
			own = s.LotCode == OwnCode
		}
		said = true
	}
	return own, err
}
