package quantity

import (
	"math"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// near says whether two figures agree to a part in 1e12: decimal figures times
// a unit are rounded once or twice on the way.
func near(a, b float64) bool { return math.Abs(a-b) <= 1e-12*math.Max(1, math.Abs(b)) }

type parsed struct {
	name string
	in   string
	want float64
	why  string // part of the refusal; "" where it is read
}

func check(t *testing.T, cases []parsed, parse func(string) (float64, error)) {
	t.Helper()
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got, err := parse(c.in)
			switch {
			case c.why == "" && err != nil:
				t.Fatalf("%q is refused: %v", c.in, err)
			case c.why == "":
				if !near(got, c.want) {
					t.Errorf("%q is read as %v, want %v", c.in, got, c.want)
				}
			case err == nil:
				t.Fatalf("%q is read as %v, want a refusal with %q", c.in, got, c.why)
			case !strings.Contains(err.Error(), c.why):
				t.Errorf("%q is refused with %q, want %q in it", c.in, err, c.why)
			case got != 0:
				t.Errorf("%q is refused, but gives %v", c.in, got)
			}
		})
	}
}

// Pound and ounce: NIST Handbook 44, Appendix C: 1 lb = 453.592 37 g exactly,
// 16 oz to the pound, so 1 oz = 28.349 523 125 g exactly.
func TestParseWeight(t *testing.T) {
	const shape = "is not a weight; write 1942, 1942g, 1.942kg, 4lb5oz or 68.5oz"
	check(t, []parsed{
		{"a bare number is grams", "1942", 1942, ""},
		{"grams", "1942g", 1942, ""},
		{"grams spelt out", "1942 grams", 1942, ""},
		{"kilograms", "1.942kg", 1942, ""},
		{"whole kilograms", "2kg", 2000, ""},
		{"kilograms under one with a decimal comma", "0,942kg", 942, ""},
		{"a decimal comma before two digits", "1,94kg", 1940, ""},
		{"a decimal comma before one digit", "68,5oz", 68.5 * 28.349523125, ""},
		{"a decimal comma before four digits", "1,9425kg", 1942.5, ""},
		{"capitals and spaces", "  1.942 KG ", 1942, ""},
		{"one pound by the handbook", "1lb", 453.59237, ""},
		{"one ounce by the handbook", "1oz", 28.349523125, ""},
		{"sixteen ounces are a pound", "16oz", 453.59237, ""},
		{"pounds and ounces", "4lb5oz", 4*453.59237 + 5*28.349523125, ""},
		{"pounds and ounces with spaces", "4 lb 5 oz", 4*453.59237 + 5*28.349523125, ""},
		{"pounds in the plural", "4lbs 5.5oz", 4*453.59237 + 5.5*28.349523125, ""},
		{"pounds alone", "4.25lb", 4.25 * 453.59237, ""},
		{"ounces alone", "68.5oz", 68.5 * 28.349523125, ""},
		{"no pounds and some ounces", "0lb9oz", 9 * 28.349523125, ""},
		{"the heaviest there is", "500kg", 500000, ""},
		{"a plus sign", "+12", 12, ""},

		{"a comma before three digits may be for thousands", "123,942", 0,
			"is unclear: a thousands comma or a decimal comma? write 123942 or 123.942"},
		{"a few grams with three decimals", "2.080", 0,
			"did you mean 2.080 kg? write 2.080kg; a bare \"2.080\" would be 2.080g"},
		{"with a comma, for thousands or decimals", "1,942", 0, "did you mean 1.942 kg? write 1.942kg"},
		{"more kilograms", "12.345", 0, "did you mean 12.345 kg?"},
		{"a few grams", "1,9", 0, "did you mean 1.9 kg?"},
		{"a few grams with their unit", "2.080g", 2.08, ""},
		{"a few whole grams", "2", 2, ""},
		{"a light one", "12.5", 12.5, ""},
		{"a heavy one", "2104.125", 2104.125, ""},
		{"the same with a unit", "1,942kg", 0, "is unclear"},
		{"the same in pounds", "1,942lb", 0, "is unclear"},
		{"the same in ounces over pounds", "1lb1,942oz", 0, "is unclear"},
		{"two thousands commas", "1,942,000", 0, "more than one decimal mark"},
		{"a comma and a point", "1,942.5", 0, "more than one decimal mark"},
		{"a point and a comma", "1.942,5", 0, shape},
		{"two points", "1.9.42", 0, shape},
		{"nothing", "", 0, shape},
		{"only spaces", "   ", 0, shape},
		{"a unit alone", "kg", 0, shape},
		{"pounds without a figure", "lb5oz", 0, shape},
		{"pounds and grams", "4lb5g", 0, shape},
		{"pounds and a bare figure", "4lb5", 0, shape},
		{"pounds twice", "4lb5lb", 0, shape},
		{"a full pound in ounces over pounds", "4lb16oz", 0, "has 16 ounces over whole pounds; a pound has 16"},
		{"ounces under zero over pounds, as a dash may be no minus", "5lb-3oz", 0, shape},
		{"no number", "NaN", 0, shape},
		{"infinity", "inf", 0, shape},
		{"hexadecimal", "0x7b", 0, shape},
		{"an exponent", "1e3", 0, shape},
		{"an exponent with a unit", "1e3g", 0, shape},
		{"digit groups", "1_942", 0, shape},
		{"a sign in the middle", "1-2", 0, shape},
		{"a stone is no unit", "2st", 0, shape},
		{"digits of another script", "١٩٤٢", 0, shape},
		{"negative", "-5", 0, "must be over 0"},
		{"negative pounds", "-4lb", 0, "must be over 0"},
		{"zero", "0", 0, "must be over 0"},
		{"zero with a unit", "0.000kg", 0, "must be over 0"},
		{"over the heaviest", "500.001kg", 0, "is over 500 kg; a bare number is grams"},
		{"kilograms as bare grams times a thousand", "1942000", 0, "is over 500 kg"},
		{"huge", strings.Repeat("9", 40), 0, "is over 500 kg"},
		{"longer than any weight", strings.Repeat("9", 41), 0, shape},
	}, func(s string) (float64, error) { g, err := ParseWeight(s); return float64(g), err })
}

func TestAListOfWeightsKeepsDecimalCommas(t *testing.T) {
	for in, want := range map[string]string{
		"2100,2090": "2100|2090", "2100, 2090 ,": "2100|2090|", "2,08kg": "2.08kg", "2,08kg,2,1kg": "2.08kg|2.1kg",
		"2,08kg, 2,1 kg,2100": "2.08kg|2.1 kg|2100", "2,08;2,1": "2,08|2,1", "2,08": "2,08", "2,104": "2,104",
		"95,90": "95|90", "80,120": "80|120", "95g,90g": "95g|90g", "": "", "2.08,2.1": "2.08|2.1", "2100,2kg": "2100|2kg",
		"2,080kg": "2.080kg", "4lb5oz,4lb": "4lb5oz|4lb",
	} {
		if got := strings.Join(WeightWords(in), "|"); got != want {
			t.Errorf("%q is parted as %q, want %q", in, got, want)
		}
	}
}

func TestParsePercent(t *testing.T) {
	const shape = "is not a percentage; write 1.8% or 1.8"
	check(t, []parsed{
		{"with its sign", "1.8%", 0.018, ""},
		{"a bare number is percent", "1.8", 0.018, ""},
		{"a decimal comma", "1,8 %", 0.018, ""},
		{"nothing of it", "0", 0, ""},
		{"all of it", "100%", 1, ""},
		{"under one percent is still percent", "0.018", 0.00018, ""},
		{"over a hundred", "100.1", 0, "a percentage runs from 0 to 100"},
		{"under zero", "-1%", 0, "a percentage runs from 0 to 100"},
		{"unclear thousands", "1,800", 0, "is unclear"},
		{"two signs", "1.8%%", 0, shape},
		{"no number", "NaN", 0, shape},
		{"an exponent", "1e1", 0, shape},
		{"hexadecimal", "0x10", 0, shape},
		{"nothing", "", 0, shape},
		{"words", "ten percent", 0, shape},
	}, func(s string) (float64, error) { f, err := ParsePercent(s); return float64(f), err })
}

// Inch and US gallon: NIST Handbook 44, Appendix C: 1 in = 2.54 cm exactly,
// 1 gal = 231 cubic inches exactly = 3.785 411 784 l.
func TestParseLengthVolumeAndTemperature(t *testing.T) {
	t.Run("lengths", func(t *testing.T) {
		check(t, []parsed{
			{"a bare number is centimetres", "15", 0.15, ""},
			{"centimetres", "15cm", 0.15, ""},
			{"millimetres", "150 mm", 0.15, ""},
			{"metres", "0.15m", 0.15, ""},
			{"inches by the handbook", "6in", 6 * 0.0254, ""},
			{"a decimal comma", "10,5cm", 0.105, ""},
			{"ten metres", "10m", 10, ""},
			{"over ten metres", "1001", 0, "out of range; a bare number is centimetres"},
			{"zero", "0cm", 0, "out of range"},
			{"negative", "-1", 0, "out of range"},
			{"feet are no unit", "1ft", 0, "is not a length"},
			{"no number", "nan", 0, "is not a length"},
			{"infinity", "inf", 0, "is not a length"},
		}, func(s string) (float64, error) { m, err := ParseLength(s); return keep(float64(m), err) })
	})
	t.Run("volumes", func(t *testing.T) {
		check(t, []parsed{
			{"a bare number is litres", "40", 40, ""},
			{"litres", "40 L", 40, ""},
			{"litres spelt out", "40 litres", 40, ""},
			{"millilitres", "500ml", 0.5, ""},
			{"US gallons by the handbook", "10gal", 10 * 231 * 2.54 * 2.54 * 2.54 / 1000, ""},
			{"over a million litres", "1000001", 0, "out of range"},
			{"zero", "0l", 0, "out of range"},
			{"negative", "-3l", 0, "out of range"},
			{"unclear thousands", "1,000l", 0, "is unclear"},
			{"an exponent", "1e3l", 0, "is not a volume"},
		}, func(s string) (float64, error) { l, err := Metric.ParseVolume(s); return keep(float64(l), err) })
	})
	t.Run("temperatures", func(t *testing.T) {
		check(t, []parsed{
			{"a bare number is Celsius", "12", 12, ""},
			{"Celsius", "12.1C", 12.1, ""},
			{"Celsius with its ring", "12.1 °C", 12.1, ""},
			{"under zero", "-1.5", -1.5, ""},
			{"water freezes", "32F", 0, ""},
			{"water boils", "212f", 100, ""},
			{"the scales meet", "-40F", -40, ""},
			{"a decimal comma", "12,5C", 12.5, ""},
			{"colder than any room", "-41", 0, "out of range"},
			{"hotter than any wax", "121", 0, "out of range"},
			{"both scales", "12CF", 0, "is not a temperature"},
			{"the scale alone", "C", 0, "is not a temperature"},
			{"the scale twice", "12CC", 0, "is not a temperature"},
			{"kelvin", "285K", 0, "is not a temperature"},
			{"no number", "NaN", 0, "is not a temperature"},
			{"nothing", "", 0, "is not a temperature"},
		}, func(s string) (float64, error) { c, err := ParseTemp(s); return keep(float64(c), err) })
	})
}

// keep drops the figure beside an error.
func keep(x float64, err error) (float64, error) {
	if err != nil {
		return 0, err
	}
	return x, nil
}

func TestAnErrorAboutAFigureShowsNoRawControlCharacter(t *testing.T) {
	for _, s := range []string{"\x1b[31m12", "12\x07", "1\r\n2", "\u202e12", "\x00", "\xff\xfe"} {
		for name, parse := range map[string]func(string) error{
			"weight":  func(s string) error { _, err := ParseWeight(s); return err },
			"percent": func(s string) error { _, err := ParsePercent(s); return err },
			"length":  func(s string) error { _, err := ParseLength(s); return err },
			"volume":  func(s string) error { _, err := Metric.ParseVolume(s); return err },
			"temp":    func(s string) error { _, err := ParseTemp(s); return err },
			"units":   func(s string) error { _, err := ParseUnits(s); return err },
		} {
			err := parse(s)
			if err == nil {
				t.Errorf("%s %q is read", name, s)
				continue
			}
			if strings.ContainsAny(err.Error(), "\x1b\x07\r\n\x00\u202e") || !utf8.ValidString(err.Error()) {
				t.Errorf("%s: the error %q holds a raw character", name, err)
			}
		}
	}
}

func TestABareNumberIsInTheReadersUnits(t *testing.T) {
	near := func(what string, got, want float64, err error) {
		t.Helper()
		if err != nil || math.Abs(got-want) > 1e-9*math.Abs(want) {
			t.Errorf("%s: %v (%v), want %v", what, got, err, want)
		}
	}
	for _, c := range []struct {
		units Units
		word  string

		weight, bulk, length, volume, temp, pressure float64
	}{
		{Metric, "40", 40, 40, 0.4, 40, 40, 40_000},
		{Imperial, "40", 40 * gramsPerOunce, 40 * gramsPerOunce, 40 * 0.0254, 40 * litresPerGallon, 40.0 / 9, 275790.29},
		{"", "40", 40, 40, 0.4, 40, 40, 40_000},
	} {
		w, err := c.units.ParseWeight(c.word)
		near("weight", float64(w), c.weight, err)
		w, err = c.units.ParseBulk(c.word)
		near("bulk", float64(w), c.bulk, err)
		m, err := c.units.ParseLength(c.word)
		near("length", float64(m), c.length, err)
		l, err := c.units.ParseVolume(c.word)
		near("volume", float64(l), c.volume, err)
		d, err := c.units.ParseTemp(c.word)
		near("temperature", float64(d), c.temp, err)
		p, err := c.units.ParsePressure(c.word)
		near("pressure", math.Round(float64(p)*100)/100, c.pressure, err)
	}
	for word, want := range map[string]float64{"12C": 12, "12 °C": 12, "50F": 10} {
		d, err := Imperial.ParseTemp(word)
		near(word, float64(d), want, err)
	}
	w, err := Imperial.ParseWeight("1942g")
	near("1942g", float64(w), 1942, err)
	if _, err := Imperial.ParseWeight("20000"); err == nil || !strings.Contains(err.Error(), "a bare number is ounces") {
		t.Errorf("too heavy: %v", err)
	}
}

func TestUnitsAreMetricOrImperial(t *testing.T) {
	for in, want := range map[string]Units{"metric": Metric, " Imperial ": Imperial, "METRIC": Metric} {
		if got, err := ParseUnits(in); err != nil || got != want {
			t.Errorf("ParseUnits(%q) = %q, %v", in, got, err)
		}
	}
	if got, err := ParseUnits("furlongs"); got != "" || err == nil ||
		err.Error() != `no units "furlongs"; units are metric or imperial` {
		t.Errorf("furlongs: %q, %v", got, err)
	}
}

func TestHowMeasuresAreWritten(t *testing.T) {
	for _, c := range []struct{ name, got, want string }{
		{"grams under ten kilograms", Metric.Weight(1942.4), "1942 g"},
		{"kilograms to ten grams from ten up", Metric.Weight(10250), "10.25 kg"},
		{"kilograms to a hundred grams from a hundred up", Metric.Weight(123456), "123.5 kg"},
		{"whole kilograms from a tonne up", Metric.Weight(1234567), "1235 kg"},
		{"a loss of weight keeps its sign", Metric.Weight(-15000), "-15.00 kg"},
		{"ounces under a pound", Imperial.Weight(100), "3.5 oz"},
		{"pounds and ounces", Imperial.Weight(1942), "4 lb 4.5 oz"},
		{"ounces that round to a pound are a pound", Imperial.Weight(453.5), "1 lb 0.0 oz"},
		{"Celsius", Metric.Temp(12.06), "12.1 °C"},
		{"Fahrenheit", Imperial.Temp(12.1), "53.8 °F"},
		{"centimetres", Metric.Length(0.15), "15 cm"},
		{"centimetres with a tenth", Metric.Length(0.155), "15.5 cm"},
		{"inches", Imperial.Length(0.15), "5.9 in"},
		{"litres", Metric.Volume(40), "40 l"},
		{"gallons", Imperial.Volume(40), "10.6 gal"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %q, want %q", c.name, c.got, c.want)
		}
	}
}

func TestAWeightWrittenForPeopleIsReadBackWithinHalfItsLastDigit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := Grams(rapid.Float64Range(2, float64(MaxWeight)-50).Draw(t, "grams"))
		u := rapid.SampledFrom([]Units{Metric, Imperial}).Draw(t, "units")
		half := 0.05 * gramsPerOunce
		if u == Metric {
			switch {
			case g >= 1e5:
				half = 50
			case g >= 1e4:
				half = 5
			default:
				half = 0.5
			}
		}
		s := u.Weight(g)
		back, err := ParseWeight(s)
		if err != nil || math.Abs(float64(back-g)) > half*(1+1e-9) {
			t.Fatalf("%v g is written %q and read back as %v, %v", float64(g), s, float64(back), err)
		}
	})
}

func TestOtherMeasuresWrittenForPeopleAreReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom([]Units{Metric, Imperial}).Draw(t, "units")
		c := Celsius(rapid.Float64Range(-39, 119).Draw(t, "celsius"))
		if back, err := ParseTemp(u.Temp(c)); err != nil || math.Abs(float64(back-c)) > 0.05+1e-9 {
			t.Fatalf("%v C is written %q and read back as %v, %v", float64(c), u.Temp(c), back, err)
		}
		m := Metres(rapid.Float64Range(0.005, 9.9).Draw(t, "metres"))
		if back, err := ParseLength(u.Length(m)); err != nil || math.Abs(float64(back-m)) > 0.0254*0.05+1e-9 {
			t.Fatalf("%v m is written %q and read back as %v, %v", float64(m), u.Length(m), back, err)
		}
		l := Litres(rapid.Float64Range(1, 9e5).Draw(t, "litres"))
		if back, err := Metric.ParseVolume(u.Volume(l)); err != nil || math.Abs(float64(back-l)) > 3.785411784*0.05+1e-6 {
			t.Fatalf("%v l is written %q and read back as %v, %v", float64(l), u.Volume(l), back, err)
		}
	})
}

func TestPercentIsConvertedInOnePlaceAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.Float64Range(0, 100).Draw(t, "percent")
		if got := FromPercent(p).Percent(); !near(got, p) {
			t.Fatalf("%v %% comes back as %v", p, got)
		}
	})
}

func TestAnEstimateKeepsItsOrderUnderEveryFactor(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(-1e6, 1e6).Draw(t, "low")
		e := Estimate{Low: low, Best: low + rapid.Float64Range(0, 1e6).Draw(t, "a")}
		e.High = e.Best + rapid.Float64Range(0, 1e6).Draw(t, "b")
		k := rapid.Float64Range(-100, 100).Draw(t, "k")
		if got := e.Times(k); !(got.Low <= got.Best && got.Best <= got.High) || got.Best != e.Best*k {
			t.Fatalf("%v times %v is %v", e, k, got)
		}
	})
	if Unknown().Known() || !Exactly(0).Known() || (Estimate{Best: math.Inf(1)}).Known() {
		t.Error("known and unknown are mixed up")
	}
}

func TestKelvin(t *testing.T) {
	// The Celsius scale begins at 273.15 K by its definition (SI brochure).
	if got := Celsius(-273.15).Kelvin(); got != 0 {
		t.Errorf("absolute zero is %v K", got)
	}
}

func seeds(f *testing.F, more ...string) {
	for _, s := range append(more, "", "1942", "1,942", "-0", "NaN", "Inf", "0x1p4", "1e9", "1_0", "+.5", "..",
		strings.Repeat("9", 400), "\x1b[2J", "１２", "²") {
		f.Add(s)
	}
}

func FuzzParseWeight(f *testing.F) {
	seeds(f, "4lb5oz", "4lbs", "1.942kg", "68.5oz", "5lb-3oz", "lblb", "ozlb")
	f.Fuzz(func(t *testing.T, s string) {
		g, err := ParseWeight(s)
		if err == nil && !(g > 0 && g <= MaxWeight) || err != nil && g != 0 {
			t.Errorf("%q is %v, %v", s, float64(g), err)
		}
	})
}

func FuzzWeightWords(f *testing.F) {
	seeds(f, "2,08kg,2,1kg", "2100,2090", ";", ",,", "2;08")
	f.Fuzz(func(t *testing.T, s string) {
		figures := func(s string) string {
			return strings.Join(strings.Fields(strings.NewReplacer(",", "", ";", "", ".", "").Replace(s)), "")
		}
		if utf8.ValidString(s) && figures(strings.Join(WeightWords(s), "")) != figures(s) {
			t.Errorf("%q is parted as %q", s, WeightWords(s))
		}
	})
}

func FuzzParsePercent(f *testing.F) {
	seeds(f, "1.8%", "100", "100.00001", "-0%")
	f.Fuzz(func(t *testing.T, s string) {
		p, err := ParsePercent(s)
		if err == nil && !(p >= 0 && p <= 1) || err == nil && math.Signbit(float64(p)) || err != nil && p != 0 {
			t.Errorf("%q is %v, %v", s, float64(p), err)
		}
	})
}

func FuzzParseOtherMeasures(f *testing.F) {
	seeds(f, "15cm", "6in", "40l", "10gal", "12C", "54F", "-40F", "12.1°C")
	f.Fuzz(func(t *testing.T, s string) {
		if m, err := ParseLength(s); err == nil && !(m > 0 && m <= 10) {
			t.Errorf("length %q is %v", s, float64(m))
		}
		if l, err := Metric.ParseVolume(s); err == nil && !(l > 0 && l <= 1e6) {
			t.Errorf("volume %q is %v", s, float64(l))
		}
		if c, err := ParseTemp(s); err == nil && !(c >= -40 && c <= 120) {
			t.Errorf("temperature %q is %v", s, float64(c))
		}
	})
}
