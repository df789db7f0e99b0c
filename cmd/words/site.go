package words

import (
	"cmp"
	"strings"

	"rindkeep/cmd/app/care"
	"rindkeep/cmd/text"
	"rindkeep/store"
)

// SiteFacts are where the book's cheese is kept, name and value.
func (p Printer) SiteFacts(d care.Site) [][2]string {
	not := p.typed("not said yet: rindkeep book site --", "not said yet: ")
	return [][2]string{
		{"site", cmp.Or(text.Safe(d.Name), not+"name")}, {"address", cmp.Or(oneLine(d.Address), not+"address")},
		{"telephone", cmp.Or(oneLine(d.Contact), not+"contact")}, {"bought-in cheese", leavesUnder(d.LotCode)},
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
	return strings.Join(append(w, leavesUnder(l.LotCode)), "; ")
}

func leavesUnder(code string) string {
	if code == store.OwnCode {
		return "leaves under your own lot code, with the maker's as its input"
	}
	return "leaves under the maker's lot code"
}

func oneLine(s string) string { return text.Safe(strings.Join(strings.Fields(s), " ")) }
