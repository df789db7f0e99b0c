package words

import (
	"fmt"
	"strings"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/reason"
	"rindkeep/cmd/words/noun"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/shape"
)

// ofFaults is what the domain refuses beyond what the shapes say.
var ofFaults = []sentence{
	say(func(_ Printer, r cave.NoName) string { return fmt.Sprintf("a %s needs a name", r.What) }),
	say(func(_ Printer, r cave.LongText) string {
		return fmt.Sprintf("that %s is %d bytes long; at most %d", r.What, r.Has, r.Most)
	}),
	say(func(_ Printer, r cave.NotText) string { return fmt.Sprintf("that %s isn't valid text (UTF-8)", r.What) }),
	say(func(_ Printer, r cave.Unprintable) string {
		return fmt.Sprintf("that %s holds a character that doesn't print (U+%04X at byte %d)", r.What, r.Char, r.Byte)
	}),
	say(func(_ Printer, r cave.BadName) string {
		of := fmt.Sprintf("%s %s", r.What, quoted(r.Name))
		switch r.Why {
		case cave.Spaced:
			return of + " begins or ends with a space"
		case cave.Reserved:
			if dashed := strings.Join(strings.Fields(r.Name), "-"); dashed != r.Name && cave.CheckTag(r.What, dashed) == nil {
				return of + " has a space in it; did you mean " + dashed + "?"
			}
			return of + " holds " + quoted(r.Has) + "; use letters, digits, dash, dot or underscore"
		case cave.Begins:
			return of + " begins with " + quoted(r.Has) + "; begin with a letter or digit"
		}
		return fmt.Sprintf("a %s can't be called %s: the commands use that word", r.What, quoted(r.Name))
	}),
	say(func(_ Printer, r cave.DeepPlace) string {
		return fmt.Sprintf("that place has %d parts; a place is room/rack/shelf", r.Parts)
	}),
	say(func(p Printer, r air.OverAir) string {
		return fmt.Sprintf("%s of %s can't be over the air's %s",
			noun.Of(r.What), p.Temp(r.Temp), p.Temp(r.Air))
	}),
	say(func(p Printer, r air.UnderDry) string {
		return fmt.Sprintf("a wet bulb of %s is lower than dry air at %s could give",
			p.Temp(r.WetBulb), p.Temp(r.Air))
	}),
	say(func(_ Printer, r air.FarOff) string {
		return fmt.Sprintf("the hygrometer reads %s where %s gives %s: too far off to correct",
			exact(r.Read), r.Salt, exact(r.True))
	}),
	say(func(_ Printer, r drying.AirOutOfOrder) string {
		return fmt.Sprintf("the air is out of order: day %.4g after day %.4g", r.Day, r.After)
	}),
	say(func(_ Printer, r drying.Unpaired) string {
		return count(r.Days, "day") + " but " + count(r.Weights, "weight")
	}),
	say(func(_ Printer, r drying.FewWeighings) string {
		if r.Times {
			return fmt.Sprintf("weighings at %d different times; it takes %d", r.Have, r.Need)
		}
		return fmt.Sprintf("%s; it takes %d", count(r.Have, "weighing"), r.Need)
	}),
	say(func(p Printer, r drying.OddWeighing) string {
		return fmt.Sprintf("weighing %d can't be right: day %.4g, %s", r.Number, r.Day, p.Weight(r.Weight))
	}),
	say(func(p Printer, r drying.NoGreenWeight) string {
		return fmt.Sprintf("the first weighing is of day %.4g, but the drying model needs the green weight, of day 0%s",
			r.Day,
			p.typed(" (or give --prior none)", ""))
	}),
	say(func(_ Printer, r wheel.NeverFresh) string {
		return "no amount of water takes a brine from " + exact(r.Now) + " to 0 %; give a strength over 0 %"
	}),
	say(func(p Printer, r wheel.OddWheel) string {
		return fmt.Sprintf("a wheel of %s, %s thick, would be %s across; give measures of 0.5 cm to 2 m", p.Weight(r.Weight),
			p.Units.Length(r.Thick), p.Units.Length(r.Across))
	}),
	say(func(_ Printer, r wheel.WeakBrine) string {
		return fmt.Sprintf("%s salt in a cheese of %s moisture is %s in its water, and this brine gives at most %s; "+
			"use less salt or a stronger brine", exact(r.Salt), exact(r.Moisture), exact(r.In), exact(r.Most))
	}),
	say(func(_ Printer, r wheel.MoreThanMilk) string {
		return fmt.Sprintf("milk with %s fat and %s casein would give more cheese of %s moisture than there is milk",
			exact(r.Fat), exact(r.Casein), exact(r.Moisture))
	}),
	say(func(p Printer, r wheel.MoreAside) string {
		return fmt.Sprintf("lot %s: more curd set aside (%s) than there was (%s)", r.Lot, p.Weight(r.Aside), p.Weight(r.Was))
	}),
}

// flatFaults are the domain's refusals without figures.
var flatFaults = map[reason.Flat]string{
	shape.NoShape:       "the measures don't make a shape; give diameter and height, or length, width and height",
	drying.NoCurve:      "no curve comes out of these figures",
	wheel.NoMoisture:    "a moisture of 0 % leaves nothing to dissolve the salt; give the cheese's moisture, like 37%",
	wheel.NoSalt:        "a cheese of 0 % salt needs no brine; give the salt wanted, like 1.8%",
	wheel.RawHeated:     "raw milk had no heat treatment; leave the heat out, or say thermised or pasteurised",
	wheel.HalfHeated:    "a heat treatment needs its temperature, at most 150 °C, and for how long, at most a day",
	wheel.NoAcidity:     "an acidity needs a pH or a titratable acidity",
	wheel.NoComposition: "a composition needs a figure: moisture, fat, salt or pH",
	wheel.EmptyCheck:    "the hand check is empty; say what you saw",
	wheel.EmptyTasting:  "a tasting that says nothing; give a score or a fault",
}

// notCountry says that a word is no country's code.
func notCountry(word string) string {
	s := "no country " + quoted(word) + " by its ISO code; "
	if word == "UK" || word == "uk" {
		return s + "the United Kingdom is GB"
	}
	return s + "give two letters like US, or a part of one like US-WI"
}
