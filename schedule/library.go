package schedule

import (
	"embed"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
)

//go:embed library/*.toml
var library embed.FS

// builtin parses the library once. A file that does not parse is a fault of the
// program, which a test keeps from happening.
var builtin = sync.OnceValue(func() []Plan {
	files, err := library.ReadDir("library")
	if err != nil {
		panic(fmt.Sprintf("the built-in plans cannot be read: %v", err))
	}
	out := make([]Plan, 0, len(files))
	for _, f := range files {
		data, err := library.ReadFile("library/" + f.Name())
		if err != nil {
			panic(fmt.Sprintf("the built-in plan %s cannot be read: %v", f.Name(), err))
		}
		p, err := ParsePlan(f.Name(), data)
		if err != nil {
			panic(fmt.Sprintf("a built-in plan is unsound: %v", err))
		}
		out = append(out, p)
	}
	slices.SortFunc(out, func(a, b Plan) int { return strings.Compare(a.Name, b.Name) })
	return out
})

// Builtin gives the plans inside the binary, sorted by name. The caller owns
// what it gets.
func Builtin() []Plan {
	out := slices.Clone(builtin())
	for i := range out {
		out[i] = out[i].clone()
	}
	return out
}

// Find gives the built-in plan of that name.
func Find(name string) (Plan, bool) {
	all := builtin()
	i, ok := slices.BinarySearchFunc(all, name, func(p Plan, n string) int { return strings.Compare(p.Name, n) })
	if !ok {
		return Plan{}, false
	}
	return all[i].clone(), true
}

// round takes off the dust of binary fractions before a figure is printed.
func round(x float64) float64 { return math.Round(x*1e6) / 1e6 }
