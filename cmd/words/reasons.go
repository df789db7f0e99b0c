package words

import (
	"reflect"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/schedule"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// sentence is the words of one kind of reason: in full and, where they differ,
// in brief, for a narrow column.
type sentence struct {
	of          any // its type, or the reason itself where it's a Flat
	full, brief func(Printer, reason.Reason) string
}

// sentences are the words of every reason. Each subject has a file here, whose init adds its own:
// a sentence may hold another, so a variable couldn't be made of them.
var sentences = map[any]sentence{}

func learn(list ...sentence) {
	for _, s := range list {
		sentences[s.of] = s
	}
}

// flats adds the words of reasons without figures.
func flats(forms map[reason.Flat]string) {
	for r, s := range forms {
		sentences[r] = sentence{of: r, full: filled(s)}
	}
}

// form gives a kind of reason its words, with its figures in their places: "lot {Lot}, made {Made}".
// A part in brackets is for the command line alone, or else what is behind the bar: "[--note|a note]".
func form[R reason.Reason](full string) sentence {
	return sentence{of: reflect.TypeFor[R](), full: filled(full)}
}

// say gives a kind of reason words that depend on more than a form can say.
func say[R reason.Reason](full func(Printer, R) string) sentence {
	return sentence{of: reflect.TypeFor[R](), full: func(p Printer, r reason.Reason) string { return full(p, r.(R)) }}
}

// in adds the brief form.
func (s sentence) in(brief string) sentence {
	s.brief = filled(brief)
	return s
}

// without gives the words of where a field says nothing: it's zero, empty or false.
func (s sentence) without(field, form string) sentence {
	with, none := s.full, filled(form)
	s.full = func(p Printer, r reason.Reason) string {
		if reflect.ValueOf(r).FieldByName(field).IsZero() {
			return none(p, r)
		}
		return with(p, r)
	}
	return s
}

// wordsOf is the entry of a reason; ok is false where there is none.
func wordsOf(r reason.Reason) (s sentence, ok bool) {
	if s, ok = sentences[reflect.TypeOf(r)]; !ok {
		if _, flat := r.(reason.Flat); flat {
			s, ok = sentences[r]
		}
	}
	return s, ok
}

// Sentence is a reason in words: a clause without a capital or a full stop. A
// reason that nothing here knows is shown by its code.
func (p Printer) Sentence(r reason.Reason) string {
	if s, ok := wordsOf(r); ok {
		return s.full(p, r)
	}
	return r.Code()
}

// Why is a list of reasons in a line; "" for none.
func (p Printer) Why(l reason.List) string {
	var b strings.Builder
	for i, r := range l {
		if i > 0 {
			b.WriteString(joint(l[i-1], r))
		}
		b.WriteString(p.Sentence(r))
	}
	return b.String()
}

// joint is what stands between two reasons.
func joint(was, r reason.Reason) string {
	switch was.(type) {
	case wheel.Says, wheel.FaultSeen, verdict.FindGas:
		return "; "
	case wheel.ByMistake, wheel.Destroyed, verdict.MendCoat, verdict.InDoubt:
		return ": "
	}
	switch r.(type) {
	case verdict.ByWeight:
		return " "
	case verdict.Jumped:
		return "; "
	}
	_, every := was.(schedule.Every)
	if _, opens := r.(schedule.After); opens && every {
		return " "
	}
	return ", "
}

// Brief is the weightiest reason of a list in a few words; "" for none.
func (p Printer) Brief(l reason.List) string {
	if len(l) == 0 {
		return ""
	}
	if s, _ := wordsOf(l[0]); s.brief != nil {
		return s.brief(p, l[0])
	}
	return p.Sentence(l[0])
}

// All is every reason of a list in words, one by one.
func (p Printer) All(l reason.List) []string {
	out := make([]string, len(l))
	for i, r := range l {
		out[i] = p.Sentence(r)
	}
	return out
}

func init() {
	learn(
		say(func(_ Printer, r schedule.Every) string {
			switch {
			case r.Days == 1:
				return "daily"
			case r.Days == 7:
				return "weekly"
			case r.Days%7 == 0:
				return "every " + count(r.Days/7, "week")
			}
			return "every " + count(r.Days, "day")
		}),
		say(func(_ Printer, r schedule.PerDay) string { return times(r.Times) + " a day" }),
		form[schedule.Once]("once"),
		form[schedule.AtAge]("at {Days day}"),
		form[schedule.FromDay]("from day {Day}"),
		say(func(_ Printer, r schedule.After) string { return after(r.Event) }),
		form[schedule.AtStart]("at the start"),
		form[schedule.LastDone]("last {On:short}"),
		form[schedule.LastSkipped]("skipped {On:short}"),
		form[schedule.TakenOver]("taken over {On:short}"),
		say(func(_ Printer, r schedule.DoneOf) string {
			return strings.TrimSpace(digits(r.Done) + " of " + digits(r.Of) + " done " + r.On.Short())
		}),
		say(func(_ Printer, r schedule.MakeDay) string {
			switch r.DaysAfter {
			case 0:
				return "on the make's day"
			case 1:
				return "the day after the make's"
			}
			return count(r.DaysAfter, "day") + " after the make's"
		}),
		say(func(_ Printer, r schedule.Rounds) string { return times(r.Times) }),
	)
}

// after is the opening of a step: "since drying began", "after coating".
func after(event string) string {
	switch wheel.Stage(event) {
	case wheel.Pressing:
		return "from the press on"
	case wheel.Drying:
		return "since drying began"
	case wheel.Coated:
		return "after coating"
	case wheel.Ripening:
		return "since it began to ripen"
	case wheel.Ready:
		return "since it was ready"
	}
	if done := wheel.Job(event).Done(); done != "" {
		return "after it was first " + done
	}
	return "after " + event
}
