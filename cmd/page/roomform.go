package page

import (
	"fmt"
	"strings"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/page/form"
	"rindkeep/cmd/page/format"
)

// editRoom is the form of a room, with what the book says of it.
func editRoom(c *call, r cave.Room) form.Form {
	p := c.words()
	percent := func(x quantity.Fraction) string { return format.Figure(1, pct(x)) }
	var racks []string
	for _, k := range r.Racks {
		racks = append(racks, fmt.Sprintf("%s:%dx%d", k.Name, k.Shelves, k.PerShelf))
	}
	return form.Offer{Degrees: format.Degrees(p)}.Room(map[string]string{
		"name": r.Name, "title": r.Title, "temp": p.Temp(r.Temp), "rh": percent(r.RH), "air": string(r.Movement),
		"racks": strings.Join(racks, ", "), "order": fmt.Sprint(r.Order), "temp_low": p.Temp(r.TempLow),
		"temp_high": p.Temp(r.TempHigh), "rh_low": percent(r.RHLow), "rh_high": percent(r.RHHigh),
	})
}

// saveRoom adds a room or changes one.
func saveRoom(c *call, v values) (any, error) {
	in := c.figures(v.text)
	q := rooms.Change{
		Name: v.text("name"), Title: v.text("title"), Order: optional(in, "order", whole),
		Temp: optional(in, "temp", in.units.ParseTemp), RH: optional(in, "rh", quantity.ParsePercent),
		TempLow: optional(in, "temp_low", in.units.ParseTemp), TempHigh: optional(in, "temp_high", in.units.ParseTemp),
		RHLow: optional(in, "rh_low", quantity.ParsePercent), RHHigh: optional(in, "rh_high", quantity.ParsePercent),
		Movement: given(in, "air", air.ParseMovement), Racks: given(in, "racks", cave.ParseRacks),
	}
	return record(c, in, rooms.Put, q, nil)
}
