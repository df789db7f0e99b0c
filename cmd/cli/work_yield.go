package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

type yieldDoc struct {
	Schema   string   `json:"schema"`
	Fat      *float64 `json:"fat_pct"`
	Casein   *float64 `json:"casein_pct"`
	Moisture *float64 `json:"moisture_pct"`
	Yield    *float64 `json:"yield_pct"`
	Milk     *float64 `json:"milk_kg"`
	Cheese   *float64 `json:"cheese_kg"`
	Got      *float64 `json:"got_kg"`
	GotYield *float64 `json:"got_yield_pct"`
	GotOf    *float64 `json:"got_of_expected_pct"`
	Explain  []reason `json:"explain,omitempty"`
}

func (a *app) workYieldCmd() *cobra.Command {
	var fat, casein, protein, moisture, milk, got string
	var ex explaining
	c := a.cmd("yield", "Cheddar a milk should give, by fat and casein", `
rindkeep work yield --fat 3.6% --casein 2.5% --moisture 37%
rindkeep work yield --fat 3.6% --casein 2.5% --moisture 37% --milk 100l --got 10.2kg
rindkeep work yield --fat 3.9% --protein 3.4% --moisture 38% --milk 1200kg --explain`, none, func(cmd *cobra.Command, _ []string) error {
		f, err := need("--fat", fat, quantity.ParsePercent)
		if err != nil {
			return err
		}
		why := []reason{whyYield}
		var cas quantity.Fraction
		switch {
		case casein != "" && protein != "":
			return usagef("--casein and --protein both give the casein; give one")
		case protein != "":
			if cas, err = need("--protein", protein, quantity.ParsePercent); err != nil {
				return err
			}
			cas *= wheel.CaseinOfProtein
			why = append(why, whyCasein)
		case casein == "":
			return usagef("--casein is missing: percent of the milk, like 2.5%% (or --protein)")
		default:
			if cas, err = need("--casein", casein, quantity.ParsePercent); err != nil {
				return err
			}
		}
		m, err := need("--moisture", moisture, quantity.ParsePercent)
		if err != nil {
			return err
		}
		y, err := wheel.VanSlyke(f, cas, m)
		if err != nil {
			return usageError{Msg: err.Error()}
		}
		doc := yieldDoc{Schema: schema("work-yield"), Fat: pctNum(f), Casein: pctNum(cas), Moisture: pctNum(m), Yield: pctNum(y)}
		if milk == "" && got != "" {
			return usagef("--milk is missing: how much the cheese came from, like 100l or 103kg")
		}
		var v wheel.Vat
		var g quantity.Grams
		if milk != "" {
			mass, byVolume, err := milkMass(milk)
			if err != nil {
				return err
			}
			if byVolume {
				why = append(why, whyMilkDensity)
			}
			v = wheel.VatOf(mass, y)
			doc.Milk, doc.Cheese = num(mass.Kilograms()), num(v.Cheese.Kilograms())
			if got != "" {
				if g, err = need("--got", got, quantity.ParseBulk); err != nil {
					return err
				}
				if g >= mass {
					return at("--got", usagef("%s of cheese cannot come from %s of milk", bulk(a.units, g), bulk(a.units, mass)))
				}
				r, of := v.Got(g)
				doc.Got, doc.GotYield, doc.GotOf = num(g.Kilograms()), pctNum(r), pctNum(of)
			}
		}
		doc.Explain = ex.of(why...)
		if a.json {
			return a.document(doc)
		}
		a.lines(text.Wrap(fmt.Sprintf("%.2f kg of cheddar of %.1f %% moisture from 100 kg of milk with %.2f %% fat and %.2f %% casein", *doc.Yield, *doc.Moisture, *doc.Fat, *doc.Casein), a.env.Columns()))
		t := text.Table{Columns: []text.Column{{}, {Right: true}, {Wrap: true}}}
		if doc.Milk != nil {
			t.Add("milk", bulk(a.units, v.Milk), "")
			t.Add("expected", bulk(a.units, v.Cheese), "of cheese, out of the press and salted")
		}
		if doc.Got != nil {
			t.Add("got", bulk(a.units, g), fmt.Sprintf("%.2f %% of the milk, %.1f %% of what was expected", *doc.GotYield, *doc.GotOf))
		}
		a.lines(t.Lines(a.env.Columns()))
		a.next("the formula is for cheddar from cow's milk; for other kinds compare your own makes with each other")
		a.explain(doc.Explain)
		return nil
	})
	fl := c.Flags()
	fl.StringVar(&fat, "fat", "", "`PERCENT` fat of the milk")
	fl.StringVar(&casein, "casein", "", "`PERCENT` casein of the milk")
	fl.StringVar(&protein, "protein", "", "`PERCENT` protein of the milk, where casein is not known")
	fl.StringVar(&moisture, "moisture", "", "`PERCENT` moisture the cheese will have")
	fl.StringVar(&milk, "milk", "", "`VOLUME` or weight of milk: 100l, 103kg")
	fl.StringVar(&got, "got", "", "`WEIGHT` of cheese that came of it, to compare")
	ex.add(c)
	return c
}

// milkMass reads milk by volume or by weight.
func milkMass(s string) (g quantity.Grams, byVolume bool, err error) {
	w := strings.ToLower(strings.TrimSpace(s))
	for _, u := range []string{"kg", "g", "lb", "lbs", "oz", "t"} {
		if strings.HasSuffix(w, u) {
			g, err = need("--milk", s, quantity.ParseBulk)
			return g, false, err
		}
	}
	v, err := need("--milk", s, quantity.ParseVolume)
	return wheel.MilkMass(v), true, err
}
