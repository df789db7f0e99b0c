package tomlfile

import (
	"cmp"
	"embed"
	"slices"
	"sync"
)

// Library is the files of one kind inside the program, parsed when they are first
// asked for.
type Library[T any] struct {
	name  func(T) string
	clone func(T) T
	all   func() []T
}

// NewLibrary is the library of the files in the folder library. Clone gives a copy
// that shares nothing. A file that does not parse is a bug, which a test finds.
func NewLibrary[T any](
	files embed.FS, parse func(file string, data []byte) (T, error), name func(T) string, clone func(T) T,
) *Library[T] {
	return &Library[T]{name, clone, sync.OnceValue(func() (out []T) {
		list, err := files.ReadDir("library")
		for _, f := range list {
			var data []byte
			var v T
			if data, err = files.ReadFile("library/" + f.Name()); err == nil {
				v, err = parse(f.Name(), data)
			}
			if err != nil {
				break
			}
			out = append(out, v)
		}
		if err != nil {
			panic(err)
		}
		slices.SortFunc(out, func(a, b T) int { return cmp.Compare(name(a), name(b)) })
		return out
	})}
}

// All gives everything in the library, sorted by name. The caller owns it.
func (l *Library[T]) All() []T {
	out := slices.Clone(l.all())
	for i := range out {
		out[i] = l.clone(out[i])
	}
	return out
}

// Find gives the one of that name, which the caller owns.
func (l *Library[T]) Find(name string) (found T, ok bool) {
	all := l.all()
	i, ok := slices.BinarySearchFunc(all, name, func(v T, n string) int { return cmp.Compare(l.name(v), n) })
	if !ok {
		return found, false
	}
	return l.clone(all[i]), true
}
