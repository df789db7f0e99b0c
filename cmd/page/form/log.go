package form

// lineWords are what a make's log can say of a make, as one would say it.
var lineWords = []Option{
	{"milk", "milk went into the vat"}, {"ingredient", "culture, rennet or another ingredient"}, {"acidity", "acidity"},
	{"temp", "temperature"}, {"step", "a step, in your words"}, {"curd", "weight of the curd"},
	{"set-aside", "curd set aside"}, {"salt", "salt"}, {"press", "load on the press"},
	{"composition", "measured composition, as drying starts"},
}

// LogLine is the form of a line of a make's log. What it asks follows from what the line
// is about.
func (o Offer) LogLine(lot string) Form {
	return Form{Act: "log", Button: "Save line", Said: "logged", Fields: []Field{
		as(Hidden, "lot", "").is(lot),
		choice("what", "what happened?", lineWords).leads(),
		Late(),
		line("source", "from").hint("the supplier").only("milk ingredient"),
		choice("species", "milk of", Options("not given", "cow", "goat", "sheep", "buffalo")).only("milk"),
		as(Number, "litres", "litres").only("milk"),
		treatment().only("milk"),
		as(Number, "heat", "heated to, "+o.Degrees).only("milk"),
		line("heat_for", "for how long").hint("15s, 30min").only("milk"),
		choice("kind", "kind", Options("", "culture", "rennet", "salt", "colour", "calcium", "other")).only("ingredient"),
		line("name", "name").only("ingredient"),
		line("amount", "amount").hint("as measured: 2 g, 4 ml").only("ingredient"),
		line("batch", "its lot number").only("milk ingredient"),
		as(Number, "temp", "temperature, "+o.Degrees).only("temp"),
		as(Number, "moisture", "moisture, %").only("composition"),
		as(Number, "moisture_sd", "its standard deviation, %").only("composition"),
		as(Number, "fat", "fat, %").only("milk composition"),
		as(Number, "protein", "protein, %").only("milk"),
		as(Number, "cheese_salt", "salt, %").only("composition"),
		as(Number, "ph", "pH").only("acidity composition"),
		as(Number, "acid", "or titratable acidity, % of lactic acid").hint("1 degree Dornic is 0.01 %").only("acidity"),
		as(Number, "weight", "weight").hint("19.5kg or 43lb").only("curd set-aside salt"),
		as(Number, "rate", "wanted, % of the curd").only("salt"),
		choice("where", "where", []Option{{"curd", "on the curd"}, {"brine", "in brine"}, {"rub", "rubbed on"}}).only("salt"),
		line("for", "what for").only("set-aside"),
		line("into", "into which lot").hint("one saved before").only("set-aside"),
		as(Number, "load", "weight on the press").only("press"),
		as(Number, "lever", "ratio of the lever").hint("empty: as the line before, or 1").only("press"),
		line("diameter", "width of the mould").hint("15cm or 6in; empty: as the line before").only("press"),
		as(Check, "turned", "turned and redressed before").only("press"),
		line("stage", "stage").hint("in your words: renneting, cutting, scalding").
			only("acidity temp ingredient curd step composition"),
		line("note", "note"),
	}}
}
