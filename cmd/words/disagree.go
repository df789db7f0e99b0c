package words

import (
	"cmp"
	"fmt"
	"strings"

	"rindkeep/cmd/app/sites"
	"rindkeep/cmd/text"
	"rindkeep/store/disagree"
	"rindkeep/wheel"
)

// FillSites fills in what the disagreements of a list are about, and what to type.
func (p Printer) FillSites(l *sites.Listed) {
	for i := range l.Disagreements {
		d := &l.Disagreements[i]
		d.Text, d.Settle = p.Disagreement(*d), Settling(*d)
	}
}

// FillSettled fills in what was settled.
func (p Printer) FillSettled(d *sites.Settled) { d.Of.Text = p.Disagreement(d.Of) }

// Waiting says what of the sites that share a book waits for somebody here; "" for nothing.
func Waiting(l sites.Listed) string {
	var out []string
	here := 0
	for _, t := range l.OnTheWay {
		if t.Here {
			here++
		}
	}
	if here > 0 {
		out = append(out, text.Count(here, "wheel")+" on the way here")
	}
	if n := len(l.Disagreements); n > 0 {
		out = append(out, text.Count(n, "disagreement")+" between sites to settle")
	}
	return strings.Join(out, ", ")
}

// Disagreement says what sites disagree about, and what counts.
func (p Printer) Disagreement(d sites.Disagreement) string {
	of, name := d.Of, text.Safe(d.Name)
	stands, other := bySite(d.Stands), bySite(d.Other)
	switch of.Kind {
	case disagree.Replaced:
		return fmt.Sprintf("%s %s was changed at two sites that hadn't heard of each other: %s%s counts, and %s%s doesn't",
			d.Thing, name, stands, says(d.Stands), other, says(d.Other))
	case disagree.SameIdentity:
		if d.Thing == "entry" {
			return fmt.Sprintf("one entry of %s came with two contents: %s counts, and %s doesn't", name,
				p.EntryAt(of.Stands.Entry, d.Stands), p.EntryAt(of.Other.Entry, d.Other))
		}
		return fmt.Sprintf("%s %s came with two contents: the one that was written first counts", d.Thing, name)
	case disagree.SameName:
		return fmt.Sprintf("two %ss are called %s: %s and %s", d.Thing, name, text.Safe(of.Stands.Name),
			text.Safe(of.Other.Name))
	case disagree.SameTag:
		return fmt.Sprintf("%s and %s are both here, and their labels say the same", text.Safe(of.Stands.Name),
			text.Safe(of.Other.Name))
	case disagree.ClockAhead:
		return fmt.Sprintf("the clock at %s is %s ahead, or was", name, lasting(d.Of.Ahead))
	case disagree.ForkSeen:
		return fmt.Sprintf("two computers wrote as %s, one with a copy of its book: see whether anything was done twice; if "+
			"nobody copied it, its key may be stolen: rindkeep sites revoke %[1]s", name)
	case disagree.OlderCopy:
		return fmt.Sprintf("the book of %s was restored from an older copy, or copied, and goes on: see whether anything "+
			"was done twice", name)
	case disagree.ClaimUnknown:
		return fmt.Sprintf("%s received %s on %s, and no site has such a wheel", stands, name, minuteOf(d.Stands))
	case disagree.ClaimUnclear:
		return fmt.Sprintf("%s received %s on %s, and several wheels or sites may be meant", stands, name,
			minuteOf(d.Stands))
	}
	return p.clash(d)
}

// clash says what can't both be so of a wheel.
func (p Printer) clash(d sites.Disagreement) string {
	name := text.Safe(d.Name)
	first, second := p.EntryAt(d.Of.Other.Entry, d.Other), p.EntryAt(d.Of.Stands.Entry, d.Stands)
	switch wheel.ClashKind(d.Kind) {
	case wheel.LeftTwice:
		return fmt.Sprintf("%s left twice: %s, and %s", name, first, second)
	case wheel.MovedWhenGone:
		return fmt.Sprintf("%s was %s after it had left: %s", name, second, first)
	}
	return fmt.Sprintf("%s was %s, and nobody at %s sent it there", name, second,
		cmp.Or(text.Safe(d.Of.Other.Site), "this site"))
}

// EntryAt says what was recorded of a wheel, where it's known at which site, when and by whom, and its code.
func (p Printer) EntryAt(e wheel.Entry, s *sites.Side) string {
	if s == nil || s.At == nil {
		return "nothing"
	}
	what := []string{e.Word()}
	if detail := p.EntryDetail(e); detail != "" {
		what = append(what, text.Safe(detail))
	}
	if s.Site != nil {
		what = append(what, "at", text.Safe(*s.Site))
	}
	what = append(what, "on", Minute(*s.At))
	if e.By != "" {
		what = append(what, "by", text.Safe(e.By))
	}
	return strings.Join(what, " ") + " (" + e.Mark() + ")"
}

// says is what a side says that the other doesn't, in brackets; "" where that isn't known.
func says(s *sites.Side) string {
	if s == nil || len(s.Says) == 0 {
		return ""
	}
	var out []string
	for i, f := range s.Says {
		switch {
		case i == mostSaid:
			return " (" + strings.Join(append(out, "…"), "; ") + ")"
		case f.Value == "":
			out = append(out, "no "+text.Safe(f.Name))
		default:
			out = append(out, strings.TrimSpace(text.Safe(f.Name)+" "+text.Safe(f.Value)))
		}
	}
	return " (" + strings.Join(out, "; ") + ")"
}

// mostSaid is how many parts of a record are shown: our choice.
const mostSaid = 4

func bySite(s *sites.Side) string {
	if s == nil || s.Site == nil {
		return "one"
	}
	out := text.Safe(*s.Site)
	if s.At != nil && s.Name == nil {
		out += "'s of " + Minute(*s.At)
	}
	return out
}

func minuteOf(s *sites.Side) string {
	if s == nil || s.At == nil {
		return "an unknown day"
	}
	return Minute(*s.At)
}

// Settling is what to type to settle a disagreement.
func Settling(d sites.Disagreement) string {
	settle := "rindkeep sites settle " + d.Code
	switch d.Of.Kind {
	case disagree.Replaced:
		return fmt.Sprintf("%s (keeps it so), or %s --other", settle, settle)
	case disagree.SameTag:
		return "rindkeep wheel tag " + text.Safe(d.Of.Other.Name) + " NEWTAG"
	case disagree.SameName:
		if d.Thing == "wheel" {
			return "rindkeep wheel tag " + text.Safe(d.Of.Other.Name) + " NEWTAG"
		}
	case disagree.ClaimUnknown, disagree.ClaimUnclear:
		return fmt.Sprintf("rindkeep sites receive SITE:TAG PLACE, or %s (drops it)", settle)
	case disagree.ClockAhead:
		return fmt.Sprintf("set the clock there; %s if it's right now", settle)
	}
	switch wheel.ClashKind(d.Kind) {
	case wheel.LeftTwice, wheel.MovedWhenGone:
		return fmt.Sprintf("rindkeep strike %s:CODE --why TEXT for the wrong one, or %s (both were so)", text.Safe(d.Name),
			settle)
	}
	return settle + " (keeps it so)"
}
