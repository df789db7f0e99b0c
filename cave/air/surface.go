package air

import (
	"cmp"
	"math"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// Movement is how fast the air of a room moves over the wheels.
type Movement string

// The movements a room can have, slowest first.
const (
	Still  Movement = "still"  // a closed cellar or a fridge with the fan off
	Gentle Movement = "gentle" // you feel it only on a wet hand
	Brisk  Movement = "brisk"  // a fan blows over the racks
)

// Movements lists every movement, slowest first.
func Movements() []Movement { return []Movement{Still, Gentle, Brisk} }

// ParseMovement reads "still", "gentle" or "brisk".
func ParseMovement(s string) (Movement, error) {
	for _, m := range Movements() {
		if s == string(m) {
			return m, nil
		}
	}
	return "", reason.Err(reason.Unknown{What: "air-movement", Word: s, Known: "still, gentle, brisk"})
}

// Convection is the convective heat transfer coefficient at a wheel, W/(m2 K):
// 2.5 still, 3.5 gentle, 6.5 brisk, the middles of 2 to 3, 3 to 4 and 5 to 8 that
// plate and natural-convection correlations give (computed, not measured in a cheese
// room: our choice). Anything else counts as gentle.
func (m Movement) Convection() float64 {
	switch m {
	case Still:
		return 2.5
	case Brisk:
		return 6.5
	}
	return 3.5
}

// Radiation is the radiative heat transfer coefficient between a wheel and walls
// at air temperature, W/(m2 K): 4 sigma e T^3 with Stefan and Boltzmann's sigma and the
// emissivity of a wet surface e = 0.97 (both from memory). It is 5.1 at 12 C.
func Radiation(t quantity.Celsius) float64 {
	k := t.Kelvin()
	return 4 * 5.670374e-8 * 0.97 * k * k * k
}

// TransferOf is the mass transfer coefficient for vapour pressure, kg/(m2 s Pa),
// that belongs to a convective coefficient in W/(m2 K): k = h/(rho cp Le^(2/3)
// Rw T), the Chilton-Colburn analogy, with cp = 1006 J/(kg K) and Le^(2/3) = 0.883 for
// vapour in air at 12 C (from memory). h = 3 at 12 C gives 2.07e-8.
func TransferOf(h float64, s State) float64 {
	rhoCp := Density(s) * 1006
	return h / (rhoCp * 0.883 * vapourGas * s.Temp.Kelvin())
}

// Surface is a wet surface in air.
type Surface struct {
	Activity   quantity.Fraction // water activity at the surface, 0 to 1
	Air        State
	Convection float64 // W/(m2 K)
	Radiation  float64 // W/(m2 K); 0 where the walls are shielded
	Transfer   float64 // kg/(m2 s Pa); 0 means TransferOf(Convection)
}

// Balanced is what SurfaceBalance finds.
type Balanced struct {
	Temp       quantity.Celsius // of the surface
	FluxKgM2S  float64          // water leaving, kg/(m2 s); negative where it condenses
	FluxGM2Day float64          // the same in g/(m2 day)
	// Isothermal is the flux in g/(m2 day) of a surface at air temperature;
	// evaporative cooling makes the difference.
	Isothermal float64
}

// SurfaceBalance finds the temperature at which convection and radiation bring
// the surface as much heat as its evaporation takes, with the walls at air
// temperature: (h + hr)(Ta - Ts) = lambda k (aw psat(Ts) - e). It refuses what
// State.Check refuses, an activity outside 0 to 1 and a convection that isn't
// over 0.
//
// The slope of the latent heat, 2326 J/(kg K), is LatentHeat's; the most rounds are our
// choice.
//
// Check (computed): 12 C, 85 %, h 3, aw 0.95: isothermal 250.8 g/m2/day, 102.2
// with cooling and no radiation, 162.3 with radiation 5.1.
func SurfaceBalance(s Surface) (Balanced, error) {
	err := cmp.Or(
		s.Air.Check(), reason.Within("water-activity", float64(s.Activity), 0, 1),
		reason.Within("convection", s.Convection, math.SmallestNonzeroFloat64, math.MaxFloat64),
		reason.Within("radiation", s.Radiation, 0, math.Inf(1)), reason.Within("transfer", s.Transfer, 0, math.Inf(1)),
	)
	if err != nil {
		return Balanced{}, err
	}
	k := s.Transfer
	if k == 0 {
		k = TransferOf(s.Convection, s.Air)
	}
	ta := float64(s.Air.Temp)
	e := float64(VapourPressure(s.Air))
	aw := float64(s.Activity)
	h := s.Convection + s.Radiation
	t := ta
	for range 50 {
		p := math.Exp(lnSaturation(t))
		lam := LatentHeat(quantity.Celsius(t))
		f := h*(ta-t) - lam*k*(aw*p-e)
		df := -h - lam*k*aw*p*lnSaturationSlope(t) + 2326*k*(aw*p-e)
		step := f / df
		t -= step
		if math.Abs(step) < 1e-11 {
			break
		}
	}
	flux := k * (aw*math.Exp(lnSaturation(t)) - e)
	iso := k * (aw*math.Exp(lnSaturation(ta)) - e)
	return Balanced{
		Temp:       quantity.Celsius(t),
		FluxKgM2S:  flux,
		FluxGM2Day: flux * 1000 * 86400,
		Isothermal: iso * 1000 * 86400,
	}, nil
}

// Sweats is true where water condenses on a wheel of this temperature because it
// is colder than the air's dew point.
func Sweats(wheel quantity.Celsius, s State) bool { return wheel < DewPoint(s) }
