package cli

import (
	"strings"
	"testing"
)

func TestAPersonAtATerminalIsAskedWhatWasMeant(t *testing.T) {
	w := newWorld(t)
	w.must("room new cellar --racks A:4x8 --quiet")
	ask := func(answers, line string, want string) ran {
		t.Helper()
		w.env.In, w.env.InTTY = strings.NewReader(answers), true
		r := w.line(line)
		if r.Code != 0 || !strings.Contains(r.Err, want) {
			t.Fatalf("%s: exit code %d, asked %q, want %q\n%s", line, r.Code, r.Err, want, r.Out)
		}
		return r
	}
	ask("yes\nyes\nday\n", "make new --variety tomme --lot T --wheels 2 --weights 2.080,2.104 --on 1/11/2026",
		"Is 1/11/2026 1 Nov 2026, or 11 Jan 2026? Type day")
	var list struct{ Wheels []map[string]any }
	w.doc(&list, "wheel list")
	if len(list.Wheels) != 2 || list.Wheels[0]["weight_g"] != 2080.0 || list.Wheels[0]["age_days"] != 24.0 {
		t.Errorf("wheels: %v", list.Wheels)
	}
	r := ask("yes\n", "weigh T-01 1.930", "Did you mean 1.930 kg? Type yes or no:")
	if !strings.Contains(r.Out, "1930 g") {
		t.Errorf("weighed: %s", r.Out)
	}
	if r := ask("", "today --on 5/12/2026", ""); strings.Contains(r.Err, "Is 5/12") || !strings.Contains(r.Out, "5 Dec") {
		t.Errorf("asked again: %s%s", r.Err, r.Out)
	}
	for _, answers := range []string{"no\n", "", "what\n"} {
		w.env.In = strings.NewReader(answers)
		w.want(exitUsage, "did you mean 1.930 kg\\? write 1.930kg", "weigh", "T-02", "1.930")
	}
	w.env.InTTY = false
	w.want(exitUsage, `did you mean 1.930 kg\? write 1.930kg; a bare "1.930" would be 1.930g`, "weigh", "T-02", "1.930")
	w.sound()
}

func TestAFlagsFigureMayHaveADecimalComma(t *testing.T) {
	w := newWorld(t)
	w.must("make new --variety tomme --lot T --wheels 1 --weight 2,08kg --ph 6,55 --quiet")
	if out := w.must("make show T --json"); !strings.Contains(out, `"start_ph": 6.55`) {
		t.Errorf("pH: %s", out)
	}
	w.must("make log T acidity --ph 6,4 --quiet")
	w.want(exitUsage, `--ph "6,5,5" has more than one decimal mark`, "make", "log", "T", "acidity", "--ph", "6,5,5")
	w.want(exitUsage, `--ph "low" can't be read; give a number`, "make", "log", "T", "acidity", "--ph", "low")
}
