package cave

import "math"

// Over sums days of a room's air up: the least and greatest of their readings
// and the mean of the days' means. With no days it gives no readings.
func Over(days []DayAir) (temp, rh Range, readings int) {
	if len(days) == 0 {
		return temp, rh, 0
	}
	temp, rh = Range{math.Inf(1), 0, math.Inf(-1)}, Range{math.Inf(1), 0, math.Inf(-1)}
	n := float64(len(days))
	for _, d := range days {
		temp = Range{min(temp.Min, d.Temp.Min), temp.Mean + d.Temp.Mean/n, max(temp.Max, d.Temp.Max)}
		rh = Range{min(rh.Min, d.RH.Min), rh.Mean + d.RH.Mean/n, max(rh.Max, d.RH.Max)}
		readings += d.Readings
	}
	return temp, rh, readings
}
