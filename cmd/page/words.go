package page

import (
	"fmt"
	"html/template"
	"maps"
	"math"
	"time"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/words"
)

// funcs are what templates say figures and dates with.
func funcs(p words.Printer, a *assets) template.FuncMap {
	m := template.FuncMap{
		"p":          func() words.Printer { return p },
		"waxCaution": func() string { return p.CautionOf(app.HotWax) },
		"airCaution": func() string { return p.CautionOf(app.ClosedRoom) },
		"hourly": func(e app.Est) app.Est {
			return app.Est{Best: p.Hourly(e.Best), Low: p.Hourly(e.Low), High: p.Hourly(e.High)}
		},
		"degrees": func() string { return degrees(p) },
		"below0":  func(x *float64) bool { return *x < 0 },
		"size":    func(x *float64) *float64 { y := math.Abs(*x); return &y },
		"temp":    func(x *float64) string { return temperature(p, x) },
		"volume":  func(x *float64) string { return p.Units.Volume(quantity.Litres(*x)) },
		"arrival": func(a *makes.Arrival) string { return p.Arrival(*a) },
		"g":       func(x *float64) string { return weighedOr(p, x) },
		"unit":    func() string { return map[bool]string{true: "oz", false: "g"}[p.Units == quantity.Imperial] },
		"asset":   a.url,
		"long":    longDate,
		"num":     func(digits int, x *float64) string { return number(digits, x) },
	}
	maps.Copy(m, deskFuncs)
	return m
}

// longDate is a calendar date 2026-11-25 as "Wednesday 25 November 2026".
func longDate(s string) string {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return s
	}
	return t.Format("Monday 2 January 2006")
}

// number is a figure to so many decimals, "unknown" where there is none.
func number(digits int, x *float64) string {
	if x == nil {
		return "unknown"
	}
	return fmt.Sprintf("%.*f", digits, *x)
}

// weighedOr is a weight in grams in the reader's units.
func weighedOr(p words.Printer, x *float64) string {
	if x == nil {
		return "not weighed"
	}
	return p.Weight(quantity.Grams(*x))
}

// temperature is one in degrees Celsius in the reader's units, "" where there is none.
func temperature(p words.Printer, x *float64) string {
	if x == nil {
		return ""
	}
	return p.Temp(quantity.Celsius(*x))
}
