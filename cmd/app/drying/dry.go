// Package drying records weights, coats and hand checks, and answers how wheels dry:
// whether one is dry enough for its coat, what other air would do, and the curve its
// weights follow.
package drying

import (
	"context"
	"slices"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/derive"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// Verdicts answer "dry enough to coat?" for several wheels, in the order they
// were named.
type Verdicts struct {
	Schema string  `json:"schema"`
	At     string  `json:"at"`
	More   int     `json:"more"` // wheels that would have been listed after these
	Wheels []Wheel `json:"wheels"`
	app.Cautioned

	On   day.Date     `json:"-"` // the date of At
	List []app.Judged `json:"-"` // the same wheels
}

// Wheel is one wheel's verdict as it is published.
type Wheel struct {
	Wheel     string        `json:"wheel"`
	Verdict   string        `json:"verdict"`
	Loss      *float64      `json:"loss_pct"`
	Moisture  app.Est       `json:"moisture_pct"`
	Rate      app.Est       `json:"rate_pct_per_day"`
	Rules     []Rule        `json:"rules"`
	Expected  *app.Expected `json:"expected_on"`
	Advice    string        `json:"advice"` // in words, filled by cmd/words
	Reasons   reason.List   `json:"reasons"`
	Present   app.Est       `json:"present_loss_pct"`
	WeighedAt *string       `json:"weighed_at"`
	Weighings int           `json:"weighings"`
	Basis     string        `json:"basis"`
	Standing  *string       `json:"standing"`
	Leak      *string       `json:"leak"` // in words
	LeakWhy   reason.List   `json:"leak_reasons"`
	Law       []string      `json:"held_by_law"` // in words
	LawWhy    reason.List   `json:"held_by_law_reasons"`
	AsOf      string        `json:"as_of"` // of the latest weight, coat, move or reading of its room that counts
}

// Rule is one rule of the gate: Rule, Have and Need are in words.
type Rule struct {
	Rule    string           `json:"rule"`
	Code    verdict.RuleCode `json:"code"`
	Met     bool             `json:"met"`
	Have    string           `json:"have"`
	Need    string           `json:"need"`
	HaveWhy reason.List      `json:"have_reasons"`
	NeedWhy reason.List      `json:"need_reasons"`
}

// Which asks about the wheels named, or about every wheel that waits for its coat where none
// is, as far as they fit now.
type Which struct {
	What []string
	Most int // wheels at most, those that have to be seen to first; 0: all, in the order they were named
	app.Narrow
}

// DryEnough answers for them.
func DryEnough(ctx context.Context, a *app.App, c app.Caller, q Which) (Verdicts, error) {
	ask := asker[Verdicts](q.What)
	if len(q.What) == 0 && c.On == "" && c.At == "" { // it reads what is kept: no copy is needed
		ask = app.Ask[Verdicts]
	}
	return ask(ctx, a, c, func(s *app.Session) (Verdicts, error) { return judge(s, q) })
}

// asker asks about wheels. Many take long, and are asked about on a copy of the book; one
// word mostly names one wheel or a lot, but may name a room, or all.
func asker[R any](what []string) func(context.Context, *app.App, app.Caller, func(*app.Session) (R, error)) (R, error) {
	if len(what) != 1 {
		return app.AskLong[R]
	}
	return func(ctx context.Context, a *app.App, c app.Caller, fn func(*app.Session) (R, error)) (R, error) {
		return app.AskMany(ctx, a, c, Few, fn)
	}
}

func judge(s *app.Session, q Which) (Verdicts, error) {
	at, on, err := s.AsOf()
	if err != nil {
		return Verdicts{}, err
	}
	v := Verdicts{Schema: app.Schema("dry"), At: app.Instant(at, s.Zone), Wheels: []Wheel{}, On: on}
	if len(q.What) == 0 {
		v.List, err = Waiting(s, at, q.Narrow, 0)
	} else {
		v.List, err = named(s, q.What, q.Narrow, at)
	}
	if q.Most > 0 {
		v.List, v.More = app.First(ByUrgency(v.List), q.Most)
	}
	for _, j := range v.List {
		v.Wheels = append(v.Wheels, WheelOf(j))
		if j.Dry.Answer == verdict.DryEnough || j.Dry.Answer == verdict.CheckByHand {
			v.Warn(app.HazardsOf(wheel.Coat, j.Coat, 0)...)
		}
	}
	return v, err
}

func named(s *app.Session, what []string, only app.Narrow, at time.Time) ([]app.Judged, error) {
	ws, err := s.Pick(what)
	if err == nil {
		ws, err = s.Narrowing(ws, only)
	}
	if err != nil {
		return nil, err
	}
	list := make([]app.Judged, len(ws))
	for i, w := range ws {
		if list[i], err = s.Judge(w, at); err == nil {
			err = s.Ctx.Err()
		}
		if len(ws) > 1 && s.Tx.LeaveOut(err) {
			continue
		}
		if err != nil {
			return nil, err
		}
	}
	return slices.DeleteFunc(list, func(j app.Judged) bool { return j.Life.Tag == "" }), nil
}

// Waiting judges the wheels that fit and wait for their coat at an instant, at most so
// many of them; 0: all. About an instant from now on it reads what is kept of them.
func Waiting(s *app.Session, at time.Time, only app.Narrow, most int) ([]app.Judged, error) {
	if at.Before(s.Time) {
		return waited(s, at, only, most)
	}
	ws, err := s.Tx.Waiting()
	if err == nil {
		ws, err = s.Narrowing(ws, only)
	}
	if err != nil {
		return nil, err
	}
	app.SortByTag(ws)
	var list []app.Judged
	for i, w := range ws {
		if i%64 == 0 && s.Ctx.Err() != nil {
			return nil, s.Ctx.Err()
		}
		j, err := s.JudgeKept(w, at)
		if s.Tx.LeaveOut(err) {
			continue
		}
		if err != nil {
			return nil, err
		}
		if list = append(list, j); len(list) == most {
			break
		}
	}
	if len(list) == 1 { // it gets a card, which says more than is kept
		list[0], err = s.Judge(derive.WheelState{Wheel: list[0].Life.Wheel.ID}, at)
	}
	return list, err
}

// waited is Waiting in the past.
func waited(s *app.Session, at time.Time, only app.Narrow, most int) ([]app.Judged, error) {
	ws, err := s.Pick([]string{"all"})
	if err == nil {
		ws, err = s.Narrowing(ws, only)
	}
	if err != nil {
		return nil, err
	}
	var list []app.Judged
	for _, w := range ws {
		gated, err := s.Gated(w.Plan) // before its history is read
		if err == nil {
			err = s.Ctx.Err()
		}
		if err != nil {
			return nil, err
		}
		if !gated {
			continue
		}
		c, err := s.CaseAt(w, at)
		if s.Tx.LeaveOut(err) {
			continue
		}
		if err != nil {
			return nil, err
		}
		if len(c.Life.Coats) > 0 || c.Life.Make.Date.Start(s.Zone).After(at) {
			continue
		}
		j, err := s.JudgeCase(c, at)
		if err != nil {
			return nil, err
		}
		if list = append(list, j); len(list) == most {
			break
		}
	}
	return list, nil
}

// WheelOf is a verdict as it is published, but for its words.
func WheelOf(j app.Judged) Wheel {
	v := j.Dry
	w := Wheel{
		Wheel: j.Life.Tag, Verdict: string(v.Answer), Moisture: app.PctEst(v.Moisture), Rate: app.PctEst(v.Rate),
		Rules: []Rule{}, Expected: app.ExpectedOf(v.On), Reasons: v.Advice, Present: app.PctEst(v.Present),
		Weighings: v.Weighings, Basis: string(v.Basis), Standing: app.OrNull(string(j.Last)), LeakWhy: v.Leak,
		LawWhy: j.Held, AsOf: app.Instant(j.Until, j.Loc),
	}
	if v.Weighings > 0 {
		w.Loss = app.PctNum(v.Loss)
		at := app.Instant(v.WeighedAt, j.Loc)
		w.WeighedAt = &at
	}
	for _, r := range v.Rules {
		w.Rules = append(w.Rules, Rule{Code: r.Code, Met: r.Met, HaveWhy: r.Have, NeedWhy: r.Need})
	}
	return w
}

// urgency is the order in which people want to read the answers.
var urgency = map[verdict.Answer]int{
	verdict.TooDry: 0, verdict.DryEnough: 1, verdict.CheckByHand: 2, verdict.WeighAgain: 3, verdict.NotYet: 4,
	verdict.NoWeights: 5, verdict.Coated: 6,
}

// ByUrgency are wheels with those first that have to be seen to first.
func ByUrgency(list []app.Judged) []app.Judged {
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b app.Judged) int { return urgency[a.Dry.Answer] - urgency[b.Dry.Answer] })
	return list
}
