package words

import (
	"fmt"
	"slices"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/library"
	"rindkeep/wheel/holdrule"
)

// LawCaution stands under every list of rules.
const LawCaution = "Information, not legal advice: check your own law. Rules from memory say so."

// checkYourOwn stands beside every use of a rule.
const checkYourOwn = "check your own law"

// The sentences about the library's texts and food laws.
func init() {
	learn(
		form[library.SeeList]("[rindkeep {Kind} list shows what there is|look at the list]"),
	)
	flats(map[reason.Flat]string{
		library.NoneAndSome:    "[--none is for no country; leave the countries or --none out|name countries, or none]",
		library.NoteOfNoChange: "[--note is about a change; name the countries, or --none|a note is about a change]",
	})
}

// RuleAsks says what a rule asks: "raw or thermised milk: 60 days at 1.7 C or more".
func (p Printer) RuleAsks(r holdrule.Rule) string {
	var w []string
	if r.Holds() {
		days := count(r.Days, "day")
		if r.Months > 0 {
			days = count(r.Months, "month")
		}
		if r.Warm {
			days += " at " + p.Temp(r.MinTemp) + " or more"
		}
		if r.From == "drying" {
			days += " since drying began"
		}
		w = append(w, days)
	}
	if r.Label != "" {
		w = append(w, fmt.Sprintf("label %q", r.Label))
	}
	asks := strings.Join(w, "; ")
	if len(r.Milk) > 0 {
		milk := make([]string, len(r.Milk))
		for i, t := range r.Milk {
			milk[i] = string(t)
		}
		asks = strings.Join(milk, " or ") + " milk: " + asks
	}
	return asks
}

// RuleRead says in which edition a rule was read and when.
func RuleRead(edition, read string) string {
	switch {
	case read == holdrule.FromMemory:
		return read
	case edition == "":
		return "read " + read
	}
	return edition + ", read " + read
}

// Label says one duty of a label.
func (p Printer) Label(l library.Label) string {
	return fmt.Sprintf("label: %q (%s, %s); %s", l.Label, l.Source, RuleRead(l.Edition, l.Read), checkYourOwn)
}

// FillLaw puts holds by law into words.
func (p Printer) FillLaw(hs []library.LawHold) []library.LawHold {
	for i, h := range hs {
		hs[i].Words = p.Why(h.Reasons)
	}
	return hs
}

// RawMilk is the caution beside raw milk, in paragraphs.
func (p Printer) RawMilk(r *app.RawMilk) string {
	c := "CAUTION: raw milk can carry disease. Hold, test and sell only as your local law says."
	if r.Free {
		return c + "\n(This book follows no country's law and holds nothing by it" +
			p.typed("; rindkeep law follow COUNTRY changes that", "") + "." + p.asked(r) + ")"
	}
	for i, rule := range r.Rules {
		if rule.Missing {
			c += "\n(" + strings.Join(r.By[i], ", ") + ": no rule on file for its variety, so it is held until there is one" +
				p.typed(": rindkeep law add FILE", "") + "; check your own law.)"
			continue
		}
		of := strings.Join(append(slices.Clone(r.By[i]), rule.Cite()), ", ")
		c += "\n(" + of + ", for information: " + p.RuleAsks(rule) + "; check your own law.)"
	}
	return c
}

// asked says in short what laws ask that the make doesn't follow.
func (p Printer) asked(r *app.RawMilk) string {
	var asks []string
	for i, rule := range r.Rules {
		rule.Milk = nil // raw, all of them
		asks = append(asks, Countries(r.By[i])+" "+p.RuleAsks(rule))
	}
	if len(asks) == 0 {
		return ""
	}
	return " For information, some ask of raw milk: " + strings.Join(asks, "; ") + "."
}

// Countries are the codes of countries, in short: the European Union for its members,
// the first of many others.
func Countries(cs []string) string {
	switch {
	case slices.Contains(cs, "EU"):
		return "EU"
	case len(cs) <= 3:
		return strings.Join(cs, " ")
	}
	return fmt.Sprintf("%s +%d", cs[0], len(cs)-1)
}
