package page

import (
	"time"

	"rindkeep/cmd/app/library"
)

// The makes, and what they are made of.

func listVarieties(c *call) (any, error) { return library.Varieties(c.ctx, c.app, c.caller) }

func listPlans(c *call) (any, error) { return library.Plans(c.ctx, c.app, c.caller) }

func newMake(c *call) (View, error) {
	v, err := library.Varieties(c.ctx, c.app, c.caller)
	if err != nil {
		return View{}, err
	}
	plans, err := library.Plans(c.ctx, c.app, c.caller)
	if err != nil {
		return View{}, err
	}
	return View{Template: "makenew.html", Title: "A new make", Here: "makes", Body: struct {
		Varieties []library.VarietyLine
		Plans     []library.PlanLine
		Places    []string
		Today     string
	}{v.Varieties, plans.Plans, places(c), c.s.opt.Now().Format(time.DateOnly)}}, nil
}
