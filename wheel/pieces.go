package wheel

import (
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// PiecesSince is the mass of the pieces sent since LastWeight.
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

// OddSending says why a weight that was sent looks wrong, or nil: it is more than was
// left of the wheel's last weight. A coat that wasn't weighed may have added a
// fifth, as in OddReweighing; the bounds are our own. The result is nil for a wheel
// that was never weighed.
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
