package wheel

import (
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

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

// OddSending says why the weight sent of a wheel looks wrong; nil where it does
// not: more than
// the wheel weighed at last, what was sent of it since taken off. A coat that
// was not weighed may have added a fifth, as in OddReweighing; the bounds are
// our own. Of a wheel never weighed nothing is said.
func (l Life) OddSending(sent quantity.Grams, part bool) reason.Reason {
	last, at := l.LastWeight()
	if last == 0 || sent == 0 {
		return nil
	}
	left := max(0, last-l.PiecesSince())
	bound := left*1.02 + 5
	for _, e := range l.Entries {
		if e.Kind == CoatedOn && e.Weight == 0 && e.At.After(at) {
			bound = left*1.2 + 5
		}
	}
	switch {
	case sent <= bound:
		return nil
	case left < last:
		return SentOverLeft{whole(sent), whole(left)}
	}
	return SentOverLast{whole(sent), whole(last), part}
}
