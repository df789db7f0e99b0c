package page

import (
	"cmp"
	"slices"
	"strings"

	"rindkeep/cmd/app/rooms"
	book "rindkeep/cmd/app/tables"
	"rindkeep/cmd/page/form"
	"rindkeep/cmd/page/tables"
	"rindkeep/store/register"
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
	if err != nil {
		return View{}, err
	}
	list, err := book.Mappings(c.ctx, c.app, c.caller)
	mappings := map[string][]string{}
	for _, m := range list.Mappings {
		mappings[m.Of] = append(mappings[m.Of], m.Name)
	}
	return View{Template: "import.html", Title: "Import a table", Here: "makes", Body: form.Import(names, mappings)}, err
}

func saveTable(c *call, v values) (any, error) {
	file, _ := v["file"].([]byte)
	names := func(field string) map[string]string { m, _ := v[field].(map[string]string); return m }
	c.caller.On = v.text("on")
	q := tables.Request{
		Given: register.Mapping{
			Name: v.text("mapping"), Of: v.text("table"), Columns: names("columns"), Kinds: map[string]string{},
			Unit: v.text("unit"), Dates: v.text("dates"), Sensor: v.text("sensor"),
		},
		Name: cmp.Or(v.text("name"), "the table"), File: file, Sheet: v.text("sheet"), Room: v.text("room"),
		Sure: v.truth("sure"), Try: v.truth("dry_run"), Why: v.text("why"),
	}
	for w, k := range names("kinds") {
		q.Given.Kinds[strings.ToLower(strings.TrimSpace(w))] = k
	}
	units := []string{"", "g", "kg", "lb", "oz"}
	if q.Given.Of == register.OfAir {
		units = []string{"", "C", "F"}
	}
	for _, x := range []struct {
		field, is string
		may       []string
	}{{"dates", q.Given.Dates, []string{"", "dmy", "mdy"}}, {"unit", q.Given.Unit, units}} {
		if !slices.Contains(x.may, x.is) {
			return nil, badRequestf(x.field, "%s can't be %q", x.field, short(x.is))
		}
	}
	return tables.Take(c.ctx, c.app, c.caller, c.words(), q)
}
