package words

import (
	"fmt"
	"strings"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/photo"
	"rindkeep/cmd/app/sheets"
	"rindkeep/cmd/app/wheels"
	"rindkeep/wheel"
)

// The sentences about what was done with wheels.
func init() {
	learn(
		say(func(_ Printer, r photo.TooManyPixels) string {
			return fmt.Sprintf("a photo of %d x %d pixels is too large: make it smaller, at most %d million pixels",
				r.Width, r.Height, r.Most/1_000_000)
		}),
		form[wheels.WillSweat]("a wheel at the {Temp} of {From} sweats in {To}, whose dew point is {Dew}: let it "+
			"warm up covered, or the rind gets wet"),
		form[wheels.OwnLaws]("held here by law ({By}, {Source}) until {Until:long} at the earliest; {To} holds only by the "+
			"laws that it follows itself: tell them").
			without("Until", "held here by law ({By}, {Source}); {To} holds only by the laws that it follows itself: tell them"),
		form[wheels.TagHadBefore]("{Was} was the tag of {Now}: a label or a recall may mean that wheel"),
		form[wheels.MaybeOther]("{Was} was once the tag of {Now} too: hold what the label or the recall means"),
		form[wheels.SeeWheels]("[rindkeep wheel list {What} lists them]"),
		form[wheels.NewCustomer]("no customer {Name:quoted} is saved[: rindkeep customer new {Name:shell} "+
			"--contact TEXT --address TEXT]"),
		say(func(p Printer, r wheels.LabelDuty) string { return p.Label(library.Label(r)) }),
	)
	flats(map[reason.Flat]string{
		sheets.NobodyHere: "no wheel of those is here any more; name one by its tag",
		wheels.OneWheel:   "that may name more than one wheel; name one by its tag",
		wheels.NoLaw: "this book follows no country's food law, so it held nothing by one; check your own law[ " +
			"(rindkeep law follow COUNTRY)]",
		photo.HEIC: "that photo is in the HEIC format, which rindkeep can't read: save it as JPEG, or set the " +
			"phone's camera to JPEG",
		"broken-photo":     "what the note says of its photo can't be read",
		wheels.NoPhoto:     "that entry isn't a note with a photo",
		wheels.NoSemicolon: "a document's reference has no semicolon",
	})
}

// deedOf says what was recorded, before and behind the wheels it is of.
func deedOf(d *wheels.Recorded) (done, how string) {
	if d.Came {
		return "received", " at " + string(d.Entry.Place)
	}
	return deed(d.Entry)
}

// deed is deedOf, of an entry alone.
func deed(e wheel.Entry) (done, how string) {
	switch e.Kind {
	case wheel.Moved:
		if to := e.Place.Bound(); to != "" {
			return "sent", " on the way to " + to
		}
		return "moved", " to " + string(e.Place)
	case wheel.Planned:
		return "put", " on plan " + e.Plan
	case wheel.Tagged:
		return "tagged", " " + e.Tag
	case wheel.Noted:
		return "noted on", ""
	case wheel.TakenOver:
		return "took over", ""
	case wheel.Lost:
		if _, destroyed := e.Disposal(); destroyed {
			return "wrote off as destroyed", ""
		}
		return "wrote off", ""
	case wheel.Voided:
		return "removed", ""
	case wheel.Sent:
		return "sent", " to " + e.To
	case wheel.SentPart:
		return "sent a piece of", " to " + e.To
	}
	return e.Word(), ""
}

// FillRecorded puts what was recorded of wheels into words.
func (p Printer) FillRecorded(d *wheels.Recorded) {
	done, how := deedOf(d)
	d.What = strings.TrimSuffix(done, " of") + how
	d.Remarks = append(append([]string{}, p.All(d.Notes)...), p.All(d.Duties)...)
}

// Recorded says what was recorded of wheels: "moved 2 wheels to cellar/B: 261120A-01, -02".
func (p Printer) Recorded(d wheels.Recorded) string {
	tags := p.Tags(d.Wheels)
	switch {
	case len(d.Unknown) > 0:
		unknown := fmt.Sprintf("received %s at %s%s before their data, and noted: %s", count(len(d.Unknown), "wheel"),
			d.Entry.Place, p.When(d.When), p.Tags(d.Unknown))
		if d.Unknown = nil; len(d.Wheels) == 0 {
			return unknown
		}
		return p.Recorded(d) + "\n" + unknown
	case len(d.Wheels) == 0:
		return "no wheels: nothing recorded"
	case d.Same:
		return "no change, recorded already: " + tags
	case d.Entry.Kind == wheel.Tagged:
		return tags + " is now " + d.Entry.Tag + p.When(d.When)
	}
	done, how := deedOf(&d)
	return done + " " + count(len(d.Wheels), "wheel") + how + p.When(d.When) + ": " + tags
}

// PlaceName is a place as people read it: that of a wheel on the way to a site says so.
func PlaceName(place string) string {
	if to := cave.Place(place).Bound(); to != "" {
		return "on the way to " + to
	}
	return place
}
