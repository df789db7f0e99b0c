package drying

import (
	"math"

	"rindkeep/cave/air"
)

// face is the surface of a wheel in one air: its sorption, its heat balance,
// its coats. It implements volume.Surface.
//
// Water leaves by f = (aw(x) psat(Ts) - e)/(1/k + R), kg/(m2 s), with R the
// coats' resistance, and the surface is colder than the air by lambda f/(h +
// hr), walls at air temperature. psat near the air's temperature is taken as
// psat(Ta) exp(-slope dT), good to 0.1 % within 3 K.
type face struct {
	law    sorption
	psat   float64 // Pa at air temperature
	vapour float64 // Pa in the air
	cool   float64 // relative fall of psat per unit flux, m2 s/kg
	resist float64 // Pa m2 s/kg, air and coats
	solids float64 // dry solids per volume, kg/m3
}

// site is what a window's air means for a face, before any multiplier.
type site struct {
	psat, vapour         float64 // Pa
	transfer             float64 // kg/(m2 s Pa)
	convection, radiance float64 // W/(m2 K)
	cool                 float64 // latent heat times relative slope of psat, J/(kg K)
	diffusivity          float64 // m2/day
}

// face is the surface in a window, with multipliers of the air side and of the
// coats' resistance.
func (s *site) face(law sorption, solids, ka, coat float64) face {
	return face{
		law: law, psat: s.psat, vapour: s.vapour, solids: solids,
		cool:   s.cool / (s.convection*ka + s.radiance),
		resist: 1/(s.transfer*ka) + coat,
	}
}

// siteOf gives the site of an air; transfer, where over 0, replaces the mass
// transfer coefficient that goes with the convection.
func siteOf(s air.State, convection, transfer float64) site {
	psat := float64(air.SaturationPressure(s.Temp))
	k := transfer
	if !(k > 0) {
		k = air.TransferOf(convection, s)
	}
	return site{
		psat: psat, vapour: psat * float64(s.RH), transfer: k,
		convection: convection, radiance: air.Radiation(s.Temp),
		cool: air.LatentHeat(s.Temp) * air.SaturationSlope(s.Temp) / psat,
	}
}

// Flux implements volume.Surface: water leaving over the dry solids per volume.
func (f *face) Flux(x float64) (flux, slope float64) {
	if !(x > 0) {
		return 0, 0
	}
	ln, dln := f.law.lnActivity(x)
	p := math.Exp(ln) * f.psat
	// Newton on the flux from the linearised balance.
	eases := 1 / (f.resist + p*f.cool)
	g := (p - f.vapour) * eases
	var pe float64
	for range 2 {
		y := f.cool * g // exp(-y), y under 0.3
		pe = p * (1 - y*(1-y*(1.0/2)*(1-y*(1.0/3)*(1-y*(1.0/4)))))
		eases = 1 / (f.resist + pe*f.cool)
		g -= (g*f.resist - pe + f.vapour) * eases
	}
	eases /= f.solids
	return g / f.solids, pe * dln * eases
}

// partials are the derivatives of a flux by the content, by the resistance, by the
// cooling and by the vapour in the air, over the dry solids per volume like the flux.
type partials struct{ content, resist, cool, vapour float64 }

// partials are those of the flux g at content x.
func (f *face) partials(x, g float64) partials {
	_, dln := f.law.lnActivity(x)
	flow := g * f.solids
	pe := flow*f.resist + f.vapour // the balance solved
	d := (f.resist + pe*f.cool) * f.solids
	return partials{pe * dln / d, -flow / d, -pe * flow / d, -1 / d}
}

// wet is the flux off a surface of a content, kg/(m2 s).
func (f *face) wet(x float64) float64 {
	g, _ := f.Flux(x)
	return g * f.solids
}
