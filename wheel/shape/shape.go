// Package shape gives the volume and surface of the shapes of cheese. Lengths are
// metres, surfaces square metres, volumes cubic metres. It knows nothing about
// drying.
package shape

import (
	"fmt"
	"math"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// Form is a kind of solid.
type Form string

// The forms of cheese.
const (
	Cylinder Form = "cylinder" // Diameter, Height
	Block    Form = "block"    // Length, Width, Height
	Sphere   Form = "sphere"   // Diameter
	Pyramid  Form = "pyramid"  // square truncated pyramid: Length at the base, TopLength, Height
)

// Forms lists every form in the order of the help.
var Forms = []Form{Cylinder, Block, Sphere, Pyramid}

// Shape is a solid with its measures. The zero value is no shape, with a volume of 0.
// The bounds of a file, in cm, are our own.
type Shape struct {
	Form      Form            `json:"form" toml:"shape"`
	Diameter  quantity.Metres `json:"diameter_m,omitempty" toml:"diameter" range:"0.6 199"`
	Height    quantity.Metres `json:"height_m,omitempty" toml:"height" range:"0.6 199"`
	Length    quantity.Metres `json:"length_m,omitempty" toml:"length" range:"0.6 199"`
	Width     quantity.Metres `json:"width_m,omitempty" toml:"width" range:"0.6 199"`
	TopLength quantity.Metres `json:"top_length_m,omitempty" toml:"top_length" range:"0.6 199"`
}

// Known is false for the zero Shape.
func (s Shape) Known() bool { return s.Form != "" }

// Guessed gives the shape the form that its measures suggest, if any. A block
// without a width is square.
func (s Shape) Guessed() Shape {
	switch {
	case s.TopLength > 0:
		s.Form = Pyramid
	case s.Diameter > 0 && s.Height > 0:
		s.Form = Cylinder
	case s.Length > 0 && s.Height > 0:
		s.Form = Block
		if s.Width == 0 {
			s.Width = s.Length
		}
	}
	return s
}

// Completed is the shape with the form that its measures suggest where it has none.
// The zero Shape stays as it is; measures that make no shape are refused.
func (s Shape) Completed() (Shape, error) {
	if s == (Shape{}) {
		return s, nil
	}
	if s.Form == "" {
		s = s.Guessed()
	}
	switch {
	case s.Form == "" && s.Diameter > 0:
		return s, reason.Err(reason.Needs{What: "diameter", Other: "height"})
	case s.Form == "":
		return s, reason.Err(NoShape)
	}
	return s, s.Check()
}

// Check refuses an unknown form, and measures that are missing or not between 0.5
// cm and 2 m (our own bounds), in one sentence.
func (s Shape) Check() error {
	need := map[reason.Thing]quantity.Metres{}
	switch s.Form {
	case Cylinder:
		need["diameter"], need["height"] = s.Diameter, s.Height
	case Block:
		need["length"], need["width"], need["height"] = s.Length, s.Width, s.Height
	case Sphere:
		need["diameter"] = s.Diameter
	case Pyramid:
		need["length"], need["top-length"], need["height"] = s.Length, s.TopLength, s.Height
	default:
		return reason.Err(reason.Unknown{What: "shape", Word: string(s.Form), Known: "cylinder, block, sphere, pyramid"})
	}
	for _, name := range []reason.Thing{"diameter", "length", "width", "top-length", "height"} {
		v, ok := need[name]
		if !ok {
			continue
		}
		if v == 0 {
			return reason.Err(reason.Needs{What: reason.Thing(s.Form), Other: name})
		}
		if err := reason.Within(name, v, 0.005, 2); err != nil {
			return err
		}
	}
	return nil
}

// NoShape is measures that don't make a shape.
const NoShape = reason.Flat("no-shape")

// Volume is the volume in cubic metres. Source: any engineering handbook (cylinder
// pi d2 h/4, sphere pi d3/6, frustum of a square pyramid h (a2 + ab + b2)/3).
func (s Shape) Volume() float64 {
	d, h, l, w, t := float64(s.Diameter), float64(s.Height), float64(s.Length), float64(s.Width), float64(s.TopLength)
	switch s.Form {
	case Cylinder:
		return math.Pi * d * d * h / 4
	case Block:
		return l * w * h
	case Sphere:
		return math.Pi * d * d * d / 6
	case Pyramid:
		return h * (l*l + l*t + t*t) / 3
	}
	return 0
}

// Surface is the whole surface in square metres, including both faces. Source: as
// Volume; the frustum's sides have the slant height sqrt(h2 + ((a-b)/2)2).
func (s Shape) Surface() float64 {
	d, h, l, w, t := float64(s.Diameter), float64(s.Height), float64(s.Length), float64(s.Width), float64(s.TopLength)
	switch s.Form {
	case Cylinder:
		return math.Pi*d*d/2 + math.Pi*d*h
	case Block:
		return 2 * (l*w + l*h + w*h)
	case Sphere:
		return math.Pi * d * d
	case Pyramid:
		slant := math.Hypot(h, (l-t)/2)
		return l*l + t*t + 2*(l+t)*slant
	}
	return 0
}

// Scaled multiplies every length by k.
func (s Shape) Scaled(k float64) Shape {
	for _, m := range []*quantity.Metres{&s.Diameter, &s.Height, &s.Length, &s.Width, &s.TopLength} {
		*m *= quantity.Metres(k)
	}
	return s
}

// CheeseDensity is the density of a young pressed cheese, kg per cubic metre (from
// memory; cheese without holes has 1040 to 1100). It only serves to scale the measures
// of wheels that weren't measured.
const CheeseDensity = 1080

// ForWeight scales the shape to the weight w at a density in kg per cubic metre.
// This is how a wheel that wasn't measured gets its measures from its variety. A
// shape without volume stays as it is.
func (s Shape) ForWeight(w quantity.Grams, density float64) Shape {
	v := s.Volume()
	if !(v > 0) || !(w > 0) || !(density > 0) {
		return s
	}
	return s.Scaled(math.Cbrt(w.Kilograms() / density / v))
}

// The densities, kg per cubic metre, that a cheese can have by its measures and its
// weight, allowing for a rough rind, holes and a worn tape: our own bounds.
const (
	LeastDensity = 700
	MostDensity  = 1400
)

// Fitting gives the shape of a wheel of weight w: its own, or, if its measures
// can't belong to that weight, the same proportions scaled to the weight at the
// given density (kg per cubic metre), because a weight is more reliable. A shape
// without volume stays as it is, and so does any shape at a weight of 0.
func (s Shape) Fitting(w quantity.Grams, density float64) (fit Shape, scaled bool) {
	v := s.Volume()
	if !(v > 0) || !(w > 0) {
		return s, false
	}
	if d := w.Kilograms() / v; d >= LeastDensity && d <= MostDensity {
		return s, false
	}
	return s.ForWeight(w, density), true
}

// String writes the measures: "cylinder 15 cm across, 10 cm high".
func (s Shape) String() string { return s.In(quantity.Metric) }

// In is String in a reader's units.
func (s Shape) In(u quantity.Units) string {
	c := u.Length
	switch s.Form {
	case Cylinder:
		return fmt.Sprintf("cylinder %s across, %s high", c(s.Diameter), c(s.Height))
	case Block:
		return fmt.Sprintf("block %s by %s, %s high", c(s.Length), c(s.Width), c(s.Height))
	case Sphere:
		return fmt.Sprintf("sphere %s across", c(s.Diameter))
	case Pyramid:
		return fmt.Sprintf("pyramid %s at the base, %s at the top, %s high", c(s.Length), c(s.TopLength), c(s.Height))
	}
	return "shape not given"
}
