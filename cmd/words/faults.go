package words

import (
	"fmt"
	"strings"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/shape"
)

// What the domain refuses beyond what the shapes say.
func init() {
	learn(
		form[cave.NoName]("a {What} needs a name"),
		form[cave.LongText]("that {What} is {Has} bytes long; at most {Most}"),
		form[cave.NotText]("that {What} isn't valid text (UTF-8)"),
		form[cave.Unprintable]("that {What} holds a character that doesn't print (U+{Char:%04X} at byte {Byte})"),
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
		form[cave.DeepPlace]("that place has {Parts} parts; a place is room/rack/shelf"),
		form[air.OverAir]("{What:noun} of {Temp} can't be over the air's {Air}"),
		form[air.UnderDry]("a wet bulb of {WetBulb} is lower than dry air at {Air} could give"),
		form[air.FarOff]("the hygrometer reads {Read:exact} where {Salt} gives {True:exact}: too far off to correct"),
		form[drying.AirOutOfOrder]("the air is out of order: day {Day:%.4g} after day {After:%.4g}"),
		form[drying.Unpaired]("{Days day} but {Weights weight}"),
		form[drying.FewWeighings]("weighings at {Have} different times; it takes {Need}").
			without("Times", "{Have weighing}; it takes {Need}"),
		form[drying.OddWeighing]("weighing {Number} can't be right: day {Day:%.4g}, {Weight}"),
		form[drying.NoGreenWeight]("the first weighing is of day {Day:%.4g}, but the drying model needs the green "+
			"weight, of day 0[ (or give --prior none)]"),
		form[wheel.NeverFresh]("no amount of water takes a brine from {Now:exact} to 0 %; give a strength over 0 %"),
		form[wheel.OddWheel]("a wheel of {Weight}, {Thick} thick, would be {Across} across; give measures of 0.5 "+
			"cm to 2 m"),
		form[wheel.WeakBrine]("{Salt:exact} salt in a cheese of {Moisture:exact} moisture is {In:exact} in its "+
			"water, and this brine gives at most {Most:exact}; use less salt or a stronger brine"),
		form[wheel.MoreThanMilk]("milk with {Fat:exact} fat and {Casein:exact} casein would give more cheese of "+
			"{Moisture:exact} moisture than there is milk"),
		form[wheel.MoreAside]("lot {Lot}: more curd set aside ({Aside}) than there was ({Was})"),
	)
	flats(map[reason.Flat]string{
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
	})
}

// notCountry says that a word is no country's code.
func notCountry(word string) string {
	s := "no country " + quoted(word) + " by its ISO code; "
	if word == "UK" || word == "uk" {
		return s + "the United Kingdom is GB"
	}
	return s + "give two letters like US, or a part of one like US-WI"
}
