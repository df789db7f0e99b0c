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
	of          reflect.Type
	full, brief func(Printer, reason.Reason) string
}

// say gives a kind of reason its words.
func say[R reason.Reason](full func(Printer, R) string) sentence {
	return sentence{of: reflect.TypeFor[R](), full: func(p Printer, r reason.Reason) string { return full(p, r.(R)) }}
}

// fixed is say for a reason without figures, or whose figures nobody reads.
func fixed(r reason.Reason, full string) sentence {
	return sentence{of: reflect.TypeOf(r), full: func(Printer, reason.Reason) string { return full }}
}

// in adds the brief form.
func (s sentence) in(brief string) sentence {
	s.brief = func(Printer, reason.Reason) string { return brief }
	return s
}

// sayBoth is say with a brief form that has figures.
func sayBoth[R reason.Reason](full, brief func(Printer, R) string) sentence {
	s := say(full)
	s.brief = func(p Printer, r reason.Reason) string { return brief(p, r.(R)) }
	return s
}

// sentences are the words of every reason of the domain.
var sentences = func() map[reflect.Type]sentence {
	out := map[reflect.Type]sentence{}
	for _, list := range [][]sentence{
		ofFaults, ofAir, ofWheel, ofDrying, ofGate, ofRules, ofAdvice, ofOutcome, ofDoubt, ofSchedule,
	} {
		for _, s := range list {
			out[s.of] = s
		}
	}
	return out
}()

// domainWords is the catalogue of the reasons that the domain gives.
func domainWords(p Printer, r reason.Reason) (string, bool) {
	if f, flat := r.(reason.Flat); flat {
		s, ok := flatFaults[f]
		return s, ok
	}
	s, ok := sentences[reflect.TypeOf(r)]
	if !ok {
		return "", false
	}
	return s.full(p, r), true
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
	if s := sentences[reflect.TypeOf(l[0])]; s.brief != nil {
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

var ofSchedule = []sentence{
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
	fixed(schedule.Once{}, "once"),
	say(func(_ Printer, r schedule.AtAge) string { return "at " + count(r.Days, "day") }),
	say(func(_ Printer, r schedule.FromDay) string { return "from day " + digits(r.Day) }),
	say(func(_ Printer, r schedule.After) string { return after(r.Event) }),
	fixed(schedule.AtStart{}, "at the start"),
	say(func(_ Printer, r schedule.LastDone) string { return "last " + r.On.Short() }),
	say(func(_ Printer, r schedule.LastSkipped) string { return "skipped " + r.On.Short() }),
	say(func(_ Printer, r schedule.TakenOver) string { return "taken over " + r.On.Short() }),
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
