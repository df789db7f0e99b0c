package drying

import (
	"strings"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/wheel/shape"
)

// Group is a family of varieties that dry alike; it names the defaults taken
// where a cheese's own figures are not known.
type Group string

// The groups, driest first.
const (
	VeryHard   Group = "very-hard"   // hard grating
	Hard       Group = "hard"        // cheddar, alpine
	SemiHard   Group = "semi-hard"   // washed-curd, tomme
	Blue       Group = "blue"        // pierced, blue inside
	WashedRind Group = "washed-rind" // smear-ripened
	Bloomy     Group = "bloomy"      // white mould
	Soft       Group = "soft"        // ripened soft without mould or smear
	Fresh      Group = "fresh"       // eaten within days
)

// Groups lists every group, driest first.
func Groups() []Group {
	return []Group{VeryHard, Hard, SemiHard, Blue, WashedRind, Bloomy, Soft, Fresh}
}

// ParseGroup reads a group's name as Groups writes it.
func ParseGroup(s string) (Group, error) {
	for _, g := range Groups() {
		if s == string(g) {
			return g, nil
		}
	}
	names := make([]string, 0, len(Groups()))
	for _, g := range Groups() {
		names = append(names, string(g))
	}
	return "", reason.Err(reason.Unknown{What: "group", Word: s, Known: strings.Join(names, ", ")})
}

// Cheese is a wheel as it is when drying starts: its weight, its shape and what
// is in it, wet basis. Zero fields stand for "not known" and are taken from the
// group: moisture, fat, salt, MoistureSD. Group empty stands for hard. A shape
// not known, or one whose volume does not fit the weight at all, is replaced
// by the group's usual proportions at that weight.
type Cheese struct {
	Green      quantity.Grams
	Shape      shape.Shape
	Moisture   quantity.Fraction // kg water per kg cheese
	Fat        quantity.Fraction // kg fat per kg cheese
	Salt       quantity.Fraction // kg NaCl per kg cheese
	MoistureSD quantity.Fraction // standard deviation of Moisture, same unit
	PH         float64           // 0 not known; reported, not yet used by the sorption law
	Group      Group

	// Age is how many days it had dried when drying starts, as the other fields
	// and all days have it: 0 for a fresh wheel. Of an aged one Green is the first
	// known weight, all losses count from it, and what it lost before isn't known.
	// Moisture, fat and salt are still those of the fresh cheese.
	Age float64
}

// Check refuses what a cheese cannot be. The bounds are our own, wide ones.
func (c Cheese) Check() error {
	if c.Group != "" {
		if _, err := ParseGroup(string(c.Group)); err != nil {
			return err
		}
	}
	if err := reason.Within("green-weight", c.Green, 5, 500000); err != nil {
		return err
	}
	if c.Shape.Known() {
		if err := c.Shape.Check(); err != nil {
			return err
		}
	}
	for _, f := range []struct {
		name      reason.Thing
		v, lo, hi quantity.Fraction
	}{
		{"moisture", c.Moisture, 0.15, 0.9},
		{"fat", c.Fat, 0.001, 0.8},
		{"salt", c.Salt, 0.0001, 0.12},
		{"moisture-sd", c.MoistureSD, 0.0001, 0.2},
	} {
		if err := reason.Within(f.name, f.v, f.lo, f.hi); f.v != 0 && err != nil {
			return err
		}
	}
	m := c.filled()
	return reason.Within("moisture-fat-salt", m.Moisture+m.Fat+m.Salt, 0, 0.98)
}

// filled is the cheese with every unknown field taken from its group, and with
// its shape brought to the volume its weight needs.
func (c Cheese) filled() Cheese {
	d := defaultsOf(c.Group)
	if c.Group == "" {
		c.Group = Hard
	}
	if c.Moisture == 0 {
		c.Moisture = quantity.Fraction(d.moisture)
		if c.MoistureSD == 0 {
			c.MoistureSD = quantity.Fraction(d.moistureSD)
		}
	}
	if c.MoistureSD == 0 {
		c.MoistureSD = measuredMoistureSD
	}
	if c.Fat == 0 {
		c.Fat = (1 - c.Moisture) * quantity.Fraction(d.fatInDry)
	}
	if c.Salt == 0 {
		c.Salt = c.Moisture * quantity.Fraction(d.saltInMoisture)
	}
	if !c.Shape.Known() || c.Shape.Check() != nil {
		c.Shape = d.shape
		c.Shape = c.Shape.ForWeight(c.Green, d.density)
		return c
	}
	c.Shape, _ = c.Shape.Fitting(c.Green, d.density)
	return c
}

// dry gives the dry-basis figures of a filled cheese. The least protein is our
// choice: the sorption law needs some.
func (c Cheese) dry() (x0, saltDry, proteinDry float64) {
	solids := 1 - float64(c.Moisture)
	x0 = float64(c.Moisture) / solids
	saltDry = float64(c.Salt) / solids
	proteinDry = (solids - float64(c.Fat) - float64(c.Salt)) / solids
	return x0, saltDry, max(proteinDry, 0.02)
}
