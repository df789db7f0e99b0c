package words

import (
	"strings"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/rooms"
)

// cautions are common practice, no source. Each names the hazard, what to do and
// whose rules have the last word.
var cautions = map[app.Hazard]string{
	app.HotWax: "hot wax burns skin and catches fire. Never leave it; use a thermostat and a thermometer; " +
		"no water on burning wax; read the wax's own safety sheet for its flash point; follow your local rules.",
	app.Smear: "brine and smear spread listeria: do young wheels first, with clean hands, cloths and brine, and take no " +
		"smear from old wheels to young; follow your local rules.",
	app.Salting: "hands and used salt spread listeria, which salt doesn't kill: salt young wheels first, with clean " +
		"hands and fresh salt; it stings cuts, so wear gloves; follow your local rules.",
	app.Smoke: "smoke poisons the air of a closed room and can start a fire: air the room and stay with it; follow your " +
		"local rules.",
	app.PressArm: "a press lever and its weights can crush: stand clear and lower them by hand; " +
		"follow the press's manual.",
	app.Lifting: "heavy wheels: lift with two people or a hoist; follow your local rules.",
	app.Dust:    "mite and mould dust harms lungs: brush under extraction or wear a mask; follow your local rules.",
	// Salt doesn't kill listeria: it grows down to a water activity of 0.92 (ICMSF 1996) and survives
	// below it (from memory).
	app.Brine: "brine stings eyes and cuts and makes floors slippery. It doesn't kill listeria, and it carries germs " +
		"from wheel to wheel: keep it cold and clean, have it tested, and follow your local rules.",
	app.ClosedRoom: "carbon dioxide and ammonia build up in a closed ripening room: air it and measure both gases " +
		"before you work in it, never alone; follow your local limits.",
	app.SellingFood: "food for sale: your local food law and authority have the last word.",
	app.Recalling: "a trace shows only what was recorded. In a recall, tell your food authority, as your law requires, " +
		"and keep what comes back apart and marked.",
}

// CoolMilk is the caution beside milk heated to less than is usual for pasteurising.
func (p Printer) CoolMilk() string {
	return "CAUTION: that is under the usual figures of pasteurising (" + p.Temp(63) + " for 30 min, " + p.Temp(72) +
		" for 15 s). Check the record; your own law decides."
}

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
	if c.Code == app.CoolMilk {
		return p.CoolMilk()
	}
	return "CAUTION: " + cautions[c.Code]
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
