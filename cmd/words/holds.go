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

// holdWords has the sentences about holds: what they are, what ends them, who may.
func holdWords(p Printer, r reason.Reason) (string, bool) {
	switch r := r.(type) {
	case reason.Flat:
		return holdFlat(p, r)
	case wheels.NotHeld:
		if r.Kind != "" {
			return fmt.Sprintf("%s has no hold of the kind %s", r.Wheel, r.Kind), true
		}
		return r.Wheel + " is not held", true
	case wheels.OnlyByLaw:
		return fmt.Sprintf("%s is held by law, and no release ends that: %s. What ends it: %s", r.Wheel,
			strings.Join(p.All(r.Why), "; "), strings.Join(p.All(r.Ends), "; ")), true
	case wheels.SendDespite:
		return p.typed("who may lift safety holds can send it despite the law, once: rindkeep wheel send "+r.Wheel+
			" --to NAME --override REASON", "who may lift safety holds can send it despite the law, with the reason"), true
	case wheels.HeldBack:
		return r.Wheel + " is held: " + strings.Join(p.All(r.Why), "; "), true
	case wheels.LiftHold:
		return p.typed(fmt.Sprintf("lift a hold set by hand with rindkeep wheel release %s --why TEXT; "+
			"to send it despite the hold, say why with --override", r.Wheel),
			"lift a hold set by hand with Release; to send it despite the hold, say why"), true
	case wheels.SayMilk:
		return p.SayMilk(r.Lot), true
	case wheels.KindUnsaid:
		return "this counts as a safety hold; for one that anybody may lift, " +
			p.typed("say --kind reserved or --kind quality", "choose reserved or quality"), true
	case app.NotReleaser:
		return fmt.Sprintf("%s may not lift safety holds; in this book %s may%s", cmp.Or(r.Who, "somebody without a name"),
			r.May, p.lifted(r.Holds)), true
	case app.LeavesLaw:
		return fmt.Sprintf("lot %s would follow the law of %s, and that of %s, which this book follows, wouldn't hold it. "+
			"Is that right?", r.Lot, r.Names, r.Left), true
	case care.NotOwner:
		return fmt.Sprintf("%s can't name the first who may lift safety holds: this book is %s's", cmp.Or(r.Who,
			"somebody without a name"), r.Owner), true
	case app.LawLeftOut:
		return "the law of " + r.Countries + ", which this book follows", true
	case app.HoldsToCome:
		return fmt.Sprintf("holds to come, by the %s %s", r.What, r.Of), true
	case app.NobodyReleases:
		return fmt.Sprintf("%s and %s use this book, and it doesn't say who may lift safety holds%s",
			cmp.Or(r.Who, "you"), r.Others, p.lifted(r.Holds)), true
	case app.NoRealReason:
		if strings.TrimSpace(r.Words) == "" {
			return "a safety hold ends only with a reason" + p.typed(": give --"+r.Field, "") + p.lifted(r.Holds), true
		}
		return fmt.Sprintf("%s is no reason to lift a safety hold%s", quoted(r.Words), p.lifted(r.Holds)), true
	case app.LiftsSafety:
		held := "is held"
		if strings.Contains(r.Of, ",") {
			held = "are held"
		}
		return fmt.Sprintf("%s %s for safety: %s. Do you want to lift that?", r.Of, held,
			p.firstHolds(r.Holds)), true
	}
	return p.ending(r)
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

func holdFlat(p Printer, r reason.Flat) (string, bool) {
	switch r {
	case app.NameReleasers:
		return "name them: rindkeep book releasers NAME...", true
	case wheels.SayDestroyed:
		return p.typed("was it destroyed? Then say so with --destroyed: anybody may record that",
			"was it destroyed? Then tick that: anybody may record it"), true
	case app.AskReleaser:
		return p.typed("ask one of them; rindkeep book releasers shows who may", "ask one of them"), true
	case app.SayWhy:
		return "say in a sentence what was found or decided, like 'report 4417: not detected in 25 g'", true
	case care.NamesAndNone:
		return "--none is for nobody; leave the names or --none out", true
	case care.NoteButNoName:
		return "--note is about a change; give the names, or --none", true
	}
	return "", false
}

// ending says what would end a hold.
func (p Printer) ending(r reason.Reason) (string, bool) {
	switch r := r.(type) {
	case wheels.EndsByRelease:
		switch {
		case !r.Safety:
			return "anybody who records may release it", true
		case r.May == "":
			return "a release, with the reason", true
		}
		return "a release by " + either(strings.Split(r.May, ", ")) + ", with the reason", true
	case wheels.EndsByDays:
		ends := r.On.Long() + " at the earliest"
		if r.Unread {
			ends += "; days without a reading of the room end no hold"
		}
		return ends, true
	case wheels.EndsByMilk:
		return "saying whether the milk of " + r.Lot + " was raw, thermised or pasteurised" +
			p.typed(": "+treatmentCommand(r.Lot), ""), true
	case wheels.EndsByRule:
		return "adding the rule, or pasteurised milk; a releaser may send it despite the hold", true
	}
	return "", false
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
