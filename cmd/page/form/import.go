package form

// Import is the form of a table: the first step, before it was looked through.
func Import(rooms []string) Form {
	return Form{Act: "import", Button: "Look through it", Fields: []Field{
		choice("table", "what’s in the table?", []Option{
			{"wheels", "wheels, with or without their weights"}, {"weights", "weights of wheels in the book"},
			{"air", "a logger’s air readings"}, {"results", "laboratory results"},
		}).leads(),
		choice("room", "room that the logger is in", Options("", rooms...)).only("air"),
		as(File, "file", "file, CSV or XLSX").needed().hint("with headings in any order, in English, French, German, " +
			"Italian or Spanish. A title above the headings, semicolons and decimal commas are fine"),
		line("sheet", "sheet of the workbook").hint("empty: its first"),
		line("on", "date of rows that have none").hint("like 2026-11-25, or yesterday").only("wheels weights results"),
	}}
}
