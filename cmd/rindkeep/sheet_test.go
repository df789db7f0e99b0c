package main

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// TestPrintedSheets runs the scripts that read what was printed: its words by a
// reader of PDF, its codes by a scanner of codes.
func TestPrintedSheets(t *testing.T) {
	for _, p := range []string{"pdftotext", "pdftoppm", "zbarimg"} {
		if _, err := exec.LookPath(p); err == nil {
			continue
		}
		if os.Getenv("RINDKEEP_TEST_ALL") == "1" {
			t.Fatalf("%s is not installed (poppler-utils, zbar-tools)", p)
		}
		t.Skipf("%s is not installed", p)
	}
	testscript.Run(t, testscript.Params{
		Dir:                filepath.Join("testdata", "sheet"),
		UpdateScripts:      *update,
		RequireUniqueNames: true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("TZ", "Europe/Dublin")
			e.Setenv("RINDKEEP_TEST_NOW", "2026-11-25T08:00:00Z")
			e.Setenv("RINDKEEP_TEST_TICKS", filepath.Join(e.WorkDir, "tmp", "ticks"))
			e.Setenv("RINDKEEP_BY", "Nora")
			e.Setenv("RINDKEEP_BOOK", filepath.Join(e.WorkDir, "cave.book"))
			e.Setenv("TMPDIR", filepath.Join(e.WorkDir, "tmp"))
			return os.MkdirAll(filepath.Join(e.WorkDir, "tmp"), 0o755)
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"words": wordsOf, "codes": codesOf, "code": exitsWith},
	})
}

var (
	columns = regexp.MustCompile(` +`)
	mark    = regexp.MustCompile(`(?m)^[0-9a-f]{6}( \d)`) // of an entry, new with every run
)

// wordsOf writes the words of a PDF, a line of the paper a line, columns apart
// by one space whatever the reader makes of their distance, marks of entries as
// ------: words SHEET.pdf FILE.
func wordsOf(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: words SHEET.pdf FILE")
	}
	out, err := exec.Command("pdftotext", "-layout", ts.MkAbs(args[0]), "-").Output()
	ts.Check(err)
	var b strings.Builder
	for _, l := range strings.Split(strings.ReplaceAll(string(out), "\f", "\n= page ends =\n"), "\n") {
		if l = columns.ReplaceAllString(strings.TrimSpace(l), " "); l != "" {
			b.WriteString(l + "\n")
		}
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(mark.ReplaceAllString(b.String(), "------$1")), 0o666))
}

// codesOf writes what a scanner reads from a PDF, sorted, a code a line:
// codes SHEET.pdf FILE.
func codesOf(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: codes SHEET.pdf FILE")
	}
	pdf := ts.MkAbs(args[0])
	ts.Check(exec.Command("pdftoppm", "-gray", "-r", "300", pdf, pdf).Run())
	pages, err := filepath.Glob(pdf + "*.pgm")
	ts.Check(err)
	out, err := exec.Command("zbarimg",
		append([]string{"--quiet", "--raw", "-Sdisable", "-Sqrcode.enable"}, pages...)...).Output()
	var x *exec.ExitError
	if errors.As(err, &x) && x.ExitCode() == 4 && len(out) > 0 {
		err = nil // a page without a code is no failure
	}
	ts.Check(err)
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	slices.Sort(lines)
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(strings.Join(lines, "\n")+"\n"), 0o666))
}
