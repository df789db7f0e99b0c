package wheel

import (
	"math"
	"reflect"
	"testing"
	"time"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"rindkeep/cave/quantity"
)

func TestLinkWeightsIsLinkForWeighingsAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var at []time.Time
		var weights []quantity.Grams
		var es []Entry
		now := time.Date(2026, 1, 10, 8, 0, 0, 0, time.UTC)
		for range rapid.IntRange(0, 12).Draw(t, "weighings") {
			now = now.Add(time.Duration(rapid.IntRange(0, 10_000).Draw(t, "minutes")) * time.Minute)
			g := quantity.Grams(rapid.IntRange(1, 500_000).Draw(t, "weight"))
			at, weights = append(at, now), append(weights, g)
			es = append(es, Entry{ID: uuid.UUID{1}, Kind: Weighed, At: now, Weight: g})
		}
		got, want := LinkWeights(at, weights), Link(es, nil)
		for i := range want.Points {
			want.Points[i].Entry = uuid.Nil
		}
		if !math.IsNaN(got.Gap) || !math.IsNaN(want.Gap) {
			t.Fatalf("gaps %v and %v, want none", got.Gap, want.Gap)
		}
		got.Gap, want.Gap = 0, 0
		if len(es) > 0 && !reflect.DeepEqual(got, want) || len(es) == 0 &&
			(len(got.Points) > 0 || got.Green != want.Green || got.Step != want.Step) {
			t.Fatalf("got  %+v\nwant %+v", got, want)
		}
	})
}
