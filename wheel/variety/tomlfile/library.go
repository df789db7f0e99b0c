package tomlfile

import (
	"embed"
	"slices"
	"strings"
	"sync"
)

// Library is the files of one kind inside the program, each parsed when it is first
// asked for: every command opens the book and few need all of a library.
type Library[T any] struct {
	names []string
	texts map[string][]byte
	find  map[string]func() T
}

// NewLibrary is the library of the files in the folder library, each named after what is in it. Clone gives a copy
// that shares nothing. A file that can't be parsed is a bug, which a test finds.
func NewLibrary[T any](files embed.FS, parse func(file string, data []byte) (T, error), clone func(T) T) Library[T] {
	l := Library[T]{texts: map[string][]byte{}, find: map[string]func() T{}}
	list, _ := files.ReadDir("library")
	for _, f := range list {
		name := strings.TrimSuffix(f.Name(), ".toml")
		l.names = append(l.names, name)
		l.texts[name], _ = files.ReadFile("library/" + f.Name())
		parsed := sync.OnceValue(func() T {
			x, err := parse(f.Name(), l.texts[name])
			if err != nil {
				panic(err)
			}
			return x
		})
		l.find[name] = func() T { return clone(parsed()) }
	}
	slices.Sort(l.names)
	return l
}

// Texts gives the files unparsed, in the order of their names.
func (l Library[T]) Texts() (out [][]byte) {
	for _, n := range l.names {
		out = append(out, l.texts[n])
	}
	return out
}

// All gives everything in the library, sorted by name. The caller owns it.
func (l Library[T]) All() (out []T) {
	for _, n := range l.names {
		out = append(out, l.find[n]())
	}
	return out
}

// Find gives the one of that name, which the caller owns.
func (l Library[T]) Find(name string) (found T, ok bool) {
	if find := l.find[name]; find != nil {
		return find(), true
	}
	return found, false
}
