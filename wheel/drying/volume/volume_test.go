package volume

import (
	"math"
	"testing"
	"time"
)

// Wheel 20 cm by 10 cm, D 5e-11 m2/s, Bi 5 (slab), 10 (cylinder): MR computed
// from Crank's series, five digits printed; the solver must agree to 1e-4.
func TestTheFiniteCylinderAgreesWithTheSeriesToATenThousandth(t *testing.T) {
	const d = 5e-11
	ks := 5 * d / 0.05
	began := time.Now()
	b := Cylinder(0.1, 0.1, 1, Fine)
	at, steps := 0.0, 0
	for _, w := range []struct{ day, mr float64 }{{7, .91745}, {30, .75004}, {90, .50557}, {365, .11754}} {
		for at < w.day-1e-9 {
			dt := math.Min(math.Min(math.Max(0.01, 0.02*at), 2), w.day-at)
			b.Step(dt*86400, d, Linear{ks, 0})
			at += dt
			steps++
		}
		if math.Abs(b.Mean()-w.mr) > 1e-4 {
			t.Errorf("day %v: MR %.6f, series %.6f", w.day, b.Mean(), w.mr)
		}
	}
	t.Logf("%d cells, %d steps, %v", len(b.x), steps, time.Since(began))
}
