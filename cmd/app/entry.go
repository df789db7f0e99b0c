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
	Clock   string   `json:"clock,omitempty"`  // of a phone that was off: what it said then
	Unsure  bool     `json:"unsure,omitempty"` // At may be wrong: the phone's clock was set before it was sent
	By      string   `json:"by"`
	Weight  *float64 `json:"weight_g,omitempty"`
	Before  *float64 `json:"before_g,omitempty"`
	Removed *float64 `json:"removed_g,omitempty"`
	Detail  string   `json:"detail,omitempty"` // in words, filled by cmd/words
	Note    string   `json:"note,omitempty"`
	Struck  bool     `json:"struck"`
	Round   string   `json:"same_round_as,omitempty"` // ID of the entry that recorded the round first

	Of wheel.Entry `json:"-"`
}

// Photo says whether a photo goes with the entry.
func (d EntryDoc) Photo() bool { return d.Of.Kind == wheel.Noted && d.Of.Detail != "" }

// Shot is a photo with the note that it goes with.
type Shot struct {
	ID   string `json:"id"` // of the note
	Mark string `json:"mark"`
	At   string `json:"at"`
	By   string `json:"by"`
	Note string `json:"note"`
	wheel.Photo
}

// Shots are the photos of notes that weren't struck, in the order of the entries.
func Shots(es []EntryDoc) []Shot {
	out := []Shot{}
	for _, e := range es {
		if !e.Photo() || e.Struck {
			continue
		}
		if p, err := wheel.ParsePhoto(e.Of.Detail); err == nil {
			out = append(out, Shot{e.ID, e.Mark, e.At, e.By, e.Note, p})
		}
	}
	return out
}

// EntryDoc is an entry in JSON; struck says that it no longer counts.
func (s *Session) EntryDoc(e wheel.Entry, struck bool) EntryDoc {
	d := EntryDoc{
		ID: e.ID.String(), Mark: e.Mark(), What: e.Word(), At: Instant(e.At, s.Zone), Written: Instant(e.Written, s.Zone),
		By: e.By, Weight: Grams(e.Weight), Before: Grams(e.Before), Removed: Grams(e.Removed), Note: e.Note, Struck: struck,
		Unsure: e.Unsure,
	}
	if !e.Clock.IsZero() {
		e.Clock = e.Clock.In(s.Zone)
		d.Clock = Instant(e.Clock, s.Zone)
	}
	if e.SameRound() {
		d.Round = e.Target.String()
	}
	d.Of = e
	return d
}
