package words

import (
	"fmt"
	"strings"
	"time"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/sites"
	"rindkeep/cmd/app/wheels"
	"rindkeep/cmd/carrier"
	"rindkeep/cmd/text"
	"rindkeep/store/bundle"
)

// The sentences about the sites that share a book.
func init() {
	flats(map[reason.Flat]string{
		app.NotShared:       "no other site shares this book; rindkeep sites found NAME makes it the first",
		sites.NotInvitation: "that isn't a whole invitation: copy all of the line that sites invite printed",
		sites.NoWay:         "nobody has said what the sites exchange over; rindkeep sites via ADDRESS does",
	})
	learn(
		form[sites.SharedAlready]("this book is that of the site {Name} already"),
		form[sites.OnlyFirst]("only {First}, the first site, can do that"),
		form[sites.NameTaken]("{Name} is this site itself"),
		form[sites.NoSite]("there is no other site {Name:quoted}; there are: {Known:or none}"),
		form[sites.NothingToSettle]("nothing open has the code {Asked:quoted}; open are: {Open:or none}"),
		form[sites.NoOther]("{Asked} is no record that two sites wrote: there's no other to take"),
		say(func(_ Printer, r wheels.NotHere) string {
			if r.Coming {
				return fmt.Sprintf("%s is on the way to %s", text.Safe(r.Wheel), text.Safe(r.Site))
			}
			return fmt.Sprintf("%s is at %s: only from there can it be sent", text.Safe(r.Wheel), text.Safe(r.Site))
		}),
		form[wheels.AtHome]("{Wheel} is at {Site} already"),
		form[wheels.HereAlready]("{Wheel} is here already, at {Place}"),
		say(func(_ Printer, r app.HasLeft) string {
			if r.Name == r.First {
				return "no other site shares this book any more; rindkeep sites found " + r.First + " lets others in again"
			}
			return fmt.Sprintf("%s has left the other sites: this book exchanges nothing; with an invitation of %s it can"+
				" join again", text.Safe(r.Name), text.Safe(r.First))
		}),
		form[sites.OnlyAs]("this book was that of {Name} and has left: it can only join again as {Name}, invited by {First}"),
		form[sites.FirstStays]("{Name} is the first site, and only it can let others in: it can leave when they have left"+
			" or been revoked: {Others}"),
		form[sites.LeavesOthers]("{Name} leaves the other sites for good: nothing that's written here goes to them from"+
			" then on, and nothing of theirs comes; only an invitation of {First} lets it in again"),
		form[sites.StillUnsent]("the others lack {Links change} of this site, and nothing can be sent"+
			"[; rindkeep sites leave --unsent leaves anyway]: {Why}"),
		say(func(_ Printer, r wheels.SiteLeft) string {
			return fmt.Sprintf("%s left on %s and would never hear of it", text.Safe(r.Site), r.At.Format(time.DateOnly))
		}),
		form[sites.OtherZone]("this book's time zone is {Zone} and the other sites' is {Theirs}: dates would differ"),
	)
}

// fates says why a bundle is held back.
var fates = map[bundle.Fate]string{
	bundle.Early:        "something before it hasn't come yet",
	bundle.UnknownKey:   "the site that invited it hasn't let it in yet",
	bundle.BeyondWord:   "it was revoked",
	bundle.AfterLeaving: "it had left before",
	bundle.Forked:       "two books write as this site: a copy of its book is in use",
	bundle.Unfit:        "no book can have written it; if somebody else may have its key, revoke the site",
	bundle.NameTaken:    "another site has that name: it has to join under another one, with a new book",
	bundle.OtherGroup:   "it's of another shared book",
	bundle.NewerSender:  "a newer rindkeep wrote it",
	bundle.OtherZone:    "its book has another time zone",
}

// Exchanged says what an exchange came to.
func Exchanged(x sites.Exchanged) []string {
	sent := "nothing new"
	if x.Sent > 0 {
		sent = text.Count(x.Sent, "change")
	}
	out := []string{fmt.Sprintf("%s: sent %s, took up %s", text.Safe(x.Carrier), sent, takenFrom(x.Taken))}
	if x.Relayed > 0 {
		out = append(out, fmt.Sprintf("  passed on %s of other sites", text.Count(x.Relayed, "bundle")))
	}
	for _, h := range x.Held {
		out = append(out, fmt.Sprintf("  held back what came from %s: %s", text.Safe(h.Site), fates[h.Why]))
	}
	if len(x.Received) > 0 {
		out = append(out, "  the data came of what was received before it: "+text.Safe(strings.Join(x.Received, ", ")))
	}
	if x.Older {
		out = append(out, "  this book is an older copy, or another computer uses a copy: it goes on, and takes up what it "+
			"lacks")
	}
	return out
}

// Revoked says what revoking a site came to.
func Revoked(d sites.Ended) (out []string) {
	name := text.Safe(d.Site)
	if d.Joined {
		out = append(out, "what this book has of "+name+" stays; what its lost key writes from now on is taken up nowhere")
	}
	if d.Withdrawn > 0 {
		with := "it"
		if d.Withdrawn > 1 {
			with = "them"
		}
		out = append(out, fmt.Sprintf("%s for %s withdrawn: nobody can join with %s any more",
			text.Count(d.Withdrawn, "invitation"), name, with))
	}
	return out
}

func takenFrom(all []sites.TakenFrom) string {
	if len(all) == 0 {
		return "nothing new"
	}
	var out []string
	for _, t := range all {
		out = append(out, fmt.Sprintf("%s from %s", text.Count(t.Links, "change"), text.Safe(t.Site)))
	}
	return strings.Join(out, ", ")
}

// Way says how far the book's own history has gone one way.
func Way(w sites.Way) string {
	s := "over " + text.Safe(w.Address) + ": "
	if w.Last == nil {
		s += "nothing exchanged yet"
	} else {
		s += "last exchange " + Minute(*w.Last)
	}
	if w.Waiting > 0 {
		s += "; " + text.Count(int(w.Waiting), "change") + " to send"
		if w.Since != nil {
			s += " since " + Minute(*w.Since)
		}
	}
	return s
}

// Exchange says how the exchange over one carrier stands, for the page.
func (p Printer) Exchange(place string, s carrier.State, now time.Time) string {
	switch {
	case s.Err != nil:
		return fmt.Sprintf("No exchange with other sites for %s: %s", lasting(now.Sub(s.Since)), p.cause(s.Err))
	case s.Last.IsZero():
		return "Exchanging with other sites over " + text.Safe(place)
	}
	return fmt.Sprintf("All exchanged with other sites over %s, %s ago", text.Safe(place), lasting(now.Sub(s.Last)))
}

// Since is about how long it is since an instant of a document; "" where that isn't known.
func Since(instant *string, now time.Time) string {
	if instant == nil {
		return ""
	}
	t, err := time.Parse(time.RFC3339, *instant)
	if err != nil {
		return ""
	}
	return lasting(now.Sub(t))
}

// lasting is about how long something took.
func lasting(d time.Duration) string {
	switch {
	case d < time.Minute:
		return "less than a minute"
	case d < 2*time.Hour:
		return text.Count(int(d.Minutes()), "minute")
	case d < 48*time.Hour:
		return text.Count(int(d.Hours()), "hour")
	}
	return text.Count(int(d.Hours()/24), "day")
}

func (p Printer) cause(err error) string {
	if r := reason.Of(err); r != nil {
		return p.Sentence(r)
	}
	return p.Refusal(app.AsRefusal(err))
}
