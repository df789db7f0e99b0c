package variety

import (
	"slices"

	"rindkeep/cave/quantity"
	"rindkeep/wheel/shape"
	"rindkeep/wheel/variety/tomlfile"
)

// varietyFile is what the file of a variety may have. The bounds are our own.
type varietyFile struct {
	Variety
	Wheel struct {
		shape.Shape
		Weight quantity.Grams `toml:"weight" need:"true" range:"10 200000"`
	} `toml:"wheel" need:"true"`
}

// What can be wrong with a variety and no other file.
type (
	// Density is a usual wheel that is too heavy or too light for its shape.
	Density struct {
		Value float64 `json:"value_kg_m3"`
		Low   float64 `json:"low_kg_m3"`
		High  float64 `json:"high_kg_m3"`
	}
	// NoProtein is moisture, fat and salt that leave nothing for protein.
	NoProtein struct {
		Sum quantity.Fraction `json:"sum"`
	}
	// NotOfShape is a length that a wheel of that shape has not, or lacks.
	NotOfShape struct {
		Shape shape.Form `json:"shape"`
		Lacks bool       `json:"lacks"`
	}
)

// The codes of the reasons.

func (Density) Code() string    { return "density" }
func (NoProtein) Code() string  { return "no-protein" }
func (NotOfShape) Code() string { return "not-of-shape" }

// Parse reads a variety from TOML text. The name is the file's, for errors, which are each a tomlfile.Fault.
func Parse(name string, data []byte) (Variety, error) {
	file := varietyFile{Variety: Variety{Composition: Composition{MoistureSD: DefaultMoistureSD}}}
	top, err := tomlfile.Decode(name, data, &file)
	if err != nil {
		return Variety{}, err
	}
	v := file.Variety
	v.Text, v.Shape, v.Weight = string(tomlfile.Clean(data)), file.Wheel.Shape, file.Wheel.Weight
	top.Name("name", v.Name)
	top.Name("plan", v.Plan)
	top.Word("rind", v.Rind, Rinds)
	top.Word("group", v.Group, Groups)
	for _, s := range v.Species {
		top.Word("species", s, Milks)
	}
	checkWheel(top.In("wheel"), v)
	checkFigures(top, v)
	if err := top.Err(); err != nil {
		return Variety{}, err
	}
	return v, nil
}

func checkWheel(t *tomlfile.Table, v Variety) {
	forms := make([]string, len(shape.Forms))
	for i, f := range shape.Forms {
		forms[i] = string(f)
	}
	t.Word("shape", string(v.Shape.Form), forms)
	wants := map[shape.Form][]string{
		shape.Cylinder: {"diameter", "height"},
		shape.Block:    {"length", "width", "height"},
		shape.Sphere:   {"diameter"},
		shape.Pyramid:  {"length", "top_length", "height"},
	}[v.Shape.Form]
	for _, key := range []string{"diameter", "height", "length", "width", "top_length"} {
		if wanted := slices.Contains(wants, key); wanted != t.Has(key) {
			t.Fail(key, NotOfShape{v.Shape.Form, wanted})
		}
	}
	if d := v.Weight.Kilograms() / v.Shape.Volume(); !(d >= shape.LeastDensity && d <= shape.MostDensity) {
		t.Fail("weight", Density{d, shape.LeastDensity, shape.MostDensity})
	}
}

// checkFigures compares the figures that limit each other.
func checkFigures(top *tomlfile.Table, v Variety) {
	c, l, r := v.Composition, v.Limits, v.Room
	if sum := c.Moisture + c.Fat + c.Salt; sum >= 1 {
		top.In("composition").Fail("fat", NoProtein{sum})
	}
	under := func(t *tomlfile.Table, key string, value float64, other string, limit float64, unit string) {
		if value > limit {
			t.Fail(key, tomlfile.NotUnder{Value: value, Other: other, Limit: limit, Unit: unit})
		}
	}
	days := func(other string, limit int) {
		if v.ReadyDays < limit {
			top.Fail("ready_days", tomlfile.NotOver{
				Value: float64(v.ReadyDays), Other: other, Limit: float64(limit), Unit: "days"})
		}
	}
	if fat := c.FatInSolids(); fat < l.MinFatInSolids-1e-9 {
		under(top.In("limits"), "min_fat_in_solids", l.MinFatInSolids.Percent(), "fat_in_solids", fat.Percent(), "%")
	}
	if v.DryTarget >= c.Moisture {
		top.Fail("dry_target", tomlfile.NotUnder{
			Value: v.DryTarget.Percent(), Other: "moisture", Limit: c.Moisture.Percent(), Unit: "%"})
	}
	days("drying_days", v.DryingDays)
	days("min_days", l.MinDays)
	under(top.In("room"), "temp_low", float64(r.TempLow), "temp_high", float64(r.TempHigh), "C")
	under(top.In("room"), "rh_low", r.RHLow.Percent(), "rh_high", r.RHHigh.Percent(), "%")
}
