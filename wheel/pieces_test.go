package wheel

import (
	"testing"
	"time"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

func TestPiecesSentTakeOffTheWheelUntilItIsWeighedAgain(t *testing.T) {
	for _, c := range []struct {
		name    string
		entries []Entry
		want    quantity.Grams
	}{
		{"nothing was sent", []Entry{{Kind: Weighed, Weight: 2000}}, 0},
		{"two pieces since the last weight",
			[]Entry{{Kind: Weighed, Weight: 2000}, {Kind: SentPart, Weight: 400}, {Kind: SentPart, Weight: 250}}, 650},
		{"weighed again since", []Entry{{Kind: SentPart, Weight: 400}, {Kind: Weighed, Weight: 1600}}, 0},
		{"cored since, and its weight not taken",
			[]Entry{{Kind: Weighed, Weight: 2000}, {Kind: SentPart, Weight: 400}, {Kind: Cored, Removed: 12}}, 400},
		{"cut since, and its weight taken",
			[]Entry{{Kind: Weighed, Weight: 2000}, {Kind: SentPart, Weight: 400}, {Kind: Cut, Before: 1600, Weight: 800}}, 0},
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
		want    reason.Reason
	}{
		{"as it weighed", at(weighed), 1000, false, nil},
		{"a scale a little off", at(weighed), 1020, false, nil},
		{"lost much since", at(weighed), 700, false, nil},
		{"ten times as much", at(weighed), 9900, false, SentOverLast{9900, 1000, false}},
		{"a coat nobody weighed", at(weighed, Entry{Kind: CoatedOn}), 1150, false, nil},
		{"more than a coat nobody weighed", at(weighed, Entry{Kind: CoatedOn}), 1300, false, SentOverLast{1300, 1000, false}},
		{"a coat that was weighed", at(weighed, Entry{Kind: CoatedOn, Weight: 1030}), 1150, false,
			SentOverLast{1150, 1030, false}},
		{"a coat nobody weighed, and a weight since", at(Entry{Kind: CoatedOn}, weighed), 1150, false,
			SentOverLast{1150, 1000, false}},
		{"a piece of it", at(weighed), 400, true, nil},
		{"a piece over the whole", at(weighed), 1400, true, SentOverLast{1400, 1000, true}},
		{"the last of it", at(weighed, Entry{Kind: SentPart, Weight: 600}), 400, true, nil},
		{"more than was left", at(weighed, Entry{Kind: SentPart, Weight: 600}), 500, true, SentOverLeft{500, 400}},
		{"never weighed", nil, 9900, false, nil},
		{"no weight said", at(weighed), 0, false, nil},
	} {
		if got := (Life{Entries: c.entries}).OddSending(c.sent, c.part); got != c.want {
			t.Errorf("%s: got %+v, want %+v", c.name, got, c.want)
		}
	}
}
