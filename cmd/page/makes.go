package page

import (
	"slices"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/page/format"
	"rindkeep/cmd/plot"
	"rindkeep/cmd/sheet"
	"rindkeep/cmd/words"
	"rindkeep/wheel"
	"rindkeep/wheel/shape"
)

// The makes, and what they are made of.

func listVarieties(c *call) (any, error) { return library.Varieties(c.ctx, c.app, c.caller) }

func listPlans(c *call) (any, error) { return library.Plans(c.ctx, c.app, c.caller) }

// usualMakes is how many makes the API lists unless it is told otherwise.
const usualMakes = 200

func listMakes(c *call) (any, error) {
	most, err := c.number("most", usualMakes)
	if err != nil {
		return nil, err
	}
	return makes.All(c.ctx, c.app, c.caller, makes.Listed{Variety: c.text("variety"), Most: most})
}

func showMake(c *call) (any, error) {
	d, err := makes.Show(c.ctx, c.app, c.caller, c.name())
	return filled(d, err, func(d *makes.Shown) { c.words().FillEntries(d.Entries) })
}

func makesPage(c *call) (View, error) {
	q := makes.Listed{Most: sheetful}
	if c.q.Has("all") {
		q.Most = 0
	}
	d, err := makes.All(c.ctx, c.app, c.caller, q)
	return View{Template: "makes.html", Title: "Makes", Here: "makes", Body: d}, err
}

// diaryLine is a line of a make's log, or a note of it.
type diaryLine struct {
	When, What, Details, By, Mark string
}

func diary(p words.Printer, d makes.Shown) (out []diaryLine) {
	for _, e := range d.Events {
		what, said := p.MakeEvent(e)
		at := e.Entry.At.In(d.Zone)
		out = append(out, diaryLine{at.Format(format.Minute), what, said, e.Entry.By, e.Entry.Mark()})
	}
	return out
}

// soured says whether the acidity of a make was ever measured.
func soured(d makes.Shown) bool {
	return slices.ContainsFunc(d.Log, func(l makes.Line) bool { return l.PH != nil || l.Acid != nil })
}

func acidityPicture(c *call) ([]byte, error) {
	d, err := makes.Show(c.ctx, c.app, c.caller, c.name())
	if err != nil {
		return nil, err
	}
	return c.picture(plot.Acidity(d.Sheet, 1, d.Zone).Chart(), size{600, 360}, size{340, 360}), nil
}

func makeSheet(c *call) ([]byte, error) {
	return c.sheet(func(s *app.Session, h sheet.Head) (func() (sheet.Doc, error), error) {
		d, err := makes.Gather(s, c.name())
		return func() (sheet.Doc, error) { return sheet.MakeSheet(h, sheet.MakeOf(c.words(), d)) }, err
	})
}

func saveMake(c *call, v values) (any, error) {
	in := c.figures(v.text)
	weights := v.list("weights")
	if w := v.text("weight"); w != "" {
		if len(weights) > 0 {
			return nil, badRequestf("weight", "give weight or weights, not both")
		}
		weights = []string{w}
	}
	q := makeOf(v, in)
	q.Lot, q.Plan, q.Sure = v.text("lot"), v.text("plan"), v.truth("sure")
	q.Weights = in.weights("weights", weights)
	return record(c, in, makes.Create, q, nil)
}

// makeOf is what was sent of a make as a whole.
func makeOf(v values, in *figures) makes.New {
	return makes.New{
		Variety: v.text("variety"), Note: v.text("note"), Date: v.text("date"), Start: v.text("start"),
		SoldAs: v.text("sold_as"), Country: v.text("country"),
		Milk: wheel.Milk{
			Species: v.text("milk"), Litres: given(in, "litres", in.units.ParseVolume),
			Treatment: given(in, "treatment", wheel.ParseTreatment),
			Fat:       in.percent("milk_fat"), Protein: in.percent("milk_protein"),
		},
		Curd: in.bulk("curd"), SetAside: in.bulk("set_aside"), SetAsideFor: v.text("set_aside_for"),
		Salt: in.bulk("salt"), SaltRate: in.percent("salt_rate"), SaltWhere: v.text("salt_where"),
		PH: given(in, "ph", decimal), Wheels: optional(in, "wheels", whole),
		Moisture: in.share("moisture"), MoistureSD: in.share("moisture_sd"),
		Fat: in.share("fat"), CheeseSalt: in.share("cheese_salt"),
		Batch: makes.Batch{Place: v.text("place"), Shape: in.shape(shape.Form(v.text("shape")))},
	}
}

// shape reads the measures of a wheel.
func (in *figures) shape(form shape.Form) shape.Shape {
	s, err := shape.Shape{
		Form: form, Diameter: in.length("diameter"), Height: in.length("height"),
		Length: in.length("length"), Width: in.length("width"), TopLength: in.length("top"),
	}.Completed()
	if err != nil && in.err == nil {
		in.err = app.Misread("shape", err)
	}
	return s
}
