package drying

import (
	"math"

	"rindkeep/wheel/drying/volume"
)

// truth runs the finite volumes of a filled cheese through the windows of a
// plant, each cut in sub steps, and gives the loss at every window's end.
func truth(c Cheese, p *plant, g volume.Grid, sub int, la, lb float64) []float64 {
	b := bodyOf(c, p.x0, g)
	out := make([]float64, len(p.windows))
	for i, w := range p.windows {
		f := p.face(i, math.Exp(la), 1)
		d := p.diffusivity(i) / 86400 * math.Exp(2*lb)
		for range sub {
			b.Step((w.to-w.from)*86400/float64(sub), d, &f)
		}
		out[i] = p.dry * (p.x0 - b.Mean())
	}
	return out
}

func bodyOf(c Cheese, x0 float64, g volume.Grid) *volume.Body { return finiteBody(c.Shape, x0, g) }
