package quantity

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"sync"
)

// The heaviest weights that are read: our own bounds.
const (
	MaxWeight Grams = 500_000 // of one wheel: 500 kg
	MaxBulk   Grams = 1e9     // of milk, curd or a whole make: 1000 t
)

// Ounce and pound in grams, exact by definition: the international yard and pound
// agreement of 1959 (from memory).
const (
	gramsPerOunce = 28.349523125
	gramsPerPound = 453.59237

	litresPerGallon = 3.785411784 // US liquid gallon, 231 cubic inches by definition
)

// bareUnits are what a number without a unit is in.
type bareUnits struct {
	weight, length, volume, pressure float64 // in grams, metres, litres and pascals

	weightName, lengthName, volumeName, pressureName string
}

// An inch is 2.54 cm by definition.
var bares = map[bool]bareUnits{
	false: {1, 0.01, 1, float64(KilopascalPa), "grams", "centimetres", "litres", "kPa"},
	true:  {gramsPerOunce, 0.0254, litresPerGallon, float64(PoundPerInch2), "ounces", "inches", "gallons", "psi"},
}

func (u Units) bare() bareUnits { return bares[u == Imperial] }

// BareWeight names what a weight without a unit is in: grams or ounces.
func (u Units) BareWeight() string { return u.bare().weightName }

// BareLength names the unit of a bare length: centimetres or inches.
func (u Units) BareLength() string { return u.bare().lengthName }

// Files are metric for every reader.

// ParseWeight is Units.ParseWeight in metric units.
func ParseWeight(s string) (Grams, error) { return Metric.ParseWeight(s) }

// ParseTemp is Units.ParseTemp in metric units.
func ParseTemp(s string) (Celsius, error) { return Metric.ParseTemp(s) }

// ParseLength is Units.ParseLength in metric units.
func ParseLength(s string) (Metres, error) { return Metric.ParseLength(s) }

// ParseWeight reads a weight: 1942, 1942g, 1.942kg, 4lb5oz, 4lb, 68.5oz. A bare
// number is grams, or ounces in imperial units. It reads a decimal comma, but
// refuses a comma before exactly three digits as unclear. The weight must be over 0
// and at most 500 kg.
func (u Units) ParseWeight(s string) (Grams, error) {
	if err := u.kilograms(s, 10, 100); err != nil {
		return 0, err
	}
	g, err := mass(s, u.bare().weight)
	if err != nil {
		return 0, orSpecific(err, fmt.Errorf("%q is not a weight; write 1942, 1942g, 1.942kg, 4lb5oz or 68.5oz", s))
	}
	switch {
	case g <= 0:
		return 0, fmt.Errorf("weight %q must be over 0", s)
	case g > MaxWeight:
		return 0, fmt.Errorf("weight %q is over 500 kg; a bare number is %s", s, u.BareWeight())
	}
	return g, nil
}

// ParseBulk reads a mass of milk, curd or a whole make's cheese as ParseWeight
// does, and tonnes too: 1200kg, 2t. It must be over 0 and at most 1000 t.
func (u Units) ParseBulk(s string) (Grams, error) {
	if err := u.kilograms(s, 0, 100); err != nil {
		return 0, err
	}
	g, err := mass(s, u.bare().weight)
	if err != nil {
		return 0, orSpecific(err, fmt.Errorf("%q is not a weight; write 10200g, 10.2kg, 22lb or 1.2t", s))
	}
	if !(g > 0 && g <= MaxBulk) {
		return 0, fmt.Errorf("weight %q is out of range; give more than 0 and at most 1000t; a bare number is %s",
			s, u.BareWeight())
	}
	return g, nil
}

// Kilograms is the error of a bare weight that would be a few grams, and looks like
// kilograms, or like grams with a thousands mark: 2.080.
type Kilograms struct {
	Word   string // as typed
	Figure string // with a decimal point
}

// Meant is the weight as it was probably meant: 2.080kg.
func (e Kilograms) Meant() string { return e.Figure + "kg" }

// Error asks whether kilograms are meant, and says how to write either.
func (e Kilograms) Error() string {
	return fmt.Sprintf("did you mean %s kg? write %s; a bare %q would be %sg", e.Figure, e.Meant(), e.Word, e.Figure)
}

// kilograms refuses a bare figure under small that has decimals, or one under long that
// has three, where a bare number is grams. The bounds are our own: no wheel is that light.
func (u Units) kilograms(s string, small, long float64) error {
	w := strings.TrimSpace(s)
	whole, part, ok := strings.Cut(strings.Replace(w, ",", ".", 1), ".")
	n, err := Number(whole + "." + part)
	if ok && u != Imperial && err == nil && n > 0 && (n < long && len(part) == 3 || n < small) {
		return Kilograms{Word: w, Figure: whole + "." + part}
	}
	return nil
}

// commaWeight is a figure in kilograms or pounds whose comma is a decimal one.
var commaWeight = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`(?i)(^|,)\s*\d{1,3},\d+\s*(kg|lb)`)
})

// WeightWords parts a list of weights: by semicolons if it has any, else by commas, but
// for decimal ones, as in 2,08kg,2,1kg. A blank is a wheel that wasn't weighed.
func WeightWords(s string) []string {
	var out []string
	sep := ";"
	if !strings.Contains(s, sep) && Metric.kilograms(s, 10, 10) == nil { // 2,08 alone is no list
		sep = ","
		s = commaWeight().ReplaceAllStringFunc(s, func(w string) string {
			i := strings.LastIndexByte(w, ',')
			return w[:i] + "." + w[i+1:]
		})
	}
	for w := range strings.SplitSeq(s, sep) {
		out = append(out, strings.TrimSpace(w))
	}
	return out
}

// mass reads a number with a unit of mass, or pounds with ounces; bare is the grams
// of a number without a unit. A pound has 16 ounces by definition.
func mass(s string, bare float64) (Grams, error) {
	pounds, ounces, ok := strings.Cut(strings.ToLower(s), "lb")
	ounces = strings.TrimPrefix(strings.TrimSpace(ounces), "s")
	if !ok || ounces == "" {
		g, err := withUnit(s, bare, []unit{
			{"kg", 1000}, {"lbs", gramsPerPound}, {"lb", gramsPerPound}, {"oz", gramsPerOunce},
			{"grams", 1}, {"g", 1}, {"t", 1e6},
		})
		return Grams(g), err
	}
	lb, err := Number(pounds)
	if err != nil {
		return 0, err
	}
	figure, ok := strings.CutSuffix(ounces, "oz")
	oz, err := Number(figure)
	switch {
	case err != nil:
		return 0, err
	case !ok || oz < 0: // 5lb-3oz: is the dash a minus?
		return 0, fmt.Errorf("not pounds and ounces")
	case oz >= 16:
		return 0, Unclear{fmt.Errorf("%q has %g ounces over whole pounds; a pound has 16", s, oz)}
	}
	return Grams(lb*gramsPerPound + oz*gramsPerOunce), nil
}

// ParsePercent reads a percentage from 0 to 100: 1.8%, 1.8 or 1,8%.
func ParsePercent(s string) (Fraction, error) {
	n, err := Number(strings.TrimSuffix(strings.TrimSpace(s), "%"))
	if err != nil {
		return 0, orSpecific(err, fmt.Errorf("%q is not a percentage; write 1.8%% or 1.8", s))
	}
	if n < 0 || n > 100 {
		return 0, fmt.Errorf("%q is out of range; a percentage runs from 0 to 100", s)
	}
	return FromPercent(n + 0), nil // -0 is 0
}

// ParseLength reads a length: 15cm, 150mm, 0.15m, 6in; a bare number is
// centimetres, or inches (2.54 cm by definition) in imperial units. It must be over 0
// and at most 10 m.
func (u Units) ParseLength(s string) (Metres, error) {
	n, err := withUnit(s, u.bare().length, []unit{{"cm", 0.01}, {"mm", 0.001}, {"in", 0.0254}, {"m", 1}})
	if err != nil {
		return 0, orSpecific(err, fmt.Errorf("%q is not a length; write 15cm, 150mm or 6in", s))
	}
	if n <= 0 || n > 10 {
		return 0, fmt.Errorf("length %q is out of range; a bare number is %s", s, u.bare().lengthName)
	}
	return Metres(n), nil
}

// ParseVolume reads a volume: 40l, 40 L, 10gal (US), 500ml; a bare number is
// litres, or US gallons in imperial units. It must be over 0 and at most 1,000,000 l.
func (u Units) ParseVolume(s string) (Litres, error) {
	n, err := withUnit(s, u.bare().volume,
		[]unit{{"litres", 1}, {"liters", 1}, {"gal", litresPerGallon}, {"ml", 0.001}, {"l", 1}})
	if err != nil {
		return 0, orSpecific(err, fmt.Errorf("%q is not a volume; write 40l or 10gal", s))
	}
	if n <= 0 || n > 1e6 {
		return 0, fmt.Errorf("volume %q is out of range; a bare number is %s", s, u.bare().volumeName)
	}
	return Litres(n), nil
}

// ParseTemp reads a temperature from -40 to 120 C (our own bounds): 12, 12.1C, 54F. A
// bare number is Celsius, or Fahrenheit in imperial units.
func (u Units) ParseTemp(s string) (Celsius, error) {
	w := strings.ToLower(strings.ReplaceAll(strings.TrimSpace(s), "°", ""))
	f := strings.HasSuffix(w, "f") || u == Imperial && !strings.HasSuffix(w, "c")
	n, err := Number(strings.TrimSpace(strings.TrimRight(w, "cf")))
	if err != nil || strings.Count(w, "c")+strings.Count(w, "f") > 1 {
		return 0, orSpecific(err, fmt.Errorf("%q is not a temperature; write 12.1C or 54F", s))
	}
	if f {
		n = (n - 32) / 1.8
	}
	if n < -40 || n > 120 {
		return 0, fmt.Errorf("temperature %q is out of range; write 12.1C or 54F", s)
	}
	return Celsius(n), nil
}

type unit struct {
	suffix string
	factor float64
}

// withUnit reads a number with one of the units, or bare with the factor bare.
func withUnit(s string, bare float64, units []unit) (float64, error) {
	w := strings.ToLower(strings.ReplaceAll(strings.TrimSpace(s), " ", ""))
	factor := bare
	for _, u := range units {
		if rest, ok := strings.CutSuffix(w, u.suffix); ok {
			w, factor = rest, u.factor
			break
		}
	}
	n, err := Number(w)
	return n * factor, err
}

// Unclear is the error of a figure that says more than "this is not a weight".
type Unclear struct{ error }

// orSpecific is err where it says more than the other.
func orSpecific(err, other error) error {
	if u, ok := err.(Unclear); ok {
		return u
	}
	return other
}

// Number reads a plain decimal with a point or a comma. It refuses exponents,
// hexadecimals, NaN and infinity, which strconv would accept, and more than 40
// characters (our choice).
func Number(s string) (float64, error) {
	w := strings.TrimSpace(s)
	if i := strings.IndexByte(w, ','); i >= 0 {
		if strings.ContainsAny(w[i+1:], ",.") {
			return 0, Unclear{fmt.Errorf("%q has more than one decimal mark; write it without thousands marks", s)}
		}
		if len(w)-i-1 == 3 && strings.TrimLeft(w[:i], "0+-") != "" {
			return 0, Unclear{fmt.Errorf("%q is unclear: a thousands comma or a decimal comma? write %s or %s",
				s, w[:i]+w[i+1:], w[:i]+"."+w[i+1:])}
		}
		w = w[:i] + "." + w[i+1:]
	}
	if len(w) > 40 {
		return 0, fmt.Errorf("number too long")
	}
	for _, r := range w {
		if (r < '0' || r > '9') && r != '.' && r != '-' && r != '+' {
			return 0, fmt.Errorf("not a number")
		}
	}
	return strconv.ParseFloat(w, 64)
}
