package wheel

import (
	"cmp"
	"math"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/wheel/shape"
)

// The strength of a brine is always grams of salt per gram of brine. PerWater and
// OfPerWater convert it to and from grams per gram of water.
const (
	// BrineSaturation is the strength of a saturated brine near room
	// temperature: 26.4 %, or 35.9 g per 100 g of water (from memory).
	BrineSaturation quantity.Fraction = 0.264
	// BrineEutectic is the strength with the lowest freezing point. Source:
	// Lange's Handbook, 15th ed.
	BrineEutectic quantity.Fraction = 0.233
	// EutecticTemp is the temperature below which brine of any strength is
	// solid. Source: Lange's Handbook, 15th ed.
	EutecticTemp quantity.Celsius = -21.1
	// salometerFull is the strength of 100 salometer degrees at 60 F: 26.395 % of
	// salt by mass, by definition of the scale (from memory).
	salometerFull = 0.26395
)

// brineDensity is the density at 20 C, g/ml, by percent of salt. Source: the
// tables of WNT 1974, 4 to 26 %; water at 20 C 0.9982 (from memory). Their 1.0122 at
// 2 % is left out: all the others lie on a smooth line to their last digit, which
// passes 2 % at 1.0124 to 1.0125, so we take it for a misprint.
var brineDensity = tableOf(0, 0.9982, 4, 1.0268, 6, 1.0413, 8, 1.0559, 10, 1.0707, 12, 1.0857, 14, 1.1009,
	16, 1.1162, 18, 1.1319, 20, 1.1478, 22, 1.1640, 24, 1.1804, 26, 1.1972)

// brineFreezing is the temperature at which ice begins to form, C, by percent of
// salt. Source: Lange's Handbook, 15th ed., which has no values between 8 and 16
// %.
var brineFreezing = tableOf(0, 0, 2, -1.13, 4, -2.35, 6, -3.63, 8, -5.03, 16, -11.90, 18, -14.03, 20, -16.46,
	22, -19.19, 23.3, float64(EutecticTemp))

// Brine has the properties of a brine.
type Brine struct {
	Strength  quantity.Fraction // g of salt per g of brine
	PerWater  quantity.Fraction // g of salt per g of water
	Density   float64           // g/ml at 20 C
	SG60      float64           // specific gravity, brine at 60 F over water at 60 F
	Baume     float64           // degrees on a hydrometer for 60 F
	Salometer float64           // degrees at 60 F: percent of saturation
	Freezing  quantity.Celsius  // where ice forms; EutecticTemp if SaltFirst
	SaltFirst bool              // stronger than the eutectic: when cooled, salt settles before ice forms
}

// What keeps a brine or a wheel in it from being worked out.
const (
	NoMoisture reason.Flat = "no-moisture" // a moisture of 0 leaves nothing to dissolve the salt
	NoSalt     reason.Flat = "no-salt"     // a cheese without salt needs no brine
)

// NeverFresh is a brine that no amount of water makes fresh.
type NeverFresh struct {
	Now quantity.Fraction `json:"now_pct"`
}

// OddWheel is a wheel whose diameter, for its weight and thickness, no wheel has.
type OddWheel struct {
	Weight quantity.Grams  `json:"weight_g"`
	Thick  quantity.Metres `json:"thick_m"`
	Across quantity.Metres `json:"across_m"`
}

// WeakBrine is a brine that never makes a cheese as salty as it should be: In is
// the salt wanted in its water, and Most what the brine gives at most.
type WeakBrine struct {
	Salt     quantity.Fraction `json:"salt_pct"`
	Moisture quantity.Fraction `json:"moisture_pct"`
	In       quantity.Fraction `json:"in_water_pct"`
	Most     quantity.Fraction `json:"at_most_pct"`
}

func (NeverFresh) Code() string { return "never-fresh" }
func (OddWheel) Code() string   { return "odd-diameter" }
func (WeakBrine) Code() string  { return "weak-brine" }

// CheckBrine refuses a negative strength and one over saturation.
func CheckBrine(s quantity.Fraction) error {
	return reason.Within("brine", s, 0, BrineSaturation+1e-12)
}

// BrineOf gives the properties of a brine of this strength, or the error of
// CheckBrine.
func BrineOf(s quantity.Fraction) (Brine, error) {
	if err := CheckBrine(s); err != nil {
		return Brine{}, err
	}
	b := Brine{
		Strength: s, PerWater: PerWater(s), Density: BrineDensity(s), SG60: BrineGravity(s), Baume: BrineBaume(s),
		Salometer: Salometer(s),
		Freezing:  EutecticTemp, SaltFirst: s > BrineEutectic,
	}
	if !b.SaltFirst {
		b.Freezing = quantity.Celsius(brineFreezing.at(s.Percent()))
	}
	return b, nil
}

// BrineDensity is the density at 20 C in g/ml (kg/l), interpolated.
func BrineDensity(s quantity.Fraction) float64 { return brineDensity.at(s.Percent()) }

// BrineGravity is the specific gravity at 60 F over water at 60 F, for which
// hydrometers are made. It is the density at 20 C corrected for the expansion
// from 60 F (15.56 C) to 20 C, which is 0.00081 g/ml for water and up to 0.0024
// near saturation: a fit to densities at 0, 10 and 25 C (from memory), good to
// about 0.0002, or 0.02 degrees Baume. Water at 60 F has 0.99902 g/ml (from
// memory).
func BrineGravity(s quantity.Fraction) float64 {
	x := float64(s)
	return (BrineDensity(s) + 0.00081 + 0.0092*x - 0.012*x*x) / (brineDensity.y[0] + 0.00081)
}

// BrineBaume gives degrees Baume for liquids heavier than water: 145 - 145/SG, SG
// at 60 F, by definition of the American scale. The European scale has 144.3 instead
// of 145 (from memory).
func BrineBaume(s quantity.Fraction) float64 { return 145 - 145/BrineGravity(s) }

// Salometer gives salometer degrees at 60 F: 100 degrees are 26.395 % of salt by
// mass, and the scale is linear.
func Salometer(s quantity.Fraction) float64 { return 100 * float64(s) / salometerFull }

// OfSalometer is the strength at a number of salometer degrees.
func OfSalometer(degrees float64) quantity.Fraction {
	return quantity.Fraction(degrees / 100 * salometerFull)
}

// OfBaume is the strength at a number of degrees Baume. Over saturation it is one
// that CheckBrine refuses.
func OfBaume(degrees float64) quantity.Fraction {
	return quantity.Fraction(solve(0, 0.5, degrees, func(x float64) float64 { return BrineBaume(quantity.Fraction(x)) }))
}

// PerWater gives grams of salt per gram of water: a strength of 20 % is 25 g to 100
// g of water.
func PerWater(s quantity.Fraction) quantity.Fraction { return s / (1 - s) }

// OfPerWater is the inverse of PerWater.
func OfPerWater(w quantity.Fraction) quantity.Fraction { return w / (1 + w) }

// Mix is what to add to make a brine or to correct one.
type Mix struct {
	Before quantity.Grams  // mass of the present brine; 0 for a new one
	Salt   quantity.Grams  // to add
	Water  quantity.Grams  // to add
	After  quantity.Grams  // mass of the resulting brine
	Volume quantity.Litres // of the resulting brine, at 20 C
}

// NewBrine gives the salt and water for a volume of brine at 20 C.
func NewBrine(v quantity.Litres, s quantity.Fraction) (Mix, error) {
	if err := CheckBrine(s); err != nil {
		return Mix{}, err
	}
	m := massOf(v, s)
	return Mix{Salt: m * quantity.Grams(s), Water: m * quantity.Grams(1-s), After: m, Volume: v}, nil
}

// CorrectBrine gives the salt that strengthens a volume of brine at 20 C, or the
// water that dilutes it, from the mass balance of salt and water.
func CorrectBrine(v quantity.Litres, now, to quantity.Fraction) (Mix, error) {
	if err := cmp.Or(CheckBrine(now), CheckBrine(to)); err != nil {
		return Mix{}, err
	}
	if to <= 0 && now > 0 {
		return Mix{}, reason.Err(NeverFresh{now})
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

// BrineTimeByRule is the time in a nearly saturated brine by the rule of an hour
// per pound and inch of thickness: common practice, no source.
func BrineTimeByRule(w quantity.Grams, thick quantity.Metres) Hours {
	return Hours(w.Pounds() * float64(thick) / 0.0254)
}

// The diffusivity of salt in cheese, m2/s. Source: Floury et al. 2010, the range
// over cheeses and temperatures. Its middle is the geometric mean.
const (
	saltDiffusivityLow  = 1e-10
	saltDiffusivityHigh = 5.3e-10
)

// Soak is a wheel in a brine.
type Soak struct {
	Weight   quantity.Grams
	Thick    quantity.Metres   // its height
	Brine    quantity.Fraction // g of salt per g of brine
	Salt     quantity.Fraction // intended in the cheese
	Moisture quantity.Fraction // of the cheese
}

// diameter is that of a round wheel of this weight and thickness at
// shape.CheeseDensity.
func (k Soak) diameter() quantity.Metres {
	return quantity.Metres(math.Sqrt(4 * k.Weight.Kilograms() / shape.CheeseDensity / (math.Pi * float64(k.Thick))))
}

// uptake is how close the wheel must come to the brine: its salt in moisture over
// the brine's salt per water. At 1 it would be as salty as the brine.
func (k Soak) uptake() float64 {
	if k.Brine <= 0 {
		return math.Inf(1)
	}
	return float64(SaltInMoisture(k.Salt, k.Moisture) / PerWater(k.Brine))
}

// SoakTime is the time in the brine by diffusion, for the middle of the published
// diffusivities and for both ends of their range. It isn't a 90 % interval.
type SoakTime struct{ Middle, Short, Long Hours }

// Time estimates how long to leave the wheel in the brine. It assumes a large,
// stirred brine and a round wheel without salt, and leaves out the water that
// moves the other way. Source: Crank, The Mathematics of Diffusion (from memory): a
// surface kept at the brine's strength, the product of the slab's and the cylinder's
// series. The bounds are our own.
func (k Soak) Time() (SoakTime, error) {
	switch wide := k.diameter(); {
	case !(k.Moisture > 0):
		return SoakTime{}, reason.Err(NoMoisture)
	case !(k.Salt > 0):
		return SoakTime{}, reason.Err(NoSalt)
	case !(k.Thick > 0.005 && k.Thick < 2) || !(wide > 0.005 && wide < 2):
		return SoakTime{}, reason.Err(OddWheel{k.Weight, k.Thick, wide})
	case !(k.uptake() < 0.99):
		return SoakTime{}, reason.Err(WeakBrine{k.Salt, k.Moisture, SaltInMoisture(k.Salt, k.Moisture), PerWater(k.Brine)})
	}
	half, radius := float64(k.Thick)/2, float64(k.diameter())/2
	// depth is D t in m2; after ten times the square of the half-length the
	// wheel is as salty as the brine.
	depth := solve(0, 10*half*half, k.uptake(), func(d float64) float64 {
		return 1 - slabLeft(d/(half*half))*cylinderLeft(d/(radius*radius))
	})
	at := func(d float64) Hours { return Hours(depth / d / 3600) }
	middle := math.Sqrt(saltDiffusivityLow * saltDiffusivityHigh)
	return SoakTime{Middle: at(middle), Short: at(saltDiffusivityHigh), Long: at(saltDiffusivityLow)}, nil
}

// slabLeft is the remaining difference between a slab and its surface after Fo =
// D t/half^2: sum 8/((2n+1)^2 pi^2) exp(-(2n+1)^2 pi^2 Fo/4), and 1 - 2
// sqrt(Fo/pi) until salt reaches the middle. Source: Crank (from memory).
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

// cylinderLeft is the same for a long cylinder after Fo = D t/radius^2: sum 4/b^2
// exp(-b^2 Fo) with J0(b) = 0, and early on 1 - 4 sqrt(Fo/pi) + Fo + Fo^1.5/(3
// sqrt(pi)). Source: Crank (from memory).
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

// zerosOfJ0 are as many as carry cylinderLeft to 1e-6 from Fo = 0.002: our choice.
var zerosOfJ0 = func() (z [40]float64) {
	for i := range z {
		z[i] = besselZero0(i + 1)
	}
	return z
}()
