package drying

import (
	"math"

	"rindkeep/cave/quantity"
	"rindkeep/wheel/shape"
)

// measuredMoistureSD is the standard deviation taken for a moisture somebody
// gave without saying how sure: 1 percent of cheese. Common practice, no
// source.
const measuredMoistureSD = 0.01

// groupDefaults is what is taken for a cheese of which only the group is known.
type groupDefaults struct {
	moisture       float64 // wet basis, when drying starts
	moistureSD     float64
	fatInDry       float64
	saltInMoisture float64
	diffusivity    float64 // effective, of water, m2/s at 12 C
	density        float64 // kg/m3
	shape          shape.Shape
}

// Composition and measures: common practice, no source. Density: from memory.
//
// Diffusivity: 7.8e-12 m2/s at 12 C was measured in Mahon blocks. Source: Simal et al.
// 2001, J Food Eng 48:269 (abstract). Another abstract, of one-dimensional drying
// followed by NMR, has 3.71e-11 at 16 C, 2.5e-11 when brought to 12 C. Very hard, hard
// and semi-hard stand between them so that the long records of cheddar (Thom and Fisk
// 1918, Table XIX) and Comte (Masson et al. 1981, Lait 61:31) lie on both sides of what
// is predicted; those of Saint-Nectaire and Camembert set washed and bloomy rinds; blue,
// soft and fresh are set beside them. Our calibration: go test -run TestPublished -v ./wheel/drying
var defaults = map[Group]groupDefaults{
	VeryHard:   {0.37, 0.015, 0.40, 0.030, 1.3e-11, 1090, wheelOf(40, 22)},
	Hard:       {0.38, 0.015, 0.52, 0.045, 1.8e-11, 1080, wheelOf(24, 16)},
	SemiHard:   {0.43, 0.02, 0.50, 0.035, 1.8e-11, 1080, wheelOf(20, 9)},
	Blue:       {0.46, 0.02, 0.52, 0.060, 1.0e-11, 1060, wheelOf(19, 10)},
	WashedRind: {0.48, 0.02, 0.48, 0.035, 9.0e-12, 1070, wheelOf(20, 5)},
	Bloomy:     {0.55, 0.02, 0.48, 0.030, 7.0e-12, 1060, wheelOf(11, 3)},
	Soft:       {0.55, 0.02, 0.48, 0.030, 8.0e-12, 1060, wheelOf(11, 3.5)},
	Fresh:      {0.65, 0.03, 0.45, 0.020, 1.0e-11, 1040, wheelOf(9, 4)},
}

// wheelOf is a cylinder given in centimetres.
func wheelOf(across, high float64) shape.Shape {
	return shape.Shape{Form: shape.Cylinder, Diameter: quantity.Metres(across / 100), Height: quantity.Metres(high / 100)}
}

// defaultsOf never fails: a group not known is taken as hard.
func defaultsOf(g Group) groupDefaults {
	if d, ok := defaults[g]; ok {
		return d
	}
	return defaults[Hard]
}

// activationEnergy of the effective diffusivity, J/mol: from 4.4 to 15.6 C the loss
// rises by a factor of 1.7 to 2.6, by size, in Table XIX of Thom and Fisk 1918, for
// which the diffusivity is given a factor of 3.2. Our calibration, by that table:
// go test -run TestPublished -v ./wheel/drying
const activationEnergy = 70000

// diffusivityAt scales a diffusivity known at 12 C to another temperature by
// Arrhenius' law, with the molar gas constant in J/(mol K) (from memory).
func diffusivityAt(d12 float64, t quantity.Celsius) float64 {
	return d12 * math.Exp(activationEnergy/8.314462*(1/285.15-1/t.Kelvin()))
}
