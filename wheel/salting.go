package wheel

import "rindkeep/cave/quantity"

// SaltFor is the dry salt for a mass of curd at a rate given as a fraction of
// the curd's mass. Milled cheddar curd usually gets 1.5 to 2.5 %: common
// practice, no source.
func SaltFor(curd quantity.Grams, rate quantity.Fraction) quantity.Grams {
	return curd * quantity.Grams(rate)
}

// SaltInMoisture is S/M, salt over moisture, both as fractions of the cheese.
// It is not the brine concentration salt/(salt + moisture): 1.8 % salt in 37 %
// moisture is 4.86 % against 4.64 %.
func SaltInMoisture(salt, moisture quantity.Fraction) quantity.Fraction {
	if moisture <= 0 {
		return 0
	}
	return salt / moisture
}
