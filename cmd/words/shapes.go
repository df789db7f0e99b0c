package words

import (
	"fmt"
	"math"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/words/noun"
)

// shapeWords has the sentences of the shapes most refusals have.
func shapeWords(p Printer, r reason.Reason) (string, bool) {
	switch r := r.(type) {
	case reason.Missing:
		if r.What == "why" {
			return "say why" + p.typed(": --why 'wrong date'", ""), true
		}
		return noun.Of(r.What) + " is missing" + noun.Like(r.What), true
	case reason.Unreadable:
		if r.What == "country" {
			return notCountry(r.Word), true
		}
		return fmt.Sprintf("can't read %s as %s%s", quoted(r.Word), noun.Of(r.What), noun.Like(r.What)), true
	case reason.Unknown:
		if r.Known == "" {
			return fmt.Sprintf("there is no %s %s", noun.Spaced(r.What), quoted(r.Word)), true
		}
		return fmt.Sprintf("there is no %s %s; there are %s", noun.Spaced(r.What), quoted(r.Word), r.Known), true
	case reason.Together:
		return fmt.Sprintf("give %s or %s, not both", noun.Of(r.What), noun.Of(r.Other)), true
	case reason.Needs:
		return fmt.Sprintf("%s needs %s", noun.Of(r.What), noun.Of(r.Other)), true
	case reason.TooLong:
		return fmt.Sprintf("%s is too long: %d, and at most %d", noun.Of(r.What), r.Has, r.Most), true
	case reason.Outside[quantity.Grams]:
		return p.outside(r.What, p.Units.Weight(r.Value), p.Units.Weight(r.Low), p.Units.Weight(r.High)), true
	case reason.Outside[quantity.Celsius]:
		return p.outside(r.What, p.Temp(r.Value), p.Temp(r.Low), p.Temp(r.High)), true
	case reason.Outside[quantity.Metres]:
		return p.outside(r.What, p.Units.Length(r.Value), p.Units.Length(r.Low), p.Units.Length(r.High)), true
	case reason.Outside[quantity.Litres]:
		return p.outside(r.What, p.Units.Volume(r.Value), p.Units.Volume(r.Low), p.Units.Volume(r.High)), true
	case reason.Outside[quantity.Pascals]:
		kPa := func(x quantity.Pascals) string { return fmt.Sprintf("%.4g kPa", x.In(quantity.KilopascalPa)) }
		return p.outside(r.What, kPa(r.Value), kPa(r.Low), kPa(r.High)), true
	case reason.Outside[quantity.Fraction]:
		return p.outside(r.What, exact(r.Value), exact(r.Low), exact(r.High)), true
	case reason.Outside[float64]:
		num := func(x float64) string { return fmt.Sprintf("%.6g", x) }
		if r.High == math.MaxFloat64 {
			more := map[bool]string{true: "0 or more", false: "more than 0"}[r.Low == 0]
			return fmt.Sprintf("%s of %s can't be right; give %s", noun.Of(r.What), num(r.Value), more), true
		}
		return p.outside(r.What, num(r.Value), num(r.Low), num(r.High)), true
	case reason.Outside[int]:
		return p.outside(r.What, fmt.Sprint(r.Value), fmt.Sprint(r.Low), fmt.Sprint(r.High)), true
	}
	return "", false
}

// beside is what else to say of a figure outside its range.
var beside = map[reason.Thing]string{
	"brine":              ", where it is full (35.9 g of salt to 100 g of water)",
	"pressure-on-cheese": "; check the units of load, lever and mould",
	"acid":               " of lactic acid, like 0.16%",
	"salt-rate":          " of the curd, like 1.8%",
	"moisture-fat-salt":  ", which leaves room for protein",
	"score":              ", where 5 meets your own specification",
}

func (p Printer) outside(what reason.Thing, value, low, high string) string {
	return fmt.Sprintf("%s of %s can't be right; give %s to %s%s", noun.Of(what), value, low, high, beside[what])
}
