package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestPicturesGoToAFileOrToStandardOutput(t *testing.T) {
	w := newWorld(t)
	w.run("room", "new", "cellar")
	w.run("make", "new", "--variety", "gouda", "--wheels", "2", "--lot", "G", "--weights", "9800,9900", "--place",
		"cellar")
	w.run("make", "log", "G", "acidity", "--ph", "6.5", "--stage", "milk")
	w.run("air", "log", "cellar", "12C", "84%")
	for _, c := range [][]string{
		{"curve", "G-01"}, {"curve", "G"}, {"air", "show", "cellar"}, {"make", "show", "G"},
	} {
		line := strings.Join(c, " ")
		out := w.run(append(c, "--svg", "-", "--size", "340x360", "--quiet")...)
		if out.Code != exitDone ||
			!strings.HasPrefix(out.Out, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 340 360"`) ||
			!strings.HasSuffix(out.Out, "</svg>\n") || out.Err != "" {
			t.Errorf("%s --svg -: %+v", line, out)
		}
		file := filepath.Join(w.dir, strings.Join(c, "-")+".svg")
		if out := w.run(append(c, "--svg", file, "--json")...); out.Code != exitDone || !strings.HasPrefix(out.Out, "{") {
			t.Errorf("%s --svg FILE --json: %+v", line, out)
		}
		got, err := os.ReadFile(file)
		if err != nil || !strings.Contains(string(got), `viewBox="0 0 760 420"`) {
			t.Errorf("%s --svg FILE wrote %.80q, %v", line, got, err)
		}
		other := filepath.Join(w.dir, strings.Join(c, "-")+".txt")
		if err := os.WriteFile(other, []byte("something else"), 0o600); err != nil {
			t.Fatal(err)
		}
		w.want(exitRefused, "something else", append(c, "--svg", other)...)
		w.want(exitUsage, "both want standard output", append(c, "--svg", "-", "--json")...)
		w.want(exitUsage, "cannot be read", append(c, "--size", "wide")...)
		w.want(exitUsage, "cannot be read", append(c, "--size", "760x420x3")...)
		w.want(exitUsage, "out of range", append(c, "--size", "10x10")...)
	}
	w.want(exitUsage, "both want standard output", "curve", "G-01", "--csv", "--svg", "-")
}

func TestACalendarGoesToStandardOutput(t *testing.T) {
	w := newWorld(t)
	w.run("make", "new", "--variety", "gouda", "--wheels", "2", "--lot", "G", "--weights", "9800,9900", "--place",
		"cellar")
	out := w.run("ahead", "--ics", "-")
	if out.Code != exitDone || !strings.HasPrefix(out.Out, "BEGIN:VCALENDAR\r\n") ||
		!strings.HasSuffix(out.Out, "END:VCALENDAR\r\n") {
		t.Errorf("%+v", out)
	}
	w.want(exitUsage, "both want standard output", "ahead", "--ics", "-", "--json")
}

func TestTheWaterOfAFullRoomCanBeLeftOut(t *testing.T) {
	w := newWorld(t)
	w.run("room", "new", "cellar")
	w.run("make", "new", "--variety", "gouda", "--wheels", "2", "--lot", "G", "--weights", "9800,9900", "--place",
		"cellar")
	for _, line := range []string{"room show cellar", "air show cellar"} {
		var with, without map[string]any
		w.doc(&with, line)
		w.doc(&without, line+" --no-water")
		if with["water_load"] == nil {
			t.Errorf("%s says nothing of the water", line)
		}
		with["water_load"] = nil
		same(t, line+" --no-water", without, with)
		if out := w.must(line + " --no-water"); strings.Contains(out, "water from") {
			t.Errorf("%s --no-water says %s", line, out)
		}
		w.want(exitUsage, "not both", append(strings.Fields(line), "--no-water", "--volume=80")...)
	}
}
