package cli

import (
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// vat is a world with a lot of raw milk, VAT, whose curd went in part into
// another, SMALL.
func vat(t testing.TB) *world {
	w := newWorld(t).kept()
	w.must("make new --variety cheddar-waxed --lot VAT --on 2026-11-20 --quiet")
	w.must("make new --variety tomme --lot SMALL --on 2026-11-20 --quiet")
	w.must("make log VAT milk --litres 200 --source Farm --species cow --treatment pasteurised --heat 72C --heat-for " +
		"15s --fat 3.9% --protein 3.4% --lot H1 --at 2026-11-20T06:30 --quiet")
	w.must("make log VAT curd --weight 24.5kg --at 2026-11-20T12:00 --quiet")
	w.must("make log VAT set-aside --weight 5kg --for tomme --into SMALL --at 2026-11-20T12:10 --quiet")
	w.must("make log VAT salt --weight 355 --rate 1.8% --at 2026-11-20T13:00 --quiet")
	w.must("make log VAT press --load 10kg --lever 4 --diameter 15cm --turned --at 2026-11-20T14:00 --quiet")
	return w
}

func TestEveryDocumentOfAMakesLogKeepsItsFields(t *testing.T) {
	w := vat(t)
	for _, c := range []struct{ name, line string }{
		{"make-log-salt", "make log VAT salt --weight 355 --rate 1.8%"},
		{"make-log-press", "make log VAT press --load 20kg"},
		{"make-log-temp", "make log VAT temp --temp 38C --stage scalding --note slow"},
		{"make-wheels", "make wheels VAT --weights 6.1kg,6kg"},
		{"make-wheels-no-yield", "make wheels SMALL --weights 2.1kg"},
		{"make-sheet", "make show VAT"},
		{"make-log-milk", "make log VAT milk --litres 20 --treatment raw"},
	} {
		var v map[string]any
		w.doc(&v, c.line)
		if s, _ := v["schema"].(string); !regexp.MustCompile(`^rindkeep/(make|make-log|make-wheels)/1$`).MatchString(s) {
			t.Errorf("rindkeep %s --json: schema is %q", c.line, s)
		}
		golden(t, filepath.Join("json", c.name+".txt"), strings.Join(shapeOf(v), "\n")+"\n")
	}
	w.sound()
}

func TestWhatAMakesLogDoesNotTakeIsRefusedInASentence(t *testing.T) {
	w := vat(t)
	var before, after struct{ Entries, Wheels int }
	w.doc(&before, "book info")
	for _, c := range []struct {
		name, line string
		code       int
		why        string
	}{
		{"no such line", "make log VAT whey", exitUsage,
			`no line "whey" in a make's log; give milk, ingredient, acidity, temp, curd, set-aside, salt, press, step`},
		{"the half that is written with its set-aside", "make log VAT from --weight 5kg", exitUsage, `no line "from"`},
		{"no line named", "make log VAT", exitUsage, "needs WHAT"},
		{"a flag of another line", "make log VAT temp --ph 5", exitUsage,
			"--ph is not for temp, which takes --temp, --stage and --note"},
		{"two flags of other lines", "make log VAT temp --temp 3 --weight 5kg --load 3kg", exitUsage, "is not for temp"},
		{"milk without its volume", "make log VAT milk --source Farm", exitUsage, "a volume is missing"},
		{"a volume that is none", "make log VAT milk --litres many", exitUsage, `--litres "many" is not a volume`},
		{"a heat without how long", "make log VAT milk --litres 5 --heat 72C", exitUsage, "for how long"},
		{"how long that is none", "make log VAT milk --litres 5 --heat 72C --heat-for ages", exitUsage,
			`--heat-for "ages" is not a time; write 15s or 30min`},
		{"how long under nothing", "make log VAT milk --litres 5 --heat 72C --heat-for -5s", exitUsage,
			"out of range; a bare number is seconds"},
		{"raw milk with a heat", "make log VAT milk --litres 5 --treatment raw --heat 72C --heat-for 15", exitUsage,
			"raw milk had no heat treatment"},
		{"a pH that is no number", "make log VAT acidity --ph NaN", exitUsage, "give a number"},
		{"a pH of no milk", "make log VAT acidity --ph 14", exitUsage, "give 3 to 9"},
		{"degrees for percent", "make log VAT acidity --acid 16", exitUsage, "of lactic acid, like 0.16%"},
		{"salt in no known place", "make log VAT salt --weight 5 --where floor", exitUsage,
			`no place "floor" for salt; give curd, brine or rub`},
		{"salt without anything", "make log VAT salt", exitUsage, "a weight is missing"},
		{"a rate without curd to take it of", "make log 261110A salt --rate 1.8%", exitUsage,
			"weigh the curd and the dose is worked out"},
		{"a rate beyond all", "make log VAT salt --weight 5 --rate 80%", exitUsage, "a salt rate of 80 %"},
		{"a lever of nothing", "make log VAT press --load 5kg --lever 0", exitUsage, "--lever"},
		{"a step without words", "make log VAT step", exitUsage, "a step name is missing"},
		{"a lot that is not there", "make log VAX temp --temp 30", exitNotFound, "did you mean VAT"},
		{"wheels without weights", "make wheels VAT", exitUsage, "--weights is missing"},
		{"wheels with empty weights", "make wheels VAT --weights ,", exitUsage, "--weights is missing"},
		{"kilograms without their unit", "make wheels VAT --weights 2.1,2.0", exitUsage, "did you mean 2.1 kg?"},
		{"a decimal comma without its unit", "make wheels VAT --weights 2,1", exitUsage, "did you mean 2.1 kg?"},
		{"measures no such weight has", "make wheels VAT --weights 2.1kg --diameter 5cm --height 5cm", exitRefused,
			"a cubic metre"},
		{"a room that is not there", "make wheels VAT --weights 2.1kg --place attic", exitNotFound, "attic"},
		{"a plan that is not there", "make wheels VAT --weights 2.1kg --plan none", exitNotFound, "none"},
		{"wheels of a lot that is not there", "make wheels VAX --weights 2.1kg", exitNotFound, "did you mean VAT"},
	} {
		r := w.line(c.line)
		if r.Code != c.code || !strings.Contains(r.Err, c.why) || r.Out != "" {
			t.Errorf("%s: rindkeep %s: exit code %d, want %d, with %q on stderr alone:\n%s%s",
				c.name, c.line, r.Code, c.code, c.why, r.Out, r.Err)
		}
	}
	w.doc(&after, "book info")
	same(t, "what the book holds after refusals", after, before)
}

func TestHostileWordsInAMakesLogAreRefusedOrShownHarmlessly(t *testing.T) {
	for _, h := range hostile {
		if h.word == "" {
			continue
		}
		w := vat(t)
		for _, args := range [][]string{
			{"make", "log", h.word, "temp", "--temp", "30"}, {"make", "log", "VAT", h.word},
			{"make", "wheels", h.word, "--weights", "2kg"}, {"make", "wheels", "VAT", "--weights", h.word},
			{"make", "log", "VAT", "step", "--stage", h.word},
			{"make", "log", "VAT", "step", "--stage", "cut", "--note", h.word},
			{"make", "log", "VAT", "milk", "--litres", "5", "--source", h.word}, {"make", "log", "VAT", "milk", "--litres", "5",
				"--species", h.word}, {"make", "log", "VAT", "milk", "--litres", "5", "--lot", h.word},
			{"make", "log", "VAT", "milk", "--litres", "5", "--heat", "72", "--heat-for", h.word}, {"make", "log", "VAT",
				"ingredient", "--name", h.word}, {"make", "log", "VAT", "ingredient", "--name", "x", "--amount", h.word},
			{"make", "log", "VAT", "ingredient", "--name", "x", "--kind", h.word, "--supplier", "y"},
			{"make", "log", "VAT", "set-aside", "--weight", "1g", "--for", h.word},
			{"make", "log", "VAT", "set-aside", "--weight", "1g", "--into", h.word},
			{"make", "log", "VAT", "salt", "--weight", "1g", "--where", h.word},
		} {
			for _, args := range [][]string{args, append(args, "--json")} {
				r := w.run(args...)
				what := h.what + " in rindkeep " + strings.Join(args[:3], " ")
				r.plain(t, what)
				if r.Code == exitFault || r.Code == 0 && len(h.word) > 5000 {
					t.Errorf("%s: exit code %d\n%.300s", what, r.Code, r.Err)
				}
			}
		}
		for _, line := range []string{"make show VAT", "make show VAT --json", "log", "make list"} {
			r := w.line(line)
			r.plain(t, h.what+" shown by rindkeep "+line)
			if r.Code != 0 {
				t.Errorf("%s: rindkeep %s: exit code %d\n%s", h.what, line, r.Code, r.Err)
			}
		}
		w.sound()
	}
}

func TestALineIsShownOnceAndInTheUnitsAskedFor(t *testing.T) {
	w := vat(t)
	for _, c := range []struct{ name, line, want string }{
		{"Fahrenheit", "make log VAT temp --temp 100.4F --stage scalding --at 2026-11-20T09:00", "  38.0 °C, scalding"},
		{"a decimal comma", "make log VAT curd --weight 24,45kg --at 2026-11-20T12:01", "  24.45 kg"},
		{"half an hour", "make log VAT milk --litres 5 --treatment pasteurised --heat 63 --heat-for 30min --at " +
			"2026-11-20T06:31", "  5 l pasteurised, 63.0 °C for 30 min"},
		{"a ratio", "make log VAT press --load 5kg --lever 3:1 --at 2026-11-20T15:00",
			"  5.00 kg x 3 by the lever, 8.3 kPa on the cheese (0.085 kg/cm2, 1.21 psi)"},
		{"in pounds", "make log VAT curd --weight 50lb --at 2026-11-20T12:02 --units imperial", "  50 lb 0.0 oz"},
		{"in brine no dose is computed", "make log VAT salt --weight 5kg --rate 1.8% --where brine --at 2026-11-20T16:00",
			"  5000.0 g in the brine"},
		{"no rate: what it came to of the curd kept", "make log VAT salt --weight 100 --at 2026-11-20T13:10",
			"  100.0 g on the curd; 0.57 % of 17.68 kg of curd"},
	} {
		got := strings.Split(w.must(c.line), "\n")
		if len(got) < 2 || got[1] != c.want {
			t.Errorf("%s: rindkeep %s:\n%s\nwant the second line %q", c.name, c.line, strings.Join(got, "\n"), c.want)
		}
		again := w.must(c.line)
		if !strings.Contains(again, "already logged for lot VAT") {
			t.Errorf("%s: sent twice: %s", c.name, again)
		}
	}
}

func TestMoreWheelsOfALotTakeTheNextNumbers(t *testing.T) {
	w := newWorld(t).kept()
	type doc struct {
		Wheels []struct {
			Tag    string  `json:"tag"`
			Weight float64 `json:"weight_g"`
		} `json:"wheels"`
		All  int  `json:"wheels_of_lot"`
		Same bool `json:"no_change"`
	}
	var a, b, c doc
	w.doc(&a, "make wheels 261110A --weights 2.1kg,2050 --place drying/A/2 --at 2026-11-11T08:00")
	w.doc(&b, "make wheels 261110A --weights 2.1kg,2050 --place drying/A/2 --at 2026-11-11T08:00")
	w.doc(&c, "make wheels 261110A --weights 2.1kg,2050 --place drying/A/2 --at 2026-11-11T08:01")
	tags := func(d doc) (out []string) {
		for _, x := range d.Wheels {
			out = append(out, x.Tag)
		}
		return out
	}
	same(t, "the next two", tags(a), []string{"261110A-05", "261110A-06"})
	same(t, "sent twice", b, doc{a.Wheels, 6, true})
	same(t, "a minute later they are others", tags(c), []string{"261110A-07", "261110A-08"})
	if a.All != 6 || a.Same || c.All != 8 || a.Wheels[0].Weight != 2100 || a.Wheels[1].Weight != 2050 {
		t.Errorf("%+v and %+v, want 6 and 8 wheels, 2100 g and 2050 g", a, c)
	}
	// A weight that was struck is no longer sent twice, and wheels entered by
	// mistake do not count as the lot's.
	w.must("wheel void 261110A-07 261110A-08 --why twice")
	var d doc
	w.doc(&d, "make wheels 261110A --weights 2kg --at 2026-11-11T09:00")
	same(t, "after two entered by mistake", d.All, 7)
	same(t, "numbers are not given twice", tags(d), []string{"261110A-09"})
	w.sound()
}

func TestWheelsWrittenDownInTheirMouldsAreWeighedAndNoneIsAdded(t *testing.T) {
	w := newWorld(t).kept()
	type doc struct {
		Wheels []struct {
			Tag    string  `json:"tag"`
			Weight float64 `json:"weight_g"`
		} `json:"wheels"`
		All  int  `json:"wheels_of_lot"`
		Same bool `json:"no_change"`
	}
	type weighed = map[string]float64
	got := func(d doc) weighed {
		m := weighed{}
		for _, x := range d.Wheels {
			m[x.Tag] = x.Weight
		}
		return m
	}
	w.must("make new --variety tomme --lot VAT --on 2026-11-20 --wheels 2 --quiet")
	for _, c := range []struct {
		name, line string
		code       int
		why        string
	}{
		{"fewer weights than moulds", "make wheels VAT --weights 2.1kg", exitRefused,
			"lot VAT has 2 wheels not weighed yet, VAT-01, -02, and 1 weight is given"},
		{"another plan for wheels that have one", "make wheels VAT --weights 2.1kg,2kg --plan washed-rind", exitUsage,
			"--plan and measures are for wheels new to the book"},
		{"measures of wheels that have theirs", "make wheels VAT --weights 2.1kg,2kg --diameter 20cm --height 6cm", exitUsage,
			"--plan and measures are for wheels new to the book"},
		{"a weight such a wheel cannot have", "make wheels VAT --weights 2.1kg,21g", exitRefused,
			"VAT-02 at 21 g looks wrong"},
		{"a room that is not there", "make wheels VAT --weights 2.1kg,2kg --place attic", exitNotFound, "attic"},
	} {
		if r := w.line(c.line); r.Code != c.code || !strings.Contains(r.Err, c.why) {
			t.Errorf("%s: rindkeep %s: exit %d, %s", c.name, c.line, r.Code, r.Err)
		}
	}
	var a, b, c, d doc
	w.doc(&a, "make wheels VAT --weights 2.1kg,2050 --place drying/A/2 --at 2026-11-21T08:00")
	same(t, "the moulds", got(a), weighed{"VAT-01": 2100, "VAT-02": 2050})
	same(t, "the lot has no more", a.All, 2)
	var card struct {
		Place string `json:"place"`
	}
	w.doc(&card, "wheel show VAT-02")
	same(t, "they were taken to their shelf", card.Place, "drying/A/2")
	w.doc(&b, "make wheels VAT --weights 2.1kg,2050 --place drying/A/2 --at 2026-11-21T08:00")
	same(t, "sent twice", b, doc{a.Wheels, 2, true})

	w.must("make new --variety tomme --lot MORE --on 2026-11-20 --wheels 1 --quiet")
	w.doc(&c, "make wheels MORE --weights 2.1kg,2050 --at 2026-11-21T08:00")
	same(t, "one mould and one more", got(c), weighed{"MORE-01": 2100, "MORE-02": 2050})
	same(t, "two in all", c.All, 2)
	w.doc(&d, "make wheels MORE --weights 2.1kg,2050 --at 2026-11-21T08:00")
	same(t, "both sent twice", d, doc{c.Wheels, 2, true})
	w.sound()
}

func TestADayBeforeThereAreWheelsSaysHowTheyComeIntoTheBook(t *testing.T) {
	w := newWorld(t)
	w.must("book new --quiet")
	if s := w.must("today"); !strings.Contains(s, "begin with: rindkeep start") {
		t.Errorf("an empty book: %s", s)
	}
	if s := w.must("make new --variety tomme --lot VAT"); !strings.Contains(s, "its log: rindkeep make log VAT milk") {
		t.Errorf("a make without wheels: %s", s)
	}
	if s := w.must("today"); !strings.Contains(s, "rindkeep make wheels VAT --weights") {
		t.Errorf("a make is under way: %s", s)
	}
}

func TestTheCautionOfRawMilkIsSaidOnceAtTheMilkAndOnTheSheetWithQuietToo(t *testing.T) {
	w := newWorld(t)
	w.must("room new drying --quiet")
	w.must("make new --variety cheddar-waxed --lot VAT --on 2026-11-20 --quiet")
	for _, c := range []struct {
		line string
		said bool
	}{
		{"make log VAT milk --litres 90 --treatment raw --at 2026-11-20T06:30", true},
		{"make log VAT milk --litres 20 --treatment raw --at 2026-11-20T06:40", false},
		{"make log VAT curd --weight 10kg --at 2026-11-20T12:00", false},
		{"make show VAT", true},
		{"make show VAT --quiet", true},
		{"make new --variety cheddar-waxed --lot B --treatment raw --wheels 1 --on 2026-11-20 --quiet", true},
		{"make log B milk --litres 20 --treatment raw --quiet", true},
	} {
		if out := w.must(c.line); strings.Contains(out, "CAUTION: raw milk") != c.said {
			t.Errorf("rindkeep %s: said %v, want %v:\n%s", c.line, !c.said, c.said, out)
		}
	}
}

func TestAMakeOfADayOfTheWeekIsTheLastSuchDay(t *testing.T) {
	w := newWorld(t) // a Wednesday
	w.must("room new drying --temp 12C --rh 85% --quiet")
	for _, c := range []struct{ word, want string }{{"tue", "2026-11-24"}, {"thu", "2026-11-19"}, {"wed", "2026-11-25"}} {
		var d struct{ Make struct{ Date string } }
		w.doc(&d, "make new --variety cheddar-waxed --wheels 1 --weight 2.1kg --place drying --date "+c.word)
		same(t, "a make of "+c.word, d.Make.Date, c.want)
	}
}
