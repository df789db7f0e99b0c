package drying

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"strings"
	"testing"

	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/wheel/shape"
)

// left is the mean remaining share MR of a finite cylinder by Crank's series,
// slab times cylinder, with the roots of b tan b = Bi and b J1(b) = Bi J0(b)
// found between their bounds.
func left(biHeight, biRadius, foHeight, foRadius float64) float64 {
	root := func(lo, hi float64, f func(float64) float64) float64 {
		for range 100 {
			mid := (lo + hi) / 2
			if f(mid) > 0 {
				hi = mid
			} else {
				lo = mid
			}
		}
		return (lo + hi) / 2
	}
	slab, cyl := 0.0, 0.0
	for n := range 200 {
		b := root(float64(n)*math.Pi+1e-12, (float64(n)+0.5)*math.Pi-1e-12,
			func(x float64) float64 { return x*math.Sin(x) - biHeight*math.Cos(x) })
		if n%2 == 1 {
			b = root(float64(n)*math.Pi+1e-12, (float64(n)+0.5)*math.Pi-1e-12,
				func(x float64) float64 { return -x*math.Sin(x) + biHeight*math.Cos(x) })
		}
		slab += 2 * biHeight * biHeight / (b * b * (b*b + biHeight*biHeight + biHeight)) * math.Exp(-b*b*foHeight)
		lo, hi := 0.0, besselZero(0, n+1)
		if n > 0 {
			lo = besselZero(1, n)
		}
		sign := 1.0
		if n%2 == 1 {
			sign = -1
		}
		c := root(lo+1e-12, hi, func(x float64) float64 { return sign * (x*math.J1(x) - biRadius*math.J0(x)) })
		cyl += 4 * biRadius * biRadius / (c * c * (c*c + biRadius*biRadius)) * math.Exp(-c*c*foRadius)
	}
	return slab * cyl
}

func TestTheSeriesItselfMeetsThePrintedValues(t *testing.T) {
	// Wheel 20 cm by 10 cm, D 5e-11, Bi 5 (slab), 10 (cylinder); computed, five
	// digits printed.
	for _, c := range []struct{ day, want float64 }{{7, .91745}, {30, .75004}, {90, .50557}, {365, .11754}} {
		s := c.day * 86400 * 5e-11
		if got := left(5, 10, s/0.0025, s/0.01); math.Abs(got-c.want) > 6e-6 {
			t.Errorf("day %g: %.6f, want %.5f", c.day, got, c.want)
		}
	}
}

func TestTheLinearLawFollowsTheFiniteCylinderToATenThousandth(t *testing.T) {
	for _, c := range []struct {
		kg, across, high, rh float64
		d, k                 float64
	}{
		{2, 0.15, 0.10, 0.80, 1.5e-11, 0}, {2, 0.15, 0.10, 0.80, 1.5e-11, 2.5e-8}, {0.5, 0.10, 0.06, 0.75, 1e-10, 0},
		{10, 0.28, 0.15, 0.90, 5e-11, 5e-9}, {0.25, 0.11, 0.025, 0.85, 3e-11, 1e-8}, {25, 0.40, 0.185, 0.85, 5e-12, 0},
	} {
		in := Inputs{
			Weight: quantity.Grams(1000 * c.kg), Shape: shape.Shape{Form: shape.Cylinder,
				Diameter: quantity.Metres(c.across), Height: quantity.Metres(c.high)},
			Moisture: 0.38, Air: []Span{{Air: air.State{Temp: 12, RH: quantity.Fraction(c.rh)}, Movement: air.Gentle}},
			Diffusivity: c.d, Transfer: c.k, Linear: true, Days: 180,
		}
		r, err := Bench(in)
		if err != nil {
			t.Fatal(err)
		}
		x0 := float64(r.StartMoisture / (1 - r.StartMoisture))
		xe := float64(r.BalanceMoisture / (1 - r.BalanceMoisture))
		worst := 0.0
		for _, p := range r.Points[1:] {
			s := float64(p.Day) * 86400 * r.Diffusivity
			mr := left(r.BiotHeight, r.BiotRadius, s/(c.high*c.high/4), s/(c.across*c.across/4))
			want := (1 - float64(r.StartMoisture)) * (x0 - xe) * (1 - mr)
			worst = math.Max(worst, math.Abs(p.Loss.Best-want))
		}
		t.Logf("%g kg, Biot %.3g and %.3g: %.1e of loss at most", c.kg, r.BiotHeight, r.BiotRadius, worst)
		if worst > 1e-4 {
			t.Errorf("%g kg: %.1e from the series", c.kg, worst)
		}
	}
}

// seriesAgrees holds left to lines of Biot, Fourier and the share left.
func seriesAgrees(t *testing.T, text string) {
	t.Helper()
	n := 0
	for line := range strings.Lines(text) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		var bh, br, fh, fr, want float64
		if _, err := fmt.Sscan(line, &bh, &br, &fh, &fr, &want); err != nil {
			t.Fatal(err)
		}
		if got := left(bh, br, fh, fr); math.Abs(got-want) > 1e-7 {
			t.Errorf("Bi %g %g Fo %g %g: %.9f, scipy %.9f", bh, br, fh, fr, got, want)
		}
		n++
	}
	if n < 50 {
		t.Errorf("%d values, want 50 and more", n)
	}
}

func TestTheSeriesAgreesWithTheSameWrittenAnewInPython(t *testing.T) {
	data, err := os.ReadFile(reference + "finite_cylinder.txt")
	if err != nil {
		t.Fatal(err)
	}
	seriesAgrees(t, string(data))
}

func TestTheSeriesAgreesWithScipyLive(t *testing.T) {
	out, err := exec.Command(python(t), reference+"finite_cylinder.py").Output()
	if err != nil {
		t.Fatal(err)
	}
	seriesAgrees(t, string(out))
}
