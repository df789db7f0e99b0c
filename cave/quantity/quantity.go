// Package quantity has one Go type for each kind of figure in the book, and reads
// and writes them the way people do.
//
// Inside the program a ratio is a Fraction from 0 to 1. Percentages exist only at
// the edge, where ParsePercent and Fraction.Percent convert them. The package
// knows nothing about cheese, rooms or time.
package quantity

import "math"

// Grams is a mass in grams. The zero value is no mass.
type Grams float64

// Kilograms gives the mass in kilograms.
func (g Grams) Kilograms() float64 { return float64(g) / 1000 }

// Pounds gives the mass in pounds avoirdupois.
func (g Grams) Pounds() float64 { return float64(g) / gramsPerPound }

// Celsius is a temperature in degrees Celsius.
type Celsius float64

// Kelvin gives the temperature in kelvin: 0 C is 273.15 K by definition.
func (c Celsius) Kelvin() float64 { return float64(c) + 273.15 }

// Fraction is a ratio, 0 to 1 where it is a share of a whole: moisture on the
// wet basis, relative humidity, loss. It is never a percentage.
type Fraction float64

// Percent gives the ratio times one hundred.
func (f Fraction) Percent() float64 { return float64(f) * 100 }

// FromPercent converts a percentage: 1.8 gives 0.018.
func FromPercent(p float64) Fraction { return Fraction(p / 100) }

// Pascals is a pressure in pascals.
type Pascals float64

// Metres is a length in metres.
type Metres float64

// Centimetres gives the length in centimetres.
func (m Metres) Centimetres() float64 { return float64(m) * 100 }

// Litres is a volume in litres.
type Litres float64

// Estimate is a best value and the ends of its 90 % interval, in the unit of the
// field that holds it. Low <= Best <= High. High may be +Inf, and all three may
// be NaN where nothing is known; the edge prints those as unknown.
type Estimate struct {
	Best, Low, High float64
}

// Z90 is the quantile of the normal distribution that leaves 5 % at either end of
// an interval, by definition.
const Z90 = 1.6448536269514722

// SD is the standard deviation of a normal estimate with this interval.
func (e Estimate) SD() float64 { return (e.High - e.Low) / (2 * Z90) }

// Exactly is an estimate without uncertainty.
func Exactly(x float64) Estimate { return Estimate{x, x, x} }

// Unknown is the estimate where nothing is known: NaN in all fields.
func Unknown() Estimate { n := math.NaN(); return Estimate{n, n, n} }

// Known is true where the best value is a finite number.
func (e Estimate) Known() bool { return !math.IsNaN(e.Best) && !math.IsInf(e.Best, 0) }

// Times scales the estimate by k; a negative k swaps the ends.
func (e Estimate) Times(k float64) Estimate {
	if k < 0 {
		return Estimate{e.Best * k, e.High * k, e.Low * k}
	}
	return Estimate{e.Best * k, e.Low * k, e.High * k}
}
