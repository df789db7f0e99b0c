package words

import (
	"cmp"
	"strings"

	"rindkeep/cmd/app/care"
	"rindkeep/cmd/text"
	"rindkeep/store/register"
)

// SiteFacts are where the book's cheese is kept, name and value.
func (p Printer) SiteFacts(d care.Site) [][2]string {
	not := p.typed("not said yet: rindkeep book site --", "not said yet: ")
	return [][2]string{
		{"site", cmp.Or(text.Safe(d.Name), not+"name")}, {"address", cmp.Or(oneLine(d.Address), not+"address")},
		{"telephone", cmp.Or(oneLine(d.Contact), not+"contact")}, {"bought-in cheese", leavesUnder(d.LotCode)},
		{"5/6/2026", readAs(d.Dates)},
	}
}

// SiteLine is what was written of the site before, in a line.
func SiteLine(l care.SiteLine) string {
	var w []string
	for _, s := range []string{l.Name, l.Address, l.Contact} {
		if s != "" {
			w = append(w, oneLine(s))
		}
	}
	return strings.Join(append(w, leavesUnder(l.LotCode), readAs(l.Dates)), "; ")
}

// readAs says how the date 5/6/2026 is read.
func readAs(dates string) string {
	switch dates {
	case register.DayFirst:
		return "is 5 June"
	case register.MonthFirst:
		return "is May 6"
	}
	return "is read as the countries write it whose law the book follows"
}

func leavesUnder(code string) string {
	if code == register.OwnCode {
		return "leaves under your own lot code, with the maker's as its input"
	}
	return "leaves under the maker's lot code"
}

func oneLine(s string) string { return text.Safe(strings.Join(strings.Fields(s), " ")) }
