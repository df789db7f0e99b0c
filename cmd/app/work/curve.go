package work

import (
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/wheel/drying"
)

// CurveQuestion asks for the drying curve physics expects of a wheel: In for one
// wheel in the first of Airs, and the same side by side where there are more.
type CurveQuestion struct {
	In   drying.Inputs
	Airs []drying.Span
}

// CurvePoint is the loss expected on a day.
type CurvePoint struct {
	Day  int     `json:"day"`
	Loss app.Est `json:"loss_pct"`
}

// Curve is the curve expected of a wheel in one air.
type Curve struct {
	Schema      string       `json:"schema"`
	First       *float64     `json:"first_day_rate_pct"`
	Root        *float64     `json:"root_day_rate_pct"`
	Start       *float64     `json:"start_moisture_pct"`
	Balance     *float64     `json:"balance_moisture_pct"`
	Transfer    *float64     `json:"surface_transfer_kg_m2_s_pa"`
	Diffusivity *float64     `json:"diffusivity_m2_s"`
	BiotHeight  *float64     `json:"biot_height"`
	BiotRadius  *float64     `json:"biot_radius"`
	Points      []CurvePoint `json:"points"`
	Basis

	Weights []quantity.Grams `json:"-"` // the wheel's, for each point
}

// CurveCase is the curve in one of several airs.
type CurveCase struct {
	RH *float64 `json:"rh_pct"`
	Curve
}

// Curves are the curves of a wheel in several airs.
type Curves struct {
	Schema string      `json:"schema"`
	Cases  []CurveCase `json:"cases"`
	Basis
}

// CurveOf works out the curve of a wheel in the first air of a question.
func CurveOf(q CurveQuestion) (Curve, error) {
	q.In.Air = q.Airs[:1]
	b, err := drying.Bench(q.In)
	if err != nil {
		return Curve{}, err
	}
	r := Curve{
		Schema: app.Schema("work-curve"), First: app.Num(100 * b.FirstDayRate), Root: app.Num(100 * b.RootDayRate),
		Start: app.PctNum(b.StartMoisture), Balance: app.PctNum(b.BalanceMoisture), Transfer: app.Num(b.Transfer),
		Diffusivity: app.Num(b.Diffusivity), BiotHeight: app.Num(b.BiotHeight), BiotRadius: app.Num(b.BiotRadius),
		Points: []CurvePoint{},
	}
	for _, p := range b.Points {
		r.Points = append(r.Points, CurvePoint{p.Day, app.PctEst(p.Loss)})
		r.Weights = append(r.Weights, q.In.Weight*quantity.Grams(1-p.Loss.Best))
	}
	r.uses(q.formulas()...)
	return r, nil
}

func (q CurveQuestion) formulas() []Formula {
	if q.In.Linear {
		return []Formula{"diffusion-inside", "linear-surface"}
	}
	return []Formula{"diffusion-inside", "surface-flux", "surface-cooling", "sorption", "two-rates"}
}

// CompareDays are the days at which curves are compared.
var CompareDays = []int{7, 14, 30, 60, 90, 180}

// CurvesOf puts the curves of several airs side by side, at least as far as the last
// of CompareDays.
func CurvesOf(q CurveQuestion) (Curves, error) {
	r := Curves{Schema: app.Schema("work-curve-compare")}
	q.In.Days = max(q.In.Days, CompareDays[len(CompareDays)-1])
	for _, span := range q.Airs {
		c, err := CurveOf(CurveQuestion{In: q.In, Airs: []drying.Span{span}})
		if err != nil {
			return r, err
		}
		r.Cases = append(r.Cases, CurveCase{app.PctNum(span.Air.RH), c})
	}
	r.uses(q.formulas()...)
	return r, nil
}

// FitQuestion asks for the curve that fits weights. Without Prior it is plain least
// squares, and Cheese and Air don't matter.
type FitQuestion struct {
	Days, Weights []float64 // days since drying began, grams
	Prior         bool
	Cheese        drying.Cheese
	Air           drying.Span
}

// FitErrors are the standard errors of a fit.
type FitErrors struct {
	Green *float64 `json:"green_weight_g"`
	First *float64 `json:"first_day_rate_pct"`
	Root  *float64 `json:"root_day_rate_pct"`
}

// Fit is the answer to a FitQuestion.
type Fit struct {
	Schema   string    `json:"schema"`
	Prior    string    `json:"prior"` // physics or none
	Green    *float64  `json:"green_weight_g"`
	First    *float64  `json:"first_day_rate_pct"`
	Root     *float64  `json:"root_day_rate_pct"`
	SE       FitErrors `json:"standard_errors"`
	Residual *float64  `json:"residual_sd_g"`
	Points   int       `json:"points"`
	Status   string    `json:"status"`
	Why      string    `json:"why,omitempty"` // in words, filled by cmd/words

	Reasons reason.List `json:"reasons,omitempty"`
	Basis
}

// FitOf fits a drying curve to weights.
func FitOf(q FitQuestion) (Fit, error) {
	r := Fit{Schema: app.Schema("work-fit"), Prior: "none", Points: len(q.Days)}
	var f drying.FitResult
	var err error
	if q.Prior {
		r.Prior = "physics"
		r.uses("prior", "diffusion-inside", "surface-flux", "surface-cooling", "sorption")
		f, err = drying.FitWithPrior(q.Cheese, []drying.Span{q.Air}, q.Days, q.Weights)
	} else {
		r.uses("two-rates", "least-squares")
		f, err = drying.FitWeights(q.Days, q.Weights)
	}
	if err != nil {
		return r, err
	}
	r.Green, r.First, r.Root = app.Num(f.GreenWeightG), app.Num(100*f.FirstDayRate), app.Num(100*f.RootDayRate)
	r.SE = FitErrors{app.Num(f.GreenWeightSE), app.Num(100 * f.FirstDaySE), app.Num(100 * f.RootDaySE)}
	r.Residual, r.Status, r.Reasons = app.Num(f.ResidualSDG), f.Status, reason.ListOf(f.Why)
	return r, nil
}
