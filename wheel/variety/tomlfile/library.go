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
	files embed.FS
	parse func(file string, data []byte) (T, error)
	clone func(T) T

	mu    sync.Mutex
	known map[string]T
}

// NewLibrary is the library of the files in the folder library, each called by its
// name and ".toml". Clone gives a copy that shares nothing. A file that does not
// parse is a bug, which a test finds.
func NewLibrary[T any](
	files embed.FS, parse func(file string, data []byte) (T, error), clone func(T) T,
) *Library[T] {
	return &Library[T]{files: files, parse: parse, clone: clone, known: map[string]T{}}
}

// Names lists what is in the library, sorted.
func (l *Library[T]) Names() []string {
	list, err := l.files.ReadDir("library")
	if err != nil {
		panic(err)
	}
	out := make([]string, len(list))
	for i, f := range list {
		out[i] = strings.TrimSuffix(f.Name(), ".toml")
	}
	slices.Sort(out)
	return out
}

// Texts gives the files as they are, in the order of their names, without parsing
// them.
func (l *Library[T]) Texts() [][]byte {
	var out [][]byte
	for _, n := range l.Names() {
		out = append(out, l.text(n))
	}
	return out
}

func (l *Library[T]) text(name string) []byte {
	data, err := l.files.ReadFile("library/" + name + ".toml")
	if err != nil {
		return nil
	}
	return data
}

// All gives everything in the library, sorted by name. The caller owns it.
func (l *Library[T]) All() []T {
	names := l.Names()
	out := make([]T, len(names))
	for i, n := range names {
		out[i], _ = l.Find(n)
	}
	return out
}

// Find gives the one of that name, which the caller owns.
func (l *Library[T]) Find(name string) (found T, ok bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	found, ok = l.known[name]
	if !ok {
		data := l.text(name)
		if data == nil {
			return found, false
		}
		var err error
		if found, err = l.parse(name+".toml", data); err != nil {
			panic(err)
		}
		l.known[name] = found
	}
	return l.clone(found), true
}
