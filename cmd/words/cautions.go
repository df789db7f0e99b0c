package words

import (
	"strings"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/words/caution"
)

// NoRuleFor is the caution of countries followed that no rule on file is of.
func NoRuleFor(countries []string) string {
	return "CAUTION: no rule on file for " + strings.Join(countries, ", ") + ": all cheese but that of pasteurised " +
		"milk is held until you add one with rindkeep law add FILE."
}

// Caution is a caution in words.
func (p Printer) Caution(c app.Caution) string {
	switch of := c.Of.(type) {
	case *app.RawMilk:
		return p.RawMilk(of)
	case []rooms.AheadLawful:
		return p.AgeCaution(of)
	case int:
		return p.TooCold(of)
	}
	if c.Code == app.CoolMilk { // heated to less than is usual for pasteurising
		return "CAUTION: that is under the usual figures of pasteurising (" + p.Temp(63) + " for 30 min, " + p.Temp(72) +
			" for 15 s). Check the record; your own law decides."
	}
	return "CAUTION: " + caution.Of[c.Code]
}

// CautionOf is the caution of a hazard that needs no figures.
func (p Printer) CautionOf(h app.Hazard) string { return p.Caution(app.Caution{Code: h}) }

// FillCautions puts the cautions of a result into words, if it has any.
func (p Printer) FillCautions(result any) {
	if w, ok := result.(interface{ Warnings() app.Cautions }); ok {
		for i, c := range w.Warnings() {
			w.Warnings()[i].Words = p.Caution(c)
		}
	}
}
