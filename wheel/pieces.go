package wheel

import "rindkeep/cave/quantity"

// PiecesSince is what pieces sent away have taken off the wheel since its mass
// was last known: since it was last weighed, or its weight after a coat, core or
// cut was taken, as in LastWeight. A piece that
// was cut off first is in the weight after the cut already.
func (l Life) PiecesSince() quantity.Grams {
	var g quantity.Grams
	for _, e := range l.Entries {
		switch e.Kind {
		case Weighed, CoatedOn, Cored, Cut:
			if e.Weight > 0 {
				g = 0
			}
		case SentPart:
			g += e.Weight
		}
	}
	return g
}
