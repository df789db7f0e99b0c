package wheel

import (
	"math"

	"rindkeep/cave/quantity"
)

// Now is a wheel's composition after some loss, wet basis, with 90 % intervals
// from the uncertainty of its start.
type Now struct {
	Moisture       quantity.Estimate // fraction
	MFFB           quantity.Estimate // moisture on fat-free basis, fraction
	FDM            quantity.Estimate // fat in dry matter, fraction
	SaltInMoisture quantity.Estimate // S/M, fraction
	WaterActivity  quantity.Estimate // 0 to 1
}

// MoistureAfter is the moisture of a wheel that started at m0 and lost the fraction
// loss of its weight as water, while its dry solids stayed: M = 1 - (1 - M0)/R.
// It is 0 if the loss is more than the water there was.
func MoistureAfter(m0, loss quantity.Fraction) quantity.Fraction {
	r := 1 - loss
	if r <= 0 {
		return 0
	}
	return max(0, 1-(1-m0)/r)
}

// LossForMoisture is the loss at which a wheel that started at m0 reaches the
// moisture m, the inverse of MoistureAfter. It is 0 if m isn't below m0.
func LossForMoisture(m0, m quantity.Fraction) quantity.Fraction {
	if m >= m0 || m >= 1 {
		return 0
	}
	return 1 - (1-m0)/(1-m)
}

// After gives the composition when the fraction loss of the green weight has left
// as water: fat F0/R, salt S0/R, fat in dry matter unchanged. MFFB and FDM are
// the Codex definitions (CXS 283): moisture over weight less fat, fat over weight
// less moisture.
func (c Composition) After(loss quantity.Fraction) Now {
	r := float64(1 - loss)
	m0, f0, s0 := float64(c.Moisture), float64(c.Fat), float64(c.Salt)
	spread := func(f func(m, fat, salt float64) float64) quantity.Estimate {
		best := f(m0, f0, s0)
		dm, df, ds := float64(c.MoistureSD), float64(c.FatSD), float64(c.SaltSD)
		d := quantity.Z90 / 2 * math.Hypot(math.Hypot(
			f(m0+dm, f0, s0)-f(m0-dm, f0, s0),
			f(m0, f0+df, s0)-f(m0, f0-df, s0)),
			f(m0, f0, s0+ds)-f(m0, f0, s0-ds))
		return quantity.Estimate{Best: best, Low: max(0, best-d), High: best + d}
	}
	moisture := func(m, _, _ float64) float64 { return float64(MoistureAfter(quantity.Fraction(m), loss)) }
	safe := func(num, den float64) float64 {
		if den <= 0 {
			return 0
		}
		return num / den
	}
	var n Now
	n.Moisture = spread(moisture)
	n.MFFB = spread(func(m, f, s float64) float64 { return safe(moisture(m, f, s), 1-f/r) })
	n.FDM = spread(func(m, f, _ float64) float64 { return safe(f, 1-m) })
	n.SaltInMoisture = spread(func(m, f, s float64) float64 { return safe(s/r, moisture(m, f, s)) })
	n.WaterActivity = spread(func(m, f, s float64) float64 { return WaterActivity(safe(s/r, moisture(m, f, s))) })
	n.WaterActivity.High = math.Min(1, n.WaterActivity.High)
	return n
}

// SaltFor is the dry salt for a mass of curd, at a rate that is a fraction of that
// mass. Milled cheddar curd usually gets 1.5 to 2.5 %: common practice, no
// source.
func SaltFor(curd quantity.Grams, rate quantity.Fraction) quantity.Grams {
	return curd * quantity.Grams(rate)
}

// SaltInMoisture is S/M, salt over moisture, both as fractions of the cheese. It
// isn't the strength of a brine, salt/(salt + moisture): 1.8 % salt in 37 %
// moisture gives 4.86 %, not 4.64 %.
func SaltInMoisture(salt, moisture quantity.Fraction) quantity.Fraction {
	if moisture <= 0 {
		return 0
	}
	return salt / moisture
}

// saltMolar is the molar mass of sodium chloride, g/mol (from memory).
const saltMolar = 58.443

// WaterActivity is the water activity of cheese by its salt in moisture (g salt per
// g water): aw = 1 - 0.033 m, m in mol NaCl per kg of water, for moisture above about
// 40 %, good to about 1.5 m. Source: Marcos et al. 1981, J Dairy Sci 64:622 (abstract).
// Drier cheese has less, since other solids bind water too.
func WaterActivity(saltInMoisture float64) float64 {
	return math.Max(0, 1-0.033*saltInMoisture*1000/saltMolar)
}

// Firmness names the Codex firmness classes (CXS 283, from memory) of a moisture on
// fat-free basis. The classes overlap, so there may be two.
func Firmness(mffb quantity.Fraction) []string {
	var out []string
	p := math.Round(mffb.Percent()*1e6) / 1e6 // without the error of binary fractions
	if p < 51 {
		out = append(out, "extra hard")
	}
	if p >= 49 && p <= 56 {
		out = append(out, "hard")
	}
	if p >= 54 && p <= 69 {
		out = append(out, "firm/semi-hard")
	}
	if p > 67 {
		out = append(out, "soft")
	}
	return out
}

// FatClass names the Codex class of a fat in dry matter (CXS 283; the table is
// from memory).
func FatClass(fdm quantity.Fraction) string {
	switch p := math.Round(fdm.Percent()*1e6) / 1e6; {
	case p >= 60:
		return "high fat"
	case p >= 45:
		return "full fat"
	case p >= 25:
		return "medium fat"
	case p >= 10:
		return "partially skimmed"
	}
	return "skim"
}
