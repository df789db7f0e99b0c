package plot

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// curve is a chart with one of everything.
func curve() Chart {
	return Chart{Title: "261120A-01", XLabel: "days", Panels: []Panel{{Label: "loss, %", Series: []Series{
		{Look: OwnBand, Name: "90 %", At: []Span{{0, 0, 0}, {8, 3.5, 4.5}}},
		{Look: Expected, Name: "expected, 90 %", At: []Span{{0, 0, 0}, {8, 2, 5}}},
		{Look: Target, Name: "dry enough", At: []Span{At(0, 2.5)}},
		{Look: Upright, Name: "coated", At: []Span{At(6, 0)}},
		{Look: Other, Name: "261120A-02", At: []Span{At(0, 0), At(8, 3)}},
		{Look: Own, Name: "own curve", At: []Span{At(0, 0), At(2, 1.5), At(4, 2.4), At(8, 4)}},
		{Look: Weighed, Name: "weighed", At: []Span{At(0, 0), At(2, 1.5), At(4, 2.4)}},
	}}}}
}

func TestTheChartInLetters(t *testing.T) {
	c := Chart{XLabel: "days", Panels: []Panel{{Label: "loss, %", Series: []Series{
		{Look: Own, At: []Span{At(0, 0), At(10, 4)}},
		{Look: Weighed, At: []Span{At(0, 0), At(5, 2), At(10, 4)}},
	}}}}
	want := []string{
		"loss, %",
		"4 ┤                                    ••O",
		"  │                              ••••••",
		"  │                         •••••",
		"2 ┤                   O•••••",
		"  │              •••••",
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
	want := []string{"░ expected, 90 %   = dry enough   ¦ coated", "a 261120A-02   • own curve   O weighed"}
	if diff := cmp.Diff(want, curve().Legend(45)); diff != "" {
		t.Error(diff)
	}
	if got := (Chart{}).Legend(80); got != nil {
		t.Errorf("of nothing: %q", got)
	}
	text := strings.Join(curve().Text(78, 18), "\n")
	for _, mark := range []string{"O", "•", "░", "=", "¦", "a"} {
		if !strings.Contains(text, mark) {
			t.Errorf("no %s in\n%s", mark, text)
		}
	}
}

func TestTheSummaryTellsTheChartInWords(t *testing.T) {
	want := "loss, %: expected, 90 %: 2 to 5; from 0 on day 0 to 4 on day 8."
	if diff := cmp.Diff(want, curve().Summary()); diff != "" {
		t.Error(diff)
	}
	start := time.Date(2026, 11, 20, 7, 0, 0, 0, time.UTC)
	at := func(hours int, y float64) Moment {
		return Moment{At: start.Add(time.Duration(hours) * time.Hour), Y: y}
	}
	air := Course{Measured: []Measured{
		{Name: "humidity", Unit: "%", Low: 82, High: 90, Gap: time.Hour,
			Moments: []Moment{at(0, 85.04), at(5, 91), at(30, 84)}},
		{Name: "pH", Low: math.NaN(), High: math.NaN(), Moments: []Moment{at(3, 6.55)}},
		{Name: "none"},
	}}
	want = "humidity, %: within limits: 82 to 90; 1 out of limits; from 85 on 20 Nov 07:00 to 84 on 21 Nov 13:00. " +
		"pH: from 6.55 on 20 Nov 10:00 to 6.55 on 20 Nov 10:00."
	if diff := cmp.Diff(want, air.Chart().Summary()); diff != "" {
		t.Error(diff)
	}
	if got := (Chart{}).Summary(); got != "" {
		t.Errorf("of nothing: %q", got)
	}
	got := svg(t, curve().SVG(400, 300))
	if got["desc"][0] != curve().Summary() || got["title"][0] != "261120A-01, loss, %" {
		t.Errorf("the picture says %q and %q", got["title"], got["desc"])
	}
}

func TestTicksAreOneTwoOrFive(t *testing.T) {
	for _, c := range []struct {
		span float64
		n    int
		want float64
	}{{10, 5, 2}, {10, 4, 5}, {12, 6, 2}, {100, 10, 10}, {0.03, 3, 0.01}, {7, 3, 5}, {365, 6, 100}, {8, 5, 2}, {5, 5, 1},
		{14, 10, 2}, {200, 10, 20}, {0.1, 5, 0.02}, {460, 10, 50}, {51, 5, 20}} {
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
	for _, w := range []string{
		"261120A-01: loss, %", "days", "dry enough 2.5 %", "coated", "261120A-02", "weighed", "own curve, 90 %",
		"expected, 90 %",
	} {
		if !strings.Contains(words, w) {
			t.Errorf("no %q in %q", w, words)
		}
	}
	// Three weighings and the one in the key; two bands, twice.
	if n := []int{len(got["circle"]), len(got["polygon"])}; !cmp.Equal(n, []int{4, 4}) {
		t.Errorf("circles, areas: %v", n)
	}
}

func TestHostileWordsStayWords(t *testing.T) {
	c := curve()
	evil := `<script>&"'</text>` + "\x1b\x00\ufffe\xff"
	c.Title, c.XLabel, c.Panels[0].Label = evil, evil, evil
	for i := range c.Panels[0].Series {
		s := &c.Panels[0].Series[i]
		s.Name, s.Words = evil, []string{evil}
	}
	if got := svg(t, c.SVG(800, 480)); len(got["script"]) != 0 {
		t.Errorf("a script got in")
	}
}

// anyFigure draws any float there is, the ordinary ones most.
func anyFigure() *rapid.Generator[float64] {
	odd := []float64{
		math.NaN(), math.Inf(1), math.Inf(-1), 0, -1, 5e-324, 1e-10, 1e300, -1e300, math.MaxFloat64, -math.MaxFloat64,
	}
	usual := rapid.Float64Range(0, 100)
	return rapid.OneOf(usual, usual, rapid.Float64(), rapid.SampledFrom(odd))
}

func anyChart(t *rapid.T) Chart {
	x := anyFigure()
	span := rapid.Custom(func(t *rapid.T) Span { return Span{x.Draw(t, "x"), x.Draw(t, "low"), x.Draw(t, "high")} })
	series := rapid.Custom(func(t *rapid.T) Series {
		return Series{
			Look: rapid.SampledFrom([]Look{Expected, OwnBand, Target, Limit, Upright, Own, Weighed, Over, Other, Other +
				30}).Draw(t, "look"),
			Name:  rapid.StringN(0, 9, -1).Draw(t, "name"),
			At:    rapid.SliceOfN(span, 0, 6).Draw(t, "at"),
			Words: rapid.SliceOfN(rapid.StringN(0, 9, -1), 0, 6).Draw(t, "words"),
		}
	})
	c := Chart{Title: "t", XLabel: rapid.SampledFrom([]string{"", "days"}).Draw(t, "x label")}
	for range rapid.IntRange(0, 3).Draw(t, "panels") {
		c.Panels = append(c.Panels, Panel{
			Label: "y", Tight: rapid.Bool().Draw(t, "tight"), Series: rapid.SliceOfN(series, 0, 5).Draw(t, "series"),
		})
	}
	return c
}

func TestAnyFigureAtAllIsDrawnInBounds(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := anyChart(rt)
		w, h := rapid.IntRange(-5, 200).Draw(rt, "width"), rapid.IntRange(-5, 60).Draw(rt, "height")
		got := c.Text(w, h)
		if n := (max(6, h)+5)*max(1, len(c.Panels)) + 2; len(got) > n {
			rt.Fatalf("%d lines, for %d panels of %d", len(got), len(c.Panels), max(6, h))
		}
		for _, l := range got {
			if strings.ContainsAny(l, "\n\x00") || len([]rune(l)) > max(24+12, w+9) {
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
		all := []Series{
			{Look: OwnBand, At: []Span{{0, e, d}, {a, b, c}}}, {Look: Expected, At: []Span{{0, a, b}, {c, d, e}, {e, a, c}}},
			{Look: Target, At: []Span{At(0, d)}}, {Look: Upright, At: []Span{At(e, 0)}, Name: "m"},
			{Look: Other, At: []Span{At(b, a), At(d, c)}, Name: "s"}, {Look: Own, At: []Span{At(0, e), At(a, c), At(b, d)}},
			{Look: Weighed, At: []Span{At(a, b), At(c, d)}},
		}
		k := Chart{Panels: []Panel{{Series: all}, {Series: all, Tight: true}}}
		k.Text(w, h)
		svg(t, k.SVG(w, h))
	})
}
