package cli

import (
	"os"
	"strings"
	"testing"

	said "rindkeep/cmd/words"
	"rindkeep/wheel/drying"
)

// The phone says what a weight means without asking again: its words are the
// command line's.
func TestThePageSaysWhatTheCommandLineSays(t *testing.T) {
	read := func(name string) string {
		b, err := os.ReadFile("../page/" + name)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	words := read("assets/words.js")
	for _, v := range []drying.Verdict{drying.OnCurve, drying.Fast, drying.Slow, drying.Unlikely} {
		w := said.Standing(v)
		if !strings.Contains(words, `"`+string(v)+`": "`+w+`"`) && !strings.Contains(words, string(v)+`: "`+w+`"`) {
			t.Errorf("words.js does not say %q of %s", w, v)
		}
	}
}
