package words

import (
	"cmp"
	"fmt"
	"reflect"
	"regexp"
	"strings"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words/noun"
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
)

var (
	choice = regexp.MustCompile(`\[([^|\]]*)\|?([^\]]*)\]`)
	blank  = regexp.MustCompile(`\{([\w.]+)([: ]?)([^}]*)\}`)
)

// filled puts a reason's figures into a form. A blank is {Field}; {Field:as} writes it another way, or with a
// verb of fmt; {Field thing} counts things, and {Field one/many} those with a plural of another kind.
func filled(form string) func(Printer, reason.Reason) string {
	return func(p Printer, r reason.Reason) string {
		here := choice.ReplaceAllStringFunc(form, func(s string) string {
			command, page, _ := strings.Cut(s[1:len(s)-1], "|")
			return p.typed(command, page)
		})
		return blank.ReplaceAllStringFunc(here, func(s string) string {
			m := blank.FindStringSubmatch(s)
			v := reflect.ValueOf(r)
			for name := range strings.SplitSeq(m[1], ".") {
				if v = reflect.Indirect(v).FieldByName(name); !v.IsValid() {
					return s
				}
			}
			if m[2] == " " {
				one, many, other := strings.Cut(m[3], "/")
				if !other {
					many = one + "s"
				}
				return text.Count(int(v.Int()), one, many)
			}
			return p.figure(v.Interface(), m[3])
		})
	}
}

// figure writes a figure of a reason as its form wants it.
func (p Printer) figure(x any, as string) string {
	f, share := x.(quantity.Fraction)
	switch {
	case share && strings.HasPrefix(as, "%"):
		return fmt.Sprintf(as, f.Percent())
	case share:
		return map[string]func(quantity.Fraction) string{
			"": pct, "whole": wholePct, "bare": bare, "tenths": tenths, "exact": exact,
		}[as](f)
	case strings.HasPrefix(as, "%"):
		return fmt.Sprintf(as, x)
	}
	switch x := x.(type) {
	case quantity.Grams:
		return map[string]func(Printer, quantity.Grams) string{
			"": Printer.Weight, "bulk": Printer.Bulk, "salt": Printer.Salt, "fine": Printer.Fine,
		}[as](p, x)
	case quantity.Celsius:
		return p.Temp(x)
	case quantity.Metres:
		return p.Units.Length(x)
	case day.Date:
		return map[string]func(day.Date) string{"": day.Date.String, "short": day.Date.Short, "long": day.Date.Long}[as](x)
	case float64:
		return p.amount(flux, x)
	case time.Time:
		if as == "instant" {
			return p.Instant(x)
		}
		return minute(x)
	}
	return p.word(x, as)
}

// word is figure for what isn't a quantity or a time.
func (p Printer) word(x any, as string) string {
	switch x := x.(type) {
	case reason.Thing:
		if as == "noun" {
			return noun.Of(x)
		}
	case bookfile.Spot:
		return Spot(x)
	case chain.Fact:
		return fact(x)
	case []string:
		return strings.Join(x, ", ")
	case reason.List:
		switch as {
		case "all":
			return strings.Join(p.All(x), "; ")
		case "lifted":
			return p.lifted(x)
		}
		return p.Why(x)
	case reason.Reason:
		return p.Sentence(x)
	}
	switch s := fmt.Sprint(x); as {
	case "quoted":
		return quoted(s)
	case "cut":
		return cut(s)
	case "shell":
		return Shell(s)
	case "field":
		return fieldName(s)
	case "tags":
		return text.Tags(strings.Fields(s))
	default:
		instead, _ := strings.CutPrefix(as, "or ")
		return text.Safe(cmp.Or(s, instead))
	}
}
