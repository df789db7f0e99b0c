// Package noun names the things that refusals speak of, and shows how people write them.
package noun

import (
	"strings"

	"rindkeep/cave/reason"
)

// entry names a thing, and shows how one is written; both may be "".
type entry struct{ name, like string }

// nouns are the things that refusals speak of. One that isn't here is named by its
// code: "mould-width" is a mould width.
var nouns = map[reason.Thing]entry{
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

// Spaced is a thing's code as words.
func Spaced(t reason.Thing) string { return strings.ReplaceAll(string(t), "-", " ") }

// Of names a thing with its article.
func Of(t reason.Thing) string { return of(t).name }

func of(t reason.Thing) entry {
	if n, ok := nouns[t]; ok {
		return n
	}
	name := Spaced(t)
	if !strings.HasSuffix(name, "s") {
		name = Article(name) + " " + name
	}
	return entry{name: name}
}

// Article is the indefinite article of a name: "an" before a vowel.
func Article(name string) string {
	if name != "" && strings.ContainsRune("aeiouAEIOU", rune(name[0])) {
		return "an"
	}
	return "a"
}

// Like shows how a thing is written, after a sentence that asks for one; "" where nothing is to show.
func Like(t reason.Thing) string {
	if n := of(t); n.like != "" {
		return "; give it like " + n.like
	}
	return ""
}
