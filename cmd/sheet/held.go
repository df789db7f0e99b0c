package sheet

import (
	"rindkeep/cmd/app/wheels"
	"rindkeep/cmd/words"
)

// Held is what is held, in words.
type Held struct {
	Summary []string
	Holds   []HeldReason
}

// HeldReason is wheels that are held for one reason, with all their tags.
type HeldReason struct {
	Title string
	Facts [][2]string
}

// HeldOf is what is held in words.
func HeldOf(p words.Printer, d wheels.HeldList) Held {
	out := Held{Summary: []string{p.HeldSum(d), words.MayLift(d.Releasers, d.NamedBy, d.NamedOn)}}
	for _, h := range d.Holds {
		out.Holds = append(out.Holds, HeldReason{words.HeldTitle(h), p.HeldFacts(h)})
	}
	return out
}

// HeldSheet lays out what is held, by reason.
func HeldSheet(h Head, d Held) (Doc, error) {
	p := begin(h, "held")
	p.blocks("", d.Summary)
	for _, r := range d.Holds {
		p.section(r.Title, 4)
		p.facts(r.Facts, false)
	}
	return done(p.pdf)
}
