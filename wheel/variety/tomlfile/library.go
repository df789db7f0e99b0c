package tomlfile

import (
	"cmp"
	"embed"
	"fmt"
	"slices"
	"sync"
)

// Library is what the files of one kind inside the program hold, sorted by name.
// They are parsed once, when first asked for. A file that does not parse is a
// fault of the program, which a test keeps from happening.
type Library[T any] struct {
	name  func(T) string
	clone func(T) T
	all   func() []T
}

// NewLibrary is the library of the files in the folder library; kind is what one
// is called, for a fault. Clone gives a copy that shares nothing.
func NewLibrary[T any](files embed.FS, kind string, parse func(file string, data []byte) (T, error), name func(T) string, clone func(T) T) *Library[T] {
	return &Library[T]{name, clone, sync.OnceValue(func() []T {
		list, err := files.ReadDir("library")
		if err != nil {
			panic(fmt.Sprintf("the built-in files of each %s cannot be read: %v", kind, err))
		}
		out := make([]T, 0, len(list))
		for _, f := range list {
			data, err := files.ReadFile("library/" + f.Name())
			if err != nil {
				panic(fmt.Sprintf("the built-in %s %s cannot be read: %v", kind, f.Name(), err))
			}
			v, err := parse(f.Name(), data)
			if err != nil {
				panic(fmt.Sprintf("a built-in %s is unsound: %v", kind, err))
			}
			out = append(out, v)
		}
		slices.SortFunc(out, func(a, b T) int { return cmp.Compare(name(a), name(b)) })
		return out
	})}
}

// All gives everything in the library, sorted by name. The caller owns what it
// gets.
func (l *Library[T]) All() []T {
	out := slices.Clone(l.all())
	for i := range out {
		out[i] = l.clone(out[i])
	}
	return out
}

// Find gives what bears that name.
func (l *Library[T]) Find(name string) (found T, ok bool) {
	all := l.all()
	i, ok := slices.BinarySearchFunc(all, name, func(v T, n string) int { return cmp.Compare(l.name(v), n) })
	if !ok {
		return found, false
	}
	return l.clone(all[i]), true
}
