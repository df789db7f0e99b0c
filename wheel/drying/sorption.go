package drying

import "math"

// sorption is the law between the water a cheese holds (X, kg per kg of dry
// solids) and its water activity.
//
// aw = aw of the salt in the water phase times aw of the protein that binds
// water (Ross 1975: the activity of a mixture is the product of its parts';
// from memory). The salt's part is exp(-0.03134 m - 0.00242 m^2), m mol NaCl per
// kg of water, a fit to the activities of NaCl solutions at 25 C computed by Pitzer's
// equations (which agree with Robinson and Stokes), good to 0.003 up to m = 6; it is
// within 0.003 of 1 - 0.033 m (Marcos et al. 1981, J Dairy Sci 64:622) up to 1.5 m.
// The protein's part, the bound-water term, is exp(-A (p/X)^2 - B p/X) with p the
// non-fat non-salt solids, a form after Halsey 1948 with A 0.0086 and B 0.003 set to casein's usual isotherm,
// about 0.10 g/g at 0.4 and 0.30 g/g at 0.9 (from memory). At cheddar's
// composition it gives 0.994 for unsalted curd, where a published regression on
// unripe cheese has 0.993 (J Dairy Res 1990, at pH 5.2).
type sorption struct {
	molality float64 // mol NaCl per kg dry solids: m = molality/X
	protein  float64 // kg protein-like solids per kg dry solids
}

// The figures of the law above: fits of our own, by the sources that it names.
// saltMolarKilograms is from memory.
const (
	saltOne, saltTwo   = 0.03134, 0.00242
	boundTwo, boundOne = 0.0086, 0.003
	saltMolarKilograms = 0.058443 // kg/mol NaCl
)

func sorptionOf(saltDry, proteinDry float64) sorption {
	return sorption{molality: saltDry / saltMolarKilograms, protein: proteinDry}
}

// lnActivity is ln aw at X and its slope by X; X must be over 0.
func (s *sorption) lnActivity(x float64) (ln, slope float64) {
	y := 1 / x
	one := (saltOne*s.molality + boundOne*s.protein) * y
	two := (saltTwo*s.molality*s.molality + boundTwo*s.protein*s.protein) * y * y
	return -one - two, (one + 2*two) * y
}

// activity is the water activity at X, 0 for X of 0 or less.
func (s *sorption) activity(x float64) float64 {
	if !(x > 0) {
		return 0
	}
	ln, _ := s.lnActivity(x)
	return math.Exp(ln)
}

// balance is the X at which the cheese is in balance with air of that relative
// humidity. RH of 0 gives 0; an RH the law reaches only past X = 5 gives 5.
func (s *sorption) balance(rh float64) float64 {
	if !(rh > 0) {
		return 0
	}
	lo, hi := 1e-6, 5.0
	if s.activity(hi) <= rh {
		return hi
	}
	want := math.Log(rh)
	for range 100 {
		mid := (lo + hi) / 2
		if ln, _ := s.lnActivity(mid); ln > want {
			hi = mid
		} else {
			lo = mid
		}
		if hi-lo < 1e-12 {
			break
		}
	}
	return (lo + hi) / 2
}
