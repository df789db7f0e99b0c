package page

import (
	"cmp"
	"slices"

	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/page/form"
	"rindkeep/cmd/page/tables"
)

// importAct is the act that brings a table, the largest that can be sent.
const importAct = "import"

// importPage is where a table is chosen, looked through and taken.
func importPage(c *call) (View, error) {
	all, err := rooms.All(c.ctx, c.app, c.caller)
	var names []string
	for _, r := range all.Rooms {
		names = append(names, r.Name)
	}
	return View{Template: "import.html", Title: "Import a table", Here: "makes", Body: form.Import(names)}, err
}

func saveTable(c *call, v values) (any, error) {
	file, _ := v["file"].([]byte)
	names := func(field string) map[string]string { m, _ := v[field].(map[string]string); return m }
	c.caller.On = v.text("on")
	q := tables.Request{
		Kind: intake.Kind(v.text("table")), Name: cmp.Or(v.text("name"), "the table"), File: file, Sheet: v.text("sheet"),
		Columns: names("columns"), Kinds: names("kinds"), Room: v.text("room"), Dates: v.text("dates"), Unit: v.text("unit"),
		Sensor: v.text("sensor"), Sure: v.truth("sure"), Try: v.truth("dry_run"),
	}
	for _, x := range []struct {
		field, is string
		may       []string
	}{{"dates", q.Dates, []string{"", "dmy", "mdy"}}, {"unit", q.Unit, []string{"", "C", "F"}}} {
		if !slices.Contains(x.may, x.is) {
			return nil, badRequestf(x.field, "%s can't be %q", x.field, short(x.is))
		}
	}
	return tables.Take(c.ctx, c.app, c.caller, c.words(), q)
}
