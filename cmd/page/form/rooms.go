package form

// Movements of a room's air.
var movements = []string{"still", "gentle", "brisk"}

// Room is the form of a room: a new one, or one whose figures are given by the names of
// the fields.
func (o Offer) Room(values map[string]string) Form {
	const limits = "Limits for alarms"
	f := Form{Act: "room", Button: "Save", Said: "room saved", Then: "room"}
	is := []Option{{"", "as usual: gentle, or still in a fridge"}}
	if values != nil {
		f.Changed, is = true, nil
	}
	name := line("name", "name").hint("short, as in room/rack/shelf: fridge, cellar").needed()
	if values != nil {
		name = as(Hidden, "name", "")
	}
	f.Fields = valued([]Field{
		name, line("title", "description"),
		as(Number, "temp", "set to, "+o.Degrees).
			hint("New rooms: 12 °C, or 10 °C in a fridge. If you change it, the limits move along"),
		as(Number, "rh", "humidity set to, %").hint("New rooms: 85 %, or 80 % in a fridge"),
		choice("air", "air", append(is, Options("", movements...)...)),
		line("racks", "racks").hint("A:5x10, B:4x8 is rack A with 5 shelves of 10 wheels each, rack B with 4 of 8; " +
			"that’s the room’s capacity too"),
		as(Few, "order", "rank in the walk").hint("1 is the first room of the round; new rooms come last"),
		as(Number, "temp_low", "lowest temperature, "+o.Degrees).in(limits),
		as(Number, "temp_high", "highest temperature, "+o.Degrees).in(limits),
		as(Number, "rh_low", "lowest humidity, %").in(limits), as(Number, "rh_high", "highest humidity, %").in(limits),
	}, values)
	return f
}

// Text is the form of a plan or a kind of cheese: its text, as the command line has it.
func Text(act, said, text string) Form {
	f := Form{Act: act, Button: "Save", Said: said, Then: act, Fields: []Field{as(Code, "toml", "text").is(text).needed()}}
	if act == "variety" {
		f.Fields = append(f.Fields, line("why", "reason").hint("only if safety holds end with it"))
	}
	return f
}
