package plot

import (
	"time"

	"rindkeep/cave"
)

// Air is a room's readings, temperature over humidity, with its limits.
func Air(r cave.Room, rows []cave.Reading, loc *time.Location) Chart {
	const gap = 36 * time.Hour
	temp := Measured{Name: "temperature", Unit: "C", Low: float64(r.TempLow), High: float64(r.TempHigh), Gap: gap}
	humid := Measured{Name: "humidity", Unit: "%", Low: r.RHLow.Percent(), High: r.RHHigh.Percent(), Gap: gap}
	for _, rd := range rows {
		temp.Moments = append(temp.Moments, Moment{At: rd.At, Y: float64(rd.Temp)})
		humid.Moments = append(humid.Moments, Moment{At: rd.At, Y: rd.RH.Percent()})
	}
	return Course{Title: "air of " + r.Name, Loc: loc, Measured: []Measured{temp, humid}}.Chart()
}
