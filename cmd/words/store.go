package words

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"rindkeep/cave/reason"
	"rindkeep/cmd/carrier"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words/carried"
	"rindkeep/cmd/words/faulty"
	"rindkeep/store/archive"
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/finding"
	"rindkeep/store/lines"
	"rindkeep/store/refusal"
	"rindkeep/store/sorts"
	"rindkeep/wheel"
)

// The sentences about the book: why it refuses a fact or a file, and what a check finds.
func init() {
	flats(map[reason.Flat]string{
		finding.BundleUnreadable: "what another site wrote can't be read any more",
		finding.BundleUnfit:      "what another site wrote doesn't follow from what it wrote before",
		finding.BundlesMissing:   "some of what this site wrote is missing",
		finding.FactMissing:      "a record that another site wrote is missing",
		refusal.ForAMake:         "the log of a make is for a make, not for a wheel",
		refusal.NoPhoto:          "the note names a photo that the book doesn't hold",
		refusal.NotAPhoto:        "that isn't a photo: send a JPEG, PNG or WebP picture",
		refusal.NoSuchRound:      "it has no such round to share",
		refusal.NoSuchEntry:      "it has no such entry to strike",
		refusal.StruckTooEarly:   "a strike can only be withdrawn after it was written",
		refusal.NotFinite:        "a figure of the make is not a number",
		refusal.DifferentContent: "another record with that ID is in the book; give this one its own",

		finding.EntriesMissing: "has more entries than are found",
		bookfile.Undecodable:   "can't be read",
		sorts.Unlike:           "is not what it should be",
		finding.OfNothing:      "is about nothing in the book",
		finding.OfNoMake:       "belongs to no make in the book",
		finding.NoState:        "is not in the index of standings",
		finding.OtherState:     "stands otherwise in the index of standings",
		finding.NoTask:         "has a task that is not in the index of due",
		finding.UnnamedTask:    "has a task in the index of due that it shouldn't have",
		finding.ClosedAhead:    "had tasks closed by a clock that ran ahead",
		finding.OtherCounts:    "are not what the book holds",
		finding.HalfMetadata:   "one copy of the metadata is damaged: the last change may be missing",
		bookfile.NoMetadata:    "both copies of its metadata are damaged",
		chain.LinkUndecodable:  "can't be read: the history it stood for can't be proved",
		chain.LinkUnnumbered:   "is kept under no number",
		chain.LinkMisnamed:     "names an entry by another kind than its own: the link was altered",
		chain.NoChain:          "is not there: nothing proves the history",
	})
	learn(
		say(func(p Printer, r *bookfile.Error) string { return p.bookError(r) }),
		say(func(_ Printer, r refusal.NotFound) string { return notFound(r) }),
		say(func(_ Printer, r lines.Fault) string { return faulty.Line(r) }),
		say(func(_ Printer, r bookfile.PageFault) string { return faulty.Page(r) }),
		say(func(_ Printer, r refusal.Taken) string {
			if r.What == "tag" {
				return fmt.Sprintf("there is a wheel tagged %s already", quoted(r.Name))
			}
			return fmt.Sprintf("there is a %s %s already", r.What, quoted(r.Name))
		}),
		form[refusal.Different]("that entry is in the book already and says something else ({Was})"),
		form[refusal.FutureDate]("{On} is in the future: only what has happened can be recorded"),
		form[refusal.FutureTime]("{At} is in the future: only what has happened can be recorded"),
		form[refusal.BeforeMake]("{On} is before it was made, {Made}"),
		form[refusal.BeforeArrival]("{On} is before it came, {Came}"),
		form[refusal.BeganElse]("it can't have begun on {On}, as it was made on {Made}"),
		say(func(_ Printer, r refusal.Gone) string {
			if r.How == wheel.Voided {
				return "it was removed as a mistake, " + r.On.Short()
			}
			return fmt.Sprintf("it is gone: %s %s", r.How, r.On.Short())
		}),
		form[refusal.ForAWheel]("a make is logged, noted, corrected or removed; {What} is for a wheel"),
		form[refusal.StruckAlready]("that entry ({What}) was struck already"),
		form[refusal.Respell]("the place {Word:quoted} should be written {As:quoted}"),
		say(func(_ Printer, r refusal.PhotoTooLarge) string {
			return fmt.Sprintf("a photo of %d kB is too large: make it smaller, at most %d kB", r.Bytes/1000, r.Most/1000)
		}),
		say(func(_ Printer, r carrier.Trouble) string { return carried.Trouble(r) }),
		form[refusal.OtherSites]("{What} {Name:quoted} is {Site}'s: only there can it be changed"),
		say(func(_ Printer, r refusal.Several) string {
			names := cut(strings.Join(r.Names, ", "))
			return fmt.Sprintf("%s %s may be any of %d: %s", r.What, quoted(r.Name), len(r.Names), names)
		}),
		form[chain.HeadLength]("a head has {Least} to {Most} digits, and this has {Digits}"),
		say(func(p Printer, r *chain.OtherHistory) string { return p.otherHistory(r) }),
		form[refusal.SameID]("line {Line} gives another weighing that ID"),
	)
}

func minute(t time.Time) string { return t.Format("2006-01-02 15:04") }

func notFound(r refusal.NotFound) string {
	switch r.Thing {
	case "wheel":
		return "no wheel tagged " + quoted(r.Name)
	case "room":
		return "no room named " + quoted(r.Name)
	}
	return fmt.Sprintf("no %s %s", r.Thing, quoted(r.Name))
}

// doing is what couldn't be done to a file.
var doing = map[string]string{"write": "write to"}

func (p Printer) bookError(e *bookfile.Error) string {
	file := text.Safe(e.Path)
	do := e.Doing
	if s, ok := doing[do]; ok {
		do = s
	}
	if s, ok := faulty.File(e); ok {
		return s
	}
	switch e.Kind {
	case bookfile.ErrCutOff:
		return fmt.Sprintf("%s is cut off: it should be at least %d bytes and is %d", file, e.Least, e.Bytes)
	case bookfile.ErrNewer:
		if e.Newest == 0 {
			return fmt.Sprintf("%s was written by a newer rindkeep: this one can't read its %s", file, Spot(e.At))
		}
		return fmt.Sprintf("%s was written by a newer rindkeep (format %d; this one reads up to %d)",
			file, e.Format, e.Newest)
	case bookfile.ErrPermission:
		return fmt.Sprintf("no permission to %s %s", do, file)
	case bookfile.ErrBusy:
		return fmt.Sprintf("%s is in use by another rindkeep (waited %s s)", file, strconv.FormatFloat(e.Waited, 'g', 3, 64))
	case bookfile.ErrDamaged:
		s := fmt.Sprintf("%s is damaged at its %s", file, Spot(e.At))
		if why := reason.Of(e.Cause); why != nil {
			s += ": " + p.Sentence(why)
		}
		return s
	}
	var sys interface{ Timeout() bool }
	said := e.Cause.Error()
	if errors.As(e.Cause, &sys) {
		said = innermost(e.Cause).Error()
	}
	return fmt.Sprintf("can't %s %s: %s", do, file, said)
}

func innermost(err error) error {
	for {
		next := errors.Unwrap(err)
		if next == nil {
			return err
		}
		err = next
	}
}

// spots are the parts of a book that have longer names than their codes.
var spots = map[reason.Thing]string{
	"follow": "countries followed", "releasers": "people who may lift safety holds", "law": "rule",
	"lift": "word that a hold may end", "airsource": "source of air readings",
	"bucket": "list of contents:", "standing": "standing of wheel",
	"task": "tasks of wheel", "last-command": "last command", "zone": "settings: time zone", "count": "count of place",
	"settings": "settings of the book", "index": "index of",
}

// Spot names a page, record or index of the book.
func Spot(s bookfile.Spot) string {
	name, ok := spots[s.Thing]
	if !ok {
		name = string(s.Thing)
	}
	if s.Name != "" {
		name += " " + text.Safe(s.Name)
	}
	return name
}

// What a check found: the end of a sentence that begins with where.
func init() {
	learn(
		form[finding.NotIndexed]("is not in the index of {Index}"),
		form[finding.OtherIndexed]("is otherwise in the index of {Index}"),
		form[finding.OtherTask]("{Job} is otherwise in the index of due"),
		form[finding.OtherCount]("holds {Has}, not {Says}"),
		form[finding.HalfKept]("before this was written the file was copied to {Path}; if something is missing, "+
			"rindkeep book salvage may find it there"),
		form[finding.UnreadEntry]("its entry of {At} can't be read"),
		form[chain.AnotherBook]("isn't that of {Path}, which is another book"),
		form[chain.Parted]("is that of {Path} up to {Written} (link {Link}), and then another").
			without("Link", "has nothing in common with that of {Path}"),
		form[chain.Behind]("ends at {Since}, and its backup {Path} goes on: this is an older copy, or {Links link "+
			"was/links were} taken out"),
		form[chain.TakenAltered]("was altered before it was imported on {On}, and that was accepted"),
		form[archive.LostFact]("its {Fact:fact} is lost"),
		form[chain.PutIn]("its {Fact} was put in outside the program: no link of the chain speaks of it"),
		say(func(_ Printer, r chain.Altered) string {
			return fmt.Sprintf("its %s was %s outside the program; %s", fact(r.Fact), r.Code(), writtenBy(r.Link))
		}),
		say(func(_ Printer, r chain.MovedFact) string {
			if r.To.Of == r.Fact.Of {
				return fmt.Sprintf("its %s was moved to %s outside the program; %s", fact(r.Fact), minute(r.To.At),
					writtenBy(r.Link))
			}
			return fmt.Sprintf("its %s was made over to %s (%s) outside the program; %s",
				fact(r.Fact), Spot(r.To.Of), fact(r.To), writtenBy(r.Link))
		}),
		say(func(_ Printer, r chain.LinksMissing) string {
			which := fmt.Sprintf("links %d to %d are", r.From, r.To)
			if r.From == r.To {
				which = fmt.Sprintf("link %d is", r.From)
			}
			s := which + " missing: what was written before " + minute(r.Before)
			if !r.After.IsZero() {
				s += " and after " + minute(r.After)
			}
			return s + " was taken out of the history outside the program"
		}),
		say(func(_ Printer, r chain.LinkUnfit) string {
			from := "the book's beginning"
			if r.Before.Number > 0 {
				from = fmt.Sprintf("link %d", r.Before.Number)
				if !r.Before.Written.IsZero() {
					from += ", written " + linkAbout(r.Before)
				}
			}
			return fmt.Sprintf("written %s, does not follow from %s: one of the two, or what came before, was rewritten "+
				"outside the program", linkAbout(r.Link), from)
		}),
	)
}

// otherHistory says why a backup or an export isn't taken as it is.
func (p Printer) otherHistory(r *chain.OtherHistory) string {
	const shown = 3
	var named []string
	for _, f := range r.Findings[:min(shown, len(r.Findings))] {
		named = append(named, Spot(f.At)+": "+p.Sentence(f.What))
	}
	s := fmt.Sprintf("the history in %s isn't what rindkeep wrote in this book: %s", text.Safe(r.Path),
		strings.Join(named, "; "))
	if n := len(r.Findings) - shown; n > 0 {
		s += fmt.Sprintf("; and %d more", n)
	}
	return s + "; nothing was written"
}

func writtenBy(l chain.LinkSpot) string {
	return fmt.Sprintf("it was written %s (link %d)", minute(l.Written), l.Number)
}

// linkAbout is when a link was written, and what about.
func linkAbout(l chain.LinkSpot) string {
	s := Spot(l.First.Of) + " " + fact(l.First)
	if l.More > 0 {
		s += fmt.Sprintf(" and %d more", l.More)
	}
	return fmt.Sprintf("%s (%s)", minute(l.Written), s)
}

func fact(f chain.Fact) string {
	switch f.What {
	case "entry":
		return fmt.Sprintf("entry %q of %s", f.Kind, minute(f.At))
	case "reading":
		return "reading of its air at " + minute(f.At)
	}
	return f.What
}
