package wheel

import "rindkeep/cave/reason"

// Sending is the Detail of an entry that sends a wheel or a piece of one.
type Sending struct {
	Document string      `json:"document,omitempty"` // reference of the delivery note
	Held     reason.List `json:"held,omitempty"`     // the holds that were overridden
	Override string      `json:"override,omitempty"` // why, in a person's words
}

func init() { reason.Register(map[int]reason.Reason{216: HeldSince{}, 802: Destroyed{}}) }

// Disposal is the Detail of a Lost entry of a wheel that was destroyed.
type Disposal struct {
	Held reason.List `json:"held"` // for safety, as it was destroyed
}

// Detail is the disposal as an entry's Detail holds it.
func (d Disposal) Detail() string { return encodeDetail(d) }

// Disposal is how a Lost entry says that the wheel was destroyed; ok is false if it wasn't.
func (e Entry) Disposal() (d Disposal, ok bool) {
	ok = e.Kind == Lost && e.Detail != "" && decodeDetail(e.Detail, &d, "disposal") == nil
	return d, ok
}

// Destroyed is why a wheel is gone that nobody is to eat.
type Destroyed struct{}

// Code is destroyed.
func (Destroyed) Code() string { return "destroyed" }

func (k Kind) sends() bool { return k == Sent || k == SentPart }

// Detail is the sending as an entry's Detail holds it, "" if it is empty.
func (s Sending) Detail() string {
	if s.Document == "" && len(s.Held) == 0 && s.Override == "" {
		return ""
	}
	return encodeDetail(s)
}

// Sending is the detail of an entry that sends. Older entries have none.
func (e Entry) Sending() (s Sending) {
	if e.Kind.sends() && e.Detail != "" && decodeDetail(e.Detail, &s, "delivery") != nil {
		return Sending{}
	}
	return s
}

// AskedFor is the Detail of an Asked entry.
func AskedFor(why FaultSeen) string { return encodeDetail(reason.List{why}) }

// Because is why an Asked entry asks: the reason in its Detail, else the words in
// its Note, else nil.
func (e Entry) Because() reason.Reason {
	var l reason.List
	if e.Detail != "" && decodeDetail(e.Detail, &l, "reason") == nil && len(l) > 0 {
		return l[0]
	}
	if e.Note != "" {
		return Says{e.Note}
	}
	return nil
}

func checkBecause(detail string) error {
	var l reason.List
	if err := decodeDetail(detail, &l, "reason"); err != nil {
		return err
	}
	return reason.Within("reasons", len(l), 1, 1)
}
