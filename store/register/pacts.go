package register

import (
	"bytes"
	"crypto/ed25519"
	"encoding/binary"
	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/table"
	"rindkeep/wheel"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
)

// PactKind is what a pact says of a site.
type PactKind string

// The kinds of pact.
const (
	Founded  PactKind = "founded"  // the first site: Site, Name, Epoch, Public
	Invited  PactKind = "invited"  // may join as Site and Name with the one-time key Public, up to Until
	Admitted PactKind = "admitted" // signs with Public in Epoch
	Revoked  PactKind = "revoked"  // what it wrote in Epoch after its link Number isn't taken; or nobody joins by Of
	Left     PactKind = "left"     // left: what it wrote in Epoch after its link Number isn't taken
	Claimed  PactKind = "claimed"  // got the wheel Tag, which the book hasn't got yet, and put it at Place
	Settled  PactKind = "settled"  // somebody settled the disagreement, or the claim, Of
)

// Pact is a fact about the sites that share the book.
type Pact struct {
	ID     uuid.UUID         `json:"id"`
	Kind   PactKind          `json:"kind"`
	Site   uuid.UUID         `json:"site"`
	Name   string            `json:"name,omitempty"`
	Epoch  uuid.UUID         `json:"epoch"` // Nil: none said
	Public ed25519.PublicKey `json:"key,omitempty"`
	Number uint64            `json:"number,omitempty"`
	From   uuid.UUID         `json:"from"` // the site that wrote it: another's word for it counts nowhere
	// Of is the invitation of an admission, or that was withdrawn; of a site invited again, the word that let
	// it in; of Settled, what was.
	Of      uuid.UUID  `json:"of"`
	Tag     string     `json:"tag,omitempty"`
	Place   cave.Place `json:"place,omitempty"`
	At      time.Time  `json:"at,omitzero"` // when that was
	Until   time.Time  `json:"until,omitzero"`
	Why     string     `json:"why,omitempty"`
	Written time.Time  `json:"written"`
	By      string     `json:"by,omitempty"`
}

// MostSiteName is the longest name of a site, in bytes: it stands before the names of its
// rooms, lots and wheels.
const MostSiteName = 16

// CheckSiteName refuses what can't name a site.
func CheckSiteName(name string) error {
	if err := cave.CheckTag("site", name); err != nil {
		return err
	}
	if len(name) > MostSiteName {
		return cave.CheckText("site", name, MostSiteName, "")
	}
	if lower := strings.ToLower(name); lower != name {
		return reason.Err(refusal.Respell{Word: name, As: lower})
	}
	return nil
}

// Check says what is wrong with it.
func (p Pact) Check() error {
	switch {
	case p.Site == uuid.Nil:
		return reason.Err(reason.Missing{What: "id"})
	case !slices.Contains([]PactKind{Founded, Invited, Admitted, Revoked, Left, Claimed, Settled}, p.Kind):
		return reason.Err(reason.Unknown{What: "kind", Word: string(p.Kind)})
	case len(p.Public) != 0 && len(p.Public) != ed25519.PublicKeySize:
		return reason.Err(reason.Missing{What: "key"})
	}
	if p.Kind == Claimed {
		if err := cave.CheckSited("tag", p.Tag); err != nil {
			return err
		}
	}
	if p.Name != "" {
		if err := CheckSiteName(p.Name); err != nil {
			return err
		}
	}
	if err := checkWritten(p.ID, p.Written, p.By); err != nil {
		return err
	}
	return wheel.CheckNote(p.Why)
}

// Withdrawn says whether nobody may join by an invitation any more: the first site took it back, or
// the site that gave it did before it let anybody in, so that a thief of its key can't shut out
// those it let in.
func (p Pact) Withdrawn(all []Pact, first uuid.UUID) bool {
	withdrawn, used := false, false
	for _, o := range all {
		switch {
		case o.Of != p.ID:
		case o.Kind == Revoked && o.From == first:
			return true
		case o.From == p.From:
			withdrawn, used = withdrawn || o.Kind == Revoked, used || o.Kind == Admitted
		}
	}
	return withdrawn && !used
}

// LeftSince says since when a site has been gone, of all pacts, the earliest first; ok is false
// of one that takes part.
func LeftSince(all []Pact, name string) (at time.Time, ok bool) {
	for _, p := range all {
		switch {
		case p.Name != name:
		case p.Kind == Left:
			at, ok = p.Written, true
		case p.Kind == Admitted, p.Kind == Founded:
			ok = false
		}
	}
	return at, ok
}

// Key is the key of its record.
func (p Pact) Key() []byte { return layout.WrittenKey(p.Written, p.ID) }

// PutPact writes a pact.
func (t *Writer) PutPact(p Pact) error {
	p.Written, p.Until, p.At = pack.Milli(p.Written), pack.Milli(p.Until), pack.Milli(p.At)
	if err := p.Check(); err != nil {
		return refusal.Refused{Cause: err}
	}
	t.read.pacts = nil
	_, err := table.PutRecord(t.tab, layout.Pacts, p.Key(), p)
	return err
}

// Pacts lists what was agreed about the sites that share the book, the earliest first.
func (t *Reader) Pacts() (_ []Pact, err error) {
	if t.pacts == nil {
		if err := t.tab.Flush(layout.Pacts); err != nil {
			return nil, err
		}
		t.pacts, err = table.List[Pact](t.tab, layout.Pacts, "pact")
	}
	return t.pacts, err
}

// Took forgets what was read of a record that another site's took the place of, and tells
// what may follow from it.
func (t *Writer) Took(bucket string, key []byte) error {
	r := t.read
	switch bucket {
	case layout.Rooms:
		delete(r.rooms, string(key))
		return t.changed(Change{Thing: "air", Name: string(key)})
	case layout.Air:
		room, at, _ := bytes.Cut(key, []byte{0})
		from := time.UnixMilli(int64(binary.BigEndian.Uint64(at))).UTC()
		return t.changed(Change{Thing: "air", Name: string(room), From: from})
	case layout.Plans, layout.Varieties, layout.Laws, layout.Limits:
		delete(r.parsed, textKey{bucket, string(key)})
		r.laws = nil
		thing := map[string]reason.Thing{
			layout.Plans: "plan", layout.Varieties: "variety", layout.Laws: "rule", layout.Limits: "limit",
		}
		return t.changed(Change{Thing: thing[bucket], Name: string(key)})
	case layout.Follows:
		r.follows = nil
		return t.changed(Change{Thing: "follow"})
	case layout.Pacts:
		r.pacts = nil
	}
	return nil
}
