package tomlfile

import (
	"math"
	"strconv"
	"strings"

	"rindkeep/cave/quantity"
)

// Percent reads "38%" or 38 as a Fraction from lo to hi, and so never 0.38 for
// 38 %.
func (s Section) Percent(key string, lo, hi quantity.Fraction) quantity.Fraction {
	text, ok := s.Measure(key)
	if !ok {
		return 0
	}
	f, err := quantity.ParsePercent(text)
	if err != nil {
		// Beyond 0 to 100 the parser refuses too, but here the wanted range
		// can be named.
		if n, e := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(text), "%"), 64); e == nil {
			f, err = quantity.FromPercent(n), nil
		}
	}
	if s.ranged(key, "percentage", f.Percent(), err, lo.Percent(), hi.Percent(), "%"); s.doc.err != nil {
		return 0
	}
	return f
}

// Temp reads "12C", "54F" or 12 as a temperature from lo to hi.
func (s Section) Temp(key string, lo, hi quantity.Celsius) quantity.Celsius {
	text, ok := s.Measure(key)
	if !ok {
		return 0
	}
	c, err := quantity.ParseTemp(text)
	return quantity.Celsius(s.ranged(key, "temperature", float64(c), err, float64(lo), float64(hi), "C"))
}

// Weight reads "2kg", "4lb5oz" or 2000 (grams) as a weight from lo to hi.
func (s Section) Weight(key string, lo, hi quantity.Grams) quantity.Grams {
	text, ok := s.Measure(key)
	if !ok {
		return 0
	}
	g, err := quantity.ParseWeight(text)
	return quantity.Grams(s.ranged(key, "weight", float64(g), err, float64(lo), float64(hi), "g"))
}

// Length reads "15cm", "6in" or 15 (centimetres) as a length from lo to hi.
func (s Section) Length(key string, lo, hi quantity.Metres) quantity.Metres {
	text, ok := s.Measure(key)
	if !ok {
		return 0
	}
	m, err := quantity.ParseLength(text)
	return quantity.Metres(s.ranged(key, "length", m.Centimetres(), err, lo.Centimetres(), hi.Centimetres(), "cm") / 100)
}

func (s Section) ranged(key, what string, x float64, err error, lo, hi float64, unit string) float64 {
	if err != nil {
		s.Fail(key, "%s %s is no %s; give %s", key, s.Shown(key), what, Span(lo, hi, unit))
		return 0
	}
	if r := Outside(key, s.Shown(key), x, lo, hi, unit); r != "" {
		s.Fail(key, "%s", r)
		return 0
	}
	return x
}

// Outside is the reason why x, shown as a person wrote it, does not lie from
// lo to hi, or "" when it does. A percentage over 100 is called that.
func Outside(key, shown string, x, lo, hi float64, unit string) string {
	// A bound given in the file must pass: 0.07 times one hundred is more
	// than 7.
	slack := 1e-9 * math.Max(math.Abs(lo), math.Abs(hi))
	side, bound := "", 0.0
	switch {
	case math.IsNaN(x):
		return key + " is no number; give " + Span(lo, hi, unit)
	case x < lo-slack:
		side, bound = "under", lo
	case unit == "%" && x > 100 && hi <= 100:
		side, bound = "over", 100
	case x > hi+slack:
		side, bound = "over", hi
	default:
		return ""
	}
	return key + " " + shown + " is " + side + " " + strings.TrimSpace(figure(bound)+" "+unit) + "; give " + Span(lo, hi, unit)
}

// Span writes "20% to 80%", "10g to 200kg" or, for a unit that is a word,
// "1 to 60 days".
func Span(lo, hi float64, unit string) string {
	switch unit {
	case "":
		return figure(lo) + " to " + figure(hi)
	case "%", "C", "cm":
		return figure(lo) + unit + " to " + figure(hi) + unit
	case "g":
		return grams(lo) + " to " + grams(hi)
	}
	return figure(lo) + " to " + figure(hi) + " " + unit
}

func grams(g float64) string {
	if g >= 1000 {
		return figure(g/1000) + "kg"
	}
	return figure(g) + "g"
}

func figure(x float64) string { return strconv.FormatFloat(math.Round(x*1e6)/1e6, 'f', -1, 64) }
