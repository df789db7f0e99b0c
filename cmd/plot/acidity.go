package plot

import (
	"math"
	"time"

	"rindkeep/wheel"
)

// Acidity is the course of a make's acidity: the kinds of figure that were taken so many times or more.
func Acidity(sheet wheel.MakeSheet, times int, loc *time.Location) Course {
	c := Course{Title: "acidity of lot " + sheet.Make.Lot, Loc: loc}
	for _, x := range []struct {
		name, unit string
		rs         []wheel.Reading
	}{{"pH", "", sheet.PH()}, {"titratable acidity", "% lactic acid", sheet.Acid()}} {
		m := Measured{Name: x.name, Unit: x.unit, Low: math.NaN(), High: math.NaN()}
		for _, r := range x.rs {
			m.Moments = append(m.Moments, Moment{At: r.At, Y: r.Value, Word: r.Stage})
		}
		if len(x.rs) >= times {
			c.Measured = append(c.Measured, m)
		}
	}
	return c
}
