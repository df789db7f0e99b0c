package words

import (
	"fmt"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/text"
)

// intakeWords has the sentences about tables that people bring.
func intakeWords(p Printer, r reason.Reason) (string, bool) {
	switch w := r.(type) {
	case intake.Problem:
		return p.problem(w), true
	case intake.Said:
		return w.Words, true
	case intake.NotTable:
		what := map[string]string{"utf-16": "it is UTF-16 text", "spreadsheet": "it is a spreadsheet, not text",
			"bare-cr": "its lines end in carriage returns alone"}[w.Kind]
		if what == "" {
			what = "it isn't text"
		}
		return what + "; save it as CSV UTF-8", true
	case intake.NoColumn:
		return noColumn(w), true
	case intake.TwoColumns:
		keep := "keep one"
		if w.Mapped {
			keep = fmt.Sprintf("say which with --map=%q", strings.ReplaceAll(w.Field, " ", "-")+"=HEADING")
		}
		return fmt.Sprintf("two columns give the %s (%q is the second); %s", w.Field, w.Heading, keep), true
	case intake.TwoFields:
		return fmt.Sprintf("column %q is given to both %s and %s", w.Heading, w.Field, w.Other), true
	case intake.NoAirColumns:
		f := w.Missing[0]
		return fmt.Sprintf("no column for the %s; head it %s, or name it with --map=%q",
			strings.Join(w.Missing, ", nor for the "),
			map[string]string{"time": "time", "temperature": "temp_c", "humidity": "rh"}[f], f+"=HEADING"), true
	case intake.NoAirHeading:
		if w.Proposal == "" {
			return "no heading row was found; head the columns time, temp_c and rh", true
		}
		return "no heading row was found; if the columns are these, say so: --map=" + w.Proposal, true
	case intake.TwoSensors:
		return fmt.Sprintf("the rows are of several sensors, %q and %q; say which with --sensor=%s", w.First, w.Second,
			Shell(w.First)), true
	case intake.Surplus:
		if w.Mark == "" {
			return fmt.Sprintf("%q is in a column without a heading; head the column or clear the cell", w.Word), true
		}
		return fmt.Sprintf("the row has %d cells where %d belong; put a cell that holds a %s in quotes",
			w.Cells, w.Belong, w.Mark), true
	case intake.Ambiguous:
		return fmt.Sprintf("%q may be day/month or month/day; say which with --time-format dmy or mdy", w.Word), true
	case intake.TempOutside:
		return fmt.Sprintf("%.4g °C is out of range; is it in Fahrenheit? say so with --unit F", w.Temp), true
	case reason.Flat:
		s, ok := intakeFlats[w]
		return s, ok
	}
	return "", false
}

var intakeFlats = map[reason.Flat]string{
	intake.NoRows:   "it holds no rows",
	intake.BadQuote: "a quote mark is where none belongs; put the whole cell in quotes or leave them out",
	intake.Endless:  "the row goes on for over 4 MB; does a quote mark open a cell that nothing closes?",
	intake.NotUTF8:  "this is not UTF-8 text; save the file as CSV UTF-8",
	intake.NoResult: "the cell holds a formula, and the file has no result of it; " +
		"open it in a spreadsheet program and save it again",
	intake.NoDate:     "a time without its date; give the date as 2026-11-25",
	intake.NoClock:    "a date without its time of day; write it like 2026-11-25 08:30",
	intake.Before1970: "that is before 1970",
}

// Bare is what is wrong with a cell, without where.
func (p Printer) Bare(w intake.Problem) string {
	return p.Sentence(w.Why)
}

// problem is a problem with its place: `line 7, column C (weight): ...`.
func (p Printer) problem(w intake.Problem) string {
	s := p.Sentence(w.Why)
	switch u := w.Why.(type) {
	case reason.Unreadable:
		switch u.What {
		case "heading":
			s = fmt.Sprintf("no heading is known and %q isn't a weight; head the columns tag, weight, date", u.Word)
		case "day":
			s = fmt.Sprintf("%q isn't a day; give 0 or more", u.Word)
		}
	}
	where := w.Where()
	if w.Field != "" {
		where += " (" + w.Field + ")"
	}
	if where != "" {
		s = where + ": " + s
	}
	if w.File != "" {
		s = text.Cut(text.Safe(w.File), mostQuoted) + ": " + s
	}
	return s
}

func noColumn(w intake.NoColumn) string {
	switch {
	case w.Heading != "":
		return fmt.Sprintf("no column is headed %q", w.Heading)
	case w.Field == "tag":
		return "no column for the wheel; head it tag"
	case w.Field == "weight":
		return "no column for the weight; head it weight, weight_g or weight_kg"
	}
	return "head the columns day and weight_g"
}
