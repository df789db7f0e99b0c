package app

import (
	"rindkeep/wheel"
)

// EntryDoc is an entry in JSON.
type EntryDoc struct {
	ID      string   `json:"id"`
	Mark    string   `json:"mark"`
	What    string   `json:"what"`
	At      string   `json:"at"`
	Written string   `json:"written"`
	By      string   `json:"by"`
	Weight  *float64 `json:"weight_g,omitempty"`
	Before  *float64 `json:"before_g,omitempty"`
	Removed *float64 `json:"removed_g,omitempty"`
	Detail  string   `json:"detail,omitempty"` // in words, filled by cmd/words
	Note    string   `json:"note,omitempty"`
	Struck  bool     `json:"struck"`

	Of wheel.Entry `json:"-"`
}

// EntryDoc is an entry in JSON; struck says that it no longer counts.
func (s *Session) EntryDoc(e wheel.Entry, struck bool) EntryDoc {
	return EntryDoc{
		ID: e.ID.String(), Mark: e.Mark(), What: e.Word(), At: Instant(e.At, s.Zone), Written: Instant(e.Written, s.Zone),
		By: e.By, Weight: Grams(e.Weight), Before: Grams(e.Before), Removed: Grams(e.Removed), Note: e.Note, Struck: struck,
		Of: e,
	}
}
