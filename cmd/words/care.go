package words

import (
	"fmt"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/care"
	"rindkeep/cmd/app/tables"
	"rindkeep/cmd/text"
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
)

const restoreLast = "put the last backup in its place: rindkeep book restore BACKUP --replace"

// The sentences about the book itself, and the remedies for what is wrong with it.
func init() {
	flats(map[reason.Flat]string{
		care.AnotherName:  "a backup is never written over: give another name, or a folder, where it's named by the day",
		care.ReplaceBook:  "repeat with --replace to put the backup in its place; the old book is kept beside it",
		care.ReplaceFile:  "repeat with --replace to write over it",
		app.CheckBook:     "rindkeep book check lists everything that is damaged",
		app.AnotherFolder: "have them made in another folder: rindkeep book backups --folder FOLDER",
		care.AnotherBook:  "give a new one: --book FILE",
		care.IntoATable:   "add --map to take wheels and weights from it",
		care.KeepLast:     "keep your last sound backup; this copy is no substitute for it",
		care.RestoreLast:  "keep this file, and " + restoreLast,
		care.RebuildIndex: "rindkeep book rebuild makes the indexes again from the entries",
		care.TakeAltered:  "find out why first; to take it with that history, repeat with --altered",
		tables.NothingMapped: "there's nothing to keep under that name yet" +
			": say with --map what its columns are, or answer at a terminal",
		care.FindWho: "keep this file and find out who changed it; to go back, " + restoreLast,
	})
	learn(
		form[care.Faults]("the check found {Count fault}, all in indexes").
			without("Indexes", "the check found {Count fault}"),
		say(func(p Printer, r care.Unsound) string { return p.unsound(r) }),
		form[care.Gaps]("exported to {Path}, but it lacks {Count record} that can't be read").
			without("Path", "the export lacks {Count record} that can't be read"),
		say(func(p Printer, r app.NoBackup) string { return p.noBackup(r) }),
		form[care.NotHeld]("this book does not hold the history noted as {Head}: it is an older copy or another "+
			"book, or its history was written again"),
		form[care.AskBackups]("keep this file, and ask its backups: rindkeep book check --book BACKUP --head {Head}"),
		form[care.TwiceInTable]("wheel {Wheel:cut} is in the table already; record further weights of a wheel with "+
			"weigh --from"),
		say(func(p Printer, r care.NewNeeds) string { return p.newNeeds(r) }),
		say(func(_ Printer, r care.Differs) string {
			is := map[reason.Thing]string{
				"lot": "is of lot ", "made": "was made on ", "variety": "is ", "supplier": "came from ",
				"milk-treatment": "has milk that was ",
			}[r.What]
			if r.What == "supplier" && r.Is == "" {
				is = "came from no supplier"
			}
			if r.What == "milk-treatment" && r.Is == "" {
				is = "doesn't say how its milk was treated: correct its make first, or say it in every row of a new lot"
			}
			return fmt.Sprintf("in the book, %s %s %s%s", r.Thing, cut(r.Name), is, r.Is)
		}),
		say(func(p Printer, r tables.NoKind) string {
			w := "no variety " + quoted(r.Word)
			if r.Near != "" {
				return w + "; did you mean " + r.Near + "?" + p.typed(" Say --kinds="+Shell(r.Word+"="+r.Near), "")
			}
			return w + p.typed("; say which it is with --kinds="+Shell(r.Word+"=VARIETY"), "")
		}),
		form[tables.OtherSort]("mapping {Name:cut} is for tables of {Of}, not of {Want}"),
		form[care.IsTable]("{File} is a table, not an export"),
		form[care.IsWorkbook]("{File} is a workbook, not an export"),
	)
}

// unsound says what a copy has that can't be trusted, and names the first of it.
func (p Printer) unsound(r care.Unsound) string {
	var unread, altered []string
	of := "record"
	for _, f := range r.Findings {
		what := Spot(f.Figures.At) + ": " + p.Sentence(f.Figures.What)
		switch _, page := f.Figures.What.(bookfile.PageFault); {
		case f.History:
			altered = append(altered, what)
			continue
		case page:
			of = "page"
		}
		unread = append(unread, what)
	}
	many, first := text.Count(len(unread), of)+" can't be read", unread
	if len(unread) == 0 {
		many, first = "its history was altered in "+text.Count(len(altered), "place"), altered
	}
	const shown = 3
	if len(r.Findings) == bookfile.MaxFindings {
		many = "at least " + many
	}
	named := strings.Join(first[:min(shown, len(first))], "; ")
	s := fmt.Sprintf("copied to %s, but %s: %s", text.Safe(r.Path), many, named)
	if n := len(first) - shown; n > 0 {
		s += fmt.Sprintf("; and %d more", n)
	}
	return s
}

// noBackup says why an automatic backup is missing, and how old the last one is.
func (p Printer) noBackup(r app.NoBackup) string {
	s := "there's no automatic backup of today: "
	if r.Before {
		s = "no backup was made before this: "
	}
	if r.Count > 0 {
		s += Spot(r.First.At) + ": " + p.Sentence(r.First.What)
		if r.Count > 1 {
			s += fmt.Sprintf("; and %d more", r.Count-1)
		}
	} else if why := reason.Of(r.Cause); why != nil {
		s += p.Sentence(why)
	} else {
		s += r.Cause.Error()
	}
	if r.Last.IsZero() {
		return s + "; there is none from before either"
	}
	return s + "; the last sound one is of " + minute(r.Last)
}

// FillFindings puts what a check found into words.
func (p Printer) FillFindings(fs []care.Finding) {
	for i := range fs {
		f := &fs[i]
		f.Where, f.What = Spot(f.Figures.At), p.Sentence(f.Figures.What)
	}
}

// Link is a link of a book's chain, for a notebook.
func (p Printer) Link(l care.Link) string {
	return fmt.Sprintf("%s, link %d, written %s", l.Short, l.Number, Minute(l.Written))
}

// Since says from when on the chain proves a book's history.
func (p Printer) Since(c care.Chain) string {
	s := "chained since " + Minute(c.Since) + ", "
	switch chain.Beginning(c.Begun) {
	case chain.BegunNew:
		return s + "when the book was begun"
	case chain.BegunUpgrade:
		return s + "when the book was upgraded: what is older was taken as it stood then"
	case chain.BegunSalvage:
		return s + "when it was salvaged from a damaged book"
	case chain.BegunUnfitted:
		return s + "when it was imported: the history in that file did not fit its records"
	}
	return s + "when it was imported from a file without its history"
}

// Records is how many records of a sort there are.
func (p Printer) Records(t care.Tally) string {
	switch t.Record {
	case "entry":
		return text.Count(t.Count, "entry", "entries")
	case "variety":
		return text.Count(t.Count, "own variety", "own varieties")
	case "plan":
		return text.Count(t.Count, "own plan")
	case "law":
		return text.Count(t.Count, "own rule")
	case "follow":
		return text.Count(t.Count, "choice of countries", "choices of countries")
	case "limit":
		return text.Count(t.Count, "own limit")
	case "releasers":
		return text.Count(t.Count, "choice of who may lift safety holds", "choices of who may lift safety holds")
	case "lift":
		return text.Count(t.Count, "word that a hold may end", "words that holds may end")
	case "airsource":
		return text.Count(t.Count, "source of air readings", "sources of air readings")
	case "air":
		return text.Count(t.Count, "reading of the air", "readings of the air")
	}
	return text.Count(t.Count, t.Record)
}

// TakenWheels sums up what came of a table of wheels, or would come of it.
func (p Printer) TakenWheels(d care.Taken) string {
	word := "recorded"
	if d.Try {
		word = "would record"
	}
	parts := []string{text.Count(len(d.Lots), "new lot"), text.Count(d.Wheels, "new wheel"),
		text.Count(d.Weights, "weight")}
	s := fmt.Sprintf("%s from %s: %s", word, text.Count(d.Rows, "row"), strings.Join(parts, ", "))
	if d.Received > 0 {
		s += "; " + text.Count(d.Received, "wheel") + " came from a supplier"
	}
	if d.TakenOver > 0 {
		s += "; " + text.Count(d.TakenOver, "older wheel") + " taken over"
	}
	if d.Received+d.TakenOver > 0 {
		s += ": their plans start now, and nothing is late"
	}
	if d.Known > 0 {
		s += "; " + text.Count(d.Known, "wheel") + " in the book already"
	}
	if d.Same > 0 {
		s += "; " + text.Count(d.Same, "weight") + " in the book already"
	}
	if d.Elsewhere > 0 {
		s += "; " + text.Count(d.Elsewhere, "wheel") + " left where the book has them, not the table"
	}
	return s
}

// TakenLacks are what is still to be said of a table's wheels, each with how.
func (p Printer) TakenLacks(d care.Taken) (out []string) {
	first := func(of []string) string {
		if len(of) == 1 {
			return of[0]
		}
		return of[0] + " and " + digits(len(of)-1) + " more"
	}
	if len(d.NoMilk) > 0 {
		out = append(out, "say whether the milk was raw: lots "+first(d.NoMilk)+
			p.typed(": "+treatmentCommand("LOT"), ""))
	}
	if len(d.NoDoc) > 0 {
		out = append(out, "no delivery document, which the traceability sheet of US law needs: lots "+first(d.NoDoc))
	}
	if len(d.NoAddress) > 0 {
		out = append(out, "no address, for the traceability sheet, of "+first(d.NoAddress)+
			p.typed(": "+p.SaveAddress(d.NoAddress[0]), ""))
	}
	return out
}

// FillSaved puts what a salvage lost into words.
func (p Printer) FillSaved(x *care.Saved) {
	p.FillFindings(x.Lost)
	for i := range x.Pages {
		g := &x.Pages[i]
		of := ""
		if g.Bucket != "" {
			of = " of " + g.Bucket
		}
		g.What = fmt.Sprintf("page %d%s", g.Page, of)
		if why := reason.Of(g.Fault); why != nil {
			g.What += ": " + p.Sentence(why)
		}
	}
}

// Gap is the note that marks in a history what was lost of it.
func (p Printer) Gap(lost []chain.Fact) string {
	const shown = 12
	var parts []string
	for _, f := range lost[:min(shown, len(lost))] {
		s := f.What
		if f.Kind != 0 {
			s = f.Kind.String()
		}
		if !f.At.IsZero() {
			s += " of " + minute(f.At)
		}
		parts = append(parts, s)
	}
	s := "lost when the book was damaged: " + strings.Join(parts, ", ")
	if n := len(lost) - shown; n > 0 {
		s += fmt.Sprintf(" and %d more", n)
	}
	return s
}
