package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
	"rindkeep/wheel/shape"
)

func (a *app) workCmd() *cobra.Command {
	return a.group("work", "Sums for the bench, no book needed: salt, brine, press, yield, air, curves",
		a.workSaltCmd(), a.workBrineCmd(), a.workPressCmd(), a.workYieldCmd(), a.workMoistureCmd(), a.workAirCmd(), a.workCurveCmd(), a.workFitCmd())
}

func (a *app) workSaltCmd() *cobra.Command {
	var curd, rate, moisture, kept string
	var ex explaining
	c := a.cmd("salt", "Salt for a weight of curd", `
rindkeep work salt --curd 4.2kg --rate 1.8%
rindkeep work salt --curd 4.2kg --rate 1.8% --moisture 37%`, none, func(cmd *cobra.Command, _ []string) error {
		g, err := need("--curd", curd, quantity.ParseWeight)
		if err != nil {
			return err
		}
		r, err := need("--rate", rate, quantity.ParsePercent)
		if err != nil {
			return err
		}
		k, err := need("--kept", kept, quantity.ParsePercent)
		if err != nil {
			return err
		}
		salt := wheel.SaltFor(g, r)
		doc := struct {
			Schema string   `json:"schema"`
			CurdG  *float64 `json:"curd_g"`
			Rate   *float64 `json:"rate_pct"`
			SaltG  *float64 `json:"salt_g"`
			SM     *float64 `json:"salt_in_moisture_pct"`

			Explain []reason `json:"explain,omitempty"`
		}{Schema: schema("work-salt"), CurdG: num(float64(g)), Rate: pctNum(r), SaltG: num(float64(salt)), Explain: ex.of(whySalt)}
		var sm quantity.Fraction
		if moisture != "" {
			m, err := need("--moisture", moisture, quantity.ParsePercent)
			if err != nil {
				return err
			}
			if m == 0 {
				return at("--moisture", fmt.Errorf("a moisture of 0 %% leaves nothing to dissolve the salt; give the cheese's moisture, like 37%%"))
			}
			sm = wheel.SaltInMoisture(r*k, m)
			doc.SM = pctNum(sm)
			doc.Explain = ex.of(whySalt, whySaltInMoisture)
		}
		if a.json {
			return a.document(doc)
		}
		a.print("%s of salt for %s of curd at %.2f %%\n", saltWeight(a.units, salt), a.units.Weight(g), r.Percent())
		if moisture != "" {
			a.print("salt in moisture %.2f %% (salt over moisture) if the cheese keeps %.0f %% of it\n", sm.Percent(), k.Percent())
		}
		a.next("milled curd is usually given 1.5 to 2.5 %% (common practice, no source) and keeps about half of dry salt: weigh, taste, note")
		a.explain(doc.Explain)
		return nil
	})
	f := c.Flags()
	f.StringVar(&curd, "curd", "", "`WEIGHT` of curd")
	f.StringVar(&rate, "rate", "", "salt as a `PERCENT` of the curd's weight")
	f.StringVar(&moisture, "moisture", "", "`PERCENT` moisture of the cheese, for salt in moisture")
	f.StringVar(&kept, "kept", "100%", "`PERCENT` of the salt the cheese keeps")
	ex.add(c)
	return c
}

func saltWeight(u quantity.Units, g quantity.Grams) string {
	if u == quantity.Imperial {
		return u.Weight(g)
	}
	return fmt.Sprintf("%.1f g", float64(g))
}

func (a *app) workMoistureCmd() *cobra.Command {
	var start, loss, fat, salt string
	var ex explaining
	c := a.cmd("moisture", "Moisture and its ratios after a loss", `
rindkeep work moisture --start 39% --loss 5%
rindkeep work moisture --start 39% --loss 5% --fat 31% --salt 1.7%`, none, func(cmd *cobra.Command, _ []string) error {
		m0, err := need("--start", start, quantity.ParsePercent)
		if err != nil {
			return err
		}
		l, err := need("--loss", loss, quantity.ParsePercent)
		if err != nil {
			return err
		}
		f0, hasFat, err := maybe("--fat", fat, quantity.ParsePercent)
		if err != nil {
			return err
		}
		s0, hasSalt, err := maybe("--salt", salt, quantity.ParsePercent)
		if err != nil {
			return err
		}
		if l > m0 {
			return at("--loss", fmt.Errorf("a loss of %.4g %% is more water than the %.4g %% there is; give a loss under %.4g%%", l.Percent(), m0.Percent(), m0.Percent()))
		}
		if m0+f0+s0 > 1 {
			return at("--start", fmt.Errorf("moisture, fat and salt come to %.4g %%; together they are under 100%%", (m0+f0+s0).Percent()))
		}
		n := wheel.Composition{Moisture: m0, Fat: f0, Salt: s0}.After(l)
		doc := struct {
			Schema   string   `json:"schema"`
			Moisture *float64 `json:"moisture_pct"`
			MFFB     *float64 `json:"mffb_pct"`
			FDM      *float64 `json:"fdm_pct"`
			SM       *float64 `json:"salt_in_moisture_pct"`
			AW       *float64 `json:"water_activity"`
			Firmness []string `json:"firmness"`
			FatClass *string  `json:"fat_class"`
			Explain  []reason `json:"explain,omitempty"`
		}{Schema: schema("work-moisture"), Moisture: num(100 * n.Moisture.Best), Firmness: []string{}}
		why := []reason{whyMoisture}
		if hasFat {
			why = append(why, whyMFFB, whyFDM)
			doc.MFFB, doc.FDM = num(100*n.MFFB.Best), num(100*n.FDM.Best)
			doc.Firmness = filled(wheel.Firmness(quantity.Fraction(n.MFFB.Best)))
			class := wheel.FatClass(quantity.Fraction(n.FDM.Best))
			doc.FatClass = &class
		}
		if hasSalt {
			why = append(why, whySaltInMoisture, whyActivity)
			doc.SM, doc.AW = num(100*n.SaltInMoisture.Best), num(n.WaterActivity.Best)
		}
		doc.Explain = ex.of(why...)
		if a.json {
			return a.document(doc)
		}
		t := text.Table{Columns: []text.Column{{}, {Right: true}, {Wrap: true}}}
		t.Add("moisture", fmt.Sprintf("%.2f %%", 100*n.Moisture.Best), "M = 1 - (1 - M0)/(1 - loss)")
		if hasFat {
			t.Add("moisture on fat-free basis", fmt.Sprintf("%.2f %%", 100*n.MFFB.Best), or(doc.Firmness)+" by the Codex bands")
			t.Add("fat in dry matter", fmt.Sprintf("%.2f %%", 100*n.FDM.Best), *doc.FatClass)
		}
		if hasSalt {
			t.Add("salt in moisture", fmt.Sprintf("%.2f %%", 100*n.SaltInMoisture.Best), "salt over moisture")
			t.Add("water activity", fmt.Sprintf("%.3f", n.WaterActivity.Best), "from the salt alone; drier cheese is lower")
		}
		a.lines(t.Lines(a.env.Columns()))
		a.explain(doc.Explain)
		return nil
	})
	f := c.Flags()
	f.StringVar(&start, "start", "", "`PERCENT` moisture at the start")
	f.StringVar(&loss, "loss", "", "`PERCENT` of weight lost since")
	f.StringVar(&fat, "fat", "", "`PERCENT` fat at the start")
	f.StringVar(&salt, "salt", "", "`PERCENT` salt at the start")
	ex.add(c)
	return c
}

func or(ws []string) string {
	switch len(ws) {
	case 0:
		return ""
	case 1:
		return ws[0]
	}
	return ws[0] + " or " + ws[1]
}

// shapeFlags are the measures of a wheel as flags.
type shapeFlags struct{ form, diameter, height, length, width, top string }

func (s *shapeFlags) add(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&s.form, "shape", "", "`cylinder|block|sphere|pyramid` (told by the measures where it can be)")
	f.StringVar(&s.diameter, "diameter", "", "`LENGTH` across")
	f.StringVar(&s.height, "height", "", "`LENGTH` high")
	f.StringVar(&s.length, "length", "", "`LENGTH` of a block, or of a pyramid's base")
	f.StringVar(&s.width, "width", "", "`LENGTH` of a block's other side")
	f.StringVar(&s.top, "top", "", "`LENGTH` of a pyramid's top edge")
}

// given reads the flags; a shape without form means none was given.
func (s *shapeFlags) given() (shape.Shape, error) {
	var sh shape.Shape
	for _, m := range []struct {
		flag, value string
		to          *quantity.Metres
	}{{"--diameter", s.diameter, &sh.Diameter}, {"--height", s.height, &sh.Height}, {"--length", s.length, &sh.Length}, {"--width", s.width, &sh.Width}, {"--top", s.top, &sh.TopLength}} {
		v, _, err := maybe(m.flag, m.value, quantity.ParseLength)
		if err != nil {
			return sh, err
		}
		*m.to = v
	}
	sh.Form = shape.Form(s.form)
	if s.form == "" {
		switch {
		case sh.TopLength > 0:
			sh.Form = shape.Pyramid
		case sh.Diameter > 0 && sh.Height > 0:
			sh.Form = shape.Cylinder
		case sh.Length > 0 && sh.Height > 0:
			sh.Form = shape.Block
			if sh.Width == 0 {
				sh.Width = sh.Length
			}
		case sh.Diameter > 0:
			return sh, usagef("--diameter needs --height, or --shape sphere")
		case sh.Height > 0 || sh.Length > 0 || sh.Width > 0:
			return sh, usagef("the measures do not make a shape; give --diameter and --height, or --length, --width and --height")
		default:
			return shape.Shape{}, nil
		}
	}
	if err := sh.Check(); err != nil {
		return sh, usageError{Msg: err.Error()}
	}
	return sh, nil
}

// problems prints every bad row and fails.
func (a *app) problems(file string, bad []intake.Problem) error {
	const most = 200
	for i, p := range bad {
		if i == most {
			fmt.Fprintf(a.env.Err, "… and %d more\n", len(bad)-most)
			break
		}
		if a.json {
			continue
		}
		fmt.Fprintf(a.env.Err, "%s %s\n", safeWord(file), p)
	}
	rows := text.Count(len(bad), "problem")
	if a.json {
		rows += "; the first: " + bad[0].String()
	}
	return at(fmt.Sprintf("%s:%d", file, bad[0].Line), fmt.Errorf("%s has %s; nothing was recorded", safeWord(file), rows))
}
