package words

import (
	"cmp"
	"fmt"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app/care"
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
		return cmp.Or(map[string]string{"spreadsheet": "it is a spreadsheet, not text",
			"bare-cr": "its lines end in carriage returns alone"}[w.Kind], "it isn't text") + "; save it as CSV UTF-8", true
	case intake.NoColumn:
		return p.noColumn(w), true
	case intake.TwoColumns:
		keep := "keep one"
		if w.Mapped {
			keep = p.mapped("say which", "choose one", w.Field, []string{w.First, w.Heading})
		}
		return fmt.Sprintf("two columns give the %s (%q is the second); %s", w.Field, w.Heading, keep), true
	case intake.NeedsUnit:
		return fmt.Sprintf("%q looks like %s kg; if it is, %s, or head the column weight_kg", w.Word, w.Figure,
			p.typed("say so with --unit kg", "choose kg")), true
	case intake.TwoFields:
		return fmt.Sprintf("column %q is given to both %s and %s", w.Heading, w.Field, w.Other), true
	case intake.NoAirColumns:
		f := w.Missing[0]
		return fmt.Sprintf("no column for the %s; head it %s, or %s", strings.Join(w.Missing, ", nor for the "),
			map[string]string{"time": "time", "temperature": "temp_c", "humidity": "rh"}[f],
			p.mapped("name it", "choose it below", f, w.Has)), true
	case intake.NoAirHeading:
		if w.Proposal == "" || p.For != CommandLine {
			return "no heading row was found; head the columns time, temp_c and rh", true
		}
		return "no heading row was found; if the columns are these, say so: --map=" + w.Proposal, true
	case intake.TwoSensors:
		return fmt.Sprintf("the rows are of several sensors, %q and %q; %s", w.First, w.Second,
			p.typed("say which with --sensor="+Shell(w.First), "choose one")), true
	case intake.Surplus:
		if w.Mark == "" {
			return fmt.Sprintf("%q is in a column without a heading; head the column or clear the cell", w.Word), true
		}
		return fmt.Sprintf("the row has %d cells where %d belong; put a cell that holds a %s in quotes",
			w.Cells, w.Belong, w.Mark), true
	case intake.Ambiguous:
		how := p.typed("say which with --time-format dmy or mdy", "choose one")
		return fmt.Sprintf("%q may be day/month or month/day; %s", w.Word, how), true
	case intake.TempOutside:
		return fmt.Sprintf("%.4g °C is out of range; is it in Fahrenheit? %s", w.Temp,
			p.typed("say so with --unit F", "Choose °F")), true
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
func (p Printer) Bare(w intake.Problem) string { return p.Sentence(w.Why) }

// problem is a problem with its place: `line 7, column C (weight): ...`.
func (p Printer) problem(w intake.Problem) string {
	s := p.Sentence(w.Why)
	if u, ok := w.Why.(reason.Unreadable); ok && u.What == "day" {
		s = fmt.Sprintf("%q isn't a day; give 0 or more", u.Word)
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

func (p Printer) noColumn(w intake.NoColumn) string {
	s := "no column for " + TableField(w.Field)
	switch {
	case w.Field == "day":
		return "head the columns day and weight_g"
	case w.Heading != "":
		s = fmt.Sprintf("no column is headed %q", w.Heading)
		if len(w.Has) > 0 {
			s += "; the headings are " + strings.Join(w.Has, ", ")
		}
		return s
	case w.Field == "weight":
		s += "; head it weight, weight_g or weight_kg"
	default:
		s += "; head it " + w.Field
	}
	return s + ", or " + p.mapped("name it", "choose it below", w.Field, w.Has)
}

// mapped says how a field is given a column, after what to do on the command line and on the page.
func (p Printer) mapped(command, page, field string, has []string) string {
	s := p.typed(fmt.Sprintf("%s with --map=%q", command, strings.ReplaceAll(field, " ", "-")+"=HEADING"), page)
	if len(has) > 0 {
		s += " (the headings are " + strings.Join(has, ", ") + ")"
	}
	return s
}

// newNeeds says what a table lacks of a new wheel.
func (p Printer) newNeeds(r care.NewNeeds) string {
	s := fmt.Sprintf("wheel %s is new, and so is its make; give %s", cut(r.Wheel), TableField(string(r.What)))
	if len(r.Unused) > 0 {
		s += ", or " + p.mapped("name its column", "choose its column below", string(r.What), r.Unused)
	}
	if r.What == "variety" {
		s += p.typed("; if they're all of one kind, say --kinds=VARIETY", "; if they're all of one kind, choose that")
	}
	return s
}

// TableField is what people call a field of a table.
func TableField(field string) string {
	return cmp.Or(map[string]string{"tag": "the wheel's tag", "made": "the date it was made"}[field], "the "+field)
}
