package words

import (
	"fmt"
	"math"
	"strings"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// noun names a thing, and shows how one is written; both may be "".
type noun struct{ name, like string }

// nouns are the things that refusals speak of. One that isn't here is named by its
// code: "mould-width" is a mould width.
var nouns = map[reason.Thing]noun{
	"weight":   {"a weight", "1942, 1942g, 1.942kg or 4lb5oz"},
	"percent":  {"a percentage", "1.8%"},
	"temp":     {"a temperature", "12 or 12C"},
	"length":   {"a length", "15cm"},
	"volume":   {"a volume", "20l"},
	"date":     {"a date", "2026-11-25, yesterday or tue"},
	"time":     {"a time", "07:15 or 2026-11-25T07:15"},
	"on":       {"one date", ""},
	"from-to":  {"the first and last dates", ""},
	"why":      {"the reason", ""},
	"wheel":    {"a wheel's tag", "261120A-03"},
	"what":     {"a tag, lot or place", "261120A-03, 261120A or cellar/B/2"},
	"job":      {"a job", "turn"},
	"coat":     {"a coat", "wax"},
	"place":    {"a place", "cellar/B/2"},
	"lot":      {"a lot", "261120A"},
	"room":     {"a room", "cellar"},
	"customer": {"a customer", ""},
	"note":     {"the note", ""},
	"to":       {"the customer it goes to", ""},
	"part":     {"a piece", ""},
	"ph":       {"a pH", ""},
	"wheels":   {"a number of wheels", ""},
	"weights":  {"the list of weights", "2.1kg,2.05kg"},
	"start":    {"a time of day", "8:30"},
	"before":   {"the weight before", ""},
	"after":    {"the weight after", ""},
	"humidity": {"a humidity", "84%, from 0 to 100"},
	"unix":     {"a unix time in seconds", ""},
	"mapping":  {"a column", "tag=Cheese no"},
	"cell":     {"the cell", ""},
	"test":     {"a test", "Listeria monocytogenes"},
	"finding":  {"a result", "not detected in 25 g, or <10 cfu/g"},
	"sample":   {"a sample's number", ""},
	"zone":     {"a time zone", "Europe/Dublin"},
	"id":       {"an ID", ""},
	"head":     {"a head", "9f86-d081-884c-7d65"},

	"answer":            {"an answer", "yes or no"},
	"lever":             {"a lever", "its ratio, 4:1"},
	"air-temp":          {"an air temperature", ""},
	"salt-check-temp":   {"a temperature for a salt check", ""},
	"room-m3":           {"a room volume in m3", ""},
	"fat":               {"a fat content", ""},
	"salt":              {"a salt content", ""},
	"acid":              {"a titratable acidity", ""},
	"moisture-sd":       {"a standard deviation of the moisture", ""},
	"moisture-fat-salt": {"a sum of moisture, fat and salt", ""},
	"make-figure":       {"a figure of the make's log", ""},
}

// spaced is a thing's code as words.
func spaced(t reason.Thing) string { return strings.ReplaceAll(string(t), "-", " ") }

func nounOf(t reason.Thing) noun {
	if n, ok := nouns[t]; ok {
		return n
	}
	name := spaced(t)
	switch {
	case strings.HasSuffix(name, "s"):
		return noun{name: name}
	}
	return noun{name: article(name) + " " + name}
}

// article is the indefinite article of a name: "an" before a vowel.
func article(name string) string {
	if name != "" && strings.ContainsRune("aeiouAEIOU", rune(name[0])) {
		return "an"
	}
	return "a"
}

func like(t reason.Thing) string {
	if n := nounOf(t); n.like != "" {
		return "; give it like " + n.like
	}
	return ""
}

// shapeWords has the sentences of the shapes most refusals have.
func shapeWords(p Printer, r reason.Reason) (string, bool) {
	switch r := r.(type) {
	case reason.Missing:
		if r.What == "why" {
			return "say why" + p.typed(": --why 'wrong date'", ""), true
		}
		return nounOf(r.What).name + " is missing" + like(r.What), true
	case reason.Unreadable:
		if r.What == "country" {
			return notCountry(r.Word), true
		}
		return fmt.Sprintf("can't read %s as %s%s", quoted(r.Word), nounOf(r.What).name, like(r.What)), true
	case reason.Unknown:
		if r.Known == "" {
			return fmt.Sprintf("there is no %s %s", spaced(r.What), quoted(r.Word)), true
		}
		return fmt.Sprintf("there is no %s %s; there are %s", spaced(r.What), quoted(r.Word), r.Known), true
	case reason.Together:
		return fmt.Sprintf("give %s or %s, not both", nounOf(r.What).name, nounOf(r.Other).name), true
	case reason.Needs:
		return fmt.Sprintf("%s needs %s", nounOf(r.What).name, nounOf(r.Other).name), true
	case reason.TooLong:
		return fmt.Sprintf("%s is too long: %d, and at most %d", nounOf(r.What).name, r.Has, r.Most), true
	case reason.Outside[quantity.Grams]:
		return p.outside(r.What, p.Units.Weight(r.Value), p.Units.Weight(r.Low), p.Units.Weight(r.High)), true
	case reason.Outside[quantity.Celsius]:
		return p.outside(r.What, p.Temp(r.Value), p.Temp(r.Low), p.Temp(r.High)), true
	case reason.Outside[quantity.Metres]:
		return p.outside(r.What, p.Units.Length(r.Value), p.Units.Length(r.Low), p.Units.Length(r.High)), true
	case reason.Outside[quantity.Litres]:
		return p.outside(r.What, p.Units.Volume(r.Value), p.Units.Volume(r.Low), p.Units.Volume(r.High)), true
	case reason.Outside[quantity.Pascals]:
		kPa := func(x quantity.Pascals) string { return fmt.Sprintf("%.4g kPa", x.In(quantity.KilopascalPa)) }
		return p.outside(r.What, kPa(r.Value), kPa(r.Low), kPa(r.High)), true
	case reason.Outside[quantity.Fraction]:
		return p.outside(r.What, exact(r.Value), exact(r.Low), exact(r.High)), true
	case reason.Outside[float64]:
		num := func(x float64) string { return fmt.Sprintf("%.6g", x) }
		if r.High == math.MaxFloat64 {
			more := map[bool]string{true: "0 or more", false: "more than 0"}[r.Low == 0]
			return fmt.Sprintf("%s of %s can't be right; give %s", nounOf(r.What).name, num(r.Value), more), true
		}
		return p.outside(r.What, num(r.Value), num(r.Low), num(r.High)), true
	case reason.Outside[int]:
		return p.outside(r.What, fmt.Sprint(r.Value), fmt.Sprint(r.Low), fmt.Sprint(r.High)), true
	}
	return "", false
}

// beside is what else to say of a figure outside its range.
var beside = map[reason.Thing]string{
	"brine":              ", where it is full (35.9 g of salt to 100 g of water)",
	"pressure-on-cheese": "; check the units of load, lever and mould",
	"acid":               " of lactic acid, like 0.16%",
	"salt-rate":          " of the curd, like 1.8%",
	"moisture-fat-salt":  ", which leaves room for protein",
	"score":              ", where 5 meets your own specification",
}

func (p Printer) outside(what reason.Thing, value, low, high string) string {
	return fmt.Sprintf("%s of %s can't be right; give %s to %s%s", nounOf(what).name, value, low, high, beside[what])
}
