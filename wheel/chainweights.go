package wheel

import (
	"math"
	"time"

	"rindkeep/cave/quantity"
)

// LinkWeights is Link for weighings alone, in time order, with no coat, core
// or cut among them. Points bear no entry.
func LinkWeights(at []time.Time, weights []quantity.Grams) Chain {
	c := Chain{Step: ScaleStep(weights), Gap: math.NaN()}
	if len(weights) == 0 {
		return c
	}
	c.Green, c.Began = weights[0], at[0]
	c.base, c.retained = float64(c.Green), 1
	c.Points = make([]LossPoint, len(weights))
	c.Points[0] = LossPoint{At: at[0], Gross: c.Green, Net: c.Green, Retained: 1}
	c.lastNet = c.base
	for i := 1; i < len(weights); i++ {
		w := weights[i]
		p := LossPoint{At: at[i], Day: at[i].Sub(c.Began).Hours() / 24, Gross: w, Net: w, Retained: float64(w) / c.base}
		p.SD = p.Retained * (noise(w, c.Step) / float64(w))
		p.Scale = p.SD
		c.Points[i] = p
		c.lastDay, c.lastNet = p.Day, float64(w)
	}
	return c
}
