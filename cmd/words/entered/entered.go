// Package entered has the words for who entered the air of a room, and when. It stands
// alone: package words and what shows such lists use it.
package entered

import (
	"cmp"
	"slices"
	"strings"

	"rindkeep/cmd/app"
	"rindkeep/cmd/text"
)

const date = "2026-11-25"

// By says who entered readings, how and on which day: "typed by Nora on 2026-11-25".
func By(x app.AirEntered) string {
	if x.Written == "" {
		return "the book doesn't say who entered them"
	}
	return How(x.Table, x.Over, x.File) + " by " + who(x.By) + " on " + x.Written[:len(date)]
}

// How says in which way: "typed", "table june.csv", "typed over others".
func How(table, over bool, file string) string {
	how := "typed"
	switch {
	case table && file != "":
		how = "table " + text.Safe(file)
	case table:
		how = "table"
	}
	if over {
		how += " over others"
	}
	return how
}

func who(by string) string { return cmp.Or(text.Safe(by), "somebody without a name") }

// Readers are the people who entered readings: "Nora (table), Bram (typed over others)".
func Readers(all []app.AirEntered) string {
	var out []string
	for _, x := range all {
		one := "not recorded"
		if x.Written != "" {
			one = who(x.By) + " (" + How(x.Table, x.Over, "") + ")"
		}
		if !slices.Contains(out, one) {
			out = append(out, one)
		}
	}
	return strings.Join(out, ", ")
}

// Most is how many lines of a list are shown: our choice.
const Most = 12

// Lines are lists of readings with who entered them, the newest of them.
func Lines(all []app.AirEntered) [][2]string {
	var out [][2]string
	for _, x := range all[max(0, len(all)-Most):] {
		of := x.From[:len(date)] + " to " + x.To[:len(date)]
		if x.From == x.To {
			of = strings.Replace(x.From[:16], "T", " ", 1)
		}
		out = append(out, [2]string{of, text.Count(x.Readings, "reading") + ", " + By(x)})
	}
	return out
}
