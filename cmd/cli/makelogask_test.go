package cli

import (
	"strings"
	"testing"
)

func TestAMakesLogIsAskedForAtATerminal(t *testing.T) {
	for _, c := range []struct{ name, line, answers, asked, logged string }{
		{"all of it", "make log", "\nacidity\n6,45\n\nrenneting\n", "which lot? [VAT]", "pH 6.45"},
		{"of a lot", "make log OLD", "temp\n38,5\n\n", "what happened? milk, ingredient", "38.5"},
		{"of a kind", "make log VAT press", "10kg\n4\n15\nyes\n", "turned and redressed before?", "turned"},
		{"slips, asked again", "make log", "NONE\nVAT\nsoup\nacidity\nlow\n14\n\n\n5,2\n\n\n", "give 3 to 9", "pH 5.2"},
		{"milk", "make log VAT milk", "Hill Farm\ncow\n120\npasteurised\n72\n15\n3,9\n3,4\nH1120\n", "how much milk?", "120"},
	} {
		w := newWorld(t)
		w.must("make new --variety tomme --lot OLD --on 2026-11-20 --quiet")
		w.must("make new --variety tomme --lot VAT --on 2026-11-24 --quiet")
		w.env.In, w.env.InTTY = strings.NewReader(c.answers), true
		r := w.line(c.line)
		if r.Code != 0 || !strings.Contains(r.Err, c.asked) || !strings.Contains(r.Out, c.logged) {
			t.Errorf("%s: exit code %d\nstdout %s\nstderr %s", c.name, r.Code, r.Out, r.Err)
		}
		w.env.In = strings.NewReader("\n")
		w.want(exitUsage, "the answers ended early; nothing was recorded", "make", "log")
		w.env.InTTY = false
		w.want(exitUsage, "make log needs LOT and WHAT", "make", "log")
	}
}
