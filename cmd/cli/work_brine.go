package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

// brineCaution stands wherever brine is about to be handled. That salt does not
// kill listeria: it grows down to a water activity of 0.92 (ICMSF 1996) and
// lives on below it (from memory).
const brineCaution = "CAUTION: brine stings eyes and cuts and makes floors slippery. It does not kill listeria, and carries what one wheel has to the next: keep it cold and clean, have it tested, and follow your local rules."

type mixDoc struct {
	Volume *float64 `json:"volume_l"`
	Now    *float64 `json:"now_pct"`
	To     *float64 `json:"to_pct"`
	Brine  *float64 `json:"brine_g"`
	Salt   *float64 `json:"salt_g"`
	Water  *float64 `json:"water_g"`
	After  *float64 `json:"volume_after_l"`
}

type soakDoc struct {
	Weight    *float64        `json:"weight_g"`
	Thickness *float64        `json:"thickness_cm"`
	Rule      *float64        `json:"rule_h"`
	Diffusion *diffusionHours `json:"diffusion"`
}

// diffusionHours spans the published diffusivities; it is no 90 % interval.
type diffusionHours struct {
	Salt     *float64 `json:"salt_pct"`
	Moisture *float64 `json:"moisture_pct"`
	Shortest *float64 `json:"shortest_h"`
	Middle   *float64 `json:"middle_h"`
	Longest  *float64 `json:"longest_h"`
}

type brineDoc struct {
	Schema    string   `json:"schema"`
	Salt      *float64 `json:"salt_pct"`
	PerBrine  *float64 `json:"salt_g_per_100g_brine"`
	PerWater  *float64 `json:"salt_g_per_100g_water"`
	Density   *float64 `json:"density_g_ml"`
	Gravity   *float64 `json:"specific_gravity_60f"`
	Baume     *float64 `json:"baume"`
	Salometer *float64 `json:"salometer_deg"`
	Freezing  *float64 `json:"freezing_c"`
	SaltFirst bool     `json:"salt_before_ice"`
	New       *mixDoc  `json:"new_brine"`
	Back      *mixDoc  `json:"bring_back"`
	Time      *soakDoc `json:"time_in_brine"`
	Explain   []reason `json:"explain,omitempty"`
}

func (a *app) workBrineCmd() *cobra.Command {
	var salt, perWater, baume, salometer, volume, now, to, weight, thick, cheeseSalt, moisture string
	var ex explaining
	c := a.cmd("brine", "Strength of a brine, salt to bring it back, time in it", `
rindkeep work brine --salt 20%                       g per 100 g of brine
rindkeep work brine --salt-per-water 25%             g per 100 g of water
rindkeep work brine --baume 19                       by the hydrometer
rindkeep work brine --salt 20% --volume 80l          to make a new one
rindkeep work brine --volume 80l --now 17% --to 20%  to bring one back
rindkeep work brine --salt 20% --weight 2kg --thickness 8cm
rindkeep work brine --salt 20% --weight 2kg --thickness 8cm --cheese-salt 1.8% --moisture 42%`, none, func(cmd *cobra.Command, _ []string) error {
		s, err := brineStrength(salt, perWater, baume, salometer, now, to)
		if err != nil {
			return err
		}
		b, err := wheel.BrineOf(s)
		if err != nil {
			return usageError{Msg: err.Error()}
		}
		doc := brineDoc{
			Schema: schema("work-brine"), Salt: pctNum(b.Strength), PerBrine: pctNum(b.Strength), PerWater: pctNum(b.PerWater), Density: num(b.Density), Gravity: num(b.SG60),
			Baume: num(b.Baume), Salometer: num(b.Salometer), Freezing: num(float64(b.Freezing)), SaltFirst: b.SaltFirst,
		}
		why := []reason{whyPerWater, whyDensity, whyBaume, whySalometer, whyFreezing}
		var v quantity.Litres
		var x wheel.Mix
		if volume != "" {
			if v, err = need("--volume", volume, quantity.ParseVolume); err != nil {
				return err
			}
			if now == "" {
				if x, err = wheel.NewBrine(v, s); err != nil {
					return usageError{Msg: err.Error()}
				}
				doc.New = mixOf(x, v)
				doc.New.To = pctNum(s)
				why = append(why, whyNewBrine)
			} else {
				n, err := need("--now", now, quantity.ParsePercent)
				if err != nil {
					return err
				}
				if x, err = wheel.CorrectBrine(v, n, s); err != nil {
					return usageError{Msg: err.Error()}
				}
				doc.Back = mixOf(x, v)
				doc.Back.Now, doc.Back.To = pctNum(n), pctNum(s)
				why = append(why, whyBringBack)
			}
		} else if now != "" {
			return usagef("--volume is missing: how much brine there is, like 80l")
		}
		var w quantity.Grams
		var h quantity.Metres
		if weight != "" || thick != "" {
			if w, err = need("--weight", weight, quantity.ParseWeight); err != nil {
				return err
			}
			if h, err = need("--thickness", thick, quantity.ParseLength); err != nil {
				return err
			}
			if doc.Time, err = soakTime(s, w, h, cheeseSalt, moisture); err != nil {
				return err
			}
			why = append(why, whyBrineRule)
			if doc.Time.Diffusion != nil {
				why = append(why, whyBrineDiffusion)
			}
		} else if cheeseSalt != "" || moisture != "" {
			return usagef("--cheese-salt and --moisture are for the time in the brine; give --weight and --thickness too")
		}
		doc.Explain = ex.of(why...)
		if a.json {
			return a.document(doc)
		}
		a.printBrine(doc, v, x, w, h)
		return nil
	})
	f := c.Flags()
	f.StringVar(&salt, "salt", "", "strength: `PERCENT`, g of salt per 100 g of brine")
	f.StringVar(&perWater, "salt-per-water", "", "the same as `PERCENT`, g of salt per 100 g of water")
	f.StringVar(&baume, "baume", "", "the same in `DEGREES` Baume at 60 F")
	f.StringVar(&salometer, "salometer", "", "the same in `DEGREES` of the salometer at 60 F")
	f.StringVar(&volume, "volume", "", "`VOLUME` of brine, to make or to bring back")
	f.StringVar(&now, "now", "", "strength it has now, `PERCENT` of the brine")
	f.StringVar(&to, "to", "", "strength to bring it to, `PERCENT` of the brine")
	f.StringVar(&weight, "weight", "", "a wheel's `WEIGHT`, for its time in the brine")
	f.StringVar(&thick, "thickness", "", "its `LENGTH` through")
	f.StringVar(&cheeseSalt, "cheese-salt", "", "`PERCENT` salt wanted in the cheese, for an estimate by diffusion")
	f.StringVar(&moisture, "moisture", "", "`PERCENT` moisture of the cheese, for the same")
	ex.add(c)
	return c
}

// brineStrength reads the strength in the one way it was given.
func brineStrength(salt, perWater, baume, salometer, now, to string) (quantity.Fraction, error) {
	degrees := func(flag, value string, of func(float64) quantity.Fraction) (quantity.Fraction, error) {
		p, err := need(flag, value, quantity.ParseDegrees)
		return of(p), err
	}
	var given []string
	for _, f := range []struct{ flag, value string }{{"--salt", salt}, {"--salt-per-water", perWater}, {"--baume", baume}, {"--salometer", salometer}, {"--to", to}} {
		if f.value != "" {
			given = append(given, f.flag)
		}
	}
	switch {
	case len(given) == 0 && now != "":
		return 0, usagef("--to is missing: the strength to bring the brine to, like 20%%")
	case len(given) == 0:
		return 0, usagef("--salt is missing: g of salt per 100 g of brine, like 20%%")
	case len(given) > 1:
		return 0, usagef("%s and %s both give a strength; give one", given[0], given[1])
	case to != "" && now == "":
		return 0, usagef("--now is missing: the strength the brine has, like 17%%")
	case now != "" && to == "":
		return 0, usagef("--now goes with --to, not with %s", given[0])
	}
	switch {
	case perWater != "":
		p, err := need("--salt-per-water", perWater, quantity.ParsePercent)
		return wheel.OfPerWater(p), err
	case baume != "":
		return degrees("--baume", baume, wheel.OfBaume)
	case salometer != "":
		return degrees("--salometer", salometer, wheel.OfSalometer)
	case to != "":
		return need("--to", to, quantity.ParsePercent)
	}
	return need("--salt", salt, quantity.ParsePercent)
}

func mixOf(x wheel.Mix, v quantity.Litres) *mixDoc {
	d := &mixDoc{Volume: num(float64(v)), Salt: num(float64(x.Salt)), Water: num(float64(x.Water)), After: num(float64(x.Volume))}
	if x.Before > 0 {
		d.Brine = num(float64(x.Before))
	}
	return d
}

func soakTime(s quantity.Fraction, w quantity.Grams, h quantity.Metres, cheeseSalt, moisture string) (*soakDoc, error) {
	var err error
	d := &soakDoc{Weight: num(float64(w)), Thickness: num(h.Centimetres()), Rule: num(float64(wheel.BrineTimeByRule(w, h)))}
	if cheeseSalt == "" && moisture == "" {
		return d, nil
	}
	k := wheel.Soak{Weight: w, Thick: h, Brine: s}
	if k.Salt, err = need("--cheese-salt", cheeseSalt, quantity.ParsePercent); err != nil {
		return nil, err
	}
	if k.Moisture, err = need("--moisture", moisture, quantity.ParsePercent); err != nil {
		return nil, err
	}
	t, err := k.Time()
	if err != nil {
		return nil, usageError{Msg: err.Error()}
	}
	d.Diffusion = &diffusionHours{pctNum(k.Salt), pctNum(k.Moisture), num(float64(t.Short)), num(float64(t.Middle)), num(float64(t.Long))}
	return d, nil
}

func (a *app) printBrine(d brineDoc, v quantity.Litres, x wheel.Mix, w quantity.Grams, h quantity.Metres) {
	if m := d.Back; m != nil {
		what := fmt.Sprintf("add %s of salt", bulk(a.units, x.Salt))
		switch {
		case x.Water > 0:
			what = fmt.Sprintf("add %s of water", bulk(a.units, x.Water))
		case x.Salt == 0:
			what = "add nothing"
		}
		a.print("%s to %s of brine (%s): from %.2f to %.2f %%\n", what, a.units.Volume(v), bulk(a.units, x.Before), *m.Now, *m.To)
		a.print("it will be %s then\n", a.units.Volume(x.Volume))
		a.print("\n")
	}
	if d.New != nil {
		a.print("%s of salt and %s of water make %s of brine\n\n", bulk(a.units, x.Salt), bulk(a.units, x.Water), a.units.Volume(v))
	}
	t := text.Table{Columns: []text.Column{{}, {Right: true}, {Wrap: true}}}
	t.Add("strength", fmt.Sprintf("%.2f %%", *d.Salt), "g of salt per 100 g of brine")
	t.Add("on the water", fmt.Sprintf("%.2f %%", *d.PerWater), "g of salt per 100 g of water")
	t.Add("density", fmt.Sprintf("%.4f g/ml", *d.Density), "at 20 C")
	t.Add("Baume", fmt.Sprintf("%.1f deg", *d.Baume), fmt.Sprintf("at 60 F (15.6 C), specific gravity %.4f", *d.Gravity))
	t.Add("salometer", fmt.Sprintf("%.1f deg", *d.Salometer), "at 60 F (15.6 C), 100 is full")
	note := "ice begins to form"
	if d.SaltFirst {
		note = "all is frozen; salt drops out before"
	}
	t.Add("freezing", a.units.Temp(quantity.Celsius(*d.Freezing)), note)
	a.lines(t.Lines(a.env.Columns()))
	if k := d.Time; k != nil {
		a.print("\ntime in brine of a wheel of %s, %s through\n", a.units.Weight(w), a.units.Length(h))
		t := text.Table{Columns: []text.Column{{}, {Right: true}, {Wrap: true}}, Indent: 2}
		t.Add("by rule", hours(*k.Rule), "an hour per pound and inch in a nearly full brine (common practice, no source)")
		if e := k.Diffusion; e != nil {
			t.Add("by diffusion", hours(*e.Middle), fmt.Sprintf("%s to %s: an estimate for %.2f %% salt at %.1f %% moisture in this brine, over the published range of how fast salt moves", hours(*e.Shortest), hours(*e.Longest), *e.Salt, *e.Moisture))
		}
		a.lines(t.Lines(a.env.Columns()))
		if k.Diffusion == nil {
			a.next("an estimate by diffusion too: add --cheese-salt 1.8%% --moisture 42%%")
		}
		a.next("start short, weigh, taste and note what came of it; the salt takes weeks from the rind to the middle")
	}
	a.explain(d.Explain)
	if !a.quiet {
		a.print("\n")
		a.caution(brineCaution)
	}
}

// hours writes a time in a brine with as many figures as it is worth.
func hours(h float64) string {
	if h < 10 {
		return fmt.Sprintf("%.1f h", h)
	}
	return fmt.Sprintf("%.0f h", h)
}

// bulk writes a mass that may be more than a wheel's: kilograms from 1 kg up.
func bulk(u quantity.Units, g quantity.Grams) string {
	if u == quantity.Imperial || g < 1000 {
		return u.Weight(g)
	}
	return fmt.Sprintf("%.2f kg", g.Kilograms())
}
