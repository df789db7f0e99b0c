package quantity

import "testing"

// Pressures: 1 kgf/cm2 = 98.0665 kPa and 1 psi = 6.894757 kPa, NIST SP 811,
// Appendix B.
func TestParsePressureRatioBulkAndDegrees(t *testing.T) {
	t.Run("pressures", func(t *testing.T) {
		check(t, []parsed{
			{"a bare number is kilopascals", "40", 40000, ""},
			{"kilopascals", "40 kPa", 40000, ""},
			{"pascals", "40000Pa", 40000, ""},
			{"bar", "0,4bar", 40000, ""},
			{"kilograms to the square centimetre", "0.4kg/cm2", 39226.6, ""},
			{"the same with a raised two", "0.4 kg/cm²", 39226.6, ""},
			{"the same by its other name", "0.4kgf/cm2", 39226.6, ""},
			{"ten megapascals", "10000", 1e7, ""},
			{"over ten megapascals", "10001", 0, "out of range; a bare number is kPa"},
			{"zero", "0kPa", 0, "out of range"},
			{"negative", "-1psi", 0, "out of range"},
			{"unclear thousands", "1,000kPa", 0, "is unclear"},
			{"no number", "nan", 0, "is not a pressure; write 40kPa, 0.4kg/cm2 or 6psi"},
			{"a unit alone", "psi", 0, "is not a pressure"},
		}, func(s string) (float64, error) { p, err := Metric.ParsePressure(s); return keep(float64(p), err) })
		if p, err := Metric.ParsePressure("1psi"); err != nil || p < 6894.757 || p > 6894.758 {
			t.Errorf("1 psi is %v Pa, %v; want 6894.757", p, err)
		}
		if got := Pascals(98066.5).In(KilogramPerCm2); !near(got, 1) {
			t.Errorf("98066.5 Pa are %v kg/cm2", got)
		}
	})
	t.Run("ratios", func(t *testing.T) {
		check(t, []parsed{
			{"a number", "4", 4, ""}, {"to one", "4:1", 4, ""}, {"to two", "5:2", 2.5, ""}, {"a decimal comma", "2,5", 2.5, ""},
			{"zero", "0", 0, "out of range"}, {"to nothing", "4:0", 0, "out of range"},
			{"nothing to nothing", "0:0", 0, "out of range"}, {"negative", "-4", 0, "out of range"},
			{"huge", "1001", 0, "out of range"}, {"three parts", "4:1:1", 0, "is not a ratio; write 4 or 4:1"},
			{"words", "four", 0, "is not a ratio"}, {"half of it", "4:", 0, "is not a ratio"},
		}, func(s string) (float64, error) { n, err := ParseRatio(s); return keep(n, err) })
	})
	t.Run("masses of milk and curd", func(t *testing.T) {
		check(t, []parsed{
			{"a bare number is grams", "10200", 10200, ""}, {"kilograms past a wheel's", "1200kg", 1.2e6, ""},
			{"tonnes", "2t", 2e6, ""}, {"pounds", "10lb", 4535.9237, ""},
			{"pounds in the plural", "10 lbs", 4535.9237, ""}, {"pounds and ounces", "4lb5oz", 4*453.59237 + 5*28.349523125, ""},
			{"grams spelt out", "5 grams", 5, ""},
			{"zero", "0kg", 0, "out of range"}, {"over a thousand tonnes", "1001t", 0, "out of range"},
			{"words", "much", 0, "is not a weight"}, {"unclear thousands", "1,200kg", 0, "is unclear"},
		}, func(s string) (float64, error) { g, err := Metric.ParseBulk(s); return keep(float64(g), err) })
	})
	t.Run("degrees of a hydrometer", func(t *testing.T) {
		check(t, []parsed{
			{"a number", "19", 19, ""}, {"a decimal comma", "19,5", 19.5, ""}, {"nothing", "0", 0, ""},
			{"minus nothing", "-0", 0, ""},
			{"negative", "-1", 0, "out of range"}, {"over the scale", "201", 0, "out of range"},
			{"words", "warm", 0, "is not a reading in degrees"},
		}, func(s string) (float64, error) { n, err := ParseDegrees(s); return keep(n, err) })
	})
}

func FuzzParseBench(f *testing.F) {
	for _, s := range []string{"40kPa", "0.4kg/cm2", "6psi", "4:1", "0:0", "1e9", "1200kg", "2t", "4lb5oz", "", ":", "²"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if p, err := Metric.ParsePressure(s); err == nil && !(p > 0 && p <= maxPressure) {
			t.Errorf("%q is a pressure of %v", s, p)
		}
		if n, err := ParseRatio(s); err == nil && !(n > 0 && n <= largestLeverage) {
			t.Errorf("%q is a ratio of %v", s, n)
		}
		if g, err := Metric.ParseBulk(s); err == nil && !(g > 0 && g <= MaxBulk) {
			t.Errorf("%q is a mass of %v", s, g)
		}
		if d, err := ParseDegrees(s); err == nil && !(d >= 0 && d <= 200) {
			t.Errorf("%q is %v degrees", s, d)
		}
	})
}
