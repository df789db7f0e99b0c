package words

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/schedule"
	"rindkeep/store/refusal"
	"rindkeep/wheel/holdrule"
	"rindkeep/wheel/limit"
	"rindkeep/wheel/variety"
	"rindkeep/wheel/variety/tomlfile"
)

// The sentences about the files of plans, varieties and rules:
// `mine.toml line 7: ph must be from 4 to 7`.
func init() {
	learn(say(func(_ Printer, f tomlfile.Fault) string {
		where := cmp.Or(f.File, "the file")
		if f.Line > 0 {
			where += fmt.Sprintf(" line %d", f.Line)
		}
		return where + ": " + fileReason(f.Key, f.Why)
	}))
}

// fileReason is what can be wrong with any file.
func fileReason(key string, why reason.Reason) string {
	switch w := why.(type) {
	case tomlfile.Hidden:
		if w.Char != 0 {
			return fmt.Sprintf("character U+%04X does not show; take it out", w.Char)
		}
		return key + " holds a character that does not show; keep it to one plain line"
	case tomlfile.NotTOML:
		return "this isn't TOML: " + w.Detail
	case tomlfile.WrongKind:
		return fmt.Sprintf(wrongKinds[w.Want], key)
	case tomlfile.Range:
		return key + " must be " + span(w)
	case tomlfile.Twice:
		return fmt.Sprintf("%s names %q twice", key, w.Word)
	case tomlfile.NotRising:
		return fmt.Sprintf("%s must rise, and %d comes after %d", key, w.After, w.Before)
	case tomlfile.NotUnder:
		value, limit := measure(w.Value, w.Unit), measure(w.Limit, w.Unit)
		return fmt.Sprintf("%s %s is not under %s, which is %s", key, value, w.Other, limit)
	case tomlfile.NotOver:
		value, limit := measure(w.Value, w.Unit), measure(w.Limit, w.Unit)
		return fmt.Sprintf("%s %s is not over %s, which is %s", key, value, w.Other, limit)
	case reason.Unknown:
		return unknown(w)
	case reason.Missing:
		return missing(key)
	case reason.TooLong:
		return tooLong(key, w)
	case reason.Unreadable:
		return badForm(key, w)
	case reason.Together:
		return fmt.Sprintf("%s can't stand beside %s; take one of them out", key, w.Other)
	case reason.Needs:
		return fmt.Sprintf("%s needs %s as well", key, w.Other)
	}
	return contentReason(key, why)
}

// contentReason is what can be wrong with one kind of file.
func contentReason(key string, why reason.Reason) string {
	switch w := why.(type) {
	case schedule.OnlyOne:
		return "a step can have only one of " + w.Of + "; make two steps of it"
	case schedule.OnlyFor:
		return fmt.Sprintf("%s is for %s steps only, and this is a %s step", key, w.Job, w.Is)
	case schedule.EmptyWindow:
		switch {
		case w.Until == "":
			return fmt.Sprintf("the step never opens: a wheel that is %s isn't handled", w.From)
		case w.From == "":
			return fmt.Sprintf("the step never opens: every wheel begins with %s", w.Until)
		}
		return fmt.Sprintf("the step never opens: it begins with %s and ends with %s", w.From, w.Until)
	case schedule.OutsideWindow:
		return fmt.Sprintf("day %d is outside from_day and until_day", w.Day)
	case schedule.LongSlack:
		return fmt.Sprintf("slack of %d days is too long for a job every %[2]d days; keep it under %[2]d", w.Slack, w.Between)
	case schedule.TimesElsewhere:
		return fmt.Sprintf("an earlier %s step has minutes_after; put all its times in one list", w.Job)
	case variety.Density:
		return fmt.Sprintf("weight and measures make %.0f kg per cubic metre; cheese has %g to %g", w.Value, w.Low, w.High)
	case variety.NoProtein:
		return fmt.Sprintf("moisture, fat and salt make %s, which leaves nothing for protein", measure(w.Sum.Percent(), "%"))
	case variety.NotOfShape:
		if w.Lacks {
			return fmt.Sprintf("a %s needs its %s", w.Shape, key)
		}
		return fmt.Sprintf("a %s has no %s", w.Shape, key)
	}
	switch why {
	case tomlfile.Empty:
		return key + " is empty; fill it in or take it out"
	case limit.EitherOr:
		return "give absent_in_g, or at_most with its unit, not both"
	case holdrule.AsksNothing:
		return "the rule asks for nothing; give days, a label or both"
	}
	return why.Code()
}

var wrongKinds = map[string]string{
	"text":    "%s must be text in quotes",
	"texts":   `%s must be a list of texts, like ["cow"]`,
	"numbers": "%s must be a list of whole numbers, like [60, 120]",
	"table":   "%[1]s is a table; write [%[1]s] and its keys below",
	"tables":  "%[1]s is a list of tables; write [[%[1]s]] and its keys below",
}

// kindWords are the kinds of word that are not named as their key is.
var kindWords = map[reason.Thing]string{
	"groups": "group", "milk": "milk treatment", "count_from": "beginning",
	"after": "stage or job", "until": "stage or job",
}

func unknown(w reason.Unknown) string {
	kind := cmp.Or(kindWords[w.What], string(w.What))
	if w.Word == "" {
		return kind + " is missing; use one of " + w.Known
	}
	if near := refusal.Nearest(w.Word, strings.Split(w.Known, ", ")); len(near) > 0 {
		return fmt.Sprintf("no %s %q; did you mean %q?", kind, w.Word, near[0])
	}
	return fmt.Sprintf("no %s %q; use one of %s", kind, w.Word, w.Known)
}

// missing says that a key is missing, and for some what belongs there.
func missing(key string) string {
	give := map[string]string{
		"step":      "write [[step]] and a job below it",
		"countries": `write countries = ["US"], by ISO code`,
		"species":   `write species = ["cow"]`,
		"source":    `say where it comes from, or write "common practice, no source"`,
	}[key]
	return key + " is missing; " + cmp.Or(give, "give it")
}

func tooLong(key string, w reason.TooLong) string {
	switch w.What {
	case "file":
		return fmt.Sprintf("the file has %d bytes; at most %d are read", w.Has, w.Most)
	case "list":
		return fmt.Sprintf("%s is there %d times; %d is the most", key, w.Has, w.Most)
	}
	return fmt.Sprintf("%s is %d characters long; keep it to %d", key, w.Has, w.Most)
}

func badForm(key string, w reason.Unreadable) string {
	switch w.What {
	case "name":
		return fmt.Sprintf("%s %q is not 2 to 40 of a-z, 0-9 and dashes; write it like waxed-hard", key, w.Word)
	case "interval":
		return fmt.Sprintf("%s %q is no interval; write 7d or 2w", key, w.Word)
	case "country":
		code, err := holdrule.ParseCountry(w.Word)
		if err != nil {
			return notCountry(w.Word)
		}
		return fmt.Sprintf("country %q is written in capitals: %s", w.Word, code)
	}
	const forms = "write 2026-11-25 or from memory"
	return fmt.Sprintf("%s %q does not say when the rule was read; %s", key, w.Word, forms)
}

// span writes bounds as a file has them: "from 20% to 80%", "a whole number from 1
// to 60 days".
func span(w tomlfile.Range) string {
	unit, behind := w.Unit, ""
	switch unit {
	case "%", "C", "cm", "g":
	default:
		unit, behind = "", " "+w.Unit
	}
	text := strings.TrimRight(fmt.Sprintf("from %s%s to %s%s%s", plain(w.Low), unit, plain(w.High), unit, behind), " ")
	if w.Whole {
		return "a whole number " + text
	}
	return text
}

func measure(x float64, unit string) string { return plain(x) + " " + unit }

func plain(x float64) string { return strconv.FormatFloat(math.Round(x*100)/100, 'f', -1, 64) }
