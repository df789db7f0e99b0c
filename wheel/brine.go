package wheel

import (
	"fmt"
	"math"

	"rindkeep/cave/quantity"
	"rindkeep/wheel/shape"
)

// Strengths of a brine are grams of salt per gram of brine everywhere here:
// never per gram of water, which PerWater and OfPerWater convert.
const (
	// BrineSaturation is the most salt a brine holds, of its own mass, near
	// room temperature: 26.4 %, which is 35.9 g per 100 g of water. Source: the
	// saturation of sodium chloride as reference tables give it.
	BrineSaturation quantity.Fraction = 0.264
	// BrineEutectic is the strength that freezes last. Source: Lange's
	// Handbook, 15th ed.
	BrineEutectic quantity.Fraction = 0.233
	// EutecticTemp is where a brine of any strength is frozen through. Source:
	// Lange's Handbook, 15th ed.
	EutecticTemp quantity.Celsius = -21.1
	// salometerFull is the strength of 100 salometer degrees at 60 F. Source:
	// the salometer's scale, 26.395 % of salt by mass.
	salometerFull = 0.26395
)

// brineDensity is the density at 20 C, g/ml, by percent of salt. Source: the
// tables of WNT 1974, 2 to 26 %; water at 20 C 0.9982 (from memory). At 2 % the
// printed 1.0122 lies 0.0003 under the smooth run of its neighbours; it is kept
// as printed.
var brineDensity = tableOf([2]float64{0, 0.9982}, [2]float64{2, 1.0122}, [2]float64{4, 1.0268}, [2]float64{6, 1.0413}, [2]float64{8, 1.0559},
	[2]float64{10, 1.0707}, [2]float64{12, 1.0857}, [2]float64{14, 1.1009}, [2]float64{16, 1.1162}, [2]float64{18, 1.1319}, [2]float64{20, 1.1478},
	[2]float64{22, 1.1640}, [2]float64{24, 1.1804}, [2]float64{26, 1.1972})

// brineFreezing is where ice begins to form, C, by percent of salt. Source:
// Lange's Handbook, 15th ed.; between 8 and 16 % nothing was at hand.
var brineFreezing = tableOf([2]float64{0, 0}, [2]float64{2, -1.13}, [2]float64{4, -2.35}, [2]float64{6, -3.63}, [2]float64{8, -5.03},
	[2]float64{16, -11.90}, [2]float64{18, -14.03}, [2]float64{20, -16.46}, [2]float64{22, -19.19}, [2]float64{23.3, float64(EutecticTemp)})

// Brine is what a strength means.
type Brine struct {
	Strength  quantity.Fraction // g of salt per g of brine
	PerWater  quantity.Fraction // g of salt per g of water
	Density   float64           // g/ml at 20 C
	SG60      float64           // specific gravity, brine at 60 F over water at 60 F
	Baume     float64           // degrees, of the hydrometer for 60 F
	Salometer float64           // degrees at 60 F: percent of saturation
	Freezing  quantity.Celsius  // ice forms; of a brine past the eutectic: all is frozen
	SaltFirst bool              // past the eutectic: cooled, it drops salt before it makes ice
}

// CheckBrine refuses a strength no brine has.
func CheckBrine(s quantity.Fraction) error {
	switch {
	case !(s >= 0):
		return fmt.Errorf("a brine of %.4g %% cannot be", s.Percent())
	case s > BrineSaturation+1e-12:
		return fmt.Errorf("a brine of %.4g %% cannot be: with 26.4 g of salt in 100 g of brine (35.9 g to 100 g of water) it is full", s.Percent())
	}
	return nil
}

// BrineOf gives the properties of a brine, or the error of CheckBrine.
func BrineOf(s quantity.Fraction) (Brine, error) {
	if err := CheckBrine(s); err != nil {
		return Brine{}, err
	}
	b := Brine{
		Strength: s, PerWater: PerWater(s), Density: BrineDensity(s), SG60: BrineGravity(s), Baume: BrineBaume(s), Salometer: Salometer(s),
		Freezing: EutecticTemp, SaltFirst: s > BrineEutectic,
	}
	if !b.SaltFirst {
		b.Freezing = quantity.Celsius(brineFreezing.at(s.Percent()))
	}
	return b, nil
}

// BrineDensity is the density at 20 C in g/ml (kg/l), interpolated in the table.
func BrineDensity(s quantity.Fraction) float64 { return brineDensity.at(s.Percent()) }

// BrineGravity is the specific gravity at 60 F over water at 60 F, which
// hydrometers are made for. It comes from the density at 20 C and the brine's
// expansion from 60 F (15.56 C) to 20 C, in g/ml 0.00081 for water and up to
// 0.0024 near saturation: a fit to densities at 0, 10 and 25 C (from memory),
// good to about 0.0002, which is 0.02 degrees Baume. Water at 60 F has 0.99902
// g/ml (from memory).
func BrineGravity(s quantity.Fraction) float64 {
	x := float64(s)
	return (BrineDensity(s) + 0.00081 + 0.0092*x - 0.012*x*x) / (brineDensity.y[0] + 0.00081)
}

// BrineBaume is the degrees Baume of the scale for liquids heavier than water:
// 145 - 145/SG, SG at 60 F. Source: the American scale as reference tables give
// it; the European scale has 144.3 for 145 (from memory).
func BrineBaume(s quantity.Fraction) float64 { return 145 - 145/BrineGravity(s) }

// Salometer is the degrees of the salometer at 60 F, where 100 is 26.395 % of
// salt by mass and the degrees go straight with the strength.
func Salometer(s quantity.Fraction) float64 { return 100 * float64(s) / salometerFull }

// OfSalometer is the strength that shows so many salometer degrees.
func OfSalometer(degrees float64) quantity.Fraction {
	return quantity.Fraction(degrees / 100 * salometerFull)
}

// OfBaume is the strength that shows so many degrees Baume; past what saturated
// brine shows it is a strength CheckBrine refuses.
func OfBaume(degrees float64) quantity.Fraction {
	return quantity.Fraction(between(0, 0.5, degrees, func(x float64) float64 { return BrineBaume(quantity.Fraction(x)) }))
}

// PerWater is grams of salt per gram of water for a strength per gram of brine:
// 20 % is 25 g to 100 g of water.
func PerWater(s quantity.Fraction) quantity.Fraction { return s / (1 - s) }

// OfPerWater is PerWater turned round.
func OfPerWater(w quantity.Fraction) quantity.Fraction { return w / (1 + w) }

// Mix is what it takes to make a brine or to bring one back.
type Mix struct {
	Before quantity.Grams  // mass of the brine there is; 0 for a new one
	Salt   quantity.Grams  // to add
	Water  quantity.Grams  // to add
	After  quantity.Grams  // mass of the brine there will be
	Volume quantity.Litres // of it, at 20 C
}

// NewBrine is the salt and the water for a volume of brine at 20 C.
func NewBrine(v quantity.Litres, s quantity.Fraction) (Mix, error) {
	if err := CheckBrine(s); err != nil {
		return Mix{}, err
	}
	m := massOf(v, s)
	return Mix{Salt: m * quantity.Grams(s), Water: m * quantity.Grams(1-s), After: m, Volume: v}, nil
}

// BringBack is the salt that brings a volume of brine at 20 C from one strength
// to a higher one, or the water that brings it to a lower one. Source: the mass
// balance of salt and water; the brine's mass is its volume times its density.
func BringBack(v quantity.Litres, now, to quantity.Fraction) (Mix, error) {
	for _, s := range []quantity.Fraction{now, to} {
		if err := CheckBrine(s); err != nil {
			return Mix{}, err
		}
	}
	if to <= 0 && now > 0 {
		return Mix{}, fmt.Errorf("no water makes a brine of %.4g %% one of 0 %%; give a strength over 0 %%", now.Percent())
	}
	m := massOf(v, now)
	x := Mix{Before: m}
	if to >= now {
		x.Salt = m * quantity.Grams((to-now)/(1-to))
	} else {
		x.Water = m * quantity.Grams(now/to-1)
	}
	x.After = m + x.Salt + x.Water
	x.Volume = quantity.Litres(x.After.Kilograms() / BrineDensity(to))
	return x, nil
}

func massOf(v quantity.Litres, s quantity.Fraction) quantity.Grams {
	return quantity.Grams(1000 * float64(v) * BrineDensity(s))
}

// Hours is a length of time in hours.
type Hours float64

// hoursPerGramMetre is the rule of one hour for every pound of cheese and inch
// of its thickness in a nearly saturated brine: common practice, no source.
const hoursPerGramMetre = 1 / (453.59237 * 0.0254)

// BrineTimeByRule is how long a wheel lies in a nearly saturated brine by the
// rule of an hour per pound and inch of thickness: common practice, no source.
func BrineTimeByRule(w quantity.Grams, thick quantity.Metres) Hours {
	return Hours(float64(w) * float64(thick) * hoursPerGramMetre)
}

// Salt moves in the water of a cheese at 1 to 5.3e-10 m2/s. Source: Floury et
// al. 2010, as a range over cheeses and temperatures; its middle is the
// geometric mean.
const (
	saltDiffusivityLow  = 1e-10
	saltDiffusivityHigh = 5.3e-10
)

// Soak is a wheel in a brine.
type Soak struct {
	Weight   quantity.Grams
	Thick    quantity.Metres   // its height
	Brine    quantity.Fraction // g of salt per g of brine
	Salt     quantity.Fraction // wanted in the cheese
	Moisture quantity.Fraction // of the cheese
}

// Across is the diameter of the round wheel of that weight and thickness, at
// 1080 kg/m3.
func (k Soak) Across() quantity.Metres {
	return quantity.Metres(math.Sqrt(4 * k.Weight.Kilograms() / shape.CheeseDensity / (math.Pi * float64(k.Thick))))
}

// Uptake is how far the wheel must go: its salt in moisture over the brine's
// salt per water. At 1 it would be as salt as the brine.
func (k Soak) Uptake() float64 {
	if k.Brine <= 0 {
		return math.Inf(1)
	}
	return float64(SaltInMoisture(k.Salt, k.Moisture) / PerWater(k.Brine))
}

// SoakTime is the time in the brine by diffusion: the middle of the published
// diffusivities and both ends of their range, which is no 90 % interval.
type SoakTime struct{ Middle, Short, Long Hours }

// Time estimates how long the wheel must lie in the brine. It takes the brine
// as large and stirred, the wheel as a round one without salt, and leaves out
// the water that goes the other way. Source: Crank, The Mathematics of
// Diffusion: a surface held at the brine's strength, the product of the slab's
// and the cylinder's series.
func (k Soak) Time() (SoakTime, error) {
	switch u := k.Uptake(); {
	case !(k.Moisture > 0):
		return SoakTime{}, fmt.Errorf("a moisture of 0 %% leaves nothing to dissolve the salt")
	case !(k.Salt > 0):
		return SoakTime{}, fmt.Errorf("a cheese of 0 %% salt needs no brine; give the salt wanted, like 1.8%%")
	case !(k.Thick > 0.005 && k.Thick < 2) || !(k.Across() > 0.005 && k.Across() < 2):
		return SoakTime{}, fmt.Errorf("a wheel of %.4g g, %.4g cm thick, would be %.3g cm across; measures run from 0.5 to 200 cm", float64(k.Weight), k.Thick.Centimetres(), k.Across().Centimetres())
	case !(u < 0.99):
		return SoakTime{}, fmt.Errorf("%.4g %% salt in a cheese of %.4g %% moisture is %.3g %% in its water, and this brine gives at most %.3g %%; want less salt, or a stronger brine",
			k.Salt.Percent(), k.Moisture.Percent(), SaltInMoisture(k.Salt, k.Moisture).Percent(), PerWater(k.Brine).Percent())
	}
	half, radius := float64(k.Thick)/2, float64(k.Across())/2
	// Depth is D t in m2; all is over at ten times the square of the half-length.
	depth := between(0, 10*half*half, k.Uptake(), func(d float64) float64 {
		return 1 - slabLeft(d/(half*half))*cylinderLeft(d/(radius*radius))
	})
	at := func(d float64) Hours { return Hours(depth / d / 3600) }
	return SoakTime{Middle: at(math.Sqrt(saltDiffusivityLow * saltDiffusivityHigh)), Short: at(saltDiffusivityHigh), Long: at(saltDiffusivityLow)}, nil
}

// slabLeft is what is left of a slab's difference from its held surface after
// Fo = D t/half^2: sum 8/((2n+1)^2 pi^2) exp(-(2n+1)^2 pi^2 Fo/4), and before
// the first wave reaches the middle 1 - 2 sqrt(Fo/pi). Source: Crank.
func slabLeft(fo float64) float64 {
	if fo < 0.02 { // exact in double precision
		return 1 - 2*math.Sqrt(fo/math.Pi)
	}
	sum := 0.0
	for n := range 20 {
		b := float64(2*n+1) * math.Pi / 2
		sum += 2 / (b * b) * math.Exp(-b*b*fo)
	}
	return sum
}

// cylinderLeft is the same of a long cylinder after Fo = D t/radius^2: sum
// 4/b^2 exp(-b^2 Fo) with J0(b) = 0, and early on 1 - 4 sqrt(Fo/pi) + Fo +
// Fo^1.5/(3 sqrt(pi)). Source: Crank.
func cylinderLeft(fo float64) float64 {
	if fo < 0.002 { // good to 1e-6
		return 1 - 4*math.Sqrt(fo/math.Pi) + fo + fo*math.Sqrt(fo/math.Pi)/3
	}
	sum := 0.0
	for _, b := range zerosOfJ0 {
		sum += 4 / (b * b) * math.Exp(-b*b*fo)
	}
	return sum
}

var zerosOfJ0 = func() (z [40]float64) {
	for i := range z {
		z[i] = besselZero0(i + 1)
	}
	return z
}()
