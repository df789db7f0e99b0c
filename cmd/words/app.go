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

// The sentences that every use case shares.
func init() {
	learn(
		say(func(p Printer, r *app.Refusal) string {
			if remedy := p.Remedy(r); remedy != "" {
				return Sanitize(p.Refusal(r) + "; " + remedy)
			}
			return Sanitize(p.Refusal(r))
		}),
		form[store.ZoneUnknown]("the book keeps the time zone {Zone:quoted}, which this machine doesn't know"),
		form[app.NoSuchZone]("no time zone {Zone:quoted}; give an IANA name like Europe/Dublin"),
		say(func(_ Printer, r app.ClockTwice) string {
			const exact = "2006-01-02T15:04Z07:00"
			return fmt.Sprintf("the clock shows %s twice, as it goes back: say %s for the first or %s for the second",
				quoted(r.Word), r.First.Format(exact), r.Second.Format(exact))
		}),
		form[app.NotUUID]("{Word:quoted} is not a UUID (RFC 9562)"),
		form[app.TooLongAgo]("{At} is more than {Hours} hours ago, which is as far back as it may be"),
		form[app.ToBeforeFrom]("[--to {To} is before --from {From}|{To} is before {From}]"),
		form[app.NameTooLong]("a name of {Bytes} bytes is longer than any tag, lot or place"),
		form[app.NameUnprintable]("the name has characters that don't print; no tag, lot or place has any"),
		say(func(_ Printer, r app.SharedNumber) string {
			tags := strings.ReplaceAll(r.Tags, " ", ", ")
			if more := r.Wheels - strings.Count(r.Tags, " ") - 1; more > 0 {
				tags += fmt.Sprintf(" and %d more", more)
			}
			return fmt.Sprintf("%s could be %s; write the whole tag", quoted(r.Word), tags)
		}),
		form[app.StarInside]("{Word:quoted} has a * inside; it may stand only at the end"),
		form[app.BadRange]("{Word:quoted} isn't a run of tags; write it like 261120A-01..12, the lower number first"),
		form[app.DidYouMean]("did you mean {Names}?"),
		form[app.NowTagged]("{Was:quoted} was a tag of {Now} once"),
		say(func(p Printer, r app.LotHas) string {
			tags := strings.Fields(r.Tags)
			return fmt.Sprintf("lot %s has %s: %s", r.Lot, text.Count(len(tags), "wheel"), p.Tags(tags))
		}),
	)
	flats(map[reason.Flat]string{
		app.RowNeedsDate: "this row has no date; give it, or [give --on for the rows without one|fill in the date of rows " +
			"that have none]",
	})
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
