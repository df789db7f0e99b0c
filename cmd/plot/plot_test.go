package plot

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// curve is a chart with one of everything.
func curve() Chart {
	return Chart{
		Title: "261120A-01", XLabel: "days", YLabel: "loss, %", Target: 2.5, TargetAs: "dry enough",
		Points:   []XY{{0, 0}, {2, 1.5}, {4, 2.4}},
		Own:      []XY{{0, 0}, {2, 1.5}, {4, 2.4}, {8, 4}},
		OwnBand:  []Band{{0, 0, 0}, {8, 3.5, 4.5}},
		Expected: []Band{{0, 0, 0}, {8, 2, 5}},
		Others:   []Line{{Name: "261120A-02", XY: []XY{{0, 0}, {8, 3}}}},
		Marks:    []Mark{{6, "coated"}},
	}
}

func TestTheChartInLetters(t *testing.T) {
	c := Chart{XLabel: "days", YLabel: "loss, %", Target: math.NaN(), Points: []XY{{0, 0}, {5, 2}, {10, 4}}, Own: []XY{{0, 0}, {10, 4}}}
	want := []string{
		"loss, %",
		"4 ┤                                    ••O",
		"  │                              ••••••",
		"  │                         •••••",
		"  │                    •••••",
		"2 ┤              •••••O",
		"  │         •••••",
		"  │   ••••••",
		"0 ┤O••",
		"  └┬──────────────────┬──────────────────┬",
		"   0                  5                 10",
		"                                      days",
	}
	if diff := cmp.Diff(want, c.Text(42, 8)); diff != "" {
		t.Error(diff)
	}
}

func TestTheLegendNamesWhatIsDrawnAndNothingElse(t *testing.T) {
	if got, want := curve().Legend(), "O weighed   • own curve   ░ expected (90 %)   = dry enough   ¦ coated"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if got := (Chart{Target: math.NaN()}).Legend(); got != "" {
		t.Errorf("of nothing: %q", got)
	}
	text := strings.Join(curve().Text(78, 18), "\n")
	for _, mark := range []string{"O", "•", "░", "=", "¦", "a"} {
		if !strings.Contains(text, mark) {
			t.Errorf("no %s in\n%s", mark, text)
		}
	}
}

func TestTicksAreOneTwoOrFive(t *testing.T) {
	for _, c := range []struct {
		span float64
		n    int
		want float64
	}{{10, 5, 2}, {10, 4, 5}, {12, 6, 2}, {100, 10, 10}, {0.03, 3, 0.01}, {7, 3, 5}, {365, 6, 100}} {
		if got := nice(c.span, c.n); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%v in %d parts: %v, want %v", c.span, c.n, got, c.want)
		}
	}
}

// svg reads a picture as XML and gives the text of its elements by name.
func svg(t testing.TB, s string) map[string][]string {
	t.Helper()
	out := map[string][]string{}
	d := xml.NewDecoder(strings.NewReader(s))
	d.Strict = true
	var open []string
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("%v in\n%s", err, s)
		}
		switch x := tok.(type) {
		case xml.StartElement:
			open = append(open, x.Name.Local)
			out[x.Name.Local] = append(out[x.Name.Local], "")
			for _, a := range x.Attr {
				for _, bad := range []string{"NaN", "Inf"} {
					if strings.Contains(a.Value, bad) && a.Name.Local != "aria-label" {
						t.Fatalf("%s=%q of %s", a.Name.Local, a.Value, x.Name.Local)
					}
				}
			}
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if len(open) > 0 {
				n := open[len(open)-1]
				out[n][len(out[n])-1] += string(x)
			}
		}
	}
	if len(open) > 0 || len(out["svg"]) != 1 {
		t.Fatalf("left open: %q in\n%s", open, s)
	}
	return out
}

func TestThePictureIsXMLWithEverythingNamed(t *testing.T) {
	got := svg(t, curve().SVG(800, 480))
	words := strings.Join(got["text"], "|")
	for _, w := range []string{"261120A-01: loss, %", "days", "dry enough 2.5 %", "coated", "261120A-02", "weighed", "own curve, 90 %", "expected before weighing, 90 %"} {
		if !strings.Contains(words, w) {
			t.Errorf("no %q in %q", w, words)
		}
	}
	// Three weighings and the one in the key; two bands; the own curve and a sister's.
	if n := []int{len(got["circle"]), len(got["path"]), len(got["polyline"])}; !cmp.Equal(n, []int{4, 2, 2}) {
		t.Errorf("circles, paths, lines: %v", n)
	}
}

func TestHostileWordsStayWords(t *testing.T) {
	c := curve()
	evil := `<script>&"'</text>` + "\x1b\x00\ufffe\xff"
	c.Title, c.XLabel, c.YLabel, c.TargetAs, c.Marks[0].Word, c.Others[0].Name = evil, evil, evil, evil, evil, evil
	if got := svg(t, c.SVG(800, 480)); len(got["script"]) != 0 {
		t.Errorf("a script got in")
	}
}

// figure draws any float there is, the ordinary ones most.
func figure() *rapid.Generator[float64] {
	return rapid.OneOf(rapid.Float64Range(0, 100), rapid.Float64Range(0, 100), rapid.Float64(), rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, -1, 5e-324, 1e-10, 1e300, -1e300, math.MaxFloat64, -math.MaxFloat64}))
}

func anyChart(t *rapid.T) Chart {
	xy := rapid.Custom(func(t *rapid.T) XY { return XY{figure().Draw(t, "x"), figure().Draw(t, "y")} })
	band := rapid.Custom(func(t *rapid.T) Band {
		return Band{figure().Draw(t, "x"), figure().Draw(t, "low"), figure().Draw(t, "high")}
	})
	line := rapid.SliceOfN(xy, 0, 5)
	return Chart{
		Title: "t", YLabel: "y", XLabel: "x", Floor: figure().Draw(t, "floor"), Points: line.Draw(t, "points"), Own: line.Draw(t, "own"), Target: figure().Draw(t, "target"), TargetAs: "target",
		OwnBand: rapid.SliceOfN(band, 0, 4).Draw(t, "own band"), Expected: rapid.SliceOfN(band, 0, 4).Draw(t, "expected"),
		Others: []Line{{Name: "sister", XY: line.Draw(t, "sister")}}, Marks: []Mark{{figure().Draw(t, "mark"), "coated"}},
	}
}

func TestAnyFigureAtAllIsDrawnInBounds(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := anyChart(rt)
		w, h := rapid.IntRange(-5, 200).Draw(rt, "width"), rapid.IntRange(-5, 60).Draw(rt, "height")
		got := c.Text(w, h)
		if n := len(got) - max(6, h); n != 3 && n != 4 {
			rt.Fatalf("%d lines beside the %d of the chart", n, max(6, h))
		}
		for _, l := range got {
			if strings.ContainsAny(l, "\n\x00") || len([]rune(l)) > max(20+12, w+9) {
				rt.Fatalf("line of %d in %d columns: %q", len([]rune(l)), w, l)
			}
		}
		svg(t, c.SVG(800, 480))
	})
}

func FuzzCharts(f *testing.F) {
	f.Add(1.0, 2.0, 3.0, 4.0, 5.0, 80, 18)
	f.Add(math.Inf(1), math.NaN(), -1e300, 5e-324, 1e-10, 20, 0)
	f.Add(1e-12, 1e-12, 1e-12, 1e-12, 1e-12, 100, 30)
	f.Fuzz(func(t *testing.T, a, b, c, d, e float64, w, h int) {
		w, h = w%300, h%100
		k := Chart{
			Points: []XY{{a, b}, {c, d}}, Own: []XY{{0, e}, {a, c}, {b, d}}, Expected: []Band{{0, a, b}, {c, d, e}, {e, a, c}},
			OwnBand: []Band{{0, e, d}, {a, b, c}}, Target: d, Floor: c, Marks: []Mark{{e, "m"}}, Others: []Line{{Name: "s", XY: []XY{{b, a}, {d, c}}}},
		}
		k.Text(w, h)
		svg(t, k.SVG(w, h))
	})
}
