package air

import (
	"math"

	"rindkeep/cave/quantity"
)

// SaturationPressure is the pressure of saturated vapour, Pa: over liquid water
// from 0.01 C, over ice below. It is good to 0.02 % from 0 to 40 C. Temperatures
// are clamped to -100 to 200 C; NaN gives NaN.
//
// Source: Hyland and Wexler as printed in ASHRAE Fundamentals; over ice its coefficients
// from memory, checked against PsychroLib. The third coefficient over water is -4.8640239e-2; the typing
// error -0.04860239 is common in public code and 1.09 % high at 12 C.
func SaturationPressure(t quantity.Celsius) quantity.Pascals {
	return quantity.Pascals(math.Exp(lnSaturation(float64(t))))
}

// lnSaturation is the natural logarithm of the saturation pressure in Pa. Source: that
// of SaturationPressure.
func lnSaturation(c float64) float64 {
	c = math.Min(math.Max(c, -100), 200)
	k := c + 273.15
	if c <= triplePoint {
		return -5.6745359e3/k + 6.3925247 - 9.677843e-3*k + 6.2215701e-7*k*k +
			2.0747825e-9*k*k*k - 9.484024e-13*k*k*k*k + 4.1635019*math.Log(k)
	}
	return -5.8002206e3/k + 1.3914993 - 4.8640239e-2*k + 4.1764768e-5*k*k -
		1.4452093e-8*k*k*k + 6.5459673*math.Log(k)
}

// lnSaturationSlope is the derivative of lnSaturation by temperature, 1/K. Source: that
// of SaturationPressure.
func lnSaturationSlope(c float64) float64 {
	c = math.Min(math.Max(c, -100), 200)
	k := c + 273.15
	if c <= triplePoint {
		return 5.6745359e3/(k*k) - 9.677843e-3 + 2*6.2215701e-7*k +
			3*2.0747825e-9*k*k - 4*9.484024e-13*k*k*k + 4.1635019/k
	}
	return 5.8002206e3/(k*k) - 4.8640239e-2 + 2*4.1764768e-5*k - 3*1.4452093e-8*k*k + 6.5459673/k
}

// SaturationSlope is the derivative of the saturation pressure, Pa/K.
func SaturationSlope(t quantity.Celsius) float64 {
	return math.Exp(lnSaturation(float64(t))) * lnSaturationSlope(float64(t))
}

// SaturatedAt is the temperature at which air of this vapour pressure is
// saturated, the inverse of SaturationPressure, clamped to -100 to 200 C.
//
// Newton's method from the Magnus inverse: ln p is nearly straight in 1/T, so it takes
// few steps. Source: WMO-No. 8 (as others quote it).
func SaturatedAt(e quantity.Pascals) quantity.Celsius {
	p := float64(e)
	switch {
	case math.IsNaN(p):
		return quantity.Celsius(math.NaN())
	case p <= math.Exp(lnSaturation(-100)):
		return -100
	case p >= math.Exp(lnSaturation(200)):
		return 200
	}
	want := math.Log(p)
	lo, hi := -100.0, 200.0
	g := want - math.Log(611.2)
	t := 243.12 * g / (17.62 - g)
	if !(t > lo && t < hi) {
		t = 0
	}
	for range 60 {
		f := lnSaturation(t) - want
		if f > 0 {
			hi = t
		} else {
			lo = t
		}
		next := t - f/lnSaturationSlope(t)
		if !(next > lo && next < hi) {
			next = (lo + hi) / 2
		}
		if math.Abs(next-t) < 1e-10 {
			return quantity.Celsius(next)
		}
		t = next
	}
	return quantity.Celsius(t)
}

// DewPoint is the temperature to which you have to cool the air for dew (frost
// below 0.01 C) to form. Dry air gives -100.
func DewPoint(s State) quantity.Celsius { return SaturatedAt(VapourPressure(s)) }

// WetBulb is the thermodynamic wet bulb temperature. Source: ASHRAE
// Fundamentals, the balance of ratioAtWetBulb, solved between dew point and
// air temperature.
func WetBulb(s State) quantity.Celsius {
	w := HumidityRatio(s)
	t, p := float64(s.Temp), float64(s.pressure())
	if math.IsNaN(w) || math.IsInf(w, 0) {
		return s.Temp
	}
	lo, hi := math.Min(float64(DewPoint(s)), t), t
	for range 200 {
		mid := (lo + hi) / 2
		if ratioAtWetBulb(t, mid, p) > w {
			hi = mid
		} else {
			lo = mid
		}
		if hi-lo < 1e-10 {
			break
		}
	}
	return quantity.Celsius((lo + hi) / 2)
}

// ratioAtWetBulb is the humidity ratio of air at t with wet bulb tw, both C,
// at pressure p, for a wick with water and with ice. Source: ASHRAE Fundamentals (as
// others quote it); the form for ice from memory, checked against PsychroLib.
func ratioAtWetBulb(t, tw, p float64) float64 {
	ws := ratioOf(math.Exp(lnSaturation(tw)), p)
	if tw >= 0 {
		return ((2501-2.326*tw)*ws - 1.006*(t-tw)) / (2501 + 1.86*t - 4.186*tw)
	}
	return ((2830-0.24*tw)*ws - 1.006*(t-tw)) / (2830 + 1.86*t - 2.1*tw)
}
