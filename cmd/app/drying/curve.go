package drying

import (
	"context"
	"math"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/store/derive"
)

// CurveQuestion asks for the curves of a wheel or of the wheels of a lot or place.
type CurveQuestion struct {
	What string
	Days int // how far to draw; 0: as far as the next steps
}

// Curves are the curves of several wheels.
type Curves struct {
	Schema string  `json:"schema"`
	Wheels []Curve `json:"wheels"`

	Left int `json:"-"` // wheels left out
}

// Curve is a wheel's weights against the curve expected before its first weight and
// against its own.
type Curve struct {
	Schema   string        `json:"schema"`
	Wheel    string        `json:"wheel"`
	Began    *string       `json:"began"`
	Points   []Point       `json:"points"`
	Expected []Band        `json:"expected"`
	Own      []Band        `json:"own"`
	Basis    string        `json:"basis"`
	Target   *float64      `json:"target_loss_pct"` // to coat at; null where none is
	On       *app.Expected `json:"expected_on"`

	Of    app.Judged `json:"-"`
	Ahead []Ahead    `json:"-"` // none for a wheel never weighed
	Then  bool       `json:"-"` // it is of another instant than now
}

// Point is one weighing.
type Point struct {
	Day      float64 `json:"day"`
	Date     string  `json:"date"`
	Loss     float64 `json:"loss_pct"`
	Standing string  `json:"standing"`
	Weight   float64 `json:"weight_g"`
	Expected app.Est `json:"expected_pct"` // loss on that day, before it was first weighed

	Said string   `json:"-"` // in words, filled by cmd/words for a picture
	On   day.Date `json:"-"`
}

// Band is the loss on a day since drying began.
type Band struct {
	Day  float64 `json:"day"`
	Loss app.Est `json:"loss_pct"`
}

// Ahead is what a wheel comes to in some days from the instant asked about.
type Ahead struct {
	Days   int
	On     day.Date
	Loss   quantity.Estimate
	Weight quantity.Grams // of the cheese, without its coat
}

// NoneHere refuses a lot or place none of whose wheels is here any more.
type NoneHere struct {
	Word string `json:"word"`
}

// Code is how programs know it.
func (NoneHere) Code() string { return "none-here" }

// mostCurves is how many wheels are drawn together.
const mostCurves = 26

// Draw gives the curves of the wheels that a word names.
func Draw(ctx context.Context, a *app.App, c app.Caller, q CurveQuestion) (Curves, error) {
	return app.Ask(ctx, a, c, func(s *app.Session) (Curves, error) { return CurvesOf(s, q) })
}

// CurvesOf is Draw in a transaction that is open.
func CurvesOf(s *app.Session, q CurveQuestion) (Curves, error) {
	cs := Curves{Schema: app.Schema("curve-lot"), Wheels: []Curve{}}
	ws, err := s.Pick([]string{q.What})
	if err != nil {
		return cs, err
	}
	if len(ws) == 0 {
		return cs, app.Refuse(NoneHere{q.What})
	}
	n := min(len(ws), mostCurves)
	cs.Left = len(ws) - n
	for _, w := range ws[:n] {
		x, err := CurveOf(s, w, q.Days)
		if err != nil {
			return cs, err
		}
		cs.Wheels = append(cs.Wheels, x)
	}
	return cs, nil
}

// CurveOf is one wheel's curve over some days of drying; 0: as far as the next
// steps.
func CurveOf(s *app.Session, st derive.WheelState, days int) (Curve, error) {
	at, on, err := s.AsOf()
	if err != nil {
		return Curve{}, err
	}
	j, err := s.Judge(st, at)
	if err != nil {
		return Curve{}, err
	}
	f := j.Forecast
	c := Curve{
		Schema: app.Schema("curve"), Wheel: j.Life.Tag, Points: []Point{}, Basis: string(f.Basis()),
		On: app.ExpectedOf(j.Dry.On), Of: j, Then: !at.Equal(s.Time),
	}
	if j.Life.Chain.Green > 0 {
		t := app.Instant(j.Life.Chain.Began, s.Zone)
		c.Began = &t
	}
	now := math.Max(j.Day(at), 0)
	horizon := math.Ceil(math.Max(14, now*1.3+3))
	if j.Gated && len(j.Life.Coats) == 0 {
		c.Target = app.PctNum(j.TargetLoss(f))
		if e := j.Dry.On; e != nil {
			horizon = math.Max(horizon, math.Min(math.Ceil(j.Day(e.Best.Noon(s.Zone)))+4, now+120))
		}
	}
	if days > 0 {
		horizon = float64(days)
	}
	standings := j.Standings(f)
	for i, p := range j.Life.Chain.Points {
		c.Points = append(c.Points, Point{
			Day: app.Rounded(p.Day, 6), Date: day.At(p.At, s.Zone).String(), Loss: app.Rounded(p.Loss().Percent(), 10),
			Standing: string(standings[i].Verdict), Weight: app.Rounded(float64(p.Gross), 10),
			Expected: app.PctEst(f.Expected(p.Day)), On: day.At(p.At, s.Zone),
		})
	}
	// Fine enough that the first days show their bend, whole days among them.
	step := 0.25
	for horizon/step > 240 {
		step *= 2
	}
	for x := 0.0; x <= horizon; x += step {
		c.Expected = append(c.Expected, Band{x, app.PctEst(f.Expected(x))})
		c.Own = append(c.Own, Band{x, app.PctEst(f.Loss(x))})
	}
	if len(c.Points) > 0 {
		c.Ahead = ahead(j, now, on)
	}
	return c, nil
}

func ahead(j app.Judged, now float64, on day.Date) (out []Ahead) {
	green := j.GreenLeft(j.Forecast)
	for _, days := range []int{0, 7, 30} {
		l := j.Forecast.Loss(now + float64(days))
		out = append(out, Ahead{days, on + day.Date(days), l, green * quantity.Grams(1-l.Best)})
	}
	return out
}

// Table is the curves for a spreadsheet.
func (cs Curves) Table() app.Table {
	t := app.Table{Name: "curve", Head: []string{"wheel", "what", "day", "date", "loss_pct", "low_pct", "high_pct"}}
	digits := func(p *float64) any {
		if p == nil {
			return nil
		}
		return app.Rounded(*p, 6)
	}
	for _, c := range cs.Wheels {
		for _, p := range c.Points {
			t.Rows = append(t.Rows, []any{c.Wheel, "weighed", digits(&p.Day), p.Date, digits(&p.Loss), nil, nil})
		}
		for _, set := range []struct {
			name string
			list []Band
		}{{"expected", c.Expected}, {"own", c.Own}} {
			for _, b := range set.list {
				on := day.At(c.Of.Time(b.Day), c.Of.Loc)
				t.Rows = append(t.Rows, []any{
					c.Wheel, set.name, digits(&b.Day), on, digits(b.Loss.Best), digits(b.Loss.Low), digits(b.Loss.High),
				})
			}
		}
	}
	return t
}
