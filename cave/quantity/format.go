package quantity

import (
	"fmt"
	"math"
	"strings"
)

// Units is the system of units in which people read figures. JSON and files are
// always metric.
type Units string

// The systems of units.
const (
	Metric   Units = "metric"
	Imperial Units = "imperial"
)

// ParseUnits reads metric or imperial.
func ParseUnits(s string) (Units, error) {
	switch u := Units(strings.ToLower(strings.TrimSpace(s))); u {
	case Metric, Imperial:
		return u, nil
	}
	return "", fmt.Errorf("no units %q; units are metric or imperial", s)
}

// Weight writes a mass: 1942 g, 10.25 kg from 10 kg up, or 4 lb 4.5 oz. A pound has 16
// ounces by definition.
func (u Units) Weight(g Grams) string {
	if u == Imperial {
		oz := math.Round(float64(g)/gramsPerOunce*10) / 10
		lb := math.Floor(oz / 16)
		if lb == 0 {
			return fmt.Sprintf("%.1f oz", oz)
		}
		return fmt.Sprintf("%.0f lb %.1f oz", lb, math.Abs(oz-lb*16))
	}
	switch a := math.Abs(float64(g)); {
	case a >= 1e6:
		return fmt.Sprintf("%.0f kg", g.Kilograms())
	case a >= 1e5:
		return fmt.Sprintf("%.1f kg", g.Kilograms())
	case a >= 1e4:
		return fmt.Sprintf("%.2f kg", g.Kilograms())
	}
	return fmt.Sprintf("%.0f g", math.Round(float64(g)))
}

// Temp writes a temperature: 12.1 °C or 53.8 °F (by definition of the scale).
func (u Units) Temp(c Celsius) string {
	if u == Imperial {
		return fmt.Sprintf("%.1f °F", float64(c)*1.8+32)
	}
	return fmt.Sprintf("%.1f °C", float64(c))
}

// Length writes a length: 15 cm or 5.9 in (of 2.54 cm by definition).
func (u Units) Length(m Metres) string {
	if u == Imperial {
		return fmt.Sprintf("%.1f in", float64(m)/0.0254)
	}
	return strings.TrimSuffix(fmt.Sprintf("%.1f", m.Centimetres()), ".0") + " cm"
}

// Volume writes a volume: 40 l or 10.6 gal (US).
func (u Units) Volume(l Litres) string {
	if u == Imperial {
		return fmt.Sprintf("%.1f gal", float64(l)/litresPerGallon)
	}
	return strings.TrimSuffix(fmt.Sprintf("%.1f", float64(l)), ".0") + " l"
}
