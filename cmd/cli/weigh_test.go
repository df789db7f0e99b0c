package cli

import (
	"fmt"
	"testing"

	uc "rindkeep/cmd/app"
)

func TestSistersWeighedTogetherAreJudgedWhenAllAreRecorded(t *testing.T) {
	w := newWorld(t)
	w.must("room new drying --temp 12C --rh 85% --racks A:4x8 --quiet")
	w.must("make new --variety cheddar-waxed --wheels 2 --weights 2104,2098 --place drying/A/1 --at 2026-11-23T17:00 " +
		"--quiet")
	var weighed struct {
		Results []struct {
			Wheel string
			Dry   struct {
				Expected uc.Expected `json:"expected_on"`
			}
		}
	}
	var dry struct {
		Wheels []struct {
			Wheel    string
			Expected uc.Expected `json:"expected_on"`
		}
	}
	w.doc(&weighed, "weigh 261123A-01 2078 261123A-02 2081")
	w.doc(&dry, "dry 261123A")
	for i, r := range weighed.Results {
		d := dry.Wheels[i]
		same(t, "said at the weighing of "+r.Wheel, fmt.Sprint(r.Wheel, " ", r.Dry.Expected.Best, r.Dry.Expected.Low,
			*r.Dry.Expected.High), fmt.Sprint(d.Wheel, " ", d.Expected.Best, d.Expected.Low, *d.Expected.High))
	}
}
