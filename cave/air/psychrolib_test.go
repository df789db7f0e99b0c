package air

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"rindkeep/cave/quantity"
)

// modules is a folder that holds the npm package psychrolib: the one named by
// RINDKEEP_NODE_MODULES, or one made for the test where everything is wanted.
func modules(t *testing.T) string {
	t.Helper()
	if _, err := exec.LookPath("node"); err != nil {
		if os.Getenv("RINDKEEP_TEST_ALL") == "1" {
			t.Fatal("node is not installed")
		}
		t.Skip("node is not installed: not compared with psychrolib")
	}
	if dir := os.Getenv("RINDKEEP_NODE_MODULES"); dir != "" {
		if _, err := os.Stat(filepath.Join(dir, "psychrolib")); err != nil {
			t.Fatalf("no psychrolib in RINDKEEP_NODE_MODULES: %v", err)
		}
		return dir
	}
	if os.Getenv("RINDKEEP_TEST_ALL") != "1" {
		t.Skip("RINDKEEP_NODE_MODULES names no folder with psychrolib: not compared")
	}
	dir := t.TempDir()
	cmd := exec.Command("npm", "install", "--silent", "--no-audit", "--no-fund", "--prefix", dir, "psychrolib@1.1.1")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("npm install psychrolib: %v\n%s", err, out)
	}
	return filepath.Join(dir, "node_modules")
}

// PsychroLib (MIT licence) is the open reference library to ASHRAE
// Fundamentals. Tolerances: it iterates its wet bulb and dew point to 0.001 K.
func TestEveryFigureAgreesWithPsychrolib(t *testing.T) {
	const script = `
const p = require(process.argv[2] + "/psychrolib");
p.SetUnitSystem(p.SI);
const out = [];
for (const t of [-5, -2, 0.5, 4, 8, 12, 16, 25, 40])
  for (const rh of [0.1, 0.5, 0.75, 0.85, 0.95, 1])
    for (const pr of [80000, 101325]) {
      const r = p.CalcPsychrometricsFromRelHum(t, rh, pr);
      out.push({t, rh, pr, sat: p.GetSatVapPres(t), w: r[0], wet: r[1], dew: r[2], e: r[3]});
    }
console.log(JSON.stringify(out));`
	dir := modules(t)
	file := filepath.Join(t.TempDir(), "ask.js")
	if err := os.WriteFile(file, []byte(script), 0o600); err != nil {
		t.Fatal(err)
	}
	raw, err := exec.Command("node", file, dir).Output()
	if err != nil {
		t.Fatal(err)
	}
	var rows []struct{ T, RH, PR, Sat, W, Wet, Dew, E float64 }
	if err := json.NewDecoder(strings.NewReader(string(raw))).Decode(&rows); err != nil {
		t.Fatal(err)
	}
	if len(rows) != 108 {
		t.Fatalf("%d rows, want 108", len(rows))
	}
	for _, r := range rows {
		s := State{Temp: quantity.Celsius(r.T), RH: quantity.Fraction(r.RH), Pressure: quantity.Pascals(r.PR)}
		have, err := Of(s)
		if err != nil {
			t.Fatal(err)
		}
		name := fmt.Sprintf("%g C, %g %%, %g Pa: ", r.T, 100*r.RH, r.PR)
		near(t, name+"saturation", float64(have.Saturation)/r.Sat, 1, 1e-9)
		near(t, name+"vapour", float64(have.Vapour)/r.E, 1, 1e-9)
		near(t, name+"humidity ratio", have.HumidityRatio, r.W, 1e-9)
		near(t, name+"dew point", float64(have.DewPoint), r.Dew, 0.002)
		near(t, name+"wet bulb", float64(have.WetBulb), r.Wet, 0.002)
		if math.IsNaN(have.AbsoluteGM3) {
			t.Error(name, "no absolute humidity")
		}
	}
}
