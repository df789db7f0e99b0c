package words

import (
	"cmp"
	"fmt"
	"strings"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/text"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
	"rindkeep/wheel/shape"
)

// The sentences about correcting and removing makes.
func init() {
	learn(
		say(func(p Printer, r refusal.MadeAfter) string {
			return fmt.Sprintf("it can't have been made on %s: %s was %s on %s", r.Made, r.Of, r.What, r.On) +
				p.typed(fmt.Sprintf("; if that is wrong: rindkeep strike %s:%s --why TEXT",
					strings.TrimPrefix(r.Of, "lot "), r.Mark), "")
		}),
		form[refusal.LotRemoved]("lot {Lot} was removed as a mistake[; rindkeep make show {Lot} has the code to "+
			"strike, to bring it back]"),
		form[makes.InTheLog]("the log of lot {Lot} says the {Field:field}, and counts for more than the make's record"),
		form[makes.StrikeLine]("[cancel the line by its code from rindkeep make show {Lot}, then log it "+
			"again|cancel that line of the log, then log it again]"),
		say(func(_ Printer, r makes.OtherCount) string {
			return fmt.Sprintf("lot %s has %s; without the %d named that is %d, not %d", r.Lot, text.Count(r.Has, "wheel"),
				r.Named, r.Has-r.Named, r.Given)
		}),
		form[makes.NotOfLot]("{Wheel:quoted} isn't a wheel of lot {Lot}, or was removed before"),
		say(func(_ Printer, r makes.WereHandled) string {
			tags := strings.Fields(r.Tags)
			return fmt.Sprintf("%s %s looked after since the make was recorded, so %s made", text.Tags(tags),
				plural(len(tags), "was", "were"), plural(len(tags), "it was", "they were"))
		}),
		form[makes.NameWheels]("[name the wheels that were never made with --void TAG,TAG; to remove one despite "+
			"what is recorded: rindkeep wheel void TAG --why TEXT|name the wheels that were never made]"),
	)
	flats(map[reason.Flat]string{
		makes.NothingToCorrect: "say what to correct[, with the flags of make new: --date, --variety, --wheels, …]",
	})
	learn(
		say(func(_ Printer, r makes.WheelsLeft) string {
			how := r.How
			if how == wheel.SentPart.String() {
				how = "sent in part"
			}
			return fmt.Sprintf("lot %s can't be removed: %s", r.Lot, clauses(wereDone(r.Tags, how), wereDone(r.Lost,
				wheel.Lost.String())))
		}),
		form[makes.RecallFirst]("[see who has them: rindkeep trace {Lot} --recall; if nothing was sent, cancel the "+
			"sending first: rindkeep strike {Mark} --why TEXT|see on the trace page who has them; if nothing was "+
			"sent, cancel the sending first]"),
		form[makes.StrikeEntry]("[if that is wrong, cancel it first: rindkeep strike {Mark} --why TEXT|if that is "+
			"wrong, cancel it first]"),
		form[makes.CurdLeft]("lot {Lot} can't be removed: curd of it went into lot {Into}"),
		form[makes.SampleTaken]("lot {Lot} can't be removed: a sample was taken of it"),
		say(func(_ Printer, r makes.MuchRecorded) string {
			tags := strings.Fields(r.Tags)
			return fmt.Sprintf("lot %s has %s that %s looked after: %s", r.Lot, text.Count(len(tags), "wheel"),
				plural(len(tags), "was", "were"), text.Tags(tags))
		}),
		form[makes.WheelNamed]("{Wheel} is a wheel, and this removes the whole lot {Lot}"),
		form[makes.VoidWheel]("[only the wheel: rindkeep wheel void {Wheel} --why TEXT]"),
	)
}

// wereDone says what was done to wheels, whose tags are separated by spaces; "" of none.
func wereDone(tags, how string) string {
	ts := strings.Fields(tags)
	if len(ts) == 0 {
		return ""
	}
	if how == wheel.Lost.String() {
		how = "written off"
	}
	return text.Tags(ts) + " " + plural(len(ts), "was", "were") + " " + how
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// makeFields are the names of the fields of a make's document.
var makeFields = map[string]string{
	"date": "make date", "date_known": "exact date known", "began": "beginning", "countries": "law",
	"sold_as": "name it is sold as", "wheels": "wheels",
	"milk_species": "milk", "milk_l": "milk", "milk_treatment": "treatment of the milk", "milk_fat_pct": "fat of the milk",
	"milk_protein_pct": "protein of the milk", "curd_g": "curd", "set_aside_g": "curd set aside",
	"set_aside_for": "purpose of the curd set aside", "salt_g": "salt", "salt_rate_pct": "dose of salt",
	"salt_where": "place of the salt", "start_moisture_pct": "moisture", "start_moisture_sd_pct": "sd of the moisture",
	"start_fat_pct": "fat", "start_salt_pct": "salt in the cheese", "start_ph": "pH", "shape": "measures",
}

func fieldName(field string) string {
	if s, ok := makeFields[field]; ok {
		return s
	}
	return field
}

// Changes says what a correction changed: "make date 2026-11-20 (was 2026-11-21)".
func (p Printer) Changes(cs []makes.Change) string {
	var w []string
	for _, c := range cs {
		if c.Field != "start_measured" { // goes with the moisture
			w = append(w, fmt.Sprintf("%s %s (was %s)", fieldName(c.Field), p.fieldValue(c.Field, c.Now),
				p.fieldValue(c.Field, c.Was)))
		}
	}
	return strings.Join(w, "; ")
}

func (p Printer) fieldValue(field string, v any) string {
	switch v := v.(type) {
	case float64:
		switch {
		case strings.HasSuffix(field, "_pct"):
			return fmt.Sprintf("%.4g %%", v)
		case strings.HasSuffix(field, "_g"):
			return p.Bulk(quantity.Grams(v))
		case strings.HasSuffix(field, "_l"):
			return p.Units.Volume(quantity.Litres(v))
		}
		return fmt.Sprintf("%.4g", v)
	case string:
		if v != "" && field == "began" {
			return Minute(v)
		}
		return cmp.Or(text.Safe(v), "not given")
	case []string:
		return cmp.Or(strings.Join(v, ", "), "the book's")
	case shape.Shape:
		return v.In(p.Units)
	case bool:
		return map[bool]string{true: "yes", false: "no"}[v]
	case nil:
		return cmp.Or(map[string]string{"shape": "each wheel's"}[field], "not given")
	}
	return fmt.Sprint(v)
}

// correction says what an entry that corrects a make says.
func (p Printer) correction(e wheel.Entry) string {
	c, err := wheel.ParseCorrection(e.Detail)
	if err != nil {
		return ""
	}
	zone := p.Zone
	if zone == nil {
		zone = e.At.Location()
	}
	return p.Changes(makes.ChangesOf(c, zone))
}

// Corrected says who corrected or removed a make, when and why.
func (p Printer) Corrected(s makes.Said) string {
	who := fmt.Sprintf("%s by %s: %s", Minute(s.At), cmp.Or(text.Safe(s.By), "nobody named"), text.Safe(s.Why))
	if s.Removed {
		return "as a mistake, " + who
	}
	return p.Changes(s.Changes) + ", " + who
}
