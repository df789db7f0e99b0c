// Package library answers for the texts a book uses: rind plans, varieties and
// the rules of food laws. The built-in ones are there without a book; a book may
// have its own, or override one.
package library

import (
	"context"
	"errors"
	"slices"

	"github.com/google/uuid"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/schedule"
	"rindkeep/store/bookfile"
	"rindkeep/store/refusal"
	"rindkeep/store/register"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/limit"
	"rindkeep/wheel/variety"
)

// Kind is what a text is of.
type Kind string

// The kinds of text.
const (
	Plan    Kind = "plan"
	Variety Kind = "variety"
	Law     Kind = "law"
	Limit   Kind = "limit"
)

// MaxFile is the largest text that is read, in bytes.
const MaxFile = 64 << 10

// Text is one text of the library.
type Text struct {
	Schema string `json:"schema"`
	Name   string `json:"name"`
	Title  string `json:"title"`
	TOML   string `json:"toml"`
}

// Good is a text that was checked, or added to the book.
type Good struct {
	Schema string `json:"schema"`
	Name   string `json:"name"`
	Title  string `json:"title"`

	Rule      holdrule.Rule   `json:"-"` // of a law
	Variety   variety.Variety `json:"-"`
	Limit     limit.Limit     `json:"-"`
	Overrides bool            `json:"-"` // a built-in text of that name
	Strangers []string        `json:"-"` // varieties that a law names and the book doesn't have
}

// SeeList is a remedy: the list of the kind shows what there is.
type SeeList struct {
	Kind Kind `json:"kind"`
}

// Code implements reason.Reason.
func (SeeList) Code() string { return "see-list" }

// ask answers with the book's own texts over the built-in ones; where there is no
// book the built-in ones serve and the session is nil.
func ask[R any](ctx context.Context, a *app.App, c app.Caller, fn func(*app.Session) (R, error)) (R, error) {
	r, err := app.Ask(ctx, a, c, fn)
	if errors.Is(err, bookfile.ErrNoBook) {
		return fn(nil)
	}
	return r, err
}

// shelf is what can be done with the texts of a kind.
type shelf struct {
	show  func(s *app.Session, name string) (Text, error)
	check func(file string, text []byte) (Good, error)
	names func(s *app.Session) []string
	put   func(s *app.Session, file string, text []byte) error
}

var shelves = map[Kind]shelf{
	Plan: shelfOf(Plan, register.Plans, func(p schedule.Plan, _ *Good) string { return p.Title }),
	Variety: shelfOf(Variety, register.Varieties,
		func(v variety.Variety, g *Good) string { g.Variety = v; return v.Title }),
	Law:   shelfOf(Law, register.Rules, func(r holdrule.Rule, g *Good) string { g.Rule = r; return r.Title }),
	Limit: shelfOf(Limit, register.Limits, func(l limit.Limit, g *Good) string { g.Limit = l; return l.Title }),
}

// shelfOf is the shelf of a library. keep notes a text that was checked, and gives its title.
func shelfOf[T any](k Kind, of register.Texts[T], keep func(T, *Good) string) shelf {
	return shelf{
		show: func(s *app.Session, name string) (Text, error) {
			v, err := one(s, k, of, name)
			t := Text{Schema: app.Schema(string(k)), Title: keep(v, &Good{})}
			t.Name, t.TOML = of.Of(v)
			return t, err
		},
		check: func(file string, text []byte) (Good, error) {
			v, err := of.Parse(file, text)
			g := Good{Schema: app.Schema(string(k) + "-good")}
			g.Title = keep(v, &g)
			g.Name, _ = of.Of(v)
			_, g.Overrides = of.Find(g.Name)
			return g, err
		},
		names: func(s *app.Session) []string {
			ts, _ := all(s, of)
			return app.Each(ts, func(v T) string { name, _ := of.Of(v); return name })
		},
		put: func(s *app.Session, file string, text []byte) error {
			_, err := of.Put(s.Write.Writer, file, text)
			return err
		},
	}
}

// one is a text of the book or, without one, built in.
func one[T any](s *app.Session, k Kind, of register.Texts[T], name string) (T, error) {
	if s != nil {
		return of.One(s.Tx.Reader, name)
	}
	v, ok := of.Find(name)
	if !ok {
		r := app.AsRefusal(refusal.NotFound{Thing: string(k), Name: name})
		r.Remedy = reason.List{SeeList{k}}
		return v, r
	}
	return v, nil
}

// all are the texts of the book or, without one, those built in.
func all[T any](s *app.Session, of register.Texts[T]) ([]T, error) {
	if s == nil {
		return of.Builtin(), nil
	}
	return of.All(s.Tx.Reader)
}

// own says whether a text is the book's own.
func own[T any](s *app.Session, of register.Texts[T], name string) bool {
	return s != nil && of.Own(s.Tx.Reader, name)
}

// Show finds a text by its name.
func Show(ctx context.Context, a *app.App, c app.Caller, k Kind, name string) (Text, error) {
	return ask(ctx, a, c, func(s *app.Session) (Text, error) { return shelves[k].show(s, name) })
}

// Check reads a text without adding it; file is what its faults call it.
func Check(k Kind, file string, text []byte) (Good, error) { return shelves[k].check(file, text) }

// Adding asks to add a text to the book.
type Adding struct {
	Kind Kind
	File string // what its faults call it
	TOML []byte
	Why  string // needed where safety holds end with it
	Sure bool   // asked again whether they may
}

// Add checks a text and adds it to the book, in place of one of the same name. What
// is due is worked out again. Where that ends safety holds, only somebody who may lift
// them can add it.
func Add(ctx context.Context, a *app.App, c app.Caller, q Adding) (app.Did[Good], error) {
	g, err := Check(q.Kind, q.File, q.TOML)
	if err != nil {
		return app.Did[Good]{}, err
	}
	return app.Act(ctx, a, c, func(s *app.Session) (Good, error) {
		return q.guarded(s, g, func() error { return shelves[q.Kind].put(s, q.File, q.TOML) })
	})
}

// Put is Add for a text that something else puts into the book.
func Put(s *app.Session, q Adding, put func() error) error {
	g, err := Check(q.Kind, q.File, q.TOML)
	if err == nil {
		_, err = q.guarded(s, g, put)
	}
	return err
}

// guarded puts a checked text into the book, and refuses to where that ends safety holds that
// the person may not lift.
func (q Adding) guarded(s *app.Session, g Good, put func() error) (Good, error) {
	lift := app.Lift{Why: q.Why, Field: "why", Sure: q.Sure, Deed: deedOf(q.Kind, g.Name)}
	if q.Kind == Limit {
		if err := mayJudge(s, lift, g.Limit); err != nil {
			return g, err
		}
	}
	ids, err := under(s, q.Kind, g.Name)
	if err != nil {
		return g, err
	}
	looser, err := loosens(s, lift, g)
	if err != nil {
		return g, err
	}
	err = s.Keeping(lift, ids, put)
	if err == nil {
		err = s.MayLift(looser)
	}
	if q.Kind == Law {
		for _, v := range g.Rule.Varieties {
			if _, err := s.Tx.Variety(v); err != nil {
				g.Strangers = append(g.Strangers, v)
			}
		}
	}
	return g, err
}

// under are the wheels here that a rule or a variety of that name bears on. A plan holds
// nothing, and a limit counts when a result comes.
func under(s *app.Session, k Kind, name string) ([]uuid.UUID, error) {
	switch k {
	case Variety:
		return s.HereOf(func(m wheel.Make) (bool, error) { return m.Variety == name, nil })
	case Law:
		return s.HereOf(func(m wheel.Make) (bool, error) {
			set, err := s.Tx.MakeLaw(m)
			return slices.ContainsFunc(set.Rules, func(r holdrule.Rule) bool {
				return r.Name == name || r.Missing // a new rule ends such a hold
			}), err
		})
	}
	return nil, nil
}

// PlanList is every rind plan.
type PlanList struct {
	Schema string     `json:"schema"`
	Plans  []PlanLine `json:"plans"`
}

// PlanLine is one rind plan of a list; Own says that it is the book's own.
type PlanLine struct {
	Name  string `json:"name"`
	Title string `json:"title"`
	Steps int    `json:"steps"`
	Own   bool   `json:"own"`
}

// Plans lists the rind plans.
func Plans(ctx context.Context, a *app.App, c app.Caller) (PlanList, error) {
	return ask(ctx, a, c, func(s *app.Session) (PlanList, error) {
		d := PlanList{app.Schema("plan-list"), []PlanLine{}}
		ps, err := all(s, register.Plans)
		for _, p := range ps {
			d.Plans = append(d.Plans, PlanLine{p.Name, p.Title, len(p.Steps), own(s, register.Plans, p.Name)})
		}
		return d, err
	})
}

// VarietyList is every variety.
type VarietyList struct {
	Schema    string        `json:"schema"`
	Varieties []VarietyLine `json:"varieties"`
}

// VarietyLine is one variety of a list; Own says that it is the book's own.
type VarietyLine struct {
	Name     string   `json:"name"`
	Title    string   `json:"title"`
	Rind     string   `json:"rind"`
	Plan     string   `json:"plan"`
	Moisture *float64 `json:"moisture_pct"`
	Weight   *float64 `json:"weight_g"`
	Ready    int      `json:"ready_days"`
	Own      bool     `json:"own"`
}

// Varieties lists the varieties.
func Varieties(ctx context.Context, a *app.App, c app.Caller) (VarietyList, error) {
	return ask(ctx, a, c, func(s *app.Session) (VarietyList, error) {
		d := VarietyList{app.Schema("variety-list"), []VarietyLine{}}
		vs, err := all(s, register.Varieties)
		for _, v := range vs {
			d.Varieties = append(d.Varieties, VarietyLine{
				v.Name, v.Title, v.Rind, v.Plan, app.PctNum(v.Composition.Moisture), app.Num(float64(v.Weight)), v.ReadyDays,
				own(s, register.Varieties, v.Name),
			})
		}
		return d, err
	})
}

// Names are the names of a kind, of the book or, without one, built in.
func Names(s *app.Session, k Kind) []string { return shelves[k].names(s) }

// VarietyNames are the names of the varieties.
func VarietyNames(s *app.Session) []string { return Names(s, Variety) }
