package page

import (
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/makes"
)

// The samples for laboratories, and their results.

func listSamples(c *call) (any, error) {
	open, err := c.truth("open")
	if err != nil {
		return nil, err
	}
	most, err := c.number("most", 0)
	if err != nil {
		return nil, err
	}
	return makes.Samples(c.ctx, c.app, c.caller, makes.SamplesAsked{Lots: c.q["what"], Open: open, Most: most})
}

func listLimits(c *call) (any, error) {
	return library.Limits(c.ctx, c.app, c.caller, c.text("test"))
}

func saveSample(c *call, v values) (any, error) {
	q := makes.NewSample{
		Lot: v.text("lot"), Tests: v.list("tests"), Lab: v.text("lab"), Number: v.text("number"), Note: v.text("note"),
		Sure: v.truth("sure"),
	}
	return record(c, nil, makes.TakeSample, q, nil)
}

func saveResult(c *call, v values) (any, error) {
	q := makes.NewResult{
		Lot: v.text("lot"), Number: v.text("sample"), Test: v.text("test"), Found: v.text("found"), Report: v.text("report"),
		Note: v.text("note"),
	}
	return record(c, nil, makes.EnterResult, q, nil)
}

// labLine is a test of a lot in words.
type labLine struct {
	makes.LabTest
	Words string
}

// labLines are the tests of a lot as its page shows them.
func labLines(c *call, m makes.Shown) (out []labLine) {
	for _, t := range m.Samples {
		out = append(out, labLine{t, c.words().LabTest(t)})
	}
	return out
}

// testNames are the tests with limits on file, for a field to offer.
func testNames(c *call) (out []string) {
	d, _ := library.Limits(c.ctx, c.app, c.caller, "")
	seen := map[string]bool{}
	for _, l := range d.Limits {
		if !seen[l.Test] {
			seen[l.Test] = true
			out = append(out, l.Test)
		}
	}
	return out
}
