package variety

import (
	"embed"
	"slices"

	"rindkeep/wheel/variety/tomlfile"
)

//go:embed library/*.toml
var files embed.FS

var library = tomlfile.NewLibrary(files, Parse, Variety.clone)

func (v Variety) clone() Variety {
	v.Species, v.Limits.SoldAs = slices.Clone(v.Species), slices.Clone(v.Limits.SoldAs)
	return v
}

// Builtin gives the varieties inside the binary, sorted by name. The caller owns what it gets.
func Builtin() []Variety { return library.All() }

// Find gives the built-in variety of that name.
func Find(name string) (Variety, bool) { return library.Find(name) }

// Texts gives the files of the library as they are, in the order of their names.
func Texts() [][]byte { return library.Texts() }
