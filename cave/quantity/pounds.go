package quantity

// Pounds gives the mass in pounds avoirdupois.
func (g Grams) Pounds() float64 { return float64(g) / (16 * gramsPerOunce) }
