// Package caution has the sentences of the hazards that need no figures.
package caution

import "rindkeep/cmd/app"

// Of has the caution of each: common practice, no source. It names the hazard, what to do and
// whose rules have the last word.
var Of = map[app.Hazard]string{
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
