package air

import (
	"math"
	"testing"
)

func TestARoomComesToTheBalanceOfLoadAndFreshAir(t *testing.T) {
	// By hand: at 12 C full air holds 10.66 g/m3, 85 % is 9.06; outside air of
	// 12 C and 60 % brings 6.40. 50 m3 changed 0.2 times an hour is 10 m3/h, so
	// 26.6 g/h hold the room at 85 %.
	x := Exchange{VolumeM3: 50, ChangesPerHour: 0.2, Room: State{Temp: 12, RH: 0.85}, Outside: State{Temp: 12, RH: 0.6}}
	b, err := x.Burden(26.6)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "settles", float64(b.Settles), 0.85, 0.002)
	near(t, "to remove", b.RemoveGH, 0, 0.3)
	near(t, "grams a point", b.RiseGH, 5.33, 0.05)
	b, _ = x.Burden(100)
	near(t, "to remove of 100 g/h", b.RemoveGH, 73.4, 0.3)
	if b.Settles != 1 {
		t.Errorf("100 g/h settle at %v", b.Settles)
	}
	x.ChangesPerHour = 0
	if b, _ = x.Burden(0); b.Settles != 0.85 || math.Abs(b.RemoveGH) > 1e-12 {
		t.Errorf("a tight room with no load: %+v", b)
	}
	if _, err := (Exchange{Room: x.Room, Outside: x.Outside}).Burden(1); err == nil {
		t.Error("a room without volume is accepted")
	}
}
