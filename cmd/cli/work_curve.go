package cli

import (
	"fmt"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/plot"
	"rindkeep/cmd/text"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/shape"
)

// airFlags are a room's air as flags.
type airFlags struct{ temp, rh, movement string }

func (s *airFlags) add(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&s.temp, "temp", "12C", "air `TEMPERATURE`")
	f.StringVar(&s.rh, "rh", "85%", "relative humidity, `PERCENT`")
	f.StringVar(&s.movement, "air", "gentle", "air movement: `still|gentle|brisk`")
}

func (s *airFlags) given() (drying.Span, error) {
	t, err := need("--temp", s.temp, quantity.ParseTemp)
	if err != nil {
		return drying.Span{}, err
	}
	h, err := need("--rh", s.rh, quantity.ParsePercent)
	if err != nil {
		return drying.Span{}, err
	}
	m, err := need("--air", s.movement, air.ParseMovement)
	return drying.Span{Air: air.State{Temp: t, RH: h}, Movement: m}, err
}

func (a *app) workCurveCmd() *cobra.Command {
	var weight, moisture, salt, group string
	var days int
	var diffusivity, transfer float64
	var linear bool
	var sf shapeFlags
	var af airFlags
	var ex explaining
	c := a.cmd("curve", "The drying curve physics expects of a wheel", `
rindkeep work curve --weight 2kg --diameter 15cm --height 10cm --moisture 38% --temp 12 --rh 80 --days 180
rindkeep work curve --weight 2kg --diameter 15cm --height 10cm --moisture 38% --rh 80,88    side by side
rindkeep work curve --weight 10kg --diameter 30cm --height 13cm --moisture 38% --air brisk --days 60`, none, func(cmd *cobra.Command, _ []string) error {
		in := drying.Inputs{Days: days, Diffusivity: diffusivity, Transfer: transfer, Linear: linear}
		var err error
		if in.Weight, err = need("--weight", weight, quantity.ParseWeight); err != nil {
			return err
		}
		if in.Shape, err = sf.given(); err != nil {
			return err
		}
		if !in.Shape.Known() {
			return usagef("the wheel's measures are missing: give --diameter and --height, or --length, --width and --height")
		}
		if in.Moisture, err = need("--moisture", moisture, quantity.ParsePercent); err != nil {
			return err
		}
		if in.Salt, _, err = maybe("--salt", salt, quantity.ParsePercent); err != nil {
			return err
		}
		if in.Group, err = need("--group", group, drying.ParseGroup); err != nil {
			return err
		}
		why := ex.of(whyInside, whySurface, whyCooling, whySorption, whyTwoRates)
		if linear {
			why = ex.of(whyInside, whyLinear)
		}
		if strings.Contains(af.rh, ",") {
			return a.workCompare(in, af, why)
		}
		span, err := af.given()
		if err != nil {
			return err
		}
		in.Air = []drying.Span{span}
		r, err := drying.Bench(in)
		if err != nil {
			return err
		}
		if a.json {
			doc := benchDoc(r)
			doc.Explain = why
			return a.document(doc)
		}
		ch := plot.Chart{XLabel: "days", YLabel: "loss, % of green weight", Target: math.NaN()}
		for _, p := range r.Points {
			ch.Own = append(ch.Own, plot.XY{X: float64(p.Day), Y: 100 * p.Loss.Best})
			ch.Expected = append(ch.Expected, plot.Band{X: float64(p.Day), Low: 100 * p.Loss.Low, High: 100 * p.Loss.High})
		}
		a.lines(ch.Text(a.env.Columns(), 14))
		a.print("%s\n\n", "• expected   ░ 90 % of such wheels")
		t := text.Table{Columns: []text.Column{{Title: "day", Right: true}, {Title: "loss", Right: true}, {Title: "90 % interval", Right: true}, {Title: "weight", Right: true}}}
		for _, d := range []int{1, 3, 7, 14, 30, 60, 90, 180, 365, 730} {
			if d <= days {
				p := r.Points[d]
				t.Add(fmt.Sprint(d), fmt.Sprintf("%.2f %%", 100*p.Loss.Best), fmt.Sprintf("%.1f to %.1f", 100*p.Loss.Low, 100*p.Loss.High), a.units.Weight(in.Weight*quantity.Grams(1-p.Loss.Best)))
			}
		}
		a.lines(t.Lines(a.env.Columns()))
		a.print("\n")
		a.lines(text.Wrap(fmt.Sprintf("first day %.2f %% a day, then %.2f %% per root day; balance moisture %.1f %% in this air", 100*r.FirstDayRate, 100*r.RootDayRate, r.BalanceMoisture.Percent()), a.env.Columns()))
		a.explain(why)
		return nil
	})
	f := c.Flags()
	f.StringVar(&weight, "weight", "", "green `WEIGHT`")
	f.StringVar(&moisture, "moisture", "", "`PERCENT` moisture at the start")
	f.StringVar(&salt, "salt", "", "`PERCENT` salt at the start")
	f.StringVar(&group, "group", "hard", "`GROUP` of varieties that dry alike")
	f.IntVar(&days, "days", 90, "`N` days ahead")
	f.Float64Var(&diffusivity, "diffusivity", 0, "water in the cheese, `M2/S`")
	f.Float64Var(&transfer, "transfer", 0, "surface to air, `KG/(M2 S PA)`")
	f.BoolVar(&linear, "linear", false, "a linear surface law, for checking against the series")
	sf.add(c)
	af.add(c)
	ex.add(c)
	return c
}

type lossPoint struct {
	Day  int `json:"day"`
	Loss est `json:"loss_pct"`
}

type curveDoc struct {
	Schema      string      `json:"schema"`
	First       *float64    `json:"first_day_rate_pct"`
	Root        *float64    `json:"root_day_rate_pct"`
	Start       *float64    `json:"start_moisture_pct"`
	Balance     *float64    `json:"balance_moisture_pct"`
	Transfer    *float64    `json:"surface_transfer_kg_m2_s_pa"`
	Diffusivity *float64    `json:"diffusivity_m2_s"`
	BiotHeight  *float64    `json:"biot_height"`
	BiotRadius  *float64    `json:"biot_radius"`
	Points      []lossPoint `json:"points"`
	Explain     []reason    `json:"explain,omitempty"`
}

func (a *app) workFitCmd() *cobra.Command {
	var from, prior, moisture, group string
	var sf shapeFlags
	var af airFlags
	var ex explaining
	c := a.cmd("fit", "Fit a drying curve to weights in a file", `
rindkeep work fit --from weights.csv
rindkeep work fit --from weights.csv --prior none       plain least squares
rindkeep work fit --from - < weights.csv`, none, func(cmd *cobra.Command, _ []string) error {
		if from == "" {
			return usagef("--from is missing: a CSV with the columns day,weight_g, or - for standard input")
		}
		if prior != "physics" && prior != "none" {
			return at("--prior", usagef("no prior %q; give physics or none", safeWord(prior)))
		}
		in, err := a.openFile(from)
		if err != nil {
			return err
		}
		defer in.Close()
		days, weights, bad, err := intake.Curve(in)
		if err != nil {
			return at(from, err)
		}
		if len(bad) > 0 {
			return a.problems(from, bad)
		}
		doc := fitDoc{Schema: schema("work-fit"), Prior: prior, Points: len(days)}
		switch prior {
		case "none":
			r, err := drying.FitWeights(days, weights, drying.FitOptions{})
			if err != nil {
				return at(from, err)
			}
			doc.Green, doc.First, doc.Root, doc.Residual = num(r.GreenWeightG), num(100*r.FirstDayRate), num(100*r.RootDayRate), num(r.ResidualSDG)
			doc.SE = fitSE{num(r.GreenWeightSE), num(100 * r.FirstDaySE), num(100 * r.RootDaySE)}
			doc.Status, doc.Why = r.Status, r.Why
		default:
			var sh shape.Shape
			if sh, err = sf.given(); err != nil {
				return err
			}
			m, _, err := maybe("--moisture", moisture, quantity.ParsePercent)
			if err != nil {
				return err
			}
			g, err := need("--group", group, drying.ParseGroup)
			if err != nil {
				return err
			}
			span, err := af.given()
			if err != nil {
				return err
			}
			r, err := drying.FitWithPrior(drying.Cheese{Shape: sh, Moisture: m, Group: g}, []drying.Span{span}, days, weights)
			if err != nil {
				return at(from, err)
			}
			doc.Green, doc.First, doc.Root, doc.Residual = num(r.GreenWeightG), num(100*r.FirstDayRate), num(100*r.RootDayRate), num(r.ResidualSDG)
			doc.SE = fitSE{num(r.GreenWeightSE), num(100 * r.FirstDaySE), num(100 * r.RootDaySE)}
			doc.Status, doc.Why = r.Status, r.Why
		}
		doc.Explain = ex.of(whyTwoRates, whyLeastSquares)
		if prior == "physics" {
			doc.Explain = ex.of(whyPrior, whyInside, whySurface, whyCooling, whySorption)
		}
		if a.json {
			return a.document(doc)
		}
		show := func(v, se *float64, unit string) (string, string) {
			switch {
			case v == nil:
				return "not told by the weights", ""
			case se == nil:
				return fmt.Sprintf("%.4g %s", *v, unit), "± unknown"
			}
			return fmt.Sprintf("%.4f %s", *v, unit), fmt.Sprintf("± %.2g", *se)
		}
		t := text.Table{Columns: []text.Column{{}, {Right: true}, {}}}
		for _, l := range []struct {
			name  string
			v, se *float64
			unit  string
		}{{"green weight", doc.Green, doc.SE.Green, "g"}, {"first-day rate", doc.First, doc.SE.First, "% a day"}, {"root-day rate", doc.Root, doc.SE.Root, "% per root day"}} {
			v, se := show(l.v, l.se, l.unit)
			t.Add(l.name, v, se)
		}
		if doc.Residual != nil {
			t.Add("scatter of the weights", fmt.Sprintf("%.1f g", *doc.Residual), "")
		}
		a.lines(t.Lines(a.env.Columns()))
		a.print("%s, %s", text.Count(doc.Points, "weighing"), doc.Status)
		if doc.Why != "" {
			a.print(": %s", doc.Why)
		}
		a.print("\n")
		a.explain(doc.Explain)
		return nil
	})
	f := c.Flags()
	f.StringVar(&from, "from", "", "CSV `FILE` with columns day,weight_g; - for standard input")
	f.StringVar(&prior, "prior", "physics", "what is known beforehand: `physics|none`")
	f.StringVar(&moisture, "moisture", "", "`PERCENT` moisture at the start, for the physics")
	f.StringVar(&group, "group", "hard", "`GROUP` of varieties that dry alike, for the physics")
	sf.add(c)
	af.add(c)
	ex.add(c)
	return c
}

type fitSE struct {
	Green *float64 `json:"green_weight_g"`
	First *float64 `json:"first_day_rate_pct"`
	Root  *float64 `json:"root_day_rate_pct"`
}

type fitDoc struct {
	Schema   string   `json:"schema"`
	Prior    string   `json:"prior"`
	Green    *float64 `json:"green_weight_g"`
	First    *float64 `json:"first_day_rate_pct"`
	Root     *float64 `json:"root_day_rate_pct"`
	SE       fitSE    `json:"standard_errors"`
	Residual *float64 `json:"residual_sd_g"`
	Points   int      `json:"points"`
	Status   string   `json:"status"`
	Why      string   `json:"why,omitempty"`
	Explain  []reason `json:"explain,omitempty"`
}

// workCompare puts the curves of several humidities side by side.
func (a *app) workCompare(in drying.Inputs, af airFlags, why []reason) error {
	type column struct {
		RH *float64 `json:"rh_pct"`
		curveDoc
	}
	var cols []column
	var names []string
	in.Days = max(in.Days, 180)
	for _, h := range strings.Split(af.rh, ",") {
		one := af
		one.rh = h
		span, err := one.given()
		if err != nil {
			return err
		}
		in.Air = []drying.Span{span}
		r, err := drying.Bench(in)
		if err != nil {
			return err
		}
		cols = append(cols, column{pctNum(span.Air.RH), benchDoc(r)})
		names = append(names, fmt.Sprintf("%.0f %%", span.Air.RH.Percent()))
	}
	if a.json {
		return a.document(struct {
			Schema  string   `json:"schema"`
			Cases   []column `json:"cases"`
			Explain []reason `json:"explain,omitempty"`
		}{schema("work-curve-compare"), cols, why})
	}
	t := text.Table{Columns: []text.Column{{Title: "day", Right: true}}}
	for _, n := range names {
		t.Columns = append(t.Columns, text.Column{Title: "loss at " + n, Right: true}, text.Column{Title: "to sell", Right: true})
	}
	for _, d := range []int{7, 14, 30, 60, 90, 180} {
		row := []string{fmt.Sprint(d)}
		for _, c := range cols {
			l := *c.Points[d].Loss.Best
			row = append(row, fmt.Sprintf("%.2f %%", l), a.units.Weight(net(in.Weight, l/100)))
		}
		t.Add(row...)
	}
	a.lines(t.Lines(a.env.Columns()))
	a.explain(why)
	return nil
}

func benchDoc(r drying.BenchResult) curveDoc {
	doc := curveDoc{
		Schema: schema("work-curve"), First: num(100 * r.FirstDayRate), Root: num(100 * r.RootDayRate), Points: []lossPoint{},
		Start: pctNum(r.StartMoisture), Balance: pctNum(r.BalanceMoisture), Transfer: num(r.Transfer), Diffusivity: num(r.Diffusivity),
		BiotHeight: num(r.BiotHeight), BiotRadius: num(r.BiotRadius),
	}
	for _, p := range r.Points {
		doc.Points = append(doc.Points, lossPoint{p.Day, pctEst(p.Loss)})
	}
	return doc
}
