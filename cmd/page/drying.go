package page

import (
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/plot"
)

// How wheels dry.

func verdicts(c *call, what ...string) (drying.Verdicts, error) {
	v, err := drying.DryEnough(c.ctx, c.app, c.caller, what)
	if err == nil {
		c.words().FillVerdicts(&v)
	}
	return v, err
}

func showVerdicts(c *call) (any, error) { return verdicts(c) }

func showVerdict(c *call) (any, error) { return verdicts(c, c.name()) }

// mostDays is how many days of drying a curve shows at most.
const mostDays = 3650

func curves(c *call) (drying.Curves, error) {
	days, err := c.number("days", 0)
	if err != nil {
		return drying.Curves{}, err
	}
	if days < 0 || days > mostDays {
		return drying.Curves{}, badRequestf("days", "days is out of range; give 1 to %d", mostDays)
	}
	return drying.Draw(c.ctx, c.app, c.caller, drying.CurveQuestion{What: c.name(), Days: days})
}

func showCurve(c *call) (any, error) {
	d, err := curves(c)
	if len(d.Wheels) == 1 {
		return d.Wheels[0], err
	}
	return d, err
}

func curvePicture(c *call) ([]byte, error) {
	d, err := curves(c)
	if err != nil {
		return nil, err
	}
	return c.picture(plot.Drying(d.Wheels), size{600, 400}, size{340, 360}), nil
}
