package schedule

import (
	"embed"

	"rindkeep/wheel/variety/tomlfile"
)

//go:embed library/*.toml
var files embed.FS

var library = tomlfile.NewLibrary(files, ParsePlan, Plan.clone)

// Builtin gives the plans inside the binary, sorted by name. The caller owns what
// it gets.
func Builtin() []Plan { return library.All() }

// Find gives the built-in plan of that name.
func Find(name string) (Plan, bool) { return library.Find(name) }

// Texts gives the files of the library as they are, in the order of their names.
func Texts() [][]byte { return library.Texts() }
