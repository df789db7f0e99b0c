package words

import (
	"strings"

	"rindkeep/cmd/app"
)

// cautions are common practice, no source. Each names the hazard, what to do and
// whose rules have the last word.
var cautions = map[app.Hazard]string{
	app.HotWax: "hot wax burns skin and catches fire. Never leave it; use a thermostat and a thermometer; " +
		"no water on burning wax; read the wax's own safety sheet for its flash point; follow your local rules.",
	app.Smear: "brine and smear spread listeria: do young wheels first, with clean hands, cloths and brine, and take no " +
		"smear from old wheels to young; follow your local rules.",
	app.Smoke: "smoke poisons the air of a closed room and can start a fire: air the room and stay with it; follow your " +
		"local rules.",
	app.PressArm: "a press lever and its weights can crush: stand clear and lower them by hand; " +
		"follow the press's manual.",
	app.Lifting: "heavy wheels: lift with two people or a hoist; follow your local rules.",
	app.Dust:    "mite and mould dust harms lungs: brush under extraction or wear a mask; follow your local rules.",
}

// Brine goes with any handling of brine. Salt doesn't kill listeria: it grows down to a
// water activity of 0.92 (ICMSF 1996) and survives below it (from memory).
const Brine = "CAUTION: brine stings eyes and cuts and makes floors slippery. It doesn't kill listeria, and it " +
	"carries germs from wheel to wheel: keep it cold and clean, have it tested, and follow your local rules."

// CoolMilk is the caution beside milk heated to less than is usual for pasteurising.
func (p Printer) CoolMilk() string {
	return "CAUTION: that is under the usual figures of pasteurising (" + p.Temp(63) + " for 30 min, " + p.Temp(72) +
		" for 15 s). Check the record; your own law decides."
}

// NoRuleFor is the caution of countries followed that no rule on file is of.
func NoRuleFor(countries []string) string {
	return "CAUTION: no rule on file for " + strings.Join(countries, ", ") + ": nothing is held by its law here. " +
		"Add yours with rindkeep law add FILE."
}

// HotWaxBrief is the caution of hot wax in a line.
const HotWaxBrief = "CAUTION: hot wax burns and catches fire: never leave it; heed its safety sheet."

// Caution is the caution of a hazard.
func Caution(h app.Hazard) string { return "CAUTION: " + cautions[h] }

// FillCautions puts cautions into words.
func FillCautions(cs []app.Caution) {
	for i, c := range cs {
		cs[i].Words = Caution(c.Code)
	}
}
