package air

import (
	"math"
	"testing"
)

func TestTheWorkedSurfaceBalanceComesOut(t *testing.T) {
	in := Surface{Activity: 0.95, Air: State{Temp: 12, RH: 0.85}, Convection: 3, Transfer: 2.07e-8}
	dry, err := SurfaceBalance(in)
	if err != nil {
		t.Fatal(err)
	}
	in.Radiation = 5.1
	rad, err := SurfaceBalance(in)
	if err != nil {
		t.Fatal(err)
	}
	// Source: computed worked balance, three digits of the transfer coefficient
	// given, so 0.5 % tolerance.
	for _, c := range []struct {
		name       string
		have, want float64
	}{
		{"isothermal flux", dry.Isothermal, 250.8},
		{"flux with cooling alone", dry.FluxGM2Day, 102.2},
		{"flux with radiation", rad.FluxGM2Day, 162.3},
		{"surface temperature with cooling alone", float64(dry.Temp), 11.03},
		{"surface temperature with radiation", float64(rad.Temp), 11.43},
	} {
		if math.Abs(c.have-c.want) > 0.005*c.want {
			t.Errorf("%s: have %.2f, want %.2f", c.name, c.have, c.want)
		}
	}
}
