package words

import (
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/care"
	"rindkeep/cmd/intake"
	"rindkeep/wheel/variety/tomlfile"
)

// needFigures have functions of their own, which want figures in them.
var needFigures = map[reflect.Type]bool{
	reflect.TypeFor[care.Unsound](): true, reflect.TypeFor[intake.NoAirColumns](): true,
	reflect.TypeFor[intake.Problem](): true, reflect.TypeFor[tomlfile.Fault](): true,
	reflect.TypeFor[app.NoBackup](): true,
}

func TestFormsNameFieldsThatTheirReasonsHave(t *testing.T) {
	for of, s := range sentences {
		r, flat := of.(reason.Reason)
		if !flat {
			of := of.(reflect.Type)
			if of.Kind() == reflect.Pointer || needFigures[of] {
				continue
			}
			r = reflect.Zero(of).Interface().(reason.Reason)
		}
		for _, write := range []func(Printer, reason.Reason) string{s.full, s.brief} {
			if write == nil {
				continue
			}
			for _, where := range []Surface{CommandLine, Page} {
				if got := write(Printer{For: where}, r); strings.ContainsAny(got, "{}[]") {
					t.Errorf("%T reads %q", r, got)
				}
			}
		}
	}
}

// A reason without figures is a constant somewhere: each has words, or people would read its code.
func TestEveryReasonWithoutFiguresHasWords(t *testing.T) {
	partOfAnother := []string{ // of a cave.BadName or a tomlfile.Fault
		"space-at-end", "reserved-character", "wrong-beginning", "command-word", "asks-nothing", "limit-either-or", "empty",
	}
	declared := regexp.MustCompile(`reason\.Flat(?:\s*=\s*|\()"([^"]+)"`)
	found := 0
	err := filepath.WalkDir("../..", func(path string, e fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		b, err := os.ReadFile(path)
		for _, m := range declared.FindAllStringSubmatch(string(b), -1) {
			found++
			if _, ok := sentences[reason.Flat(m[1])]; !ok && !slices.Contains(partOfAnother, m[1]) {
				t.Errorf("%s: %q has no words", path, m[1])
			}
		}
		return err
	})
	if err != nil || found < 100 {
		t.Fatalf("%d reasons found, %v", found, err)
	}
}
