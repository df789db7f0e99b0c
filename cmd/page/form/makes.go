package form

import "slices"

// Offer is what the book has that a form can offer, and how its reader writes figures.
type Offer struct {
	Kinds, Plans []Option
	Today        string // 2026-11-25
	Weight       string // how a bare weight is read: grams
	Degrees      string // the same of a temperature: °C
}

// Lists of what may be typed that the pages have: the places and the suppliers.
const (
	PlaceList    = "places"
	CustomerList = "customers"
)

const (
	milkGroup  = "Milk"
	curdGroup  = "Curd and salt"
	shapeGroup = "Shape"
	moreGroup  = "Lot, name, plan, measured figures, note"
)

// RawMilk is what anybody who works with raw milk has to know.
const RawMilk = "CAUTION: raw milk can carry disease. Hold, test and sell only as your local law says."

func animals() Field {
	return choice("milk", "animal", Options("not given", "cow", "goat", "sheep", "buffalo"))
}

func treatment() Field {
	return choice("treatment", "milk treatment", Options("not given", "raw", "thermised", "pasteurised")).caution(RawMilk)
}

func (o Offer) variety() Field {
	return choice("variety", "variety", append([]Option{{"", "choose"}}, o.Kinds...)).needed()
}

func (o Offer) plan() Field {
	return choice("plan", "rind plan", append([]Option{{"", "the variety’s"}}, o.Plans...))
}

func place() Field {
	return line("place", "place").from(PlaceList).hint("where they’re stored: room/rack/shelf")
}

// milk are the fields of what a make was made from.
func milk() []Field {
	return grouped(milkGroup, animals(), as(Number, "litres", "litres"), treatment(),
		as(Number, "milk_fat", "fat in the milk, %"), as(Number, "milk_protein", "protein in the milk, %"))
}

func curd() []Field {
	return grouped(curdGroup, as(Number, "curd", "curd, weight").hint("19.5kg or 43lb"),
		as(Number, "set_aside", "set aside, weight"),
		line("set_aside_for", "set aside for"), as(Number, "salt", "salt, weight"),
		as(Number, "salt_rate", "salt, % of the curd"),
		choice("salt_where", "salted", []Option{
			{"", "not given"}, {"curd", "on the curd"}, {"brine", "in brine"}, {"rub", "rubbed on"},
		}))
}

func shape() []Field {
	return grouped(shapeGroup, choice("shape", "shape", Options("as usual", "cylinder", "block", "sphere", "pyramid")).
		hint("empty: the variety’s usual shape, scaled to the weight"),
		line("diameter", "across").hint("15cm or 6in, like all lengths"), line("height", "height"),
		line("length", "length of a block, or of a pyramid’s base"), line("width", "width of a block"),
		line("top", "top edge of a pyramid"))
}

// measured are the fields of a make's composition.
func measured() []Field {
	return []Field{as(Number, "moisture", "moisture, %"), as(Number, "moisture_sd", "its standard deviation, %"),
		as(Number, "fat", "fat, %"), as(Number, "cheese_salt", "salt in the cheese, %"), as(Number, "ph", "pH")}
}

func soldAs() Field {
	return line("sold_as", "sold as").hint("the name on the label; some laws have rules for some names")
}

func country() Field {
	return line("country", "follows the law of").hint("ISO codes of countries, like IE; empty: the book’s")
}

func note() Field { return as(Area, "note", "note") }

func why() Field { return line("why", "reason").needed() }

// Late is when something happened, if it isn't now.
func Late() Field { return line("at", "when, if not now").hint("10:30, or yesterday 17:45") }

// Make is the form of a new make.
func (o Offer) Make() Form {
	return Form{Act: "make", Button: "Save", Said: "saved", Then: "lot", Fields: slices.Concat([]Field{
		o.variety(), as(Few, "wheels", "number of wheels").needed(),
		as(Whole, "weights", "green weights, one for each wheel, "+o.Weight).
			hint("when drying starts, separated by commas: 1940, 1952, 1937. Or leave it empty and weigh them later."),
		place(), as(Date, "date", "date it was made").is(o.Today).needed(),
	}, milk(), curd(), shape(), grouped(moreGroup, slices.Concat([]Field{
		line("lot", "lot").hint("default: the date and a letter"),
		line("start", "time it began").hint("like 8:30; jobs of the make’s day count from it"), soldAs(), o.plan(), country(),
	}, measured(), []Field{note()})...))}
}

// Correct is the form that corrects a make; values are what the book says of it.
func (o Offer) Correct(values map[string]string) Form {
	return Form{Act: "correct", Button: "Correct", Said: "corrected", Changed: true, Fields: valued(slices.Concat([]Field{
		as(Hidden, "lot", ""), as(Date, "date", "date it was made"), line("start", "time it began"),
		choice("variety", "variety", slices.Clone(o.Kinds)), soldAs(),
		as(Few, "wheels", "number of wheels").
			hint("More get the next numbers; with fewer, the last ones are removed."),
		as(List, "void", "wheels never made").hint("their tags, separated by commas, if they aren’t the last ones"),
	}, milk(), curd(), grouped("Measured figures", measured()...), []Field{country(), note(), why()}), values)}
}

// New wheels that are older: bought in, or one's own.
func (o Offer) arrival(more ...Field) []Field {
	return slices.Concat([]Field{
		o.variety(), as(Few, "wheels", "number of wheels").needed(),
		as(Date, "made", "date they were made").hint("leave it empty if you don’t know"), place(),
		as(Whole, "weights", "weights as they came, "+o.Weight).
			hint("one for each wheel, separated by commas, or one for all; empty: not weighed"),
	}, more, grouped("Coat",
		choice("coat", "coat they have on", Options("none", "wax", "cloth", "breathable", "foil", "oil")),
		as(Date, "coated", "date it went on").hint("if you know")),
		grouped("Milk", animals(), treatment()), shape(),
		grouped("Lot, name, plan, last jobs, note", as(List, "last", "when jobs were last done").
			hint("turn=tue, brush=2026-11-20"), soldAs(), o.plan(), country(), note(), Late()))
}

// Receive is the form of bought-in wheels.
func (o Offer) Receive() Form {
	return Form{Act: "receive", Button: "Save", Said: "saved", Then: "lot", Fields: append([]Field{
		line("from", "supplier").from(CustomerList).needed(), line("lot", "their lot code").hint("as on the label"),
	}, o.arrival(grouped("Delivery",
		line("document", "delivery note number"), line("maker", "maker").hint("if that isn’t the supplier"),
		as(Number, "temp", "temperature of the cheese, "+o.Degrees),
		line("price", "price of a kilogram").hint("11.40 EUR"),
		line("own_lot", "your own lot code").hint("default: theirs"))...)...)}
}

// TakeOver is the form of older wheels of one's own.
func (o Offer) TakeOver() Form {
	return Form{Act: "take-over", Button: "Save", Said: "saved", Then: "lot", Fields: o.arrival(
		line("lot", "lot code").hint("default: the date and a letter"),
		as(Date, "here", "in that place since").hint("if you know"))}
}

// Start is the form of the first hour: a make, or wheels that are older, with their room.
func (o Offer) Start() Form {
	const air = "The air there, if the room is new"
	return Form{Act: "start", Button: "Save", Said: "saved", Then: "lot", Fields: slices.Concat([]Field{
		line("place", "where are the wheels stored?").from(PlaceList).
			hint("like fridge, or cellar/A/2: room, rack, shelf. A room that isn’t in the book yet is added").needed(),
	}, grouped(air, as(Number, "temp", "usual temperature, "+o.Degrees).hint("empty: as usual for a fridge or a cellar"),
		as(Number, "rh", "usual humidity, %").hint("leave it empty if you don’t know")), []Field{
		choice("variety", "what kind of cheese?", append([]Option{{"", "choose"}}, o.Kinds...)).needed(),
		as(Date, "made", "made when?").is(o.Today).hint("leave it empty if nobody knows"),
		as(Few, "wheels", "how many wheels?").needed(),
		line("weights", "weights today, "+o.Weight).
			hint("one for each wheel, separated by commas, blank if not weighed: 2080, , 2095. Or one for all. Or none"),
		choice("rind", "what becomes of the rind?", []Option{
			{"", "as usual for this kind"}, {"wax", "wax"}, {"cloth", "cloth"}, {"bare", "it stays bare"},
		}),
	}, grouped("Older wheels that are waxed or wrapped already", choice("coated", "is the wax or cloth on already?",
		[]Option{{"", "no"}, {"yes", "yes"}}), as(Date, "coated_on", "date it went on").hint("if you know")),
		[]Field{treatment()})}
}
