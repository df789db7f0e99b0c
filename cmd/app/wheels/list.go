package wheels

import (
	"context"
	"slices"
	"strings"

	"github.com/google/uuid"

	"rindkeep/cmd/app"
	"rindkeep/store"
	"rindkeep/wheel"
)

// Row is a wheel in JSON.
type Row struct {
	Tag     string   `json:"wheel"`
	Lot     string   `json:"lot"`
	Variety string   `json:"variety"`
	Age     int      `json:"age_days"`
	Stage   string   `json:"stage"`
	Place   string   `json:"place"`
	Plan    string   `json:"plan"`
	Weight  *float64 `json:"weight_g"`
	Loss    *float64 `json:"loss_pct"`
	Held    bool     `json:"held"`
	Law     bool     `json:"held_by_law"`
	Gone    *string  `json:"gone_on"`

	Unreadable bool `json:"unreadable"` // what was recorded of it can't be read: the rest isn't known

	Life wheel.Life `json:"-"`
}

func rowOf(s *app.Session, st store.WheelState) (Row, error) {
	l, err := s.Tx.Life(st.Wheel)
	if err != nil {
		return Row{}, err
	}
	v, err := s.Tx.Variety(l.Make.Variety)
	if err != nil {
		return Row{}, err
	}
	gated, err := s.Gated(st.Plan)
	if err != nil {
		return Row{}, err
	}
	drying := v.DryingDays
	if gated {
		drying = 0 // it dries until it is coated
	}
	r := Row{
		Tag: l.Tag, Lot: l.Make.Lot, Variety: v.Name, Age: l.Age(s.Today),
		Stage: string(l.StageOn(s.Today, drying, v.ReadyDays, s.Zone)), Place: string(l.Place), Plan: l.Plan,
		Weight: app.Grams(l.WeightNow()), Held: len(l.Holds) > 0, Gone: app.DateOrNull(l.GoneOn), Life: l,
	}
	if p, ok := l.Chain.Last(); ok {
		r.Loss = app.PctNum(p.Loss())
	}
	r.Law, err = s.HeldByLaw(l)
	return r, err
}

// harmedRow is a wheel of which not everything can be read: what its make and its place
// in the indexes say.
func harmedRow(s *app.Session, w store.WheelState) Row {
	r := Row{Tag: w.Tag, Place: string(w.Place), Plan: w.Plan, Gone: app.DateOrNull(w.Gone), Unreadable: true}
	if m, err := s.Tx.Make(w.Make); err == nil {
		r.Lot, r.Variety, r.Age = m.Lot, m.Variety, int(s.Today-m.Date)
	}
	return r
}

// Listed asks which wheels to list.
type Listed struct {
	What  []string // tags, lots, places; none: all
	Stage string   // only those at this stage; "": at any
	Gone  bool     // those of the lots named that are gone too
}

// List is wheels by tag.
type List struct {
	Schema string `json:"schema"`
	Wheels []Row  `json:"wheels"`
}

// All lists wheels.
func All(ctx context.Context, a *app.App, c app.Caller, q Listed) (List, error) {
	if q.Stage != "" {
		only, err := wheel.ParseStage(q.Stage)
		if err != nil {
			return List{}, app.Misread("stage", err)
		}
		q.Stage = string(only)
	}
	if len(q.What) == 0 {
		q.What = []string{"all"}
	}
	return app.AskLong(ctx, a, c, func(s *app.Session) (List, error) {
		d := List{Schema: app.Schema("wheel-list"), Wheels: []Row{}}
		ws, err := s.Pick(q.What)
		if err == nil && q.Gone {
			ws, err = withGone(s, q.What, ws)
		}
		if err != nil {
			return d, err
		}
		for i, w := range ws {
			if i%256 == 0 && s.Ctx.Err() != nil {
				return d, s.Ctx.Err()
			}
			r, err := rowOf(s, w)
			if s.Tx.LeaveOut(err) {
				r, err = harmedRow(s, w), nil
			}
			if err != nil {
				return d, err
			}
			if q.Stage == "" || q.Stage == r.Stage {
				d.Wheels = append(d.Wheels, r)
			}
		}
		return d, nil
	})
}

// withGone adds the wheels that are gone of the lots that were named, or whose wheels
// were.
func withGone(s *app.Session, what []string, ws []store.WheelState) ([]store.WheelState, error) {
	lots, listed := map[uuid.UUID]bool{}, map[uuid.UUID]bool{}
	for _, w := range ws {
		lots[w.Make], listed[w.Wheel] = true, true
	}
	for _, word := range what {
		if m, err := s.Tx.MakeByLot(word); err == nil {
			lots[m.ID] = true
		}
	}
	all := slices.ContainsFunc(what, func(word string) bool { return strings.EqualFold(word, "all") })
	for w, err := range s.Tx.States() {
		if err != nil {
			return nil, err
		}
		if !w.Here() && !listed[w.Wheel] && (all || lots[w.Make]) {
			ws = append(ws, w)
		}
	}
	app.SortByTag(ws)
	return ws, nil
}
