package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

type pressDoc struct {
	Schema   string   `json:"schema"`
	Asked    string   `json:"asked"` // pressure or load
	Load     *float64 `json:"load_g"`
	Lever    *float64 `json:"lever_ratio"`
	Face     *float64 `json:"surface_cm2"`
	Force    *float64 `json:"force_n"`
	KPa      *float64 `json:"pressure_kpa"`
	KgPerCm2 *float64 `json:"pressure_kg_cm2"`
	Psi      *float64 `json:"pressure_psi"`
	Explain  []reason `json:"explain,omitempty"`
}

func (a *app) workPressCmd() *cobra.Command {
	var load, pressure, lever, diameter, length, width string
	var ex explaining
	c := a.cmd("press", "Pressure on a cheese from load and lever, or the load for a pressure", `
rindkeep work press --load 10kg --lever 4 --diameter 15cm
rindkeep work press --load 20kg --length 20cm --width 10cm
rindkeep work press --pressure 25kPa --lever 4 --diameter 15cm     the load for it
rindkeep work press --pressure 0.25kg/cm2 --diameter 15cm          or 3.5psi`, none, func(cmd *cobra.Command, _ []string) error {
		var p wheel.Press
		var err error
		switch {
		case load == "" && pressure == "":
			return usagef("--load is missing: the weight on the press, like 10kg (or --pressure, for the load it needs)")
		case load != "" && pressure != "":
			return usagef("--load and --pressure follow from each other; give one")
		case diameter != "" && (length != "" || width != ""):
			return usagef("--diameter is of a round mould, --length and --width of one with sides; give the one or the others")
		case diameter != "":
			across, err := need("--diameter", diameter, quantity.ParseLength)
			if err != nil {
				return err
			}
			if p.Face, err = wheel.RoundFace(across); err != nil {
				return at("--diameter", usageError{Msg: err.Error()})
			}
		case length != "" || width != "":
			l, err := need("--length", length, quantity.ParseLength)
			if err != nil {
				return err
			}
			w, err := need("--width", width, quantity.ParseLength)
			if err != nil {
				return err
			}
			if p.Face, err = wheel.SquareFace(l, w); err != nil {
				return usageError{Msg: err.Error()}
			}
		default:
			return usagef("the mould's measures are missing: give --diameter, or --length and --width")
		}
		if p.Lever, err = need("--lever", lever, quantity.ParseRatio); err != nil {
			return err
		}
		doc := pressDoc{Schema: schema("work-press"), Asked: "pressure", Lever: num(p.Lever), Explain: ex.of(whyPressure, whyFace, whyPressureUnits)}
		if load != "" {
			if p.Load, err = need("--load", load, quantity.ParseBulk); err != nil {
				return err
			}
		} else {
			want, err := need("--pressure", pressure, quantity.ParsePressure)
			if err != nil {
				return err
			}
			doc.Asked, p.Load = "load", p.LoadFor(want)
		}
		if err := p.Check(); err != nil {
			return usageError{Msg: err.Error()}
		}
		on := p.Pressure()
		doc.Load, doc.Face, doc.Force = num(float64(p.Load)), num(p.FaceCm2()), num(p.Force())
		doc.KPa, doc.KgPerCm2, doc.Psi = num(on.In(quantity.KilopascalPa)), num(on.In(quantity.KilogramPerCm2)), num(on.In(quantity.PoundPerInch2))
		if a.json {
			return a.document(doc)
		}
		if doc.Asked == "load" {
			a.print("load %s", bulk(a.units, p.Load))
			if p.Lever != 1 {
				a.print(" on a lever of %.4g to 1", p.Lever)
			}
			a.print("\n\n")
		}
		t := text.Table{Columns: []text.Column{{}, {Right: true}, {Wrap: true}}}
		t.Add("pressure", fmt.Sprintf("%.2f kPa", *doc.KPa), "at the cheese")
		t.Add("", fmt.Sprintf("%.3f kg/cm2", *doc.KgPerCm2), "")
		t.Add("", fmt.Sprintf("%.2f psi", *doc.Psi), "")
		t.Add("force", fmt.Sprintf("%.1f N", *doc.Force), fmt.Sprintf("on %.1f cm2", *doc.Face))
		a.lines(t.Lines(a.env.Columns()))
		a.next("\nthe follower's and the beam's own weight press too: add them to the load. Press lightly first and raise it in steps; usual at the end 5 to 40 kPa for washed-curd kinds, 40 to 200 kPa for cheddar kinds (common practice, no source)")
		a.explain(doc.Explain)
		return nil
	})
	f := c.Flags()
	f.StringVar(&load, "load", "", "`WEIGHT` on the press")
	f.StringVar(&pressure, "pressure", "", "`PRESSURE` wanted at the cheese: 25kPa, 0.25kg/cm2, 3.5psi")
	f.StringVar(&lever, "lever", "1", "how many `TIMES` the lever makes of the load: 4 or 4:1")
	f.StringVar(&diameter, "diameter", "", "`LENGTH` across a round mould")
	f.StringVar(&length, "length", "", "`LENGTH` of a mould with sides")
	f.StringVar(&width, "width", "", "`LENGTH` of its other side")
	ex.add(c)
	return c
}
