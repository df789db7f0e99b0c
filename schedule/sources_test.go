package schedule

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// marked is what says in a comment or a library where a figure is from: a source, or
// one of our marks.
var marked = regexp.MustCompile(`(?i)\bsource: ?\w|from memory|no source|by definition|` +
	`\bour (own|bound|choice|default|calibration|guess)`)

// Figures that need no source: 0, 1, 2, powers of ten, and the hours, minutes and
// seconds of a day; in a function's body also the other digits, which count, halves and
// quarters.
var (
	plain  = regexp.MustCompile(`^([012](\.0)?|24|60|3600|86400|0x.*|0\.0*1|1[0_]*(\.0)?(e[+-]?\d+)?)$`)
	inBody = regexp.MustCompile(`^([0-9](\.0)?|0\.2?5|12|64)$`)
)

// TestEveryFigureInTheCodeHasItsSource asks of every figure in cave, wheel and schedule
// that a comment says where it's from: that of its declaration or of its group, of the
// function that it's in, or one beside it. Bounds in the tags of structs are figures
// too. The numbers that Register gives reasons are exempt.
func TestEveryFigureInTheCodeHasItsSource(t *testing.T) {
	for _, root := range []string{"../cave", "../wheel", "."} {
		err := filepath.WalkDir(root, func(path string, _ fs.DirEntry, err error) error {
			if err == nil && strings.HasSuffix(path, ".go") && !strings.HasSuffix(path, "_test.go") {
				figuresOf(t, path, nil)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
}

// figuresOf complains of every figure of a Go file whose source no comment gives.
func figuresOf(t interface{ Errorf(string, ...any) }, path string, text any) {
	files := token.NewFileSet()
	f, err := parser.ParseFile(files, path, text, parser.ParseComments)
	if err != nil {
		t.Errorf("%v", err)
		return
	}
	line := func(p token.Pos) int { return files.Position(p).Line }
	check := func(said string, n ast.Node, exempt ...*regexp.Regexp) {
		for _, c := range f.Comments {
			if at := line(c.Pos()); at >= line(n.Pos()) && at <= line(n.End()) {
				said += " " + c.Text()
			}
		}
		if marked.MatchString(strings.Join(strings.Fields(said), " ")) {
			return
		}
		ast.Inspect(n, func(n ast.Node) bool {
			if call, ok := n.(*ast.CallExpr); ok {
				f, ok := call.Fun.(*ast.SelectorExpr)
				return !ok || f.Sel.Name != "Register"
			}
			l, ok := n.(*ast.BasicLit)
			if !ok {
				return true
			}
			odd := l.Kind == token.INT || l.Kind == token.FLOAT ||
				l.Kind == token.STRING && strings.Contains(l.Value, `range:"`)
			for _, e := range exempt {
				odd = odd && !e.MatchString(l.Value)
			}
			if odd {
				t.Errorf("%s: no comment says where %s is from", files.Position(l.Pos()), l.Value)
			}
			return true
		})
	}
	for _, d := range f.Decls {
		switch d := d.(type) {
		case *ast.FuncDecl:
			check(d.Doc.Text(), d, plain, inBody)
		case *ast.GenDecl:
			for _, s := range d.Specs {
				said := d.Doc.Text()
				if v, ok := s.(*ast.ValueSpec); ok {
					said += " " + v.Doc.Text()
				}
				check(said, s, plain)
			}
		}
	}
}

type complaints []string

func (c *complaints) Errorf(string, ...any) { *c = append(*c, "") }

func TestAFigureWithoutItsSourceIsSeen(t *testing.T) {
	for text, want := range map[string]int{
		"const a = 0.93":     1,
		"//\nconst a = 0.93": 1,
		"// a is the share that stays (read).\nconst a = 0.93":            1,
		"// Our choice.\nconst a = 0.93":                                  0,
		"const a = 0.93 // from memory":                                   0,
		"const (\n\ta = 7 // our choice\n\tb = 9\n)":                      1,
		"// Source: Mullan 2008.\nconst (\n\ta = 7\n\tb = 9\n)":           0,
		"const day, hour = 24 * 60, 1e-9":                                 0,
		"func f() float64 { return 3 * 0.5 * 0.883 }":                     1,
		"// Le is computed.\n//\n// Source: \nfunc f() int { return 77 }": 1,
		"type a struct {\n\tB int `range:\"1 60\"`\n}":                    1,
	} {
		var got complaints
		if figuresOf(&got, "a.go", "package a\n\n"+text+"\n"); len(got) != want {
			t.Errorf("%s: %d complaints, want %d", text, len(got), want)
		}
	}
}
