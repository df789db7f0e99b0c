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

// The sentences about tables that people bring.
func init() {
	learn(
		say(func(p Printer, w intake.Problem) string { return p.problem(w) }),
		form[intake.Said]("{Words}"),
		say(func(_ Printer, w intake.NotTable) string {
			return cmp.Or(map[string]string{"spreadsheet": "it is a spreadsheet, not text",
				"bare-cr": "its lines end in carriage returns alone"}[w.Kind], "it isn't text") + "; save it as CSV UTF-8"
		}),
		say(func(p Printer, w intake.NoColumn) string { return p.noColumn(w) }),
		say(func(p Printer, w intake.TwoColumns) string {
			keep := "keep one"
			if w.Mapped {
				keep = p.mapped("say which", "choose one", w.Field, []string{w.First, w.Heading})
			}
			return fmt.Sprintf("two columns give the %s (%q is the second); %s", w.Field, w.Heading, keep)
		}),
		form[intake.NeedsUnit]("{Word:%q} looks like {Figure} kg; if it is, [say so with --unit kg|choose kg], or "+
			"head the column weight_kg"),
		form[intake.TwoFields]("column {Heading:%q} is given to both {Field} and {Other}"),
		say(func(p Printer, w intake.NoAirColumns) string {
			f := w.Missing[0]
			return fmt.Sprintf("no column for the %s; head it %s, or %s", strings.Join(w.Missing, ", nor for the "),
				map[string]string{"time": "time", "temperature": "temp_c", "humidity": "rh"}[f],
				p.mapped("name it", "choose it below", f, w.Has))
		}),
		say(func(p Printer, w intake.NoAirHeading) string {
			if w.Proposal == "" || p.For != CommandLine {
				return "no heading row was found; head the columns time, temp_c and rh"
			}
			return "no heading row was found; if the columns are these, say so: --map=" + w.Proposal
		}),
		form[intake.TwoSensors]("the rows are of several sensors, {First:%q} and {Second:%q}; [say which with "+
			"--sensor={First:shell}|choose one]"),
		form[intake.Surplus]("the row has {Cells} cells where {Belong} belong; put a cell that holds a {Mark} in quotes").
			without("Mark", "{Word:%q} is in a column without a heading; head the column or clear the cell"),
		form[intake.Ambiguous]("{Word:%q} may be day/month or month/day; [say which with --time-format dmy or mdy|"+
			"choose one]"),
		form[intake.TempOutside]("{Temp:%.4g} °C is out of range; is it in Fahrenheit? [say so with --unit "+
			"F|Choose °F]"),
	)
	flats(map[reason.Flat]string{
		intake.NoRows:   "it holds no rows",
		intake.BadQuote: "a quote mark is where none belongs; put the whole cell in quotes or leave them out",
		intake.Endless:  "the row goes on for over 4 MB; does a quote mark open a cell that nothing closes?",
		intake.NotUTF8:  "this is not UTF-8 text; save the file as CSV UTF-8",
		intake.NoResult: "the cell holds a formula, and the file has no result of it; " +
			"open it in a spreadsheet program and save it again",
		intake.NoDate:     "a time without its date; give the date as 2026-11-25",
		intake.NoClock:    "a date without its time of day; write it like 2026-11-25 08:30",
		intake.Before1970: "that is before 1970",
	})
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
