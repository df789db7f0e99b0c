package wheels

import (
	"context"
	"slices"
	"strings"

	"github.com/google/uuid"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/derive"
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

	GoneWhy reason.List `json:"-"`
}

// rowOf is a wheel by its brief, or by its entries where the brief doesn't tell enough. In a
// long list, a loss that only its curve knows is that of the curve that is kept.
func rowOf(s *app.Session, st derive.WheelState, long bool) (Row, error) {
	m, err := s.Tx.MakeFromLog(st.Make)
	if err != nil {
		return Row{}, err
	}
	v, err := s.Tx.VarietyOf(m)
	if err != nil {
		return Row{}, err
	}
	stage, err := s.StageOf(st, m, v)
	if err != nil {
		return Row{}, err
	}
	held, err := s.Held(st)
	if err != nil {
		return Row{}, err
	}
	b := st.Brief
	r := Row{
		Tag: st.Tag, Lot: m.Lot, Variety: v.Name, Age: int(s.Today - m.Date),
		Stage: string(stage), Place: string(st.Place), Plan: st.Plan,
		Weight: app.Grams(b.Weight), Held: held, Gone: app.DateOrNull(st.Gone),
	}
	if b.Weighings > 0 {
		r.Loss = app.PctNum(b.Loss)
	}
	if c, kept, err := curveOf(s, st, long); err != nil {
		return Row{}, err
	} else if kept {
		r.Loss = app.PctNum(quantity.Fraction(1 - c.Track.Left))
	} else if b.Guessed || !st.Here() {
		l, err := s.Tx.Life(st.Wheel)
		if err != nil {
			return Row{}, err
		}
		if p, ok := l.Chain.Last(); ok {
			r.Loss = app.PctNum(p.Loss())
		}
		r.GoneWhy = l.GoneWhy
	}
	r.Law, err = s.HeldByLaw(m, st)
	return r, err
}

// curveOf is the curve that is kept of a wheel in a long list whose loss only its curve knows.
func curveOf(s *app.Session, st derive.WheelState, long bool) (c derive.Curve, kept bool, err error) {
	if !long || !st.Brief.Guessed || !st.Here() {
		return c, false, nil
	}
	return s.Tx.CurveOf(st)
}

// harmedRow is a wheel of which not everything can be read: what its make and its place
// in the indexes say.
func harmedRow(s *app.Session, w derive.WheelState) Row {
	r := Row{Tag: w.Tag, Place: string(w.Place), Plan: w.Plan, Gone: app.DateOrNull(w.Gone), Unreadable: true}
	if m, err := s.Tx.Make(w.Make); err == nil {
		r.Lot, r.Variety, r.Age = m.Lot, m.Variety, int(s.Today-m.Date)
	}
	return r
}

// mostProved is of how many wheels at most a list reads the entries too, to say which can't
// be read: our choice. In longer ones, only a check finds them.
const mostProved = 1000

// soundRow is rowOf, or harmedRow where damage is found.
func soundRow(s *app.Session, w derive.WheelState, prove bool) (Row, error) {
	if prove {
		if ok, err := s.Tx.Usable(w.Wheel); err != nil {
			return Row{}, err
		} else if !ok {
			return harmedRow(s, w), nil
		}
	}
	r, err := rowOf(s, w, !prove)
	if s.Tx.LeaveOut(err) {
		return harmedRow(s, w), nil
	}
	return r, err
}

// Listed asks which wheels to list.
type Listed struct {
	What []string // tags, lots, places; none: all
	Gone bool     // those of the lots named that are gone too
	Most int      // rows at most; 0: all
	From int      // rows left out before the first
	app.Narrow
}

// List is wheels by tag.
type List struct {
	Schema string `json:"schema"`
	More   int    `json:"more"` // wheels that would have been listed after these
	Wheels []Row  `json:"wheels"`

	From int `json:"-"` // wheels left out before; as many as asked for, but for the last
}

// All lists wheels.
func All(ctx context.Context, a *app.App, c app.Caller, q Listed) (List, error) {
	if len(q.What) == 0 {
		q.What = []string{"all"}
	}
	return app.Ask(ctx, a, c, func(s *app.Session) (List, error) {
		d := List{Schema: app.Schema("wheel-list"), Wheels: []Row{}}
		ws, err := s.Pick(q.What)
		if err == nil && q.Gone {
			ws, err = withGone(s, q.What, ws)
		}
		if err == nil {
			ws, err = s.Narrowing(ws, q.Narrow)
		}
		if err != nil {
			return d, err
		}
		d.From = max(0, min(q.From, len(ws)-1))
		ws, d.More = app.First(ws[d.From:], q.Most)
		d.Wheels = make([]Row, 0, len(ws))
		for i, w := range ws {
			if i%256 == 0 && s.Ctx.Err() != nil {
				return d, s.Ctx.Err()
			}
			r, err := soundRow(s, w, len(ws) <= mostProved)
			if err != nil {
				return d, err
			}
			d.Wheels = append(d.Wheels, r)
		}
		return d, nil
	})
}

// withGone adds the wheels that are gone of the lots that were named, or whose wheels
// were.
func withGone(s *app.Session, what []string, ws []derive.WheelState) ([]derive.WheelState, error) {
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
