// Package carrier says what carries bundles between sites: a folder, or NATS JetStream. A carrier
// keeps bundles as they are and is never trusted: the receiver of a bundle verifies it. The books
// are the record. Any site puts back what a carrier has lost.
package carrier

import (
	"context"
	"errors"
	"slices"
	"sync"

	"github.com/google/uuid"

	"rindkeep/store/bundle"
)

// Carrier is one place that bundles of one group go through. One goroutine at a time uses it; Wait
// may run beside.
type Carrier interface {
	// Prepare makes the group's place, where it isn't there. The first site does so, once.
	Prepare(ctx context.Context) error
	// Put leaves a sealed bundle, and returns when the carrier says that it lasts. The error is
	// Behind where the carrier's last bundle isn't what comes before this one: read Heads again.
	Put(ctx context.Context, raw []byte) error
	// Heads is how far the carrier has each epoch of each site without a gap: a hint.
	Heads(ctx context.Context) ([]bundle.Head, error)
	// Fetch gives the bundles of an epoch that go beyond a link, by their numbers. The same links
	// may come twice, and differ, if somebody put them twice.
	Fetch(ctx context.Context, site, epoch uuid.UUID, after uint64, each func(raw []byte) error) error
	// Wait returns when there may be something that wasn't there at the last call of Heads, or ctx ends.
	Wait(ctx context.Context) error
	// Faults are what was left aside, and what should be known of the carrier, since the last call.
	Faults() []Trouble
	Close() error
}

// Aside is what a carrier left aside since it was last asked: its Faults.
type Aside struct {
	mu  sync.Mutex
	all []Trouble
}

// Note adds a trouble, once.
func (a *Aside) Note(t Trouble) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if !slices.Contains(a.all, t) {
		a.all = append(a.all, t)
	}
}

// Faults gives what was noted since the last call.
func (a *Aside) Faults() []Trouble {
	a.mu.Lock()
	defer a.mu.Unlock()
	out := a.all
	a.all = nil
	return out
}

// Kind is a kind of trouble with a carrier, for errors.Is, and its code.
type Kind string

// The kinds of trouble with a carrier.
const (
	Address     Kind = "carrier-address"      // can't be one
	Away        Kind = "carrier-away"         // can't be reached now, which it may be later
	Unprepared  Kind = "carrier-not-prepared" // it's there, without a place for this group
	Refused     Kind = "carrier-refused"      // it lets this site in, but not do that
	Full        Kind = "carrier-full"
	Behind      Kind = "carrier-behind"   // its last bundle isn't the one before
	Failed      Kind = "carrier-failed"   // otherwise
	Settings    Kind = "carrier-settings" // it may lose bundles: What is the setting, Detail its value
	DamagedPart Kind = "bundle-damaged"   // a bundle that was cut off or changed
	ForeignPart Kind = "bundle-foreign"   // a file or message that isn't a bundle of the group
)

// Error is the code.
func (k Kind) Error() string { return string(k) }

// Trouble is what is wrong with a carrier, or with one thing in it: a reason, and an error.
type Trouble struct {
	Kind   Kind   `json:"-"`
	Place  string `json:"place"`            // the carrier, as a person knows it, without a password
	What   string `json:"what,omitempty"`   // a file, a subject or a setting
	Detail string `json:"detail,omitempty"` // what the system or the server said
}

// Code is the kind's.
func (t Trouble) Code() string { return string(t.Kind) }

// Error is for logs: sentences are made elsewhere.
func (t Trouble) Error() string {
	s := string(t.Kind) + ": " + t.Place
	if t.What != "" {
		s += ": " + t.What
	}
	if t.Detail != "" {
		s += ": " + t.Detail
	}
	return s
}

// Is compares the kind.
func (t Trouble) Is(target error) bool {
	var k Kind
	return errors.As(target, &k) && k == t.Kind
}
