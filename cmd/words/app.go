package words

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/text"
	"rindkeep/store"
)

// appWords has the sentences that every use case shares.
func appWords(p Printer, r reason.Reason) (string, bool) {
	switch r := r.(type) {
	case reason.Flat:
		return "this row has no date; give it, or " + p.typed("give --on for the rows without one",
			"fill in the date of rows that have none"), r == app.RowNeedsDate
	case *app.Refusal:
		if remedy := p.Remedy(r); remedy != "" {
			return Sanitize(p.Refusal(r) + "; " + remedy), true
		}
		return Sanitize(p.Refusal(r)), true
	case store.ZoneUnknown:
		return fmt.Sprintf("the book keeps the time zone %s, which this machine doesn't know", quoted(r.Zone)), true
	case app.NoSuchZone:
		return fmt.Sprintf("no time zone %s; give an IANA name like Europe/Dublin", quoted(r.Zone)), true
	case app.ClockTwice:
		const exact = "2006-01-02T15:04Z07:00"
		return fmt.Sprintf("the clock shows %s twice, as it goes back: say %s for the first or %s for the second",
			quoted(r.Word), r.First.Format(exact), r.Second.Format(exact)), true
	case app.NotUUID:
		return fmt.Sprintf("%s is not a UUID (RFC 9562)", quoted(r.Word)), true
	case app.TooLongAgo:
		return fmt.Sprintf("%s is more than %d hours ago, which is as far back as it may be", minute(r.At), r.Hours), true
	case app.ToBeforeFrom:
		return p.typed(fmt.Sprintf("--to %s is before --from %s", r.To, r.From),
			fmt.Sprintf("%s is before %s", r.To, r.From)), true
	case app.NameTooLong:
		return fmt.Sprintf("a name of %d bytes is longer than any tag, lot or place", r.Bytes), true
	case app.NameUnprintable:
		return "the name has characters that don't print; no tag, lot or place has any", true
	case app.SharedNumber:
		tags := strings.ReplaceAll(r.Tags, " ", ", ")
		if more := r.Wheels - strings.Count(r.Tags, " ") - 1; more > 0 {
			tags += fmt.Sprintf(" and %d more", more)
		}
		return fmt.Sprintf("%s could be %s; write the whole tag", quoted(r.Word), tags), true
	case app.StarInside:
		return fmt.Sprintf("%s has a * inside; it may stand only at the end", quoted(r.Word)), true
	case app.BadRange:
		return quoted(r.Word) + " isn't a run of tags; write it like 261120A-01..12, the lower number first", true
	case app.DidYouMean:
		return "did you mean " + r.Names + "?", true
	case app.NowTagged:
		return fmt.Sprintf("%s was a tag of %s once", quoted(r.Was), r.Now), true
	case app.LotHas:
		tags := strings.Fields(r.Tags)
		return fmt.Sprintf("lot %s has %s: %s", r.Lot, text.Count(len(tags), "wheel"), p.Tags(tags)), true
	}
	return "", false
}

// mostQuoted is how many columns of what a person typed a sentence shows.
const mostQuoted = 60

// quoted shows what a person typed: short, and safe on any terminal.
func quoted(s string) string { return strconv.Quote(cut(s)) }

func cut(s string) string { return text.Cut(text.Safe(s), mostQuoted) }

// When is " at 2026-11-25 08:30", or "" for the zero time.
func (p Printer) When(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return " at " + t.Format("2006-01-02 15:04")
}

// CheckSisters asks for a check of the other wheels of a make, after a fault.
func (p Printer) CheckSisters(tags []string) string {
	return "check the other wheels of this make: " + p.Tags(tags)
}

// mostTags is how many tags a sentence names.
const mostTags = 24

// Tags is a list of tags for a sentence, short: runs of one lot as "261120A-01 to
// -04", and no more than two dozen.
func (p Printer) Tags(tags []string) string {
	if len(tags) > mostTags {
		return text.Tags(tags[:mostTags]) + fmt.Sprintf(" and %d more", len(tags)-mostTags)
	}
	return text.Tags(tags)
}
