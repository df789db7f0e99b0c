package wheel

import (
	"testing"
	"time"

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

func TestAWeightSentThatTheWheelCannotWeighIsOdd(t *testing.T) {
	weighed := Entry{Kind: Weighed, Weight: 1000}
	at := func(es ...Entry) []Entry {
		for i := range es {
			es[i].At = began.Noon(time.UTC).AddDate(0, 0, i)
		}
		return es
	}
	for _, c := range []struct {
		name    string
		entries []Entry
		sent    quantity.Grams
		part    bool
		want    string
	}{
		{"as it weighed", at(weighed), 1000, false, ""},
		{"a scale a little off", at(weighed), 1020, false, ""},
		{"lost much since", at(weighed), 700, false, ""},
		{"ten times as much", at(weighed), 9900, false, "9900 g sent, where it weighed 1000 g at last"},
		{"a coat nobody weighed", at(weighed, Entry{Kind: CoatedOn}), 1150, false, ""},
		{"more than a coat nobody weighed", at(weighed, Entry{Kind: CoatedOn}), 1300, false, "1300 g sent, where it weighed 1000 g at last"},
		{"a coat that was weighed", at(weighed, Entry{Kind: CoatedOn, Weight: 1030}), 1150, false, "1150 g sent, where it weighed 1030 g at last"},
		{"a coat nobody weighed, and a weight since", at(Entry{Kind: CoatedOn}, weighed), 1150, false, "1150 g sent, where it weighed 1000 g at last"},
		{"a piece of it", at(weighed), 400, true, ""},
		{"a piece over the whole", at(weighed), 1400, true, "a piece of 1400 g, where the whole weighed 1000 g at last"},
		{"the last of it", at(weighed, Entry{Kind: SentPart, Weight: 600}), 400, true, ""},
		{"more than was left", at(weighed, Entry{Kind: SentPart, Weight: 600}), 500, true, "500 g sent, where about 400 g of it was left"},
		{"never weighed", nil, 9900, false, ""},
		{"no weight said", at(weighed), 0, false, ""},
	} {
		if got := (Life{Entries: c.entries}).OddSending(c.sent, c.part); got != c.want {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
}
