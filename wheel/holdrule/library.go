package holdrule

import (
	"embed"
	"slices"

	"rindkeep/wheel/variety/tomlfile"
)

//go:embed library/*.toml
var files embed.FS

var library = tomlfile.NewLibrary(files, Parse, Rule.clone)

func (r Rule) clone() Rule {
	r.Countries, r.Varieties = slices.Clone(r.Countries), slices.Clone(r.Varieties)
	r.Groups, r.Milk, r.SoldAs = slices.Clone(r.Groups), slices.Clone(r.Milk), slices.Clone(r.SoldAs)
	return r
}

// Builtin gives the rules inside the binary, sorted by name. The caller may change them.
func Builtin() []Rule { return library.All() }

// Find gives the built-in rule with that name.
func Find(name string) (Rule, bool) { return library.Find(name) }
