// Package tasting has the questions and acts about how cheese tastes.
package tasting

import (
	"context"
	"slices"
	"strings"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/store/derive"
	"rindkeep/store/history"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
)

// New asks to record a tasting.
type New struct {
	What  []string       // tags, lots, places
	Found wheel.Tasting  // its faults are published, or in the book already
	Own   []string       // faults in words of the maker's own
	Core  quantity.Grams // that the trier took of each; 0: not weighed
	Note  string
	Sure  bool // the core is right although its weight looks wrong
}

// Tasted is a tasting as it was recorded.
type Tasted struct {
	Schema string        `json:"schema"`
	At     string        `json:"at"`
	Wheels []string      `json:"wheels"`
	Found  wheel.Tasting `json:"found"`
	Core   *float64      `json:"core_g"`
	Asked  []string      `json:"checks_asked"` // wheels to check for the fault
	Same   bool          `json:"no_change"`
}

// UnknownFault refuses a word for a fault that is neither published nor in the book.
type UnknownFault struct {
	Word string `json:"word"`
}

// OwnFault is a remedy: the word can be added as the maker's own. Near says that a
// known word is near.
type OwnFault struct {
	Word string `json:"word"`
	Near bool   `json:"near"`
}

// The codes.

func (UnknownFault) Code() string { return "unknown-fault" }
func (OwnFault) Code() string     { return "own-fault" }

// Record records a tasting, and the core that was taken for it. A fault asks for a
// check of the other wheels of the make.
func Record(ctx context.Context, a *app.App, c app.Caller, q New) (app.Did[Tasted], error) {
	known := faultWords(q.Found.Faults)
	q.Found.Faults = append(slices.Clone(known), faultWords(q.Own)...)
	if err := q.Found.Check(); err != nil {
		return app.Did[Tasted]{}, app.Misread("", err)
	}
	return app.Act(ctx, a, c, func(s *app.Session) (Tasted, error) {
		if err := checkFaults(s, known); err != nil {
			return Tasted{}, err
		}
		return record(s, q)
	})
}

func record(s *app.Session, q New) (Tasted, error) {
	d := Tasted{Schema: app.Schema("taste"), Found: q.Found, Core: app.Grams(q.Core)}
	r, err := s.Record(q.What, func(derive.WheelState) (wheel.Entry, error) {
		return wheel.Entry{Kind: wheel.Tasted, Detail: q.Found.Detail(), Note: q.Note}, nil
	})
	if err != nil {
		return d, err
	}
	d.At, d.Wheels, d.Same = app.Instant(r.At, s.Zone), app.Tags(r.Wheels), r.Written == 0
	if q.Core > 0 {
		core := wheel.Entry{Kind: wheel.Cored, Removed: q.Core}
		if _, err := s.Record(q.What, func(st derive.WheelState) (wheel.Entry, error) {
			return core, s.Reweighed(st, core, q.Sure)
		}); err != nil {
			return d, err
		}
	}
	d.Asked, err = s.AskSisters(r, strings.Join(q.Found.Faults, ", "))
	return d, err
}

// faultWords brings words for faults to the form they are kept in.
func faultWords(words []string) []string {
	var out []string
	for _, f := range words {
		if w := strings.ToLower(strings.TrimSpace(f)); w != "" {
			out = append(out, w)
		}
	}
	return out
}

// checkFaults refuses a word that is neither published nor in a tasting of the book,
// so that a typing slip doesn't become a word. It goes through the book only for a
// word that isn't published.
func checkFaults(s *app.Session, words []string) error {
	unknown := slices.DeleteFunc(slices.Clone(words), func(w string) bool {
		_, ok := wheel.FaultOf(w)
		return ok
	})
	if len(unknown) == 0 {
		return nil
	}
	own, err := ownFaults(s)
	if err != nil {
		return err
	}
	for _, w := range unknown {
		if slices.Contains(own, w) {
			continue
		}
		r := app.Misuse("fault", UnknownFault{w})
		near := refusal.Nearest(w, append(wheel.PublishedFaults(), own...))
		if len(near) > 0 {
			r.Remedy = append(r.Remedy, app.DidYouMean{Names: near[0]})
		}
		r.Remedy = append(r.Remedy, OwnFault{w, len(near) > 0})
		return r
	}
	return nil
}

// ownFaults are the words of the maker's own that tastings of the book hold.
func ownFaults(s *app.Session) ([]string, error) {
	var own []string
	tastings := history.Query{Match: func(e history.Logged) bool { return e.Kind == wheel.Tasted && !e.Struck }}
	err := s.Tx.EachLogged(s.Ctx, tastings, func(e history.Logged) error {
		t, err := wheel.ParseTasting(e.Detail)
		if err != nil {
			return nil
		}
		for _, f := range t.Faults {
			if _, published := wheel.FaultOf(f); !published && !slices.Contains(own, f) {
				own = append(own, f)
			}
		}
		return nil
	})
	slices.Sort(own)
	return own, err
}
