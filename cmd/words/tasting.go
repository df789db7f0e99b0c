package words

import (
	"fmt"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app/tasting"
	"rindkeep/cmd/text"
)

// tastingWords has the sentences about tastings.
func tastingWords(p Printer, r reason.Reason) (string, bool) {
	switch r := r.(type) {
	case tasting.UnknownFault:
		return quoted(r.Word) + " isn't a fault on the list", true
	case tasting.OwnFault:
		s := p.typed("if it's a word of your own: --fault-own "+Shell(cut(r.Word)),
			"if it's a word of your own, add it as one")
		if !r.Near {
			s += p.typed("; rindkeep taste --help has the list", "")
		}
		return s, true
	}
	return "", false
}

// TastedHead says whose tastings are shown: "261120A: Tomme, made 2026-09-01, 85 days old".
func (p Printer) TastedHead(d tasting.Shown) string {
	s := "tastings of " + text.Safe(strings.Join(d.Asked, ", "))
	if d.Make == nil {
		return s
	}
	s += fmt.Sprintf(": %s, made %s", d.Title, d.Make.Date)
	if age := int(d.On - d.Make.Date); age >= 0 {
		s += ", " + count(age, "day") + " old"
	}
	return s
}
