package drying

import (
	"bufio"
	"bytes"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"rindkeep/cave/reason"
	"strconv"
	"strings"
	"testing"
)

const reference = "../../testdata/reference/"

// scipyCurve is one line of fit_curves.jsonl.
type scipyCurve struct {
	Day        []float64  `json:"day"`
	Weight     []float64  `json:"weight_g"`
	Green      float64    `json:"green_g"`
	Q          float64    `json:"q"`
	S          float64    `json:"s"`
	SE         [3]float64 `json:"se"`
	SumSquares float64    `json:"sum_squares"`
}

func scipyCurves(t testing.TB, data []byte) []scipyCurve {
	t.Helper()
	var out []scipyCurve
	sc := bufio.NewScanner(bytes.NewReader(data))
	sc.Buffer(nil, 1<<20)
	for sc.Scan() {
		if strings.HasPrefix(sc.Text(), "#") {
			continue
		}
		var c scipyCurve
		if err := json.Unmarshal(sc.Bytes(), &c); err != nil {
			t.Fatal(err)
		}
		out = append(out, c)
	}
	return out
}

func fixedCurves(t testing.TB) []scipyCurve {
	t.Helper()
	data, err := os.ReadFile(reference + "fit_curves.jsonl")
	if err != nil {
		t.Fatal(err)
	}
	return scipyCurves(t, data)
}

// agree holds FitWeights to six digits of scipy's figures.
func agree(t *testing.T, curves []scipyCurve) {
	t.Helper()
	if len(curves) < 200 {
		t.Fatalf("%d curves, want 200 and more", len(curves))
	}
	worst := 0.0
	for i, c := range curves {
		r, err := FitWeights(c.Day, c.Weight)
		if err != nil {
			t.Errorf("curve %d: %v", i, err)
			continue
		}
		for _, v := range []struct {
			name       string
			have, want float64
			tol        float64
		}{
			{"green weight", r.GreenWeightG, c.Green, 1e-6}, {"q", r.FirstDayRate, c.Q, 1e-6}, {"s", r.RootDayRate, c.S, 1e-6},
			{"its green weight's error", r.GreenWeightSE, c.SE[0], 1e-4}, {"q's error", r.FirstDaySE, c.SE[1],
				1e-4}, {"s's error", r.RootDaySE, c.SE[2], 1e-4},
		} {
			off := math.Abs(v.have/v.want - 1)
			if v.tol == 1e-6 {
				worst = math.Max(worst, off)
			}
			if !(off < v.tol) {
				t.Errorf("curve %d: %s %.9g, scipy %.9g", i, v.name, v.have, v.want)
			}
		}
	}
	t.Logf("%d curves, furthest apart %.1e", len(curves), worst)
}

func TestPlainLeastSquaresAgreesWithScipyToSixDigits(t *testing.T) {
	agree(t, fixedCurves(t))
}

// python finds a python with scipy, or skips; where everything is wanted its
// absence is a failure.
func python(t testing.TB) string {
	t.Helper()
	const p = "/usr/bin/python3"
	if exec.Command(p, "-c", "import scipy").Run() != nil {
		if everything() {
			t.Fatal("scipy is not installed for /usr/bin/python3")
		}
		t.Skip("scipy is not installed for /usr/bin/python3: not compared live")
	}
	return p
}

func TestPlainLeastSquaresAgreesWithScipyLive(t *testing.T) {
	if !everything() && testing.Short() {
		t.Skip("short: scipy takes seconds")
	}
	out, err := exec.Command(python(t), reference+"fit_curves.py").Output()
	if err != nil {
		t.Fatal(err)
	}
	agree(t, scipyCurves(t, out))
}

func TestFittedWeightsSayWhatTheyDoNotTell(t *testing.T) {
	days := func(n int) (d []float64) {
		for i := range n {
			d = append(d, float64(i*3))
		}
		return d
	}
	of := func(f func(t float64) float64, n int) (w []float64) {
		for i, t := range days(n) {
			w = append(w, f(t)+0.3*math.Pow(-1, float64(i)))
		}
		return w
	}
	for _, c := range []struct {
		name   string
		w      []float64
		status string
		why    reason.Reason
	}{
		{"a straight fall tells no root-time rate", of(func(t float64) float64 { return 2000 - 4*t }, 12), NotIdentified,
			NoRootTime{}},
		{"a fall with the root of time tells no first-day rate",
			of(func(t float64) float64 { return 2000 - 30*math.Sqrt(t) }, 12), NotIdentified, RootFromStart{}},
		{"weights that do not fall tell nothing", of(func(t float64) float64 { return 2000 + t }, 12), NotIdentified,
			NoFall{}},
		{"a bent fall tells both", of(func(t float64) float64 { return 2000 * (1 - Curve(0.01, 0.02, t)) }, 25),
			Identified, nil},
	} {
		r, err := FitWeights(days(len(c.w)), c.w)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if r.Status != c.status || r.Why != c.why {
			t.Errorf("%s: %s, %+v", c.name, r.Status, r.Why)
		}
		for _, v := range []float64{r.GreenWeightG, r.FirstDayRate, r.RootDayRate, r.ResidualSDG, r.GreenWeightSE,
			r.FirstDaySE, r.RootDaySE} {
			if math.IsNaN(v) {
				t.Errorf("%s: a NaN in %+v", c.name, r)
			}
		}
	}
}

func TestThinOrSpoiledWeightsAreRefusedInWords(t *testing.T) {
	for _, c := range []struct {
		name     string
		day, w   []float64
		sentence string
	}{
		{"two weighings", []float64{0, 1}, []float64{10, 9}, "few-weighings {Have:2 Need:4 Times:false}"},
		{"lists of different length", []float64{0, 1}, []float64{10}, "unpaired {Days:2 Weights:1}"},
		{"all on one day", []float64{1, 1, 1, 1}, []float64{10, 9, 9, 9}, "few-weighings {Have:1 Need:3 Times:true}"},
		{"no number", []float64{0, 1, 2, 3}, []float64{10, math.NaN(), 9, 9}, "odd-weighing {Number:2 Day:1 Weight:NaN}"},
		{"a day before the start", []float64{0, -1, 2, 3}, []float64{10, 9, 9, 9}, "odd-weighing {Number:2 Day:-1 Weight:9}"},
	} {
		if _, err := FitWeights(c.day, c.w); err == nil || !strings.Contains(err.Error(), c.sentence) {
			t.Errorf("%s: %v, want %q", c.name, err, c.sentence)
		}
	}
}

func BenchmarkPlainFitBesideScipy(b *testing.B) {
	curves := fixedCurves(b)
	out, err := exec.Command(python(b), reference+"fit_curves.py", "--time", reference+"fit_curves.jsonl").Output()
	if err != nil {
		b.Fatal(err)
	}
	theirs, err := strconv.ParseFloat(strings.TrimSpace(string(out)), 64)
	if err != nil {
		b.Fatal(err)
	}
	i := 0
	for b.Loop() {
		c := curves[i%len(curves)]
		if _, err := FitWeights(c.Day, c.Weight); err != nil {
			b.Fatal(err)
		}
		i++
	}
	ours := b.Elapsed().Seconds() / float64(b.N)
	b.ReportMetric(theirs/ours, "times-quicker-than-scipy")
}
