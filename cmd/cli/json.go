package cli

import (
	"math"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
)

// schema names a JSON document; removing or renaming a field of one makes a
// new number.
func schema(name string) string { return "rindkeep/" + name + "/1" }

// est is an estimate in JSON: a 90 % interval, null where unknown.
type est struct {
	Best *float64 `json:"best"`
	Low  *float64 `json:"low"`
	High *float64 `json:"high"`
}

// num is a figure for JSON, null where it is no finite number. Ten digits are
// kept: the eleventh says nothing and makes documents differ by machine.
func num(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	x = rounded(x, 10)
	return &x
}

func rounded(x float64, digits int) float64 {
	if x == 0 {
		return 0
	}
	p := math.Pow(10, float64(digits)-1-math.Floor(math.Log10(math.Abs(x))))
	if math.IsInf(p, 0) || p == 0 {
		return x
	}
	return math.Round(x*p) / p
}

func estOf(e quantity.Estimate) est { return est{num(e.Best), num(e.Low), num(e.High)} }

// pctEst turns an estimate of a fraction into percent.
func pctEst(e quantity.Estimate) est { return estOf(e.Times(100)) }

func pctNum(f quantity.Fraction) *float64 { return num(f.Percent()) }

// grams is a mass for JSON, null where it was not taken.
func grams(g quantity.Grams) *float64 {
	if g == 0 {
		return nil
	}
	return num(float64(g))
}

func dateOrNull(d day.Date) *string {
	if d == day.None {
		return nil
	}
	s := d.String()
	return &s
}

func instant(t time.Time, loc *time.Location) string { return t.In(loc).Format(time.RFC3339) }

// filled makes an empty list of a nil one, so that JSON says [].
func filled[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}
