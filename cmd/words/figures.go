package words

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"rindkeep/cave/quantity"
)

// Weight is a mass in the reader's units: 1942 g, 10.25 kg, 4 lb 4.5 oz.
func (p Printer) Weight(g quantity.Grams) string { return p.Units.Weight(g) }

// Fine is a mass small enough for its decimals to matter: 2.5 g.
func (p Printer) Fine(g quantity.Grams) string {
	if p.Units == quantity.Imperial {
		return p.Weight(g)
	}
	return fmt.Sprintf("%.3g g", float64(g))
}

// Temp is a temperature in the reader's units: 12.5 °C, 54.5 °F.
func (p Printer) Temp(c quantity.Celsius) string { return p.Units.Temp(c) }

// Instant is a date and a time of day in the reader's zone.
func (p Printer) Instant(t time.Time) string {
	if p.Zone != nil {
		t = t.In(p.Zone)
	}
	return t.Format("2006-01-02 15:04")
}

// pct is a share in percent to a tenth, or to a hundredth where it was kept to
// one because a tenth would hide what it differs by.
func pct(f quantity.Fraction) string {
	if s := math.Round(1000*float64(f)) / 1000; math.Abs(s-float64(f)) > 1e-9 {
		return fmt.Sprintf("%.2f %%", f.Percent())
	}
	return tenths(f) + " %"
}

func tenths(f quantity.Fraction) string { return fmt.Sprintf("%.1f", f.Percent()) }

// PctBand is an estimate of a share with its interval: "2.2 % (2.1 to 2.3)".
func PctBand(e quantity.Estimate) string {
	pct := func(x float64) float64 { return math.Round(1000*x)/10 + 0 } // never -0.0
	return fmt.Sprintf("%.1f %% (%.1f to %.1f)", pct(e.Best), pct(e.Low), pct(e.High))
}

// scale is a kind of figure that few sentences have, with its unit in metric and
// imperial, and how many of the one are one of the other.
type scale struct {
	metric, imperial string
	factor           float64
	form             string
}

var (
	flux    = scale{"g/dm2 a day", "oz/sq ft a day", 9.290304 / 28.349523125, "%.2f"}
	density = scale{"kg a cubic metre", "lb a cubic foot", 0.028316846592 / 0.45359237, "%.0f"}
)

// amount is a figure with its unit.
func (p Printer) amount(m scale, x float64) string {
	if p.Units == quantity.Imperial {
		return p.figures(m, x) + " " + m.imperial
	}
	return p.figures(m, x) + " " + m.metric
}

// figures are figures of a scale without its unit: "1.00 to 1.20".
func (p Printer) figures(m scale, xs ...float64) string {
	out := make([]string, len(xs))
	for i, x := range xs {
		if p.Units == quantity.Imperial {
			x *= m.factor
		}
		out[i] = fmt.Sprintf(m.form, x)
	}
	return strings.Join(out, " to ")
}

// ouncesPerGram is by definition of the ounce.
const ouncesPerGram = 1 / 28.349523125

// Evaporation is water that a surface gives off, of grams per square metre and day.
func (p Printer) Evaporation(g float64) string {
	if p.Units == quantity.Imperial {
		return fmt.Sprintf("%.2f oz/sq ft a day", g*ouncesPerGram*0.09290304)
	}
	return fmt.Sprintf("%.0f g/m2 a day", g)
}

// Hourly is water that wheels give off in an hour, of grams, in the reader's units; nil
// stays nil.
func (p Printer) Hourly(g *float64) *float64 {
	if g == nil || p.Units != quantity.Imperial {
		return g
	}
	return new(*g * ouncesPerGram)
}

// HourlyUnit is the unit of Hourly.
func (p Printer) HourlyUnit() string {
	if p.Units == quantity.Imperial {
		return "oz"
	}
	return "g"
}

// HourlyDigits is how many decimals Hourly is worth.
func (p Printer) HourlyDigits() int {
	if p.Units == quantity.Imperial {
		return 2
	}
	return 1
}

// exact is a share in percent, as it was given.
func exact(f quantity.Fraction) string { return fmt.Sprintf("%.4g %%", f.Percent()) }

func wholePct(f quantity.Fraction) string { return bare(f) + " %" }

// bare is a share in whole percent, without the sign.
func bare(f quantity.Fraction) string { return fmt.Sprintf("%.0f", f.Percent()) }

func digits(n int) string { return strconv.Itoa(n) }

// count is a number of things: "1 day", "2 days".
func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return digits(n) + " " + thing + "s"
}

// times is how often: once, twice, 3 times.
func times(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return digits(n) + " times"
}
