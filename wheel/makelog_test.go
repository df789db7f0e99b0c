package wheel

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
)

func degrees(x float64) *float64 { return &x }

func TestALineOfAMakesLogIsTakenOrRefusedInASentence(t *testing.T) {
	for _, c := range []struct {
		name string
		line MakeLog
		want string // the whole sentence; "" where it is taken
	}{
		{"milk with all that can be said of it", MakeLog{What: LogMilk, Litres: 120, Source: "Hill Farm", Species: "cow",
			Treatment: Pasteurised, HeatTemp: 72, HeatFor: 15, Fat: 0.039, Protein: 0.034, Lot: "H1"}, ""},
		{"milk without its volume", MakeLog{What: LogMilk, Source: "Hill Farm"}, "missing {What:volume}"},
		{"milk of no known treatment", MakeLog{What: LogMilk, Litres: 1, Treatment: "boiled"},
			"unknown {What:milk-treatment Word:boiled Known:raw, thermised, pasteurised}"},
		{"raw milk that was heated", MakeLog{What: LogMilk, Litres: 1, Treatment: Raw, HeatTemp: 72, HeatFor: 15},
			"raw-milk-heated"},
		{"a heat of which nobody said how long", MakeLog{What: LogMilk, Litres: 1, HeatTemp: 72},
			"heat-incomplete"},
		{"milk richer than any", MakeLog{What: LogMilk, Litres: 1, Fat: 0.39},
			"outside {What:milk-fat Value:0.39 Low:0 High:0.2}"},
		{"an ingredient", MakeLog{What: LogIngredient, Kind: "rennet", Name: "calf", Lot: "R/7, box 2", Amount: "1/4 tsp"},
			""},
		{"an ingredient without its name", MakeLog{What: LogIngredient, Kind: "rennet"},
			"missing {What:ingredient-name}"},
		{"a pH", MakeLog{What: LogAcidity, PH: 6.5}, ""},
		{"a titratable acidity", MakeLog{What: LogAcidity, Acid: 0.0016}, ""},
		{"an acidity without a figure", MakeLog{What: LogAcidity, Stage: "cutting"},
			"no-acidity"},
		{"a pH of no milk", MakeLog{What: LogAcidity, PH: 1.5}, "outside {What:ph Value:1.5 Low:3 High:9}"},
		{"degrees given for percent", MakeLog{What: LogAcidity, Acid: 0.16},
			"outside {What:acid Value:0.16 Low:0 High:0.05}"},
		{"a temperature of nothing", MakeLog{What: LogTemp, Temp: degrees(0)}, ""},
		{"a temperature without its figure", MakeLog{What: LogTemp}, "missing {What:temp}"},
		{"a temperature of no vat", MakeLog{What: LogTemp, Temp: degrees(120)},
			"outside {What:temp Value:120 Low:-10 High:110}"},
		{"a temperature that is no number", MakeLog{What: LogTemp, Temp: degrees(math.NaN())},
			"outside {What:temp Value:NaN Low:-10 High:110}"},
		{"curd without its weight", MakeLog{What: LogCurd}, "missing {What:weight}"},
		{"a set-aside without its weight", MakeLog{What: LogSetAside, For: "fresh curd"},
			"missing {What:weight}"},
		{"salt", MakeLog{What: LogSalt, Weight: 285, Rate: 0.018, Where: "curd"}, ""},
		{"salt beyond all taste", MakeLog{What: LogSalt, Weight: 285, Rate: 0.5},
			"outside {What:salt-rate Value:0.5 Low:0 High:0.2}"},
		{"curd of no lot", MakeLog{What: LogFrom, Weight: 100}, "missing {What:lot}"},
		{"a press line without its load", MakeLog{What: LogPress, Lever: 4}, "missing {What:load}"},
		{"a mould too wide", MakeLog{What: LogPress, Load: 1000, Diameter: 15},
			"outside {What:mould-diameter Value:15 Low:0.005 High:2}"},
		{"a lever too long", MakeLog{What: LogPress, Load: 1000, Lever: 1e4},
			"outside {What:lever Value:10000 Low:0 High:1000}"},
		{"a step without its name", MakeLog{What: LogStep}, "missing {What:step-name}"},
		{"a composition", MakeLog{What: LogComposition, Moisture: 0.372, SD: 0.003, Fat: 0.33, Salt: 0.018, PH: 5.2}, ""},
		{"a composition without a figure", MakeLog{What: LogComposition, Stage: "moulding"},
			"no-composition"},
		{"a spread of no moisture", MakeLog{What: LogComposition, Fat: 0.3, SD: 0.01},
			"needs {What:moisture-sd Other:moisture}"},
		{"a spread as wide as the moisture", MakeLog{What: LogComposition, Moisture: 0.37, SD: 0.2},
			"outside {What:moisture-sd Value:0.2 Low:0 High:0.1}"},
		{"a moisture written as a fraction", MakeLog{What: LogComposition, Moisture: 0.00372},
			"outside {What:moisture Value:0.00372 Low:0.15 High:0.85}"},
		{"a cheese as salt as brine", MakeLog{What: LogComposition, Salt: 0.2},
			"outside {What:salt Value:0.2 Low:0 High:0.15}"},
		{"a cheese as sour as vinegar", MakeLog{What: LogComposition, PH: 3}, "outside {What:ph Value:3 Low:3.5 High:8}"},
		{"no line", MakeLog{}, "unknown {What:make-line Word: Known:}"},
		{"a name that does not print", MakeLog{What: LogStep, Stage: "cut\x1b[2J"},
			"unprintable {What:stage Char:27 Byte:4}"},
		{"a weight under nothing", MakeLog{What: LogCurd, Weight: -1},
			"outside {What:make-figure Value:-1 Low:0 High:1e+09}"},
		{"a weight that is no number", MakeLog{What: LogCurd, Weight: quantity.Grams(math.NaN())},
			"outside {What:make-figure Value:NaN Low:0 High:1e+09}"},
		{"a weight without end", MakeLog{What: LogCurd, Weight: quantity.Grams(math.Inf(1))},
			"outside {What:make-figure Value:+Inf Low:0 High:1e+09}"},
	} {
		got := ""
		if err := c.line.Check(); err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

func TestWhatIsNoLineOfAMakesLogIsRefused(t *testing.T) {
	for _, c := range []struct{ name, detail string }{
		{"nothing", ""}, {"no JSON", "milk"}, {"a list", "[]"}, {"null, which says nothing", "null"},
		{"a field nobody knows", `{"what":"curd","weight_g":1,"colour":"blue"}`},
		{"a line with more behind it", `{"what":"curd","weight_g":1} {"what":"curd","weight_g":1}`},
		{"a line cut short", `{"what":"curd","weight_g":1`}, {"a word for a figure", `{"what":"curd","weight_g":"1"}`},
		{"a figure beyond all", `{"what":"curd","weight_g":1e999}`},
	} {
		if m, err := ParseMakeLog(c.detail); err == nil {
			t.Errorf("%s: %s is read as %+v, want a refusal", c.name, c.detail, m)
		}
	}
}

// aLine draws any line that Check takes.
func aLine(t *rapid.T) MakeLog {
	word := rapid.StringMatching(`[A-Za-zäßéЖ東0-9][A-Za-z0-9 ,/<>&'"\\éЖ東-]{0,10}[A-Za-z0-9東]`)
	maybe := func(name string) string {
		if rapid.Bool().Draw(t, "has "+name) {
			return word.Draw(t, name)
		}
		return ""
	}
	some := func(name string, most float64) float64 { return rapid.Float64Range(most/1e9, most).Draw(t, name) }
	m := MakeLog{What: rapid.SampledFrom(LogWhats).Draw(t, "what"), Stage: maybe("stage")}
	switch m.What {
	case LogMilk:
		m.Litres, m.Source, m.Species, m.Lot = quantity.Litres(some("litres", 1e6)), maybe("source"), maybe("species"), maybe(
			"lot")
		m.Treatment = rapid.SampledFrom([]Treatment{"", Raw, Thermised, Pasteurised}).Draw(t, "treatment")
		if m.Treatment == Pasteurised {
			m.HeatTemp, m.HeatFor = quantity.Celsius(some("heat", 150)), some("seconds", 86400)
		}
		m.Fat, m.Protein = quantity.Fraction(some("fat", 0.2)), quantity.Fraction(some("protein", 0.2))
	case LogIngredient:
		m.Name, m.Kind, m.Lot, m.Source, m.Amount = word.Draw(t,
			"name"), maybe("kind"), maybe("lot"), maybe("source"), maybe("amount")
	case LogAcidity:
		m.PH, m.Acid = rapid.Float64Range(3, 9).Draw(t, "ph"), quantity.Fraction(some("acid", 0.05))
	case LogTemp:
		m.Temp = degrees(rapid.Float64Range(-10, 110).Draw(t, "temp"))
	case LogCurd, LogSetAside, LogSalt, LogFrom:
		m.Weight, m.Where, m.For, m.ToLot = quantity.Grams(some("weight", 1e9)), maybe("where"), maybe("for"), maybe("to")
		m.FromLot, m.Rate = word.Draw(t, "from"), quantity.Fraction(some("rate", 0.2))
	case LogPress:
		m.Load, m.Lever, m.Diameter = quantity.Grams(some("load", 1e9)), some("lever",
			1000), quantity.Metres(rapid.Float64Range(0.006, 1.9).Draw(t, "across"))
		m.Turned = rapid.Bool().Draw(t, "turned")
	case LogStep:
		m.Stage = word.Draw(t, "step")
	case LogComposition:
		m.Moisture, m.SD = quantity.Fraction(rapid.Float64Range(0.15, 0.5).Draw(t, "moisture")), quantity.Fraction(
			some("sd", 0.1))
		m.Fat, m.Salt, m.PH = quantity.Fraction(some("fat", 0.35)), quantity.Fraction(some("salt", 0.1)), rapid.Float64Range(
			3.5, 8).Draw(t, "ph")
	}
	return m
}

func TestALineReadsBackAsItWasWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := aLine(t)
		if err := m.Check(); err != nil {
			t.Fatalf("%+v is refused: %v", m, err)
		}
		got, err := ParseMakeLog(m.Detail())
		if err != nil {
			t.Fatalf("%s is refused: %v", m.Detail(), err)
		}
		if d := cmp.Diff(m, got); d != "" {
			t.Fatalf("read back (-want +got):\n%s", d)
		}
	})
}

// The longest lot code of another site's has its site before it.
func TestALotOfAnotherSiteMayBeAsLongAsAny(t *testing.T) {
	lot := "north-cave-below:" + strings.Repeat("x", cave.MaxName)
	for detail, good := range map[string]bool{
		`{"what":"from","weight_g":5,"from_lot":"` + lot + `"}`:  true,
		`{"what":"from","weight_g":5,"from_lot":"` + lot + `x"}`: false,
	} {
		if _, err := ParseMakeLog(detail); (err == nil) != good {
			t.Errorf("%s: %v", detail, err)
		}
	}
}

func FuzzParseMakeLog(f *testing.F) {
	for _, s := range []string{
		`{"what":"milk","litres":120,"treatment":"raw","fat_fraction":0.039}`,
		`{"what":"press","load_g":10000,"lever":4,"diameter_m":0.15,"turned":true}`, `{"what":"temp","temp_c":-0}`,
		`{"what":"salt","weight_g":285,"rate_fraction":0.018,"where":"curd"}`, `{"what":"from","weight_g":5,"from_lot":"A"}`,
		`{"WHAT":"step","stage":"\u2028"}`, `null`, `{"what":"curd","weight_g":1}x`, `{"what":"curd","what":"temp"}`,
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		m, err := ParseMakeLog(s)
		if err != nil {
			return
		}
		if err := m.Check(); err != nil {
			t.Fatalf("%q is read as what Check refuses: %v", s, err)
		}
		again, err := ParseMakeLog(m.Detail())
		if err != nil {
			t.Fatalf("%q is read, and what it is written as is not: %s: %v", s, m.Detail(), err)
		}
		if d := cmp.Diff(m, again); d != "" {
			t.Fatalf("%q written and read again (-want +got):\n%s", s, d)
		}
	})
}
