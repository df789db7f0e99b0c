package sites

import (
	"context"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/library"
	"rindkeep/store"
	"rindkeep/store/disagree"
	"rindkeep/store/members"
	"rindkeep/store/refusal"
	"rindkeep/store/register"
	"rindkeep/wheel"
)

// Disagreement is what the sites disagree about, and only a person can settle.
type Disagreement struct {
	Code   string  `json:"code"` // to settle it by
	Kind   string  `json:"kind"`
	Thing  string  `json:"thing"`
	Name   string  `json:"name"`
	Stands *Side   `json:"stands"`          // what counts; null: nothing does for it
	Other  *Side   `json:"other"`           // what doesn't, or not alone
	Swaps  bool    `json:"other_can_stand"` // settling it may have the other count
	Ahead  float64 `json:"clock_ahead_min"`
	Text   string  `json:"text"`   // in words, filled by cmd/words
	Settle string  `json:"settle"` // what to type, filled by cmd/words

	Of disagree.Disagreement `json:"-"`
}

// Side is what one site says in a disagreement.
type Side struct {
	Site  *string `json:"site"`
	At    *string `json:"at"`
	Name  *string `json:"name"`  // of a wheel or lot, where two have one
	Entry *string `json:"entry"` // its code, of what was recorded of a wheel

	Says []disagree.Field `json:"says"` // what the other doesn't, of a record that two sites wrote
}

// Traveller is a wheel on its way to another site.
type Traveller struct {
	Wheel string `json:"wheel"`
	From  string `json:"from"` // the room that it was in
	To    string `json:"to"`   // a site
	Since string `json:"since"`
	Here  bool   `json:"to_this_site"`
}

// Early is a wheel that a site received before the wheel's data.
type Early struct {
	Code  string `json:"code"`
	Wheel string `json:"wheel"`
	Place string `json:"place"`
	Site  string `json:"site"`
	Since string `json:"since"`
}

// disagreements lists what is open, and what was received early.
func disagreements(s *app.Session) (open []Disagreement, early []Early, err error) {
	all, err := disagree.List(s.Tx)
	open, early = []Disagreement{}, []Early{}
	for _, d := range all {
		if d.Kind == disagree.ClaimWaits {
			early = append(early, Early{
				wheel.MarkOf(d.ID), d.Name, d.Stands.Name, d.Stands.Site, app.Instant(d.Stands.At, s.Zone),
			})
			continue
		}
		open = append(open, disagreement(s, d))
	}
	return open, early, err
}

func disagreement(s *app.Session, d disagree.Disagreement) Disagreement {
	stands, other := d.Differ()
	return Disagreement{
		Code: wheel.MarkOf(d.ID), Kind: string(d.Kind), Thing: string(d.Thing), Name: d.Name,
		Stands: side(s, d.Stands, stands), Other: side(s, d.Other, other), Swaps: d.Kind == disagree.Replaced,
		Ahead: d.Ahead.Round(time.Minute).Minutes(), Of: d,
	}
}

func side(s *app.Session, x disagree.Side, says []disagree.Field) *Side {
	if x.At.IsZero() && x.Name == "" && x.Site == "" {
		return nil
	}
	out := Side{Says: slices.Concat([]disagree.Field{}, says)}
	known := func(text string) *string {
		if text == "" {
			return nil
		}
		return &text
	}
	out.Site, out.Name, out.At = known(x.Site), known(x.Name), instant(s, x.At)
	if x.Entry.ID != uuid.Nil {
		out.Entry = known(x.Entry.Mark())
	}
	return &out
}

// travellers lists the wheels on their way, those to this site first.
func travellers(s *app.Session, own members.Own) ([]Traveller, error) {
	others, err := s.Tx.SiteNames()
	if err != nil {
		return nil, err
	}
	out := []Traveller{}
	for _, to := range append([]string{own.Name}, others...) {
		ws, err := s.Tx.WheelsAt(cave.Place(to + ":"))
		if err != nil {
			return nil, err
		}
		app.SortByTag(ws)
		for _, w := range ws {
			l, err := s.Tx.LifeAlone(w.Wheel)
			if err != nil {
				return nil, err
			}
			from, at := l.Sent()
			out = append(out, Traveller{w.Tag, string(from), to, app.Instant(at, s.Zone), to == own.Name})
		}
	}
	return out, nil
}

// SettleQuery settles a disagreement, or drops what was received early.
type SettleQuery struct {
	Code  string
	Other bool // what gave way counts from now on
	Why   string
	Sure  bool // asked again whether safety holds may end with it
}

// NothingToSettle is a code that no open disagreement has.
type NothingToSettle struct {
	Asked string `json:"disagreement"`
	Open  string `json:"open"`
}

// NoOther refuses to have the other count where there's no choosing.
type NoOther struct {
	Asked string `json:"disagreement"`
}

// The codes.
func (NothingToSettle) Code() string { return "nothing-to-settle" }
func (NoOther) Code() string         { return "no-other-to-stand" }

// Settled is what was settled.
type Settled struct {
	Schema string       `json:"schema"`
	Of     Disagreement `json:"settled"`
	Other  bool         `json:"other"` // what had given way counts now
}

// Settle settles a disagreement. What was settled stays in the history and isn't listed.
func Settle(ctx context.Context, a *app.App, c app.Caller, q SettleQuery) (app.Did[Settled], error) {
	return app.Act(ctx, a, c, func(s *app.Session) (d Settled, err error) {
		own, shared := s.Tx.Own()
		if !shared {
			return d, app.Refuse(app.NotShared)
		}
		all, err := disagree.List(s.Tx)
		if err != nil {
			return d, err
		}
		i := slices.IndexFunc(all, func(d disagree.Disagreement) bool {
			return strings.EqualFold(wheel.MarkOf(d.ID), q.Code) || strings.EqualFold(d.ID.String(), q.Code)
		})
		if i < 0 {
			var open []string
			for _, d := range all {
				open = append(open, wheel.MarkOf(d.ID))
			}
			return d, app.Refuse(NothingToSettle{q.Code, strings.Join(open, ", ")})
		}
		of := all[i]
		if q.Other && of.Kind != disagree.Replaced {
			return d, app.Refuse(NoOther{q.Code})
		}
		if q.Other {
			if err := q.restore(s, of); err != nil {
				return d, err
			}
		}
		d = Settled{Schema: app.Schema("site-settle"), Other: q.Other, Of: disagreement(s, of)}
		return d, s.Write.PutPact(register.Pact{
			ID: s.NextID(), Kind: register.Settled, Site: own.Site, From: own.Site, Of: of.ID, Why: q.Why,
			Written: s.Time, By: s.Who,
		})
	})
}

// restore has what gave way count. What a text may end is asked as when it's added.
func (q SettleQuery) restore(s *app.Session, of disagree.Disagreement) error {
	put := func() error { return disagree.Restore(s.Write, of) }
	text, ok := of.Text()
	if !ok {
		return put()
	}
	a := library.Adding{Kind: library.Kind(of.Thing), File: of.Name, TOML: text, Why: q.Why, Sure: q.Sure}
	return library.Put(s, a, put)
}

// moved is the identity of the entry that moves a wheel that was claimed: in every copy of the
// book the same.
func moved(claim uuid.UUID) uuid.UUID { return uuid.NewSHA1(claim, []byte("moved")) }

// claims moves the wheels that this site received before their data, once it's known which they are.
func (x *exchange) claims() error {
	open := false
	if err := x.view(func(t *store.ReadTx) error {
		all, err := t.Pacts()
		open = slices.ContainsFunc(disagree.OpenClaims(all), func(p register.Pact) bool { return p.From == x.own.Site })
		return err
	}); err != nil || !open {
		return err
	}
	return x.update(func(t *store.WriteTx) error {
		all, err := t.Pacts()
		if err != nil {
			return err
		}
		for _, p := range disagree.OpenClaims(all) {
			coming, _, err := disagree.Claimed(t.ReadTx, p.Tag)
			if err != nil {
				return err
			}
			if p.From != x.own.Site || len(coming) != 1 {
				continue
			}
			w := coming[0]
			e := wheel.Entry{
				ID: moved(p.ID), Subject: w.Wheel, Kind: wheel.Moved, Place: p.Place, At: p.At, Written: p.Written, By: p.By,
			}
			if !e.At.After(w.Last) && w.Place.Bound() != "" { // the sender's clock is ahead
				e.At = w.Last.Add(time.Millisecond)
			}
			if _, err := t.Put(e); err != nil {
				if len(refusal.Of(err)) > 0 {
					continue // somebody has to see to it
				}
				return err
			}
			id, err := uuid.NewV7()
			if err != nil {
				return err
			}
			if err := t.PutPact(register.Pact{
				ID: id, Kind: register.Settled, Site: x.own.Site, From: x.own.Site, Of: p.ID, Written: t.Now(), By: p.By,
			}); err != nil {
				return err
			}
			x.out.Received = append(x.out.Received, w.Tag)
		}
		return nil
	})
}
