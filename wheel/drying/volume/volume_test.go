package volume

import (
	"math"
	"testing"
)

// dry carries a body to a day in growing steps.
func dry(b *Body, from, to, d float64, s Surface) {
	for from < to-1e-9 {
		dt := math.Min(math.Min(math.Max(0.01, 0.02*from), 2), to-from)
		b.Step(dt*86400, d, s)
		from += dt
	}
}

// Wheel 20 cm by 10 cm, D 5e-11 m2/s, Bi 5 (slab), 10 (cylinder): MR computed
// from Crank's series, five digits printed; the solver must agree to 1e-4.
func TestTheFiniteCylinderAgreesWithTheSeriesToATenThousandth(t *testing.T) {
	const d = 5e-11
	b := Cylinder(0.1, 0.1, 1, Fine)
	at := 0.0
	for _, w := range []struct{ day, mr float64 }{{7, .91745}, {30, .75004}, {90, .50557}, {365, .11754}} {
		dry(b, at, w.day, d, Linear{5 * d / 0.05, 0})
		at = w.day
		if math.Abs(b.Mean()-w.mr) > 1e-4 {
			t.Errorf("day %v: MR %.6f, series %.6f", w.day, b.Mean(), w.mr)
		}
	}
}

// Mean remaining share of a slab at Fo 0.1 and 0.5, computed from Crank's
// series: held surface, Bi 1, Bi 10. A held surface is taken as Bi 1e6. Tolerance 2e-4 of
// the water there is to lose: what the widest cells in the middle cost.
func TestSlabsAgreeWithTheSeries(t *testing.T) {
	const d, half = 5e-11, 0.05
	day := half * half / d / 86400
	for _, c := range []struct{ bi, fo, want float64 }{
		{1e6, 0.1, .643177}, {1e6, 0.5, .236050}, {1, 0.1, .919597}, {1, 0.5, .681105}, {10, 0.1, .726118},
		{10, 0.5, .315016},
	} {
		b := newBody(1, newAxis(half, 0, Fine))
		dry(b, 0, c.fo*day, d, Linear{c.bi * d / half, 0})
		if math.Abs(b.Mean()-c.want) > 2e-4 {
			t.Errorf("Bi %g Fo %g: %.6f, series %.6f", c.bi, c.fo, b.Mean(), c.want)
		}
	}
}

// A block's remaining share is the product of its three slabs', a ball's with a
// held surface is sum 6/(n pi)^2 exp(-(n pi)^2 Fo) (Crank).
func TestBlocksAndBallsAgreeWithTheSeries(t *testing.T) {
	const d = 5e-11
	s := Linear{1e-9, 0}
	product := 1.0
	for _, l := range []float64{0.20, 0.15, 0.10} {
		b := newBody(1, newAxis(l/2, 0, Fine))
		dry(b, 0, 60, d, s)
		product *= b.Mean()
	}
	b := Block(0.20, 0.15, 0.10, 1, Fine.For(3))
	dry(b, 0, 60, d, s)
	if math.Abs(b.Mean()-product) > 5e-4 {
		t.Errorf("block: %.6f, product of its slabs %.6f", b.Mean(), product)
	}
	ball := Sphere(0.06, 1, Fine)
	dry(ball, 0, 30, d, Linear{1, 0})
	fo, want := 30*86400*d/0.0036, 0.0
	for n := 1.0; n < 200; n++ {
		want += 6 / (n * n * math.Pi * math.Pi) * math.Exp(-n*n*math.Pi*math.Pi*fo)
	}
	if math.Abs(ball.Mean()-want) > 2e-4 {
		t.Errorf("ball: %.6f, series %.6f", ball.Mean(), want)
	}
}

// steep is a surface law that bends hard, as a drying rind's does.
type steep struct{}

func (steep) Flux(x float64) (float64, float64) {
	e := math.Exp(-0.1 / x)
	return 2e-9 * (e - 0.5), 2e-9 * e * 0.1 / (x * x)
}

func TestABentSurfaceLawEndsInItsBalance(t *testing.T) {
	b := Cylinder(0.04, 0.05, 0.6, Coarse)
	last := b.Mean()
	for range 400 {
		b.Step(5*86400, 1e-10, steep{})
		if m := b.Mean(); m > last+1e-8 {
			t.Fatalf("water comes back: %.9f after %.9f", m, last)
		} else {
			last = m
		}
	}
	if want := 0.1 / math.Ln2; math.Abs(last-want) > 1e-4 {
		t.Errorf("ends at %.6f, balance %.6f", last, want)
	}
}

func TestWaterUnevenlySpreadEvensOutWithoutLoss(t *testing.T) {
	b := Cylinder(0.1, 0.1, 0.6, Coarse)
	b.Fill(func(at []float64) float64 { return 0.6 + 0.1*at[0] - 0.05*at[1] })
	start := b.Mean()
	tight := Linear{0, 0}
	for range 200 {
		b.Step(86400, 1e-10, tight)
	}
	if math.Abs(b.Mean()-start) > 1e-9 {
		t.Errorf("a tight skin lets %.2e through", start-b.Mean())
	}
}
