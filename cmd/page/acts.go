package page

import (
	"slices"
	"strconv"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/app/wheels"
	"rindkeep/wheel"
)

// act is something that may be written: POST /api/NAME.
type act struct {
	name   string
	about  string
	device bool // a device may do it
	fields []field
	// do does it. What lacks or clashes is a badRequest.
	command string // the command that does the same
	do      func(c *call, v values) (any, error)
}

var (
	wheelsField = field{"wheels", asList, false, "tags of the wheels"}
	whatField   = field{"what", asList, false, "wheels by lot, place or tag; instead of wheels"}
	noteField   = field{"note", asText, false, "note to save with it"}
	roundField  = field{"round", asNumber, false, "which of the day's rounds, as today lists it"}
	twiceField  = field{"twice", asTruth, false, "a round more, though one was recorded a short while ago"}
	whyField    = field{"why", asText, true, "the reason"}
)

// common are the fields of every act.
var common = []field{
	{"id", asText, false, "your own UUID (RFC 9562) for this entry; repeats are ignored"},
	{"at", asText, false, "when it happened (RFC 3339); default: now"},
	{"clock", asText, false, "what your own clock said then (RFC 3339), if it's off; kept beside at"},
	{"unsure", asTruth, false, "your clock was set since then, so at may be wrong; kept beside at"},
	{"phone", asText, false, "UUID of the phone that the entry was made on, with tap"},
	{"tap", asNumber, false, "the entry's number on that phone, from 1; so that missing ones show"},
	{"by", asText, false, "who did it; if you log in, only your own name"},
	{"sure", asTruth, false, "record it although it looks wrong, after a refusal with sure"},
}

// acts are all that may be written.
var acts = []act{
	{name: "did", about: "record a job as done", fields: []field{
		{"job", asText, true, "turn, brush, wash, …"}, wheelsField, whatField, noteField, roundField, twiceField,
	}, command: "did", do: func(c *call, v values) (any, error) { return handled(c, v, round.Job{Note: v.text("note")}) }},
	{name: "skip", about: "skip a job and say why", fields: []field{
		{"job", asText, true, "turn, brush, wash, …"}, wheelsField, whatField, whyField, roundField, twiceField,
	}, command: "skip", do: func(c *call, v values) (any, error) {
		return handled(c, v, round.Job{Note: v.text("why"), Skipped: true})
	}},
	{name: "weigh", about: "record a weight; the answer says what it means", device: true, fields: []field{
		{"wheel", asText, true, "its tag"},
		{"weight", asText, false, `as it is read: "1942", "1.942kg", "4lb5oz"`},
		{"weight_g", asNumber, false, "in grams; instead of weight"},
		noteField,
	}, command: "weigh", do: saveWeight},
	{name: "check", about: "record a hand check of the rind", fields: []field{
		wheelsField, whatField,
		{"dry_to_touch", asYesNo, false, "dry to the touch all over"}, {"cracks", asYesNo, false, "cracks in the rind"},
		{"weeping", asYesNo, false, "weeping"}, {"mould", asYesNo, false, "mould that shouldn't be there"},
		{"mites", asYesNo, false, "mites"}, {"gas", asYesNo, false, "blown by gas"}, noteField,
	}, command: "check", do: saveCheck},
	{name: "coat", about: "record a coat", fields: []field{
		wheelsField, whatField, {"coat", asText, true, "wax, cloth, breathable, foil, oil, film"},
		{"before", asWord, false, "weight before it"}, {"after", asWord, false, "weight after it"}, noteField,
	}, command: "coat", do: saveCoat},
	{name: "move", about: "move wheels", fields: []field{
		wheelsField, whatField, {"place", asText, true, "room/rack/shelf"}, noteField,
		{"sure", asTruth, false, "move them although they don't fit there, after a refusal with sure"},
	}, command: "wheel move", do: saveMove},
	{name: "tag", about: "give a wheel another tag", fields: []field{
		{"wheel", asText, true, "its tag until now"}, {"tag", asText, true, "the new one"},
	}, command: "wheel tag", do: saveTag},
	{name: "note", about: "add a note to a wheel or a lot", fields: []field{
		{"wheel", asText, false, "its tag"}, {"lot", asText, false, "the lot's code; instead of wheel"},
		{"text", asText, true, "the note"}, {"photo", asPhoto, false, "a photo to go with it, at most 700 kB"},
	}, command: "wheel note", do: saveNote},
	{name: "taste", about: "record a tasting", fields: []field{
		{"wheel", asText, false, "its tag"}, wheelsField, whatField,
		{"scores", asScores, false, "appearance, colour, texture, flavour: 1 to 5"},
		{"faults", asList, false, "faults, from the built-in list"},
		{"faults_own", asList, false, "faults in your own words"}, {"core", asWord, false, "weight of the core"}, noteField,
	}, command: "taste", do: saveTasting},
	{name: "hold", about: "hold wheels", fields: []field{
		wheelsField, whatField, whyField,
		{"kind", asText, false, "test, recall, contamination (safety), reserved, quality; default: for safety"},
	}, command: "wheel hold", do: holding(wheels.Hold)},
	{name: "release", about: "release held wheels", fields: []field{
		wheelsField, whatField, whyField, {"kind", asText, false, "only holds of this kind"},
	}, command: "wheel release", do: holding(wheels.Release)},
	{name: "send", about: "record wheels, or a piece of one, as sold or sent", fields: []field{
		wheelsField, whatField, {"to", asText, true, "the customer's name"},
		{"weight", asWord, false, "weight sent, of each"},
		{"part", asTruth, false, "only a piece; the rest stays"}, {"document", asText, false, "its delivery note"},
		{"override", asText, false, "reason to send it despite a hold"}, noteField,
	}, command: "wheel send", do: saveSending},
	{name: "lost", about: "record wheels as lost", fields: []field{
		wheelsField, whatField, whyField, {"destroyed", asTruth, false, "so that nobody eats them"},
	}, command: "wheel lost", do: because(wheels.Lose)},
	{name: "strike", about: "cancel an entry, or everything sent under one id", fields: []field{
		{"entry", asText, false, "the entry's UUID, its code (261120A-03:9f3c1a), or the id it was sent under"}, whyField,
	}, command: "strike", do: saveStrike},
	{name: "air", about: "record a room's temperature and humidity", device: true, fields: []field{
		{"room", asText, true, "the room"}, {"temp_c", asNumber, false, "in degrees Celsius"},
		{"temp", asWord, false, `as it is read: "12.1", "54F"; instead of temp_c`},
		{"rh_pct", asNumber, true, "relative humidity in percent"},
		{"why", asText, false, "reason, if a safety hold ends with it"},
	}, command: "air log", do: noteAir},
	{name: "make", about: "record a make and its wheels", fields: slices.Concat([]field{
		{"variety", asText, true, "kind of cheese"}, {"wheels", asWord, true, "how many"},
		{"weight", asWord, false, "green weight of each"}, {"weights", asList, false, "green weights, one for each wheel"},
		{"lot", asText, false, "lot code"}, {"place", asText, false, "room/rack/shelf"}, {"plan", asText, false, "rind plan"},
	}, makeFields), command: "make new", do: saveMake},
	{name: "start", about: "record a make, or older wheels, with the room they're in", fields: []field{
		{"place", asText, true, "room, or room/rack/shelf; a new room is added"},
		{"temp", asWord, false, "usual temperature of a new room"}, {"rh", asWord, false, "its usual humidity, percent"},
		{"variety", asText, true, "kind of cheese"}, {"made", asText, false, "make date; default: nobody knows"},
		{"wheels", asWord, true, "how many"},
		{"weights", asText, false, "2080,,2095: today's, one for each wheel or for all"},
		{"rind", asText, false, "wax, cloth, bare; default: as usual"},
		{"coated", asYesNo, false, "the wax or cloth is on already"}, {"coated_on", asText, false, "since when"},
		{"treatment", asText, false, "raw, thermised, pasteurised"},
	}, command: "start", do: saveStart},
	{name: "receive", about: "record bought-in wheels as they come", fields: slices.Concat([]field{
		{"from", asText, true, "supplier"}, {"lot", asText, false, "the maker's lot code"},
		{"own_lot", asText, false, "your own lot code; default: the maker's"},
		{"maker", asText, false, "if not the supplier"},
		{"document", asText, false, "number of the delivery note"}, {"temp", asWord, false, "of the cheese as it comes"},
		{"price", asWord, false, `of a kilogram: "11.40 EUR"`},
	}, arrivalFields), command: "make receive", do: saveArrival},
	{name: "take-over", about: "record older wheels of your own", fields: slices.Concat([]field{
		{"lot", asText, false, "lot code"}, {"here", asText, false, "date since when they have been at that place"},
	}, arrivalFields), command: "make take-over", do: saveArrival},
	{name: "log", about: "write a line of a make's log", fields: []field{
		{"lot", asText, true, "lot code"},
		{"what", asText, true, "milk, ingredient, acidity, temp, curd, set-aside, salt, press, step, composition"},
		{"source", asText, false, "supplier of milk or ingredient"}, {"species", asText, false, "cow, goat, sheep, buffalo"},
		{"litres", asWord, false, "of milk"}, {"treatment", asText, false, "raw, thermised, pasteurised"},
		{"heat", asWord, false, "temperature the milk was heated to"}, {"heat_for", asWord, false, "15s, 30min"},
		{"fat", asWord, false, "percent"}, {"protein", asWord, false, "percent"},
		{"kind", asText, false, "culture, rennet, salt, colour, calcium, other"},
		{"name", asText, false, "of the ingredient"}, {"amount", asText, false, "as measured"},
		{"batch", asText, false, "lot number of milk or ingredient"}, {"ph", asWord, false, "pH"},
		{"acid", asWord, false, "percent lactic acid"}, {"temp", asWord, false, "temperature"},
		{"stage", asText, false, "in your words"}, {"weight", asWord, false, "of curd or salt"},
		{"rate", asWord, false, "salt wanted, percent of the curd"}, {"where", asText, false, "curd, brine, rub"},
		{"for", asText, false, "purpose of curd set aside"}, {"into", asText, false, "lot it went into"},
		{"load", asWord, false, "weight on the press"}, {"lever", asWord, false, "its ratio"},
		{"diameter", asWord, false, "of the mould"}, {"turned", asTruth, false, "turned and redressed before"},
		{"moisture", asWord, false, "percent"}, {"moisture_sd", asWord, false, "its standard deviation"},
		{"cheese_salt", asWord, false, "percent"}, noteField,
	}, command: "make log", do: saveLine},
	{name: "room", about: "add a room, or change one; what is left out stays", fields: []field{
		{"name", asText, true, "the room"}, {"title", asText, false, "description"}, {"temp", asWord, false, "set point"},
		{"rh", asWord, false, "set humidity, percent"}, {"temp_low", asWord, false, "limit"},
		{"temp_high", asWord, false, "limit"}, {"rh_low", asWord, false, "limit, percent"},
		{"rh_high", asWord, false, "limit, percent"}, {"air", asText, false, "still, gentle, brisk"},
		{"racks", asText, false, "A:5x10, B:4x8: name, shelves, wheels on each"},
		{"order", asWord, false, "rank in the walk"},
	}, command: "room new", do: saveRoom},
	{name: "plan", about: "add a rind plan of your own, or replace one", fields: []field{
		{"toml", asText, true, "its text, as rindkeep plan show prints one"},
	}, command: "plan add", do: saveText(library.Plan)},
	{name: "variety", about: "add a kind of cheese of your own, or replace one", fields: []field{
		{"toml", asText, true, "its text, as rindkeep variety show prints one"},
		{"why", asText, false, "the reason, if safety holds end with it"},
	}, command: "variety add", do: saveText(library.Variety)},
	{name: importAct, about: "take a table into the book, or say what would come of it", fields: []field{
		{"table", asText, true, "wheels, weights, air, results"}, {"file", asFile, true, "at most 8 MB"},
		{"name", asText, false, "the file's name"}, {"sheet", asText, false, "of a workbook; default: its first"},
		{"mapping", asText, false, "name of a saved mapping; what the next five fields say is saved in it"},
		{"columns", asNames, false, "field: heading of its column"},
		{"kinds", asNames, false, "word in the table: variety that it means"},
		{"dates", asText, false, "order of the air's dates: dmy, mdy"},
		{"unit", asText, false, "of temperatures: C, F; of weights without one: g, kg, lb, oz"},
		{"sensor", asText, false, "of several, the one meant"}, {"room", asText, false, "of the air"},
		{"on", asText, false, "date of rows without one"}, {"why", asText, false, "reason, if a safety hold ends with it"},
		{"dry_run", asTruth, false, "only say what would come of it"},
	}, command: "book import", do: saveTable},
	{name: "correct", about: "correct what the book says of a make; an empty field is emptied",
		fields: slices.Concat([]field{
			{"lot", asText, true, "lot code"}, whyField, {"variety", asText, false, "kind of cheese"},
			{"wheels", asWord, false, "how many were made"}, {"void", asList, false, "tags of the wheels that were never made"},
			{"place", asText, false, "of wheels that are added"},
		}, makeFields), command: "make correct", do: correctMake},
	{name: "void", about: "remove a make that was entered by mistake, with its wheels", fields: []field{
		{"lot", asText, true, "lot code"}, whyField,
	}, command: "make void", do: voidMake},
	{name: "sample", about: "record a sample for a laboratory; its lot is held", fields: []field{
		{"lot", asText, true, "the lot's code"}, {"tests", asList, true, "what to look for"},
		{"lab", asText, false, "the laboratory"}, {"number", asText, false, "the sample's number"}, noteField,
	}, command: "make sample", do: saveSample},
	{name: "result", about: "enter what a laboratory found in a sample", fields: []field{
		{"lot", asText, true, "the lot's code"}, {"found", asWord, true, "not detected in 25 g, <10 cfu/g, …"},
		{"sample", asText, false, "the sample's number, if several are awaited"},
		{"test", asText, false, "the test, if several are awaited"},
		{"report", asText, false, "the laboratory's report"}, noteField,
	}, command: "make result", do: saveResult},
	{name: "customer", about: "add a customer, or change one", fields: []field{
		{"name", asText, true, "the customer's name"}, {"contact", asText, false, "phone, email or a person"},
		{"address", asText, false, "postal address"}, noteField,
	}, command: "customer new", do: saveCustomer},
	{name: "sites-receive", about: "record that wheels came from another site", fields: []field{
		{"wheels", asList, true, "tags on the wheels, whether their data has come or not"},
		{"place", asText, true, "room/rack/shelf"}, noteField,
	}, command: "sites receive", do: saveReceived},
	{name: "sites-settle", about: "settle what sites disagree about", fields: []field{
		{"code", asText, true, "its code, as sites lists it"},
		{"other", asTruth, false, "have the record count that doesn't now"}, {"why", asText, false, "the reason"},
	}, command: "sites settle", do: saveSettled},
}

// makeFields are the fields of what the book says of a make as a whole.
var makeFields = []field{
	{"date", asText, false, "make date"}, {"start", asText, false, "time it began"},
	{"sold_as", asText, false, "name it is sold under"},
	{"country", asText, false, "whose food law it follows: ISO codes"},
	{"milk", asText, false, "cow, goat, sheep, buffalo"}, {"litres", asWord, false, "of milk"},
	{"treatment", asText, false, "raw, thermised, pasteurised"},
	{"milk_fat", asWord, false, "percent"}, {"milk_protein", asWord, false, "percent"},
	{"curd", asWord, false, "weight of curd"}, {"set_aside", asWord, false, "weight of curd set aside"},
	{"set_aside_for", asText, false, "purpose"},
	{"salt", asWord, false, "weight of salt"}, {"salt_rate", asWord, false, "percent of the curd"},
	{"salt_where", asText, false, "curd, brine, rub"},
	{"moisture", asWord, false, "percent, at the start of drying"},
	{"moisture_sd", asWord, false, "its standard deviation"}, {"fat", asWord, false, "percent"},
	{"cheese_salt", asWord, false, "percent"}, {"ph", asWord, false, "at the start of drying"},
	{"shape", asText, false, "cylinder, block, sphere, pyramid"}, {"diameter", asWord, false, "length across"},
	{"height", asWord, false, "length"},
	{"length", asWord, false, "of a block, or a pyramid's base"}, {"width", asWord, false, "of a block"},
	{"top", asWord, false, "of a pyramid"}, noteField,
}

// arrivalFields are the fields of wheels that come already ripening.
var arrivalFields = []field{
	{"variety", asText, true, "kind of cheese"}, {"wheels", asWord, true, "how many"},
	{"made", asText, false, "make date, if it's known"},
	{"weights", asList, false, "as they came, one for each wheel or for all"},
	{"place", asText, false, "room/rack/shelf"}, {"plan", asText, false, "rind plan"},
	{"milk", asText, false, "cow, goat, sheep, buffalo"}, {"treatment", asText, false, "raw, thermised, pasteurised"},
	{"coat", asText, false, "wax, cloth, breathable, foil, oil"}, {"coated", asText, false, "date it went on"},
	{"last", asList, false, "turn=2026-11-20: when jobs were last done"},
	{"sold_as", asText, false, "name it is sold under"},
	{"country", asText, false, "whose food law it follows: ISO codes"},
	{"shape", asText, false, "cylinder, block, sphere, pyramid"}, {"diameter", asWord, false, "length across"},
	{"height", asWord, false, "length"}, {"length", asWord, false, "of a block, or a pyramid's base"},
	{"width", asWord, false, "of a block"}, {"top", asWord, false, "of a pyramid"}, noteField,
}

// handled records that a job was done, or skipped.
func handled(c *call, v values, q round.Job) (any, error) {
	var err error
	if q.Job, err = wheel.ParseJob(v.text("job")); err != nil {
		return nil, app.Misread("job", err)
	}
	if word := v.text("round"); word != "" {
		if q.Round, err = strconv.Atoi(word); err != nil || q.Round < 1 {
			return nil, badRequestf("round", "round must be a whole number from 1, not %s", short(word))
		}
	}
	q.What, q.Twice = v.whom(), v.truth("twice")
	return record(c, nil, round.Did, q, nil)
}

// actNamed finds an act.
func actNamed(name string) (act, bool) {
	for _, a := range acts {
		if a.name == name {
			return a, true
		}
	}
	return act{}, false
}
