package holdrule

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
var builtin = sync.OnceValue(func() []Rule {
	files, err := library.ReadDir("library")
	if err != nil {
		panic(fmt.Sprintf("the built-in rules cannot be read: %v", err))
	}
	out := make([]Rule, 0, len(files))
	for _, f := range files {
		data, err := library.ReadFile("library/" + f.Name())
		if err != nil {
			panic(fmt.Sprintf("the built-in rule %s cannot be read: %v", f.Name(), err))
		}
		r, err := Parse(f.Name(), data)
		if err != nil {
			panic(fmt.Sprintf("a built-in rule is unsound: %v", err))
		}
		out = append(out, r)
	}
	slices.SortFunc(out, func(a, b Rule) int { return strings.Compare(a.Name, b.Name) })
	return out
})

func (r Rule) clone() Rule {
	r.Countries, r.Varieties, r.Groups, r.Milk = slices.Clone(r.Countries), slices.Clone(r.Varieties), slices.Clone(r.Groups), slices.Clone(r.Milk)
	return r
}

// Builtin gives the rules inside the binary, sorted by name. The caller owns what
// it gets.
func Builtin() []Rule {
	out := slices.Clone(builtin())
	for i := range out {
		out[i] = out[i].clone()
	}
	return out
}

// Find gives the built-in rule of that name.
func Find(name string) (Rule, bool) {
	all := builtin()
	i, ok := slices.BinarySearchFunc(all, name, func(r Rule, n string) int { return strings.Compare(r.Name, n) })
	if !ok {
		return Rule{}, false
	}
	return all[i].clone(), true
}
