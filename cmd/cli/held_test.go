package cli

import (
	"strings"
	"testing"
)

// Where a person can answer, they are asked whether they want to lift a safety hold.
func TestLiftingASafetyHoldIsAskedAboutOnATerminal(t *testing.T) {
	for _, c := range []struct {
		name, answer string
		line         []string
		code         int
	}{
		{"yes", "yes\n", nil, exitDone},
		{"yes, loudly", " YES \n", nil, exitDone},
		{"no", "no\n", nil, exitRefused},
		{"nothing", "\n", nil, exitRefused},
		{"the end", "", nil, exitRefused},
		{"a program", "yes\n", []string{"--json"}, exitRefused},
		{"sure from the first", "", []string{"--sure"}, exitDone},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := newWorld(t).kept()
			w.run("wheel", "hold", "261110A-01", "--why", "Listeria test awaited", "--kind", "test")
			w.env.InTTY, w.env.In = true, strings.NewReader(c.answer)
			r := w.run(append([]string{"wheel", "release", "261110A-01", "--why", "report 4417: not detected in 25 g"},
				c.line...)...)
			asked := strings.Contains(r.Err, "Do you want to lift that? Type yes or no:")
			if r.Code != c.code || asked != (c.line == nil) {
				t.Errorf("exit code %d, asked %v: %s", r.Code, asked, r.Err)
			}
			if held := strings.Contains(w.must("wheel held"), "Listeria"); held != (c.code != exitDone) {
				t.Errorf("held afterwards: %v", held)
			}
		})
	}
}
