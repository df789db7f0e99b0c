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

func good(k Kind, name, title string, builtin bool) Good {
	return Good{Schema: app.Schema(string(k) + "-good"), Name: name, Title: title, Overrides: builtin}
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

// Show finds a text by its name.
func Show(ctx context.Context, a *app.App, c app.Caller, k Kind, name string) (Text, error) {
	return ask(ctx, a, c, func(s *app.Session) (Text, error) {
		t := Text{Schema: app.Schema(string(k)), Name: name}
		var err error
		ok := true
		switch k {
		case Plan:
			p, found := schedule.Find(name)
			if ok = found; s != nil {
				p, err = s.Tx.Plan(name)
			}
			t.Name, t.Title, t.TOML = p.Name, p.Title, p.Text
		case Variety:
			v, found := variety.Find(name)
			if ok = found; s != nil {
				v, err = s.Tx.Variety(name)
			}
			t.Name, t.Title, t.TOML = v.Name, v.Title, v.Text
		case Law:
			r, found := holdrule.Find(name)
			if ok = found; s != nil {
				r, err = s.Tx.Law(name)
			}
			t.Name, t.Title, t.TOML = r.Name, r.Title, r.Text
		case Limit:
			l, found := limit.Find(name)
			if ok = found; s != nil {
				l, err = s.Tx.Limit(name)
			}
			t.Name, t.Title, t.TOML = l.Name, l.Title, l.Text
		}
		if s == nil && !ok {
			r := app.AsRefusal(refusal.NotFound{Thing: string(k), Name: name})
			r.Remedy = reason.List{SeeList{k}}
			return t, r
		}
		return t, err
	})
}

// Check reads a text without adding it; file is what its faults call it.
func Check(k Kind, file string, text []byte) (Good, error) {
	switch k {
	case Plan:
		p, err := schedule.ParsePlan(file, text)
		_, builtin := schedule.Find(p.Name)
		return good(k, p.Name, p.Title, builtin), err
	case Variety:
		v, err := variety.Parse(file, text)
		_, builtin := variety.Find(v.Name)
		g := good(k, v.Name, v.Title, builtin)
		g.Variety = v
		return g, err
	case Limit:
		l, err := limit.Parse(file, text)
		_, builtin := limit.Find(l.Name)
		g := good(k, l.Name, l.Title, builtin)
		g.Limit = l
		return g, err
	}
	r, err := holdrule.Parse(file, text)
	_, builtin := holdrule.Find(r.Name)
	g := good(k, r.Name, r.Title, builtin)
	g.Rule = r
	return g, err
}

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
		err = s.Keeping(lift, ids, func() error { return put(s, q) })
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
	})
}

func put(s *app.Session, q Adding) (err error) {
	switch q.Kind {
	case Plan:
		_, err = s.Write.PutPlan(q.File, q.TOML)
	case Variety:
		_, err = s.Write.PutVariety(q.File, q.TOML)
	case Limit:
		_, err = s.Write.PutLimit(q.File, q.TOML)
	case Law:
		_, err = s.Write.PutLaw(q.File, q.TOML)
	}
	return err
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
		all, err := allPlans(s)
		for _, p := range all {
			own := s != nil && s.Tx.OwnPlan(p.Name)
			d.Plans = append(d.Plans, PlanLine{p.Name, p.Title, len(p.Steps), own})
		}
		return d, err
	})
}

func allPlans(s *app.Session) ([]schedule.Plan, error) {
	if s == nil {
		return schedule.Builtin(), nil
	}
	return s.Tx.Plans()
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
		all, err := allVarieties(s)
		for _, v := range all {
			d.Varieties = append(d.Varieties, VarietyLine{
				v.Name, v.Title, v.Rind, v.Plan, app.PctNum(v.Composition.Moisture), app.Num(float64(v.Weight)), v.ReadyDays,
				s != nil && s.Tx.OwnVariety(v.Name),
			})
		}
		return d, err
	})
}

func allVarieties(s *app.Session) ([]variety.Variety, error) {
	if s == nil {
		return variety.Builtin(), nil
	}
	return s.Tx.Varieties()
}

// Names are the names of a kind, of the book or, without one, built in.
func Names(s *app.Session, k Kind) []string {
	switch k {
	case Plan:
		all, _ := allPlans(s)
		return app.Each(all, func(p schedule.Plan) string { return p.Name })
	case Variety:
		all, _ := allVarieties(s)
		return app.Each(all, func(v variety.Variety) string { return v.Name })
	case Limit:
		all, _ := allLimits(s)
		return app.Each(all, func(l limit.Limit) string { return l.Name })
	case Law:
		all, _ := allLaws(s)
		return app.Each(all, func(r holdrule.Rule) string { return r.Name })
	}
	return nil
}

// VarietyNames are the names of the varieties.
func VarietyNames(s *app.Session) []string { return Names(s, Variety) }
