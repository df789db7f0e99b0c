package drying

import (
	"context"
	"time"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
)

// Befores are what is known of wheels before they're weighed.
type Befores struct {
	Schema string   `json:"schema"`
	Wheels []Before `json:"wheels"`
}

// Before is a wheel's last weight, and what its curve expects the scale to say now.
type Before struct {
	Wheel string   `json:"wheel"`
	Last  *float64 `json:"last_g"` // null: it was never weighed
	Low   *float64 `json:"low_g"`  // the scale should say between Low and High, 9 times in 10
	High  *float64 `json:"high_g"`
	Said  string   `json:"said"` // in words, filled by cmd/words

	Weight, From, To quantity.Grams `json:"-"`
	At               time.Time      `json:"-"`
}

// mostBefore is how many wheels are looked at together: a forecast takes some
// milliseconds.
const mostBefore = 40

// BeforeWeighing looks at wheels by their tags. Tags of none, and those beyond the
// first 40, are left out.
func BeforeWeighing(ctx context.Context, a *app.App, c app.Caller, tags []string) (Befores, error) {
	return app.Ask(ctx, a, c, func(s *app.Session) (Befores, error) {
		out := Befores{Schema: app.Schema("before"), Wheels: []Before{}}
		for _, tag := range tags[:min(len(tags), mostBefore)] {
			ws, err := s.Pick([]string{tag})
			if app.IsNotFound(err) || err == nil && len(ws) != 1 {
				continue
			}
			if err != nil {
				return out, err
			}
			k, err := s.CaseAt(ws[0], s.Time)
			if err != nil {
				return out, err
			}
			b, tare := Before{Wheel: k.Life.Tag}, k.Life.Chain.Tare
			if p, ok := k.Life.Chain.Last(); ok {
				f := k.Forecast()
				loss, green := f.Loss(k.Day(s.Time)), k.GreenLeft(f)
				b.Weight, b.At = p.Gross, p.At.In(s.Zone)
				b.From, b.To = green*quantity.Grams(1-loss.High)+tare, green*quantity.Grams(1-loss.Low)+tare
				b.Last, b.Low, b.High = app.Grams(b.Weight), app.Grams(b.From), app.Grams(b.To)
			}
			out.Wheels = append(out.Wheels, b)
		}
		return out, nil
	})
}
