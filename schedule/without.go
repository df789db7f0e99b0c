package schedule

import "rindkeep/cave/quantity"

// Without is what an estimate of a wheel's mass leaves when pieces of known
// mass are gone from it; never under nothing.
func Without(mass quantity.Estimate, pieces quantity.Grams) quantity.Estimate {
	g := float64(pieces)
	return quantity.Estimate{Best: max(0, mass.Best-g), Low: max(0, mass.Low-g), High: max(0, mass.High-g)}
}
