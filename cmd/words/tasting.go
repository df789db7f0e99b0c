package words

import (
	"fmt"
	"strings"

	"rindkeep/cmd/app/tasting"
	"rindkeep/cmd/text"
)

// The sentences about tastings.
func init() {
	learn(
		form[tasting.UnknownFault]("{Word:quoted} isn't a fault on the list"),
		form[tasting.OwnFault]("if it's a word of your own[: --fault-own {Word:shell}|, add it as one]").
			without("Near", "if it's a word of your own[: --fault-own {Word:shell}; rindkeep taste --help has the list|"+
				", add it as one]"),
	)
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
