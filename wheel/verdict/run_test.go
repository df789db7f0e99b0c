package verdict

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"rindkeep/cave/quantity"
	"rindkeep/wheel"
)

// course is a wheel's weighings as drying goes on, a few days apart, with what
// a scale and a hand add: seed decides which.
func course(seed uint64, n int, green, speed float64) (at []time.Time, weights []quantity.Grams) {
	rnd := rand.New(rand.NewPCG(seed, 1))
	t := time.Date(2026, 1, 10, 8, 0, 0, 0, time.UTC)
	began := t
	for i := range n {
		d := t.Sub(began).Hours() / 24
		loss := speed * (math.Sqrt(1+d) - 1)
		w := green * (1 - loss) * (1 + 0.0004*rnd.NormFloat64())
		if i == 0 {
			w = green
		}
		at, weights = append(at, t), append(weights, quantity.Grams(math.Round(w)))
		t = t.Add(time.Duration(24+rnd.IntN(60)) * time.Hour)
	}
	return at, weights
}

// plausible is PlausibleRun for a wheel that has nothing but weighings.
func plausible(at []time.Time, weights []quantity.Grams, fresh []bool, usual quantity.Grams) bool {
	var es []wheel.Entry
	isFresh := map[uuid.UUID]bool{}
	for i := range at {
		e := wheel.Entry{ID: uuid.UUID{0: 1, 15: byte(i)}, Kind: wheel.Weighed, At: at[i], Weight: weights[i]}
		es, isFresh[e.ID] = append(es, e), fresh[i]
	}
	return PlausibleRun(es, func(id uuid.UUID) bool { return isFresh[id] }, usual, at[0])
}

func TestARunOfWeightsAsDryingGoesOnIsPassedQuickly(t *testing.T) {
	passed, all := 0, 0
	for seed := range uint64(400) {
		speed := 0.004 + 0.0001*float64(seed%200)
		at, weights := course(seed, 5+int(seed%60), 2000, speed)
		fresh := make([]bool, len(at))
		first := 0
		if seed%3 == 0 { // the green weight is known
			first = 1
		}
		for i := first; i < len(fresh); i++ {
			fresh[i] = true
		}
		all++
		if plausible(at, weights, fresh, 2000) {
			passed++
		}
	}
	if passed < all*97/100 {
		t.Errorf("%d of %d wheels were passed: the others cost a hundred times as much", passed, all)
	}
}

func TestARunWithASlipInItIsNotPassedQuickly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at, weights := course(rapid.Uint64Range(0, 1<<20).Draw(t, "seed"), rapid.IntRange(4, 40).Draw(t, "weighings"), 2000,
			rapid.Float64Range(0.004, 0.024).Draw(t, "speed"))
		fresh := make([]bool, len(at))
		for i := rapid.IntRange(0, 1).Draw(t, "known"); i < len(fresh); i++ {
			fresh[i] = true
		}
		i := rapid.IntRange(1, len(at)-1).Draw(t, "slip at")
		was := weights[i]
		weights[i] = rapid.SampledFrom(
			[]quantity.Grams{was * 1.1, was * 0.9, was / 1000, was * 1000, was + 100, was - 100, was / 2}).Draw(t, "slip")
		if plausible(at, weights, fresh, 2000) {
			t.Errorf("%v at %v was passed for %v", weights[i], at[i], was)
		}
	})
}

func TestWhatIsPassedQuicklyTheModelPassesToo(t *testing.T) {
	doubted := 0
	for seed := range uint64(12) {
		at, weights := course(seed, 6+int(seed), 2000, 0.006+0.0012*float64(seed))
		b := &book{tag: "A-01"}
		for i := range at {
			b.weigh(at[i].Sub(at[0]).Hours()/24, float64(weights[i]))
		}
		fresh := func(uuid.UUID) bool { return true }
		if !PlausibleRun(b.es, fresh, 2000, at[0]) {
			continue
		}
		c := b.of(t, open())
		if d := c.Alone().Doubts(c.Alone().Forecast(), fresh); len(d) > 0 {
			doubted++
			t.Logf("seed %d: the model doubts %v", seed, d)
		}
	}
	if doubted > 1 {
		t.Errorf("the model doubts %d of 12 wheels that were passed", doubted)
	}
}

func TestARunThatSaysNothingAgainstItselfIsHeldToWideBounds(t *testing.T) {
	day := func(d float64) time.Time {
		return time.Date(2026, 1, 10, 8, 0, 0, 0, time.UTC).Add(time.Duration(d * 24 * float64(time.Hour)))
	}
	at := []time.Time{day(0), day(2), day(4), day(6), day(8)}
	all := []bool{true, true, true, true, true}
	for what, x := range map[string]struct {
		weights []quantity.Grams
		usual   quantity.Grams
		want    bool
	}{
		"a wheel as others":                      {[]quantity.Grams{2000, 1990, 1982, 1975, 1969}, 2000, true},
		"kilograms for grams all along":          {[]quantity.Grams{2.000, 1.990, 1.982, 1.975, 1.969}, 2000, false},
		"a wheel of a variety of unknown weight": {[]quantity.Grams{2000, 1990, 1982, 1975, 1969}, 0, true},
		"a tenth gone in two days":               {[]quantity.Grams{2000, 1800, 1700, 1620, 1560}, 2000, false},
		"nothing lost in eight days":             {[]quantity.Grams{2000, 2000, 2000, 2000, 2000}, 2000, true},
		"heavier in the end":                     {[]quantity.Grams{2000, 1990, 1982, 1975, 1999}, 2000, false},
	} {
		if got := plausible(at, x.weights, all, x.usual); got != x.want {
			t.Errorf("%s: %v, want %v", what, got, x.want)
		}
	}
}
