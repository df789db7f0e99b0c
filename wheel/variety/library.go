package variety

import (
	"embed"
	"fmt"
	"slices"
	"strings"
	"sync"
)

//go:embed library/*.toml
var library embed.FS

// builtin parses the library once. A file that does not parse is a fault of the
// program, which a test keeps from happening.
var builtin = sync.OnceValue(func() []Variety {
	files, err := library.ReadDir("library")
	if err != nil {
		panic(fmt.Sprintf("the built-in varieties cannot be read: %v", err))
	}
	out := make([]Variety, 0, len(files))
	for _, f := range files {
		data, err := library.ReadFile("library/" + f.Name())
		if err != nil {
			panic(fmt.Sprintf("the built-in variety %s cannot be read: %v", f.Name(), err))
		}
		v, err := Parse(f.Name(), data)
		if err != nil {
			panic(fmt.Sprintf("a built-in variety is unsound: %v", err))
		}
		out = append(out, v)
	}
	slices.SortFunc(out, func(a, b Variety) int { return strings.Compare(a.Name, b.Name) })
	return out
})

func (v Variety) clone() Variety {
	v.Species = slices.Clone(v.Species)
	return v
}

// Builtin gives the varieties inside the binary, sorted by name. The caller
// owns what it gets.
func Builtin() []Variety {
	out := slices.Clone(builtin())
	for i := range out {
		out[i] = out[i].clone()
	}
	return out
}

// Find gives the built-in variety of that name.
func Find(name string) (Variety, bool) {
	all := builtin()
	i, ok := slices.BinarySearchFunc(all, name, func(v Variety, n string) int { return strings.Compare(v.Name, n) })
	if !ok {
		return Variety{}, false
	}
	return all[i].clone(), true
}
