package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"
)

// Where a script keeps what it wants printed, a file each, beside it.
var goldens = filepath.Join("testdata", "golden")

var (
	hashes    = regexp.MustCompile(`\b[0-9a-f]{64}\b`)
	heads     = regexp.MustCompile(`\b[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}\b`)
	links     = regexp.MustCompile(`("record":"link".*"link":")[A-Za-z0-9+/=]+"`)
	megabytes = regexp.MustCompile(`\b\d+\.\d MB\b`)
	// Marks of entries: first on a line of a history, last on a line of a log, in
	// the second column of a table.
	marks = regexp.MustCompile(
		`(?m)^(  | *)[0-9a-f]{6}( +\d)|( )[0-9a-f]{6}((?:  written .*)?)$|^(uuid-\d+,)[0-9a-f]{6}(,)`)
)

// settled is a text without what is new with every run. An identity becomes its
// number in the text, so that one may see where it comes again; a hash, a link
// of the chain, a mark and the size of a file become words; the folder of the
// run becomes $WORK.
func settled(s, work string) string {
	s = strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), work, "$WORK")
	nth := map[string]string{}
	s = uuids.ReplaceAllStringFunc(s, func(id string) string {
		if nth[id] == "" {
			nth[id] = fmt.Sprintf("uuid-%d", len(nth)+1)
		}
		return nth[id]
	})
	s = hashes.ReplaceAllString(s, "HASH")
	s = heads.ReplaceAllString(s, "HEAD")
	s = links.ReplaceAllString(s, `${1}LINK"`)
	s = megabytes.ReplaceAllString(s, "N MB")
	return marks.ReplaceAllString(s, "${1}${3}${5}------${2}${4}${6}")
}

// goldenFile compares a file, or what was printed, with a golden file; -update
// rewrites that: golden FILE|stdout|stderr NAME.
func goldenFile(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: golden FILE NAME")
	}
	path := filepath.Join(goldens, args[1])
	got := settled(ts.ReadFile(args[0]), ts.Getenv("WORK"))
	want, err := os.ReadFile(path)
	if string(want) == got && err == nil {
		return
	}
	if *update {
		ts.Check(os.MkdirAll(goldens, 0o755))
		ts.Check(os.WriteFile(path, []byte(got), 0o644))
		return
	}
	ts.Check(err)
	ts.Fatalf("%s is not as in %s (go test ./cmd/rindkeep -update rewrites it); first difference:\n%s",
		args[0], path, firstDifference(string(want), got))
}

// needsPrograms fails where a program is missing and all tests are to run:
// needs PROGRAM...
func needsPrograms(ts *testscript.TestScript, neg bool, args []string) {
	for _, p := range args {
		if _, err := exec.LookPath(p); err != nil && os.Getenv("RINDKEEP_TEST_ALL") == "1" {
			ts.Fatalf("%s is not installed", p)
		}
	}
}
