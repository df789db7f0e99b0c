package library

import (
	"context"
	"slices"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/register"
	"rindkeep/wheel"
	"rindkeep/wheel/limit"
)

// LimitList is every limit of a laboratory test.
type LimitList struct {
	Schema string      `json:"schema"`
	Limits []LimitLine `json:"limits"`
}

// LimitLine is one limit of a list; Own says that it is the book's own.
type LimitLine struct {
	Name      string   `json:"name"`
	Title     string   `json:"title"`
	Test      string   `json:"test"`
	Countries []string `json:"countries"`
	Milk      []string `json:"milk"`
	Asks      string   `json:"asks"`
	Source    string   `json:"source"`
	Edition   string   `json:"edition"`
	Read      string   `json:"read"`
	Note      string   `json:"note"`
	Own       bool     `json:"own"`
}

// Limits lists the limits of a test; of all where it is "".
func Limits(ctx context.Context, a *app.App, c app.Caller, test string) (LimitList, error) {
	return ask(ctx, a, c, func(s *app.Session) (LimitList, error) {
		d := LimitList{app.Schema("limit-list"), []LimitLine{}}
		ls, err := all(s, register.Limits)
		for _, l := range ls {
			if test != "" && !l.Is(test) {
				continue
			}
			milk := []string{}
			for _, m := range l.Milk {
				milk = append(milk, string(m))
			}
			d.Limits = append(d.Limits, LimitLine{
				l.Name, l.Title, l.Test, app.Filled(l.Countries), milk, l.Asks().String(), l.Cite(), l.Edition, l.Read, l.Note,
				own(s, register.Limits, l.Name),
			})
		}
		return d, err
	})
}

// mayJudge refuses a limit by which a result could end a hold that it wouldn't without, like
// MayLift where wheels are held for such a test. Where none are yet, it is for those to
// add who may lift safety holds.
func mayJudge(s *app.Session, lift app.Lift, now limit.Limit) error {
	all, err := s.Tx.Limits()
	if err != nil || !now.Loosens(all) {
		return err
	}
	is := func(l limit.Limit) bool { return l.Name == now.Name }
	both := append(all, now) // in the place of one or beside it: either judges what may change
	holds := map[string]bool{}
	ids, err := s.HereOf(func(m wheel.Make) (open bool, err error) {
		law, err := s.Tx.MakeLaw(m)
		if err != nil {
			return false, err
		}
		es, err := s.Tx.History(m.ID)
		for _, t := range wheel.LotTests(es) {
			if t.Result == nil && slices.ContainsFunc(limit.Select(both, t.Test, law.Countries, ""), is) {
				holds[t.Entry.ID.String()], open = true, true
			}
		}
		return open, err
	})
	if err == nil {
		err = s.MayLoosen(lift, ids, func(key string) bool { return holds[key] })
	}
	if err != nil {
		return err
	}
	return s.IsReleaser(now.Name, reason.List{app.HoldsToCome{What: "test", Of: now.Test}})
}

// Tests are the names of the tests that limits are on file for.
func Tests(s *app.Session) (out []string) {
	ls, _ := all(s, register.Limits)
	seen := map[string]bool{}
	for _, l := range ls {
		if !seen[l.Test] {
			seen[l.Test] = true
			out = append(out, l.Test)
		}
	}
	return out
}
