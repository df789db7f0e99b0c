package cli

import (
	"context"
	"regexp"
	"strings"
	"testing"

	"rindkeep/cmd/cli/console"
)

// triedWords are the words of the first hour that have to lead somewhere.
var triedWords = strings.Fields("undo edit delete remove eat print remind add list next wax turn backup recall labels")

func TestWordsThatPeopleTryLeadToCommandsThatAreThere(t *testing.T) {
	w := newWorld(t)
	root := rootCmd(w.console(context.Background()), "")
	words := append(console.TriedWords(), triedWords...)
	flag := regexp.MustCompile(`--([a-z-]+)`)
	for _, word := range words {
		meant := console.MeantBy(root, word)
		if len(meant) == 0 {
			t.Errorf("%q leads nowhere", word)
		}
		for _, m := range meant {
			of, err := m.Target(root)
			if err != nil || of == root || !of.IsAvailableCommand() {
				t.Errorf("%q leads to %q, which isn't a command: %v", word, m.Command, err)
				continue
			}
			for _, f := range flag.FindAllStringSubmatch(m.Command, -1) {
				if of.Flag(f[1]) == nil {
					t.Errorf("%q leads to %q, and %s has no --%s", word, m.Command, of.CommandPath(), f[1])
				}
			}
		}
		r := w.run(word)
		if r.Code != exitUsage || !strings.Contains(r.Err, meant[0].Command) {
			t.Errorf("rindkeep %s: %+v", word, r)
		}
		if r := w.run("help", word); r.Code != 0 || !strings.Contains(r.Out, meant[0].Command) {
			t.Errorf("rindkeep help %s: %+v", word, r)
		}
	}
	for _, c := range root.Commands() {
		for _, word := range console.TriedWords() {
			if c.Name() == word {
				t.Errorf("%q is a command; nobody has to be led from it", word)
			}
		}
	}
}
