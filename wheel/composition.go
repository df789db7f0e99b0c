package wheel

import (
	"math"

	"rindkeep/cave/quantity"
)

// Now is a wheel's composition after some loss, wet basis, each with the 90 %
// interval that the start's uncertainty leaves.
type Now struct {
	Moisture       quantity.Estimate // fraction
	MFFB           quantity.Estimate // moisture on fat-free basis, fraction
	FDM            quantity.Estimate // fat in dry matter, fraction
	SaltInMoisture quantity.Estimate // S/M, fraction
	WaterActivity  quantity.Estimate // 0 to 1
}

// MoistureAfter is the moisture of a wheel that started at m0 and lost the
// fraction loss of its weight as water: M = 1 - (1 - M0)/R (dry solids stay).
// It is 0 where the loss would take more water than there is.
func MoistureAfter(m0, loss quantity.Fraction) quantity.Fraction {
	r := 1 - loss
	if r <= 0 {
		return 0
	}
	return max(0, 1-(1-m0)/r)
}

// LossForMoisture is the loss at which a wheel that started at m0 reaches the
// moisture m: the identity m/m0 = (1 - M0)/(1 - M) turned round. It is 0 where
// m is not below m0.
func LossForMoisture(m0, m quantity.Fraction) quantity.Fraction {
	if m >= m0 || m >= 1 {
		return 0
	}
	return 1 - (1-m0)/(1-m)
}

// After gives the composition once the fraction loss of the green weight has
// gone as water: fat F0/R, salt S0/R, fat in dry matter unchanged. MFFB and
// FDM are the Codex definitions (CXS 283): moisture over weight less fat, fat
// over weight less moisture.
func (c Composition) After(loss quantity.Fraction) Now {
	r := float64(1 - loss)
	m0, f0, s0 := float64(c.Moisture), float64(c.Fat), float64(c.Salt)
	spread := func(f func(m, fat, salt float64) float64) quantity.Estimate {
		best := f(m0, f0, s0)
		d := 0.0
		for _, v := range []struct{ dm, df, ds float64 }{{float64(c.MoistureSD), 0, 0}, {0, float64(c.FatSD), 0}, {0, 0, float64(c.SaltSD)}} {
			if v.dm+v.df+v.ds == 0 {
				continue
			}
			g := (f(m0+v.dm, f0+v.df, s0+v.ds) - f(m0-v.dm, f0-v.df, s0-v.ds)) / 2
			d += g * g
		}
		d = quantity.Z90 * math.Sqrt(d)
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

// saltMolar is the molar mass of sodium chloride, g/mol (IUPAC).
const saltMolar = 58.443

// WaterActivity of cheese from its salt in moisture (g salt per g water):
// aw = 1 - 0.033 m, m in mol NaCl per kg of water (Marcos et al. 1981, J Dairy
// Sci 64:622; moisture above about 40 %, good to about 1.5 m). Drier cheese is
// somewhat lower, as other solids bind water too.
func WaterActivity(saltInMoisture float64) float64 {
	return math.Max(0, 1-0.033*saltInMoisture*1000/saltMolar)
}

// Firmness names the Codex firmness classes (CXS 283) a moisture on fat-free
// basis falls in; the bands overlap, and then both are named.
func Firmness(mffb quantity.Fraction) []string {
	var out []string
	p := math.Round(mffb.Percent()*1e6) / 1e6 // 56 % as a fraction is a hair over 56
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
