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
	"rindkeep/cmd/app/trade"
	"rindkeep/cmd/app/wheels"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

// receiveWords has the sentences about wheels that come already ripening.
func receiveWords(_ Printer, r reason.Reason) (string, bool) {
	switch r := r.(type) {
	case makes.MadeAfter:
		return fmt.Sprintf("%s is after the wheels came, on %s", r.Made, r.Arrived), true
	case makes.LotsUnder:
		return fmt.Sprintf("%s came as several lots: %s; name one of them", r.Word, strings.Join(r.Lots, ", ")), true
	case makes.LotDiffers:
		return fmt.Sprintf("lot %s is in the book already: %s, made %s", r.Lot, r.Variety, r.Made), true
	}
	return "", false
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
