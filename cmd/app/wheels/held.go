package wheels

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strings"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/derive"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// ByLaw is the kind of a hold that a food law puts on wheels.
const ByLaw wheel.HoldKind = "law"

// HeldList is everything that is held, by reason, what is for safety first.
type HeldList struct {
	Schema    string   `json:"schema"`
	Date      string   `json:"date"`
	Wheels    int      `json:"wheels"` // each counted once
	More      int      `json:"more"`   // holds that would have been listed after these
	Releasers []string `json:"releasers"`
	NamedBy   string   `json:"releasers_named_by"`
	NamedOn   string   `json:"releasers_named_on"` // ""; the book names nobody
	Holds     []Held   `json:"holds"`
}

// Held is wheels that are held for one reason since one day.
type Held struct {
	Kind    string      `json:"kind"` // a wheel.HoldKind, or law
	Safety  bool        `json:"safety"`
	Why     string      `json:"why"` // in words
	Since   *string     `json:"since"`
	By      string      `json:"by"`
	Ends    string      `json:"ends"`    // what would end it, in words
	EndsOn  *string     `json:"ends_on"` // at the earliest; null where no date ends it
	Lots    []string    `json:"lots"`
	Wheels  []string    `json:"wheels"`
	Reasons reason.List `json:"reasons"`

	Ending reason.Reason `json:"-"`
	On     day.Date      `json:"-"` // Since
}

// EndsByRelease says that somebody has to release it.
type EndsByRelease struct {
	Safety bool   `json:"safety"`
	May    string `json:"may"` // those who may lift safety holds; "": the book names nobody
}

// EndsByResult says that the result of a sample inside its limits ends it, or a release.
type EndsByResult struct {
	Sample string `json:"sample"`
	May    string `json:"may"`
}

// EndsByDays says that days have to pass.
type EndsByDays struct {
	On     day.Date `json:"on"`     // at the earliest
	Unread bool     `json:"unread"` // days without a reading end nothing
}

// EndsByMilk says that the make has to say how its milk was treated.
type EndsByMilk struct {
	Lot string `json:"lot"`
}

// EndsByRule says that a rule has to be added, or the wheel sent despite the hold.
type EndsByRule struct {
	Lot string `json:"lot"`
}

// The codes.

func (EndsByRelease) Code() string { return "ends-by-release" }
func (EndsByResult) Code() string  { return "ends-by-result" }
func (EndsByDays) Code() string    { return "ends-by-days" }
func (EndsByMilk) Code() string    { return "ends-by-milk-treatment" }
func (EndsByRule) Code() string    { return "ends-by-rule" }

// WhichHeld asks what is held of the wheels named; of all where none is.
type WhichHeld struct {
	What []string
	Most int // holds at most; 0: all
	app.Narrow
}

// WhatIsHeld lists what is held.
func WhatIsHeld(ctx context.Context, a *app.App, c app.Caller, q WhichHeld) (HeldList, error) {
	return app.AskLong(ctx, a, c, func(s *app.Session) (HeldList, error) { return GatherHeld(s, q) })
}

// GatherHeld is WhatIsHeld in a transaction that is open.
func GatherHeld(s *app.Session, q WhichHeld) (HeldList, error) {
	d := HeldList{Schema: app.Schema("held"), Date: s.Today.String(), Holds: []Held{}}
	named, err := s.Tx.Releasers()
	if err != nil {
		return d, err
	}
	d.Releasers, d.NamedBy = app.Filled(named.Names), named.By
	if !named.Written.IsZero() {
		d.NamedOn = app.Instant(named.Written, s.Zone)
	}
	if len(q.What) == 0 {
		q.What = []string{"all"}
	}
	ws, err := s.Pick(q.What)
	if err == nil {
		ws, err = s.Narrowing(ws, q.Narrow)
	}
	if err != nil {
		return d, err
	}
	g := heldGroups{s: s, by: map[heldKey]int{}, list: &d, may: strings.Join(named.Names, ", ")}
	for i, st := range ws {
		if i%256 == 0 && s.Ctx.Err() != nil {
			return d, s.Ctx.Err()
		}
		if err := g.add(st); err != nil {
			return d, err
		}
	}
	slices.SortStableFunc(d.Holds, func(a, b Held) int {
		if a.Safety != b.Safety {
			if a.Safety {
				return -1
			}
			return 1
		}
		return cmp.Or(cmp.Compare(a.On, b.On), cave.NaturalCompare(a.Lots[0], b.Lots[0]))
	})
	d.Holds, d.More = app.First(d.Holds, q.Most)
	return d, nil
}

// heldKey is what holds of one group share.
type heldKey struct {
	why  reason.Reason
	lot  string // of a hold by law
	on   day.Date
	ends reason.Reason
}

type heldGroups struct {
	s    *app.Session
	by   map[heldKey]int
	list *HeldList
	may  string
}

// add takes the holds of one wheel.
func (g heldGroups) add(st derive.WheelState) error {
	m, err := g.s.Tx.MakeFromLog(st.Make)
	if err != nil {
		return err
	}
	law, err := g.s.HeldByLaw(m, st)
	if err != nil || !st.Here() || !law && !st.Brief.Held && st.Brief.Supplier == "" {
		return err
	}
	l, err := g.s.Tx.LifeAlone(st.Wheel)
	if err != nil {
		return err
	}
	others, err := g.s.HoldsOfLot(l)
	if l.Holds = slices.Concat(l.Holds, others); err != nil || !law && len(l.Holds) == 0 {
		return err
	}
	g.list.Wheels++
	for _, h := range l.Holds {
		var ends reason.Reason = EndsByRelease{h.Kind.Safety(), g.may}
		if h.Sample != "" && h.Found == "" {
			ends = EndsByResult{h.Sample, g.may}
		}
		g.put(l, heldKey{why: h.Reason(), on: h.On, ends: ends}, Held{
			Kind: string(h.Kind), Safety: h.Kind.Safety(), By: h.By,
		})
	}
	if law {
		c, err := g.s.Tx.CaseAlone(st.Wheel)
		if err != nil {
			return err
		}
		for _, h := range c.LawHolds(g.s.Time) {
			g.put(l, heldKey{why: h.Reason(), lot: l.Make.Lot, on: l.Make.Date, ends: lawEnds(g.s.Today, l, h)}, Held{
				Kind: string(ByLaw), Safety: true, By: strings.Join(h.By, ", "),
			})
		}
	}
	return nil
}

// lawEnds says what would end a hold by law.
func lawEnds(today day.Date, l wheel.Life, h verdict.LawHold) reason.Reason {
	if h.Rule.Missing {
		return EndsByRule{l.Make.Lot}
	}
	if h.MilkUnknown() {
		return EndsByMilk{l.Make.Lot}
	}
	return EndsByDays{today + day.Date(math.Ceil(h.Left)), h.Unread > 0}
}

func (g heldGroups) put(l wheel.Life, key heldKey, h Held) {
	i, ok := g.by[key]
	if !ok {
		i = len(g.list.Holds)
		g.by[key] = i
		h.On, h.Since, h.Ending, h.Reasons = key.on, app.DateOrNull(key.on), key.ends, reason.List{key.why}
		if e, ok := key.ends.(EndsByDays); ok {
			h.EndsOn = app.DateOrNull(e.On)
		}
		g.list.Holds = append(g.list.Holds, h)
	}
	to := &g.list.Holds[i]
	to.Wheels = append(to.Wheels, l.Tag)
	if !slices.Contains(to.Lots, l.Make.Lot) {
		to.Lots = append(to.Lots, l.Make.Lot)
	}
}
