package words

import (
	"fmt"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/photo"
	"rindkeep/cmd/app/wheels"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

// wheelsWords has the sentences about what was done with wheels.
func wheelsWords(p Printer, r reason.Reason) (string, bool) {
	switch r := r.(type) {
	case reason.Flat:
		switch r {
		case wheels.OneWheel:
			return "that may name more than one wheel; name one by its tag", true
		case wheels.NoLaw:
			return "this book follows no country's food law, so it held nothing by one; check your own law" +
				p.typed(" (rindkeep law follow COUNTRY)", ""), true
		case photo.HEIC:
			return "that photo is in the HEIC format, which rindkeep can't read: save it as JPEG, or set the phone's camera " +
				"to JPEG", true
		case wheels.NoPhoto:
			return "that entry isn't a note with a photo", true
		case wheels.NoSemicolon:
			return "a document's reference has no semicolon", true
		}
	case photo.TooManyPixels:
		return fmt.Sprintf("a photo of %d x %d pixels is too large: make it smaller, at most %d million pixels",
			r.Width, r.Height, r.Most/1_000_000), true
	case wheels.WillSweat:
		return fmt.Sprintf("a wheel at the %s of %s sweats in %s, whose dew point is %s: "+
			"let it warm up covered, or the rind gets wet", p.Temp(r.Temp), r.From, r.To, p.Temp(r.Dew)), true
	case wheels.TagHadBefore:
		return fmt.Sprintf("%s was the tag of %s: a label or a recall may mean that wheel", r.Was, r.Now), true
	case wheels.MaybeOther:
		return fmt.Sprintf("%s was once the tag of %s too: hold what the label or the recall means", r.Was, r.Now), true
	case wheels.SeeWheels:
		return p.typed("rindkeep wheel list "+text.Safe(r.What)+" lists them", ""), true
	case wheels.NewCustomer:
		return fmt.Sprintf("no customer %s is saved%s", quoted(r.Name), p.typed(fmt.Sprintf(
			": rindkeep customer new %s --contact TEXT --address TEXT", Shell(r.Name)), "")), true
	case wheels.LabelDuty:
		return p.Label(library.Label(r)), true
	}
	return "", false
}

// deed says what an entry records, before and behind the wheels it is of.
func deed(e wheel.Entry) (done, how string) {
	switch e.Kind {
	case wheel.Moved:
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
	done, how := deed(d.Entry)
	d.What = strings.TrimSuffix(done, " of") + how
	d.Remarks = append(append([]string{}, p.All(d.Notes)...), p.All(d.Duties)...)
}

// Recorded says what was recorded of wheels: "moved 2 wheels to cellar/B: 261120A-01, -02".
func (p Printer) Recorded(d wheels.Recorded) string {
	tags := p.Tags(d.Wheels)
	switch {
	case len(d.Wheels) == 0:
		return "no wheels: nothing recorded"
	case d.Same:
		return "no change, recorded already: " + tags
	case d.Entry.Kind == wheel.Tagged:
		return tags + " is now " + d.Entry.Tag + p.When(d.When)
	}
	done, how := deed(d.Entry)
	return done + " " + count(len(d.Wheels), "wheel") + how + p.When(d.When) + ": " + tags
}
