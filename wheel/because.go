package wheel

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
)

// Sending is the detail of an entry that sends a wheel or a piece of one.
type Sending struct {
	Document string      `json:"document,omitempty"` // reference of the delivery note
	Held     reason.List `json:"held,omitempty"`     // holds it was sent in spite of
	Override string      `json:"override,omitempty"` // why it was, in a person's words
}

// HeldSince is a person's hold on a wheel.
type HeldSince struct {
	Words string   `json:"words"`
	Since day.Date `json:"since"`
}

// Code is held.
func (HeldSince) Code() string { return "held" }

func init() { reason.Register(map[int]reason.Reason{216: HeldSince{}}) }

func (k Kind) sends() bool { return k == Sent || k == SentPart }

// detailed says whether entries of the kind may have a Detail.
func (k Kind) detailed() bool {
	return k == Tasted || k == Logged || k == Noted || k == Asked || k.sends()
}

// Detail is the sending as an entry carries it; "" for one that says nothing.
func (s Sending) Detail() string {
	if s.Document == "" && len(s.Held) == 0 && s.Override == "" {
		return ""
	}
	b, err := json.Marshal(s)
	if err != nil {
		return ""
	}
	return string(b)
}

// Sending is the detail of an entry that sends; empty where it has none, as in
// books from before it could.
func (e Entry) Sending() (s Sending) {
	if e.Kind.sends() && e.Detail != "" && readDetail(e.Detail, &s) != nil {
		return Sending{}
	}
	return s
}

// AskedFor is the detail of an Asked entry.
func AskedFor(why FaultSeen) string {
	b, err := json.Marshal(reason.List{why})
	if err != nil {
		return ""
	}
	return string(b)
}

// Because is why an Asked entry asks: its Detail or, in a person's words, its
// Note; nil where it does not say.
func (e Entry) Because() reason.Reason {
	var l reason.List
	if e.Detail != "" && readDetail(e.Detail, &l) == nil && len(l) > 0 {
		return l[0]
	}
	if e.Note != "" {
		return Says{e.Note}
	}
	return nil
}

// checkReasons says whether the Detail of an entry that asks or sends reads.
func (e Entry) checkReasons() error {
	if e.Kind == Asked {
		var l reason.List
		if err := readDetail(e.Detail, &l); err != nil || len(l) != 1 {
			return fmt.Errorf("that is not why a job was asked for")
		}
		return nil
	}
	var s Sending
	if readDetail(e.Detail, &s) != nil {
		return fmt.Errorf("that is not the detail of a sending")
	}
	return nil
}

func readDetail(detail string, to any) error {
	d := json.NewDecoder(strings.NewReader(detail))
	d.DisallowUnknownFields()
	if err := d.Decode(to); err != nil {
		return err
	}
	if _, err := d.Token(); err != io.EOF {
		return fmt.Errorf("something follows it")
	}
	return nil
}
