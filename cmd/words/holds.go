package words

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/care"
	"rindkeep/cmd/app/wheels"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

// The sentences about holds: what they are, what ends them, who may.
func init() {
	learn(
		form[wheels.NotHeld]("{Wheel} has no hold of the kind {Kind}").without("Kind", "{Wheel} is not held"),
		form[wheels.OnlyByLaw]("{Wheel} is held by law, and no release ends that: {Why:all}. What ends it: "+
			"{Ends:all}"),
		form[wheels.SendDespite]("[who may lift safety holds can send it despite the law, once: rindkeep wheel "+
			"send {Wheel} --to NAME --override REASON|who may lift safety holds can send it despite the law, with "+
			"the reason]"),
		form[wheels.HeldBack]("{Wheel} is held: {Why:all}"),
		form[wheels.LiftHold]("[lift a hold set by hand with rindkeep wheel release {Wheel} --why TEXT; to send it "+
			"despite the hold, say why with --override|lift a hold set by hand with Release; to send it despite "+
			"the hold, say why]"),
		say(func(p Printer, r wheels.SayMilk) string { return p.SayMilk(r.Lot) }),
		form[wheels.KindUnsaid]("this counts as a safety hold; for one that anybody may lift, [say --kind reserved "+
			"or --kind quality|choose reserved or quality]"),
		form[app.NotReleaser]("{Who:or somebody without a name} may not lift safety holds; in this book {May} may"+
			"{Holds:lifted}"),
		form[app.LeavesLaw]("lot {Lot} would follow the law of {Names}, and that of {Left}, which this book "+
			"follows, wouldn't hold it. Is that right?"),
		form[care.NotOwner]("{Who:or somebody without a name} can't name the first who may lift safety holds: this book "+
			"is {Owner}'s"),
		form[app.LawLeftOut]("the law of {Countries}, which this book follows"),
		form[app.HoldsToCome]("holds to come, by the {What} {Of}"),
		form[app.NobodyReleases]("{Who:or you} and {Others} use this book, and it doesn't say who may lift safety holds"+
			"{Holds:lifted}"),
		say(func(p Printer, r app.NoRealReason) string {
			if strings.TrimSpace(r.Words) == "" {
				return "a safety hold ends only with a reason" + p.typed(": give --"+r.Field, "") + p.lifted(r.Holds)
			}
			return fmt.Sprintf("%s is no reason to lift a safety hold%s", quoted(r.Words), p.lifted(r.Holds))
		}),
		say(func(p Printer, r app.LiftsSafety) string {
			held := "is held"
			if strings.Contains(r.Of, ",") {
				held = "are held"
			}
			return fmt.Sprintf("%s %s for safety: %s. Do you want to lift that?", r.Of, held,
				p.firstHolds(r.Holds))
		}),
	)
	flats(map[reason.Flat]string{
		app.NameReleasers: "name them: rindkeep book releasers NAME...",
		wheels.SayDestroyed: "[was it destroyed? Then say so with --destroyed: anybody may record that|was it " +
			"destroyed? Then tick that: anybody may record it]",
		app.AskReleaser:    "[ask one of them; rindkeep book releasers shows who may|ask one of them]",
		app.SayWhy:         "say in a sentence what was found or decided, like 'report 4417: not detected in 25 g'",
		care.NamesAndNone:  "--none is for nobody; leave the names or --none out",
		care.NoteButNoName: "--note is about a change; give the names, or --none",
	})
}

// SayMilk says how to say how the milk of a lot was treated.
func (p Printer) SayMilk(lot string) string {
	return p.typed("say how the milk was treated: "+treatmentCommand(lot),
		"correct the make: was its milk raw, thermised or pasteurised?")
}

func treatmentCommand(lot string) string {
	return "rindkeep make correct " + Shell(lot) + " --treatment raw|thermised|pasteurised --why TEXT"
}

// lifted says which holds would end.
func (p Printer) lifted(hs reason.List) string {
	if len(hs) == 0 {
		return ""
	}
	return ". This would lift: " + p.firstHolds(hs)
}

// mostHolds is how many holds a sentence names.
const mostHolds = 3

func (p Printer) firstHolds(hs reason.List) string {
	all := p.All(hs[:min(len(hs), mostHolds)])
	if n := len(hs) - mostHolds; n > 0 {
		all = append(all, "and "+count(n, "more hold"))
	}
	return strings.Join(all, "; ")
}

// What would end a hold.
func init() {
	learn(
		say(func(_ Printer, r wheels.EndsByRelease) string {
			switch {
			case !r.Safety:
				return "anybody who records may release it"
			case r.May == "":
				return "a release, with the reason"
			}
			return "a release by " + either(strings.Split(r.May, ", ")) + ", with the reason"
		}),
		form[wheels.EndsByDays]("{On:long} at the earliest; days without a reading of the room end no hold").
			without("Unread", "{On:long} at the earliest"),
		say(func(p Printer, r wheels.EndsByMilk) string {
			return "saying whether the milk of " + r.Lot + " was raw, thermised or pasteurised" +
				p.typed(": "+treatmentCommand(r.Lot), "")
		}),
		form[wheels.EndsByRule]("adding the rule, or pasteurised milk; a releaser may send it despite the hold"),
	)
}

// either joins names with "or".
func either(names []string) string {
	if n := len(names); n > 1 {
		return strings.Join(names[:n-1], ", ") + " or " + names[n-1]
	}
	return strings.Join(names, "")
}

// heldSince is a hold in a clause: "test pending (test), since 2026-11-20".
func heldSince(r wheel.HeldSince) string {
	why := r.Words
	if r.Kind != "" {
		why += " (" + string(r.Kind) + ")"
	}
	return why + ", since " + r.Since.String()
}

// recordDetail is what an entry says that is on the record for others: where a wheel
// came from, what holds it, what was corrected.
func (p Printer) recordDetail(e wheel.Entry) string {
	switch e.Kind {
	case wheel.Received, wheel.TakenOver:
		return p.arrivalDetail(e)
	case wheel.Corrected:
		return p.correction(e)
	case wheel.Held:
		return string(e.Holding().Kind)
	case wheel.Sampled:
		if s, err := wheel.ParseLabSample(e.Detail); err == nil {
			return clauses(s.Test, leading("sample", s.Number), s.Lab)
		}
	case wheel.Resulted:
		if r, err := wheel.ParseLabResult(e.Detail); err == nil {
			return p.testedEntry(r)
		}
	}
	if d, ok := e.Disposal(); ok {
		return clauses("destroyed", leading("held:", strings.Join(p.All(d.Held), "; ")))
	}
	if r, ok := e.Release(); ok {
		return "ends: " + strings.Join(p.All(r.Ended), "; ")
	}
	return ""
}

// HoldAlert says that a wheel is held, and why.
func HoldAlert(h wheel.Hold) string {
	held, why := "HELD", text.Safe(h.Why)
	if h.Kind != "" {
		why += " (" + string(h.Kind) + ")"
		if h.Kind.Safety() {
			held += " for safety"
		}
	}
	return fmt.Sprintf("%s since %s: %s", held, h.On, why)
}

// FillHeld puts what is held into words.
func (p Printer) FillHeld(d *wheels.HeldList) {
	for i, h := range d.Holds {
		d.Holds[i].Ends = p.Sentence(h.Ending)
		if d.Holds[i].Why = p.Why(h.Reasons); len(h.Reasons) == 1 {
			if r, ok := h.Reasons[0].(wheel.HeldSince); ok {
				d.Holds[i].Why = r.Words
			}
		}
	}
}

// HeldTitle is what stands over one reason for holding wheels: "SAFETY: test".
func HeldTitle(h wheels.Held) string {
	kind := h.Kind
	switch {
	case kind == string(wheels.ByLaw):
		kind = "by law"
	case kind == "":
		kind = "no kind given"
	}
	if h.Safety {
		return "SAFETY: " + kind
	}
	return "ordinary: " + kind
}

// HeldFacts are what there is to say of it, name and value.
func (p Printer) HeldFacts(h wheels.Held) [][2]string {
	since := h.On.Long()
	if h.By != "" && h.Kind != string(wheels.ByLaw) {
		since += ", by " + text.Safe(h.By)
	}
	tags := text.Tags(h.Wheels)
	if p.For != Paper && len(tags) > mostTags*20 {
		tags = p.Tags(h.Wheels)
	}
	return [][2]string{
		{"why", text.Safe(h.Why)}, {"wheels", fmt.Sprintf("%d: %s", len(h.Wheels), tags)}, {"since", since}, {"ends", h.Ends},
	}
}

// HeldSum sums up what is held.
func (p Printer) HeldSum(d wheels.HeldList) string {
	if len(d.Holds) == 0 {
		return "nothing is held"
	}
	safety := 0
	for _, h := range d.Holds {
		if h.Safety {
			safety++
		}
	}
	return fmt.Sprintf("%s held for %s, %d of them for safety", count(d.Wheels, "wheel"), count(len(d.Holds), "reason"),
		safety)
}

// MayLift says who may lift safety holds, and who named them when.
func MayLift(names []string, by, on string) string {
	if len(names) == 0 {
		return "this book names nobody to lift safety holds: where one person uses it, that person is asked again"
	}
	return "safety holds are lifted by " + either(slices.Clone(names)) + "; named by " +
		cmp.Or(text.Safe(by), "somebody without a name") + " on " + on[:len("2026-11-25")]
}
