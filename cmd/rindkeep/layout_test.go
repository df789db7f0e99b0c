package main

import (
	"encoding/json"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// pkg is what the go command says of one package.
type pkg struct {
	Dir          string
	ImportPath   string
	GoFiles      []string
	Imports      []string
	TestImports  []string
	XTestImports []string
}

func packages(t *testing.T) []pkg {
	t.Helper()
	cmd := exec.Command("go", "list", "-json=Dir,ImportPath,GoFiles,Imports,TestImports,XTestImports", "rindkeep/...")
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var all []pkg
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p pkg
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
	return all
}

// layers are the floors of the house, from the ground: a package imports its
// own floor and those below.
var layers = []string{"cave", "wheel", "schedule", "store", "cmd"}

// layer is the floor of a package of ours; -1 for one of others.
func layer(path string) int {
	rest, ours := strings.CutPrefix(path, "rindkeep/")
	if !ours {
		return -1
	}
	top, _, _ := strings.Cut(rest, "/")
	return slices.Index(layers, top)
}

func TestImportsGoOneWay(t *testing.T) {
	seen := map[int]bool{}
	crossings := 0
	for _, p := range packages(t) {
		at := layer(p.ImportPath)
		if at < 0 {
			t.Errorf("%s lies on no floor; the floors are %v", p.ImportPath, layers)
			continue
		}
		seen[at] = true
		for _, imp := range slices.Concat(p.Imports, p.TestImports, p.XTestImports) {
			if !strings.HasPrefix(imp, "rindkeep/") {
				continue
			}
			if to := layer(imp); to > at {
				t.Errorf("%s imports %s: %s must not know of %s", p.ImportPath, imp, layers[at], layers[to])
			} else if to < at {
				crossings++
			}
		}
	}
	if len(seen) != len(layers) || crossings == 0 {
		t.Errorf("only the floors %v were seen, with %d imports between them", seen, crossings)
	}
}

// The use cases know no edge, and the page knows no command line.
func TestUseCasesKnowNoEdgeAndThePageNoCommand(t *testing.T) {
	for _, c := range []struct{ of, not []string }{
		{[]string{"./cmd/app/..."}, []string{"rindkeep/cmd/words", "rindkeep/cmd/cli", "rindkeep/cmd/page",
			"rindkeep/cmd/sheet", "github.com/spf13/cobra"}},
		{[]string{"./cmd/words"},
			[]string{"rindkeep/cmd/cli", "rindkeep/cmd/page", "rindkeep/cmd/sheet", "github.com/spf13/cobra"}},
		{[]string{"./cmd/page", "./cmd/sheet"}, []string{"rindkeep/cmd/cli", "github.com/spf13/cobra"}},
	} {
		list := exec.Command("go", append([]string{"list", "-deps"}, c.of...)...)
		list.Dir = filepath.Join("..", "..")
		out, err := list.Output()
		if err != nil {
			t.Fatalf("go list: %v", err)
		}
		deps := strings.Fields(string(out))
		if len(deps) < 20 {
			t.Fatalf("only %d packages below %v", len(deps), c.of)
		}
		for _, p := range deps {
			for _, not := range c.not {
				if p == not || strings.HasPrefix(p, not+"/") {
					t.Errorf("%v needs %s", c.of, p)
				}
			}
		}
	}
}

func TestPackagesOfOthersStayWhereTheyBelong(t *testing.T) {
	// In tests too, but for the tools of tests.
	only := map[string]string{
		"go.etcd.io/bbolt":              "store",
		"github.com/spf13/cobra":        "cmd",
		"github.com/spf13/pflag":        "cmd",
		"github.com/rs/zerolog":         "cmd",
		"golang.org/x/term":             "cmd",
		"github.com/mattn/go-runewidth": "cmd",
		"github.com/nats-io/nats.go":    "cmd",
	}
	used := map[string]bool{}
	for _, p := range packages(t) {
		for _, imp := range p.Imports {
			for mod, floor := range only {
				if imp != mod && !strings.HasPrefix(imp, mod+"/") {
					continue
				}
				used[mod] = true
				if at := layer(p.ImportPath); at < 0 || layers[at] != floor {
					t.Errorf("%s imports %s, which is for %s alone", p.ImportPath, imp, floor)
				}
			}
		}
	}
	for _, mod := range []string{"go.etcd.io/bbolt", "github.com/spf13/cobra", "github.com/rs/zerolog"} {
		if !used[mod] {
			t.Errorf("nothing imports %s: does this test still look at the right thing?", mod)
		}
	}
}

func TestTheDomainDoesNoInputOrOutput(t *testing.T) {
	banned := []string{"os", "os/exec", "io/ioutil", "net", "net/http", "log", "log/slog", "database/sql", "syscall",
		"math/rand", "math/rand/v2"}
	looked := 0
	for _, p := range packages(t) {
		if at := layer(p.ImportPath); at < 0 || layers[at] == "store" || layers[at] == "cmd" {
			continue
		}
		looked++
		for _, imp := range p.Imports {
			if slices.Contains(banned, imp) {
				t.Errorf("%s imports %s: the domain reads and writes nothing, and throws no dice", p.ImportPath, imp)
			}
		}
	}
	if looked < 10 {
		t.Errorf("only %d packages of the domain were looked at", looked)
	}
}

// clocks are the functions that read the clock.
var clocks = []string{"Now", "Since", "Until", "After", "Tick", "NewTimer", "NewTicker", "AfterFunc"}

func TestTheDomainReadsNoClockAndTheProgramReadsItOnce(t *testing.T) {
	main := 0
	for _, p := range packages(t) {
		at := layer(p.ImportPath)
		for _, name := range p.GoFiles {
			fset := token.NewFileSet()
			f, err := parser.ParseFile(fset, filepath.Join(p.Dir, name), nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(f, func(n ast.Node) bool {
				sel, ok := n.(*ast.SelectorExpr)
				if !ok || !slices.Contains(clocks, sel.Sel.Name) {
					return true
				}
				if x, ok := sel.X.(*ast.Ident); !ok || x.Name != "time" || x.Obj != nil {
					return true
				}
				where := fset.Position(sel.Pos())
				switch {
				case p.ImportPath == "rindkeep/cmd/rindkeep":
					main++
				case layers[at] == "store" && waits[p.ImportPath+"/"+filepath.Base(where.Filename)]:
				case layers[at] == "cmd" && sel.Sel.Name != "Now" && sel.Sel.Name != "Since":
				default:
					t.Errorf("%s/%s:%d reads the clock with time.%s: be handed the time",
						p.ImportPath, filepath.Base(where.Filename), where.Line, sel.Sel.Name)
				}
				return true
			})
		}
	}
	if main != 1 {
		t.Errorf("the clock is handed in %d times in main, want once", main)
	}
}

// waits are the files of the store that wait for another process, for which
// they need a clock of their own; what they read is never recorded.
var waits = map[string]bool{
	"rindkeep/store/bookfile/queue.go": true,
	"rindkeep/store/bookfile/place.go": true,
	"rindkeep/store/bookfile/file.go":  true, // for bbolt to close, and for a file system's clock to tick
	"rindkeep/store/book.go":           true, // the default of Options.Now
}

func TestEveryPackageSaysWhatItIs(t *testing.T) {
	for _, p := range packages(t) {
		found := false
		for _, name := range p.GoFiles {
			f, err := parser.ParseFile(token.NewFileSet(), filepath.Join(p.Dir, name), nil,
				parser.PackageClauseOnly|parser.ParseComments)
			if err != nil {
				t.Fatal(err)
			}
			if f.Doc != nil && len(f.Doc.Text()) > 40 {
				found = true
			}
		}
		if len(p.GoFiles) > 0 && !found {
			t.Errorf("%s has no words at its package clause", p.ImportPath)
		}
	}
}
