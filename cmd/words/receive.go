package words

import (
	"cmp"
	"fmt"
	"strings"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/app/start"
	"rindkeep/cmd/app/trade"
	"rindkeep/cmd/app/wheels"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

const delivered = "this delivery is in the book already: {Wheels wheel} of {Lot} on {On}"

// The sentences about wheels that come already ripening.
func init() {
	learn(
		form[makes.MadeAfter]("{Made} is after the wheels came, on {Arrived}"),
		form[makes.LotsUnder]("{Word} came as several lots: {Lots:list}; name one of them"),
		say(func(_ Printer, r makes.LotDiffers) string {
			return fmt.Sprintf("lot %s is in the book already, and these wheels aren't of it: %s", r.Lot, lotDiffers(r))
		}),
		form[makes.CodeOfItsOwn]("give these wheels a lot code of their own[: --own-lot CODE]").
			without("Bought", "give these wheels a lot code of their own[: --lot CODE]"),
		form[makes.Delivered](delivered+" under document {Document}").without("Document", delivered),
		form[makes.OneMore](delivered+" under document {Document}. Did as many come again?").
			without("Document", delivered+". Did as many come again?"),
	)
	flats(map[reason.Flat]string{
		start.CoatTooEarly: fmt.Sprintf("a coat that's on already is for wheels made more than %d days ago, and not for "+
			"bare ones; record it [with rindkeep coat|on the round]", start.FreshDays),
	})
}

// lotDiffers says in what wheels differ from a lot.
func lotDiffers(r makes.LotDiffers) string {
	has, given := text.Safe(r.Has), text.Safe(r.Given)
	switch what := r.What; what {
	case "supplier":
		if has == "" {
			return "it was made here, and they came from " + given
		}
		return fmt.Sprintf("it came from %s, they %s", has, cmp.Or(prefixed("from ", given), "are your own"))
	case "maker":
		return fmt.Sprintf("%s made it, and %s made them", cmp.Or(has, "nobody named"), cmp.Or(given, "nobody named"))
	case "maker-lot":
		return fmt.Sprintf("the maker's lot code is %s, theirs %s", cmp.Or(has, "not given"), cmp.Or(given, "not given"))
	case "milk-treatment":
		return fmt.Sprintf("its milk is %s, theirs %s", cmp.Or(has, "not said to be raw or not"), given)
	case "variety":
		return fmt.Sprintf("it is %s, they are %s", has, given)
	case "country":
		return fmt.Sprintf("it follows the law of %s, they that of %s", cmp.Or(has, "the book's countries"), given)
	case "sold-as":
		return fmt.Sprintf("it is sold as %s, they as %s", cmp.Or(has, "its variety"), given)
	}
	return fmt.Sprintf("it was made %s, they %s", cmp.Or(prefixed("on ", has), "on a day nobody knows"),
		cmp.Or(prefixed("on ", given), "on a day nobody knows"))
}

func prefixed(before, s string) string {
	if s == "" {
		return ""
	}
	return before + s
}

// AlsoHeld says that wheels came into a lot that is held.
func (p Printer) AlsoHeld(d makes.Arrived) string {
	return fmt.Sprintf("HELD too, as the rest of lot %s is: %s", cmp.Or(d.MakerLot, d.Make.Lot), p.Why(d.Held))
}

// MadeOn says when a make was made and how old that makes it.
func (p Printer) MadeOn(on day.Date, known bool, age int) string {
	switch {
	case !known && age == 0:
		return "make date not known"
	case !known:
		return "make date not known, at least " + text.Count(age, "day") + " old"
	}
	return "made " + on.Long() + ", " + text.Count(age, "day") + " old"
}

// MadeAge says when the wheel of a card was made, and how old it is.
func MadeAge(d wheels.Card) string {
	if !d.MadeKnown {
		return fmt.Sprintf("make date not known (%s or before), at least %d days old", d.Made, d.Age)
	}
	return fmt.Sprintf("made %s, %d days old", d.Made, d.Age)
}

// Arrived says how wheels came, and what isn't known of them.
func (p Printer) Arrived(d makes.Arrived) string {
	return cmp.Or(p.Arrival(d.Arrival), p.takenOver(d.Arrival)) + "; their loss counts from then: loss before that unknown"
}

// takenOver says when a wheel that didn't come from a supplier was taken over.
func (p Printer) takenOver(a makes.Arrival) string {
	if a.On == nil {
		return "taken over"
	}
	return "taken over " + *a.On
}

// Arrival says where a wheel came from and with what; "" of one that didn't come from a
// supplier.
func (p Printer) Arrival(a makes.Arrival) string {
	if a.Supplier == "" {
		return ""
	}
	w := "from " + text.Safe(a.Supplier)
	if a.On != nil {
		w += " on " + *a.On
	}
	if a.Maker != a.Supplier {
		w += ", made by " + text.Safe(a.Maker)
	}
	if a.MakerLot != "" {
		w += ", their lot " + text.Safe(a.MakerLot)
	}
	if a.Document != "" {
		w += ", " + text.Safe(strings.TrimSpace(a.DocumentType+" "+a.Document))
	}
	if a.Temp != nil {
		w += ", " + p.Temp(quantity.Celsius(*a.Temp)) + " on arrival"
	}
	if a.Price != nil {
		w += ", " + strings.TrimSpace(fmt.Sprintf("%.2f %s", *a.Price, text.Safe(a.Currency))) + "/kg"
	}
	return w
}

// received says how wheels of a lot came.
func (p Printer) received(r trade.Receipt) string {
	w := p.Arrival(makes.Arrival{
		Supplier: r.Supplier, Maker: r.Maker, MakerLot: r.MakerLot, DocumentType: r.DocumentType, Document: r.Document,
	})
	return fmt.Sprintf("%s, %s: %s", r.Date, w, text.Tags(r.Wheels))
}

// AskMilk asks how the milk of a lot was treated, as a law does.
func (p Printer) AskMilk(lot string) string {
	return fmt.Sprintf("HELD by law: say whether the milk of lot %s was raw, thermised or pasteurised", lot) +
		p.typed(": "+treatmentCommand(lot), "")
}

// NoDocument says that wheels came without a document, and what to do if there was one.
func (p Printer) NoDocument(tags []string) string {
	return "no document: the traceability sheet of US law needs one, and will say it's missing. If there was one" +
		p.typed(fmt.Sprintf(": rindkeep wheel void %s --why TEXT, then receive them again with --document NUMBER",
			runOf(tags)), ", remove these wheels and receive them again with it")
}

// runOf names wheels that were numbered together, for a command.
func runOf(tags []string) string {
	first, last := tags[0], tags[len(tags)-1]
	if first == last {
		return Shell(first)
	}
	return Shell(first + ".." + last[strings.LastIndexByte(last, '-')+1:])
}

// SaveAddress is how the address of a supplier or customer is saved.
func (p Printer) SaveAddress(name string) string {
	return p.typed("rindkeep customer new "+Shell(name)+" --address TEXT", "save it with the customers")
}

// arrivalDetail is what the entry of an arrival holds.
func (p Printer) arrivalDetail(e wheel.Entry) string {
	a := makes.ArrivalOf(e, time.UTC)
	a.On = nil
	w := p.Arrival(a)
	if here := e.Arrival().Here; here != nil {
		w = strings.TrimPrefix(w+", at its place since "+here.String(), ", ")
	}
	return w
}

// Begun says what was put in the book, and what there is to do now.
func (p Printer) Begun(d start.Begun) []string {
	out := []string{fmt.Sprintf("lot %s, %s: %s, %s", d.Make.Lot, d.Title, text.Count(len(d.Wheels), "wheel"),
		text.Tags(d.Wheels))}
	if d.NewRoom {
		out = append(out, fmt.Sprintf("new room %s: %s", d.Room.Name, p.SetPoint(d.Room.Room)))
	}
	switch n := len(d.Unweighed); {
	case n > 0 && d.TakenOver:
		out = append(out, "Loss counts from a wheel's first weight: weigh some of them.")
	case n > 0:
		out = append(out, "Not weighed yet: "+text.Tags(d.Unweighed)+". Weigh each as drying starts.")
	}
	switch {
	case len(d.Today.List.Lines) > 0:
		out = append(out, "Today: "+p.DaySum(d.Today))
	case len(d.Next.List.Lines) > 0:
		out = append(out, fmt.Sprintf("The first work: %s, %s", d.Next.List.Date.Long(), p.DaySum(d.Next)))
	}
	return out
}

// Came says what was put in the book of wheels that came, and what isn't known of them.
func (p Printer) Came(d makes.Arrived) []string {
	out := []string{
		fmt.Sprintf("lot %s, %s, %s: %s, %s", d.Make.Lot, d.Title, p.MadeOn(d.Date, d.Make.DateKnown, d.Age),
			text.Count(len(d.Wheels), "wheel"), text.Tags(d.Wheels)),
		p.Arrived(d),
	}
	if len(d.Held) > 0 {
		out = append(out, p.AlsoHeld(d))
	}
	if d.AskMilk {
		out = append(out, p.AskMilk(d.Make.Lot))
	}
	if d.NoDoc {
		out = append(out, p.NoDocument(d.Wheels))
	}
	if d.NoAddr != "" {
		out = append(out, fmt.Sprintf("where %s is, for the traceability sheet: %s", text.Safe(d.NoAddr),
			p.SaveAddress(d.NoAddr)))
	}
	return out
}
