package cli

import (
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"rindkeep/cmd/app/work"
)

func TestEveryDocumentOfTheBenchKeepsItsFields(t *testing.T) {
	w := newWorld(t)
	fit := w.file("fit.csv", "day,weight_g\n0,2100\n1,2088\n3,2070\n7,2046\n14,2019\n")
	for _, c := range []struct{ name, line string }{
		{"work-brine", "work brine --salt 20%"},
		{"work-brine-back", "work brine --volume 80l --now 17% --to 20%"},
		{"work-brine-new", "work brine --salt 20% --volume 80l --weight 2kg --thickness 8cm"},
		{"work-brine-time", "work brine --salt 20% --weight 2kg --thickness 8cm --cheese-salt 1.8% --moisture 42% --explain"},
		{"work-press", "work press --load 10kg --lever 4 --diameter 15cm"},
		{"work-press-explained", "work press --pressure 25kPa --diameter 15cm --explain"},
		{"work-yield", "work yield --fat 3.6% --casein 2.5% --moisture 37%"},
		{"work-yield-got", "work yield --fat 3.6% --casein 2.5% --moisture 37% --milk 100l --got 10.2kg --explain"},
		{"work-salt-explained", "work salt --curd 4.2kg --rate 1.8% --moisture 37% --explain"},
		{"work-moisture-explained", "work moisture --start 39% --loss 5% --fat 31% --salt 1.7% --explain"},
		{"work-air-explained", "work air --temp 12 --rh 85 --explain"},
		{"work-curve-explained", "work curve --weight 2kg --diameter 15cm --height 10cm --moisture 38% --days 3 --explain"},
		{"work-curve-compare-explained",
			"work curve --weight 2kg --diameter 15cm --height 10cm --moisture 38% --rh 80,88 --days 3 --explain"},
		{"work-fit-explained", "work fit --from " + fit + " --explain"},
		{"work-fit-plain-explained", "work fit --from " + fit + " --prior none --explain"},
	} {
		var v map[string]any
		w.doc(&v, c.line)
		golden(t, filepath.Join("json", c.name+".txt"), strings.Join(shapeOf(v), "\n")+"\n")
		rs, asked := v["explain"].([]any)
		if asked != strings.Contains(c.line, "--explain") || asked && len(rs) == 0 {
			t.Errorf("rindkeep %s: explain is %v", c.line, v["explain"])
		}
		for _, r := range rs {
			m, _ := r.(map[string]any)
			if f, _ := m["formula"].(string); f == "" || m["source"] == "" || len(m) != 2 {
				t.Errorf("rindkeep %s: a reason without formula or source: %v", c.line, r)
			}
		}
	}
}

func TestTheNamesOthersRelyOnOfBrinePressAndYield(t *testing.T) {
	w := newWorld(t)
	for _, c := range []struct {
		line   string
		fields []string
	}{
		{"work brine --salt 20%", []string{"density_g_ml number", "baume number", "salometer_deg number", "freezing_c number",
			"salt_g_per_100g_brine number", "salt_g_per_100g_water number", "bring_back null", "time_in_brine null"}},
		{"work brine --volume 80l --now 17% --to 20%",
			[]string{"bring_back.salt_g number", "bring_back.water_g number", "bring_back.volume_after_l number"}},
		{"work press --load 10kg --diameter 15cm",
			[]string{"pressure_kpa number", "pressure_kg_cm2 number", "pressure_psi number", "load_g number"}},
		{"work yield --fat 3.6% --casein 2.5% --moisture 37%",
			[]string{"yield_pct number", "cheese_kg null", "got_of_expected_pct null"}},
	} {
		var v map[string]any
		w.doc(&v, c.line)
		shape := shapeOf(v)
		for _, f := range c.fields {
			if !slices.Contains(shape, f) {
				t.Errorf("rindkeep %s --json: no field %s; there is\n%s", c.line, f, strings.Join(shape, "\n"))
			}
		}
	}
}

func TestFiguresOfBrinePressAndYieldAreThoseReckonedByHand(t *testing.T) {
	w := newWorld(t)
	for _, c := range []struct {
		line, field string
		want, slip  float64
	}{
		// Tables of WNT 1974 and Lange's Handbook, 15th ed.; the salometer's scale.
		{"work brine --salt 20%", "density_g_ml", 1.1478, 1e-9},
		{"work brine --salt 20%", "freezing_c", -16.46, 1e-9},
		{"work brine --salt 20%", "salometer_deg", 75.772, 1e-3}, // 20/0.26395
		{"work brine --salt 20%", "salt_g_per_100g_water", 25, 1e-9},
		{"work brine --salt-per-water 25%", "salt_g_per_100g_brine", 20, 1e-9},
		{"work brine --salometer 100", "salt_pct", 26.395, 1e-6},
		{"work brine --salt 26.4%", "salt_g_per_100g_water", 35.87, 1e-2},
		{"work brine --salt 20% --volume 80l", "new_brine.salt_g", 18364.8, 1e-3},  // 80 x 1147.8 x 0.2
		{"work brine --salt 20% --volume 80l", "new_brine.water_g", 73459.2, 1e-3}, // and 0.8
		// 80 x 1124.0 x 0.03/0.80
		{"work brine --volume 80l --now 17% --to 20%", "bring_back.salt_g", 3372, 1},
		{"work brine --volume 80l --now 20% --to 18%", "bring_back.water_g", 10202.67, 0.01}, // 80 x 1147.8 x 2/18
		// 4.40925 lb x 3.14961 in
		{"work brine --salt 20% --weight 2kg --thickness 8cm", "time_in_brine.rule_h", 13.8875, 1e-3},
		// 392.266 N on 0.0176715 m2
		{"work press --load 10kg --lever 4 --diameter 15cm", "pressure_kpa", 22.198, 1e-3},
		{"work press --load 10kg --lever 4:1 --diameter 15cm", "pressure_kg_cm2", 0.22635, 1e-5},       // 40/176.715
		{"work press --load 40kg --diameter 15cm", "pressure_psi", 3.2196, 1e-4},                       // 22.198/6.894757
		{"work press --load 20kg --length 20cm --width 10cm", "pressure_kg_cm2", 0.1, 1e-9},            // 20/200
		{"work press --pressure 0.1kg/cm2 --length 20cm --width 10cm --lever 4", "load_g", 5000, 1e-6}, // 0.1 x 200/4
		{"work yield --fat 3.6% --casein 2.5% --moisture 37%", "yield_pct", 9.945, 5e-4},               // Mullan 2008
		{"work yield --fat 3.6% --casein 2.5% --moisture 37% --milk 103kg", "cheese_kg", 10.2433, 1e-4},
		{"work yield --fat 3.6% --casein 2.5% --moisture 37% --milk 100l", "milk_kg", 103, 1e-9},
		{"work yield --fat 3.6% --casein 2.5% --moisture 37% --milk 100kg --got 10.2kg", "got_of_expected_pct", 102.565,
			1e-3},
		{"work yield --fat 3.6% --casein 2.5% --moisture 37% --milk 100kg --got 10.2kg", "got_yield_pct", 10.2, 1e-9},
		{"work yield --fat 3.6% --protein 3.4% --moisture 37%", "casein_pct", 2.652, 1e-9}, // 0.78 x 3.4
		// The handbook's example of ASHRAE Fundamentals: 40 C dry, 20 C wet.
		{"work air --temp 40 --wet-bulb 20", "humidity_ratio_kg_kg", 0.0065, 1e-4},
		{"work air --temp 40 --wet-bulb 20", "dew_point_c", 7, 0.5},
		{"work air --temp 40 --wet-bulb 20", "rh_pct", 14, 0.6},
		{"work air --temp 12 --dew-point 9.559267236", "rh_pct", 85, 1e-5}, // the dew point of 85 %, turned round
		{"work air --temp 12 --rh 85 --altitude 0", "pressure_pa", 101325, 1e-6},
		// ASHRAE Fundamentals, 89.875 kPa, from memory
		{"work air --temp 12 --rh 85 --altitude 1000", "pressure_pa", 89875, 30},
	} {
		var v map[string]any
		w.doc(&v, c.line)
		var x any = v
		for _, k := range strings.Split(c.field, ".") {
			m, _ := x.(map[string]any)
			x = m[k]
		}
		if got, is := x.(float64); !is || !(math.Abs(got-c.want) <= c.slip) {
			t.Errorf("rindkeep %s: %s is %v, want %v", c.line, c.field, x, c.want)
		}
	}
}

func TestWrongFiguresOfBrinePressAndYieldAreWrongUsage(t *testing.T) {
	w := newWorld(t)
	for _, c := range []struct{ line, why string }{
		{"work brine", "--salt is missing"},
		{"work air --temp 12", "--rh is missing"},
		{"work air --temp 12 --rh 85 --wet-bulb 10", "give one of"},
		{"work air --temp 12 --rh 85 --altitude 12000", "out of range"},
		{"work air --temp 12 --rh 85 --altitude 100 --pressure 90000", "not both"},
		{"work brine --salt 27%", "it is full"},
		{"work brine --salt-per-water 36%", "it is full"},
		{"work brine --baume 30", "it is full"},
		{"work brine --salometer 120", "it is full"},
		{"work brine --salometer warm", `"warm" is not a reading in degrees`},
		{"work brine --salt much", `"much" is not a percentage`},
		{"work brine --salt 20 --baume 19", "--salt and --baume both give a strength"},
		{"work brine --salt 20 --now 17", "--now goes with --to"},
		{"work brine --to 20", "--now is missing"},
		{"work brine --now 20", "--to is missing"},
		{"work brine --now 17 --to 20", "--volume is missing"},
		{"work brine --now 30 --to 20 --volume 80l", "it is full"},
		{"work brine --now 17 --to 30 --volume 80l", "it is full"},
		{"work brine --now 17 --to 0 --volume 80l", "no amount of water"},
		{"work brine --now 17 --to 20 --volume lots", "is not a volume"},
		{"work brine --salt 20 --weight 2kg", "--thickness is missing"},
		{"work brine --salt 20 --thickness 8cm", "--weight is missing"},
		{"work brine --salt 20 --moisture 42", "give --weight and --thickness too"},
		{"work brine --salt 20 --weight 2kg --thickness 8cm --moisture 42", "--cheese-salt is missing"},
		{"work brine --salt 20 --weight 2kg --thickness 8cm --cheese-salt 2", "--moisture is missing"},
		{"work brine --salt 20 --weight 2kg --thickness 8cm --cheese-salt 12 --moisture 42", "a stronger brine"},
		{"work press", "--load is missing"},
		{"work press --load 10kg", "the mould's measures are missing"},
		{"work press --load 10kg --pressure 20kPa --diameter 15cm", "give one"},
		{"work press --load 10kg --diameter 15cm --width 10cm", "--diameter is of a round mould"},
		{"work press --load 10kg --width 10cm", "--length is missing"},
		{"work press --load 10kg --diameter 3m", "a mould diameter of 300 cm can't be right; give 0.5 cm to 200 cm"},
		{"work press --load 10kg --diameter 15cm --lever 0", "out of range; write 4 or 4:1"},
		{"work press --pressure hard --diameter 15cm", "is not a pressure"},
		{"work press --load 400t --lever 1000 --diameter 1cm", "check the units"},
		{"work brine --salt 20 --weight 2kg --thickness 8cm --cheese-salt 0 --moisture 42", "needs no brine"},
		{"work yield", "--fat is missing"},
		{"work yield --fat 3.6", "--casein is missing"},
		{"work yield --fat 3.6 --casein 2.5 --protein 3.4 --moisture 37", "give one"},
		{"work yield --fat 3.6 --casein 2.5", "--moisture is missing"},
		{"work yield --fat 3.6 --casein 2.5 --moisture 99", "a moisture of 99 % can't be right; give 15 % to 85 %"},
		{"work yield --fat 36 --casein 2.5 --moisture 37", "a milk fat of 36 % can't be right; give 0 % to 20 %"},
		{"work yield --fat 3.6 --casein 2.5 --moisture 37 --got 10kg", "--milk is missing"},
		{"work yield --fat 3.6 --casein 2.5 --moisture 37 --milk 10kg --got 10.2kg", "can't come from"},
		{"work yield --fat 3.6 --casein 2.5 --moisture 37 --milk lots", "is not a volume"},
	} {
		for _, json := range []string{"", " --json"} {
			r := w.line(c.line + json)
			if r.Code != exitUsage || r.Out != "" || !strings.Contains(strings.ReplaceAll(r.Err, `\"`, `"`), c.why) {
				t.Errorf("rindkeep %s%s: exit code %d, want %d and %q\n%s%s", c.line, json, r.Code, exitUsage, c.why, r.Out, r.Err)
			}
		}
	}
}

func TestTheBenchExplainsItselfUnderTheResultOnlyWhenAsked(t *testing.T) {
	w := newWorld(t)
	fit := w.file("fit.csv", "day,weight_g\n0,2100\n1,2088\n3,2070\n7,2046\n14,2019\n")
	for _, line := range []string{
		"work salt --curd 4.2kg --rate 1.8% --moisture 37%", "work brine --salt 20% --volume 80l --weight 2kg --thickness " +
			"8cm --cheese-salt 1.8% --moisture 42%", "work press --load 10kg --diameter 15cm",
		"work yield --fat 3.6% --casein 2.5% --moisture 37% --milk 100l", "work air --temp 12 --rh 85",
		"work moisture --start 39% --loss 5% --fat 31% --salt 1.7%",
		"work curve --weight 2kg --diameter 15cm --height 10cm --moisture 38%", "work curve --weight 2kg --diameter 15cm " +
			"--height 10cm --moisture 38% --rh 80,88", "work fit --from " + fit, "work fit --prior none --from " + fit,
	} {
		short, long := w.must(line), w.must(line+" --explain")
		if strings.Contains(short, "source:") || strings.Contains(short, "how it's calculated") {
			t.Errorf("rindkeep %s explains itself unasked:\n%s", line, short)
		}
		var v struct{ Explain []work.Explained }
		w.doc(&v, line+" --explain")
		said := strings.Join(strings.Fields(long), " ")
		for _, r := range v.Explain {
			if !strings.Contains(said,
				strings.Join(strings.Fields(r.Formula), " ")+" source: "+strings.Join(strings.Fields(r.Source), " ")) {
				t.Errorf("rindkeep %s --explain does not print %+v:\n%s", line, r, long)
			}
		}
		if len(v.Explain) == 0 {
			t.Errorf("rindkeep %s --explain --json gives no reasons", line)
		}
		for _, l := range strings.Split(long, "\n") {
			if len([]rune(l)) > 80 {
				t.Errorf("rindkeep %s --explain prints a line of %d columns: %s", line, len([]rune(l)), l)
			}
		}
	}
}

func TestTheCautionAboutBrineStandsWhereBrineIsHandled(t *testing.T) {
	w := newWorld(t)
	for _, quiet := range []string{"", " --quiet"} {
		if out := w.must("work brine --salt 20%" + quiet); !strings.Contains(out, "CAUTION: brine") {
			t.Errorf("no caution:\n%s", out)
		}
	}
}
