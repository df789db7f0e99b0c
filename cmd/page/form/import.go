package form

import (
	"maps"
	"slices"
)

// Import is the form of a table: the first step, before it was looked through. mappings are
// the names of the book's, by what they're for.
func Import(rooms []string, mappings map[string][]string) Form {
	f := Form{Act: "import", Button: "Look through it", Fields: []Field{
		choice("table", "what’s in the table?", []Option{
			{"wheels", "wheels, with or without their weights"}, {"weights", "weights of wheels in the book"},
			{"air", "a logger’s air readings"}, {"results", "laboratory results"},
		}).leads(),
		choice("room", "room that the logger is in", Options("", rooms...)).only("air"),
		as(File, "file", "file, CSV or XLSX").needed().hint("with headings in any order, in English, French, German, " +
			"Italian or Spanish. A title above the headings, semicolons and decimal commas are fine"),
		line("sheet", "sheet of the workbook").hint("empty: its first"),
		line("on", "date of rows that have none").hint("like 2026-11-25, or yesterday").only("wheels weights results"),
		line("why", "reason").hint("only if a safety hold ends with it").only("air"),
	}}
	for _, of := range slices.Sorted(maps.Keys(mappings)) {
		like := choice("mapping", "read it like earlier ones", Options("no, by its headings", mappings[of]...))
		f.Fields = append(f.Fields, like.hint("what you choose below is added to that").only(of))
	}
	return f
}
