package words

import (
	"fmt"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
)

// noun names a thing, and shows how one is written; both may be "".
type noun struct{ name, like string }

// nouns are the things that refusals speak of. One that isn't here is named by
// its code.
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
	"zone":     {"a time zone", "Europe/Dublin"},
	"id":       {"an ID", ""},
	"head":     {"a head", "9f86-d081-884c-7d65"},
}

func nounOf(t reason.Thing) noun {
	if n, ok := nouns[t]; ok {
		return n
	}
	return noun{name: string(t)}
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
		return fmt.Sprintf("can't read %s as %s%s", quoted(r.Word), nounOf(r.What).name, like(r.What)), true
	case reason.Unknown:
		if r.Known == "" {
			return fmt.Sprintf("there is no %s %s", r.What, quoted(r.Word)), true
		}
		return fmt.Sprintf("there is no %s %s; there are %s", r.What, quoted(r.Word), r.Known), true
	case reason.Together:
		return fmt.Sprintf("give %s or %s, not both", nounOf(r.What).name, nounOf(r.Other).name), true
	case reason.Needs:
		return fmt.Sprintf("%s needs %s as well", nounOf(r.What).name, nounOf(r.Other).name), true
	case reason.TooLong:
		return fmt.Sprintf("%s is too long: %d, and at most %d", nounOf(r.What).name, r.Has, r.Most), true
	case reason.Outside[quantity.Grams]:
		return p.outside(r.What, p.Units.Weight(r.Value), p.Units.Weight(r.Low), p.Units.Weight(r.High)), true
	case reason.Outside[quantity.Celsius]:
		return p.outside(r.What, p.Units.Temp(r.Value), p.Units.Temp(r.Low), p.Units.Temp(r.High)), true
	case reason.Outside[quantity.Metres]:
		return p.outside(r.What, p.Units.Length(r.Value), p.Units.Length(r.Low), p.Units.Length(r.High)), true
	case reason.Outside[quantity.Litres]:
		return p.outside(r.What, p.Units.Volume(r.Value), p.Units.Volume(r.Low), p.Units.Volume(r.High)), true
	case reason.Outside[quantity.Fraction]:
		pct := func(f quantity.Fraction) string { return fmt.Sprintf("%.4g %%", f.Percent()) }
		return p.outside(r.What, pct(r.Value), pct(r.Low), pct(r.High)), true
	case reason.Outside[float64]:
		num := func(x float64) string { return fmt.Sprintf("%.6g", x) }
		return p.outside(r.What, num(r.Value), num(r.Low), num(r.High)), true
	case reason.Outside[int]:
		return p.outside(r.What, fmt.Sprint(r.Value), fmt.Sprint(r.Low), fmt.Sprint(r.High)), true
	}
	return "", false
}

func (p Printer) outside(what reason.Thing, value, low, high string) string {
	return fmt.Sprintf("%s of %s can't be right; give %s to %s", nounOf(what).name, value, low, high)
}
