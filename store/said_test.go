package store

import (
	"fmt"
	"time"

	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
)

// said is a finding as a line with every figure it has, for tests to compare.
func said(f bookfile.Finding) string {
	minute := func(t time.Time) string { return t.Format("2006-01-02 15:04") }
	spot := func(s bookfile.Spot) string {
		thing := string(s.Thing)
		switch thing {
		case "settings":
			return "settings of the book"
		case "follow":
			thing = "countries followed from"
		case "law":
			thing = "rule"
		}
		if s.Name == "" {
			return thing
		}
		return thing + " " + s.Name
	}
	fact := func(f chain.Fact) string {
		switch f.What {
		case "entry":
			return fmt.Sprintf("entry %q of %s", f.Kind, minute(f.At))
		case "reading":
			return "reading of its air at " + minute(f.At)
		}
		return f.What
	}
	by := func(l chain.LinkSpot) string {
		return fmt.Sprintf("outside the program; it was written %s (link %d)", minute(l.Written), l.Number)
	}
	link := func(l chain.LinkSpot) string {
		s := spot(l.First.Of) + " " + fact(l.First)
		if l.More > 0 {
			s += fmt.Sprintf(" and %d more", l.More)
		}
		return fmt.Sprintf("%s (%s)", minute(l.Written), s)
	}
	what := f.What.Code()
	switch r := f.What.(type) {
	case chain.PutIn:
		what = "its " + fact(r.Fact) + " was put in outside the program: no link of the chain speaks of it"
	case chain.Altered:
		what = "its " + fact(r.Fact) + " was " + what + " " + by(r.Link)
	case chain.MovedFact:
		if r.To.Of == r.Fact.Of {
			what = "its " + fact(r.Fact) + " was moved to " + minute(r.To.At) + " " + by(r.Link)
			break
		}
		what = "its " + fact(r.Fact) + " was made over to " + spot(r.To.Of) + " (" + fact(r.To) + ") " + by(r.Link)
	case chain.LinksMissing:
		what = fmt.Sprintf("links %d to %d are missing", r.From, r.To)
		if r.From == r.To {
			what = fmt.Sprintf("link %d is missing", r.From)
		}
		what += ": what was written before " + minute(r.Before)
		if !r.After.IsZero() {
			what += " and after " + minute(r.After)
		}
		what += " was taken out of the history outside the program"
	case chain.LinkUnfit:
		from := "the book's beginning"
		if r.Before.Number > 0 {
			from = fmt.Sprintf("link %d, written %s", r.Before.Number, link(r.Before))
		}
		what = "written " + link(r.Link) + ", does not follow from " + from +
			": one of the two, or what came before, was rewritten outside the program"
	}
	return spot(f.At) + ": " + what
}
