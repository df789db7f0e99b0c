package wheel

import (
	"testing"

	"rindkeep/cave/quantity"
)

func TestPiecesSentTakeOffTheWheelUntilItIsWeighedAgain(t *testing.T) {
	for _, c := range []struct {
		name    string
		entries []Entry
		want    quantity.Grams
	}{
		{"nothing was sent", []Entry{{Kind: Weighed, Weight: 2000}}, 0},
		{"two pieces since the last weight", []Entry{{Kind: Weighed, Weight: 2000}, {Kind: SentPart, Weight: 400}, {Kind: SentPart, Weight: 250}}, 650},
		{"weighed again since", []Entry{{Kind: SentPart, Weight: 400}, {Kind: Weighed, Weight: 1600}}, 0},
		{"cored since, and its weight not taken", []Entry{{Kind: Weighed, Weight: 2000}, {Kind: SentPart, Weight: 400}, {Kind: Cored, Removed: 12}}, 400},
		{"cut since, and its weight taken", []Entry{{Kind: Weighed, Weight: 2000}, {Kind: SentPart, Weight: 400}, {Kind: Cut, Before: 1600, Weight: 800}}, 0},
		{"a piece of a wheel never weighed", []Entry{{Kind: SentPart, Weight: 400}}, 400},
		{"turning says nothing of its mass", []Entry{{Kind: SentPart, Weight: 400}, {Kind: Did, Job: Turn}}, 400},
	} {
		if got := (Life{Entries: c.entries}).PiecesSince(); got != c.want {
			t.Errorf("%s: got %v, want %v", c.name, got, c.want)
		}
	}
}
