package words

import (
	"fmt"
	"math"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/words/noun"
)

// The sentences of the shapes most refusals have.
func init() {
	learn(
		say(func(p Printer, r reason.Missing) string {
			if r.What == "why" {
				return "say why" + p.typed(": --why 'wrong date'", "")
			}
			return noun.Of(r.What) + " is missing" + noun.Like(r.What)
		}),
		say(func(_ Printer, r reason.Unreadable) string {
			if r.What == "country" {
				return notCountry(r.Word)
			}
			return fmt.Sprintf("can't read %s as %s%s", quoted(r.Word), noun.Of(r.What), noun.Like(r.What))
		}),
		say(func(_ Printer, r reason.Unknown) string {
			if r.Known == "" {
				return fmt.Sprintf("there is no %s %s", noun.Spaced(r.What), quoted(r.Word))
			}
			return fmt.Sprintf("there is no %s %s; there are %s", noun.Spaced(r.What), quoted(r.Word), r.Known)
		}),
		form[reason.Together]("give {What:noun} or {Other:noun}, not both"),
		form[reason.Needs]("{What:noun} needs {Other:noun}"),
		say(func(_ Printer, r reason.TooLong) string {
			if r.What == "labels" {
				const most = "that is %d labels, and at most %d are laid out at once; name a lot or a place"
				return fmt.Sprintf(most, r.Has, r.Most)
			}
			return fmt.Sprintf("%s is too long: %d, and at most %d", noun.Of(r.What), r.Has, r.Most)
		}),
		outside(Printer.Weight),
		outside(Printer.Temp),
		outside(func(p Printer, x quantity.Metres) string { return p.Units.Length(x) }),
		outside(func(p Printer, x quantity.Litres) string { return p.Units.Volume(x) }),
		outside(func(_ Printer, x quantity.Pascals) string {
			return fmt.Sprintf("%.4g kPa", x.In(quantity.KilopascalPa))
		}),
		outside(func(_ Printer, x quantity.Fraction) string { return exact(x) }),
		outside(func(_ Printer, x int) string { return digits(x) }),
		say(func(p Printer, r reason.Outside[float64]) string {
			num := func(_ Printer, x float64) string { return fmt.Sprintf("%.6g", x) }
			if r.High == math.MaxFloat64 {
				more := map[bool]string{true: "0 or more", false: "more than 0"}[r.Low == 0]
				return fmt.Sprintf("%s of %s can't be right; give %s", noun.Of(r.What), num(p, r.Value), more)
			}
			return outside(num).full(p, r)
		}),
	)
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

// outside has the words of a figure outside its range.
func outside[T int | ~float64](write func(Printer, T) string) sentence {
	return say(func(p Printer, r reason.Outside[T]) string {
		return fmt.Sprintf("%s of %s can't be right; give %s to %s%s", noun.Of(r.What), write(p, r.Value), write(p, r.Low),
			write(p, r.High), beside[r.What])
	})
}
