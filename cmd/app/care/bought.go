package care

import (
	"cmp"
	"errors"
	"slices"
	"strings"
	"time"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/app/start"
	"rindkeep/wheel"
)

// dated are the fields with dates, each of which has an order of its own.
var dated = []string{
	"made", "date weighed", "arrived", "coated", "last turn", "last brush", "last wash", "last rub",
}

// bought is what a row says of how its wheel came, and of its time before that.
type bought struct {
	receive makes.Receive
	milk    wheel.Milk
	arrived day.Date  // None: it doesn't say
	weighed time.Time // zero: it doesn't say
	timed   bool      // with a time of day
	came    time.Time // when the wheel came, or was taken over
}

// date reads a date in the past in one of the columns.
func (t *taking) date(field, word string) (day.Date, error) {
	dates, derr := t.dates[field].For(word)
	d, err := dates.ParsePast(word)
	switch {
	case derr != nil:
		err = derr
	case err == nil && !dates.Absolute(word):
		err = app.Refuse(drying.MovingDay{Word: word})
	case err == nil && d > t.Today:
		err = app.Refuse(app.FutureDate{On: d})
	}
	return d, err
}

// readBought reads how a row's wheel came.
func (t *taking) readBought(x *row, check func(column string, err error)) {
	if x.Supplier != "" && x.SupplierLot == "" { // on what was bought in, a lot is the supplier's
		x.SupplierLot, x.Lot = x.Lot, ""
	}
	q := &x.receive
	q.Arrival = wheel.Arrival{Supplier: x.Supplier, Maker: x.Maker, Lot: x.SupplierLot, Document: x.Document}
	if x.Document != "" {
		q.Arrival.DocumentType = makes.DeliveryNote
	}
	if x.arrived = day.None; x.Arrived != "" {
		d, err := t.date("arrived", x.Arrived)
		check("arrived", err)
		x.arrived = d
	}
	x.readTrade(check)
	past := func(field, word string) string {
		d, err := t.date(field, word)
		if on := x.arrivedBy(t.Zone); err == nil && x.Supplier != "" && on != day.None && d > on {
			err = app.Refuse(makes.MadeAfter{Made: d, Arrived: on})
		}
		check(field, err)
		return d.String()
	}
	if on := x.arrivedBy(t.Zone); on != day.None && x.made > on && (x.Supplier != "" || x.Arrived != "") {
		check("made", app.Refuse(makes.MadeAfter{Made: x.made, Arrived: on}))
	}
	if q.Coat = x.Coat; x.Coated != "" {
		q.CoatedOn = past("coated", x.Coated)
	}
	for _, l := range x.Last {
		q.Last = append(q.Last, makes.LastJob{Job: l.Job, On: past(l.Field, l.On)})
	}
	check("supplier", q.Arrival.Check())
}

// readTrade reads what a row says of the cheese as it came and of its milk.
func (x *row) readTrade(check func(column string, err error)) {
	a := &x.receive.Arrival
	if x.Temp != "" {
		c, err := quantity.ParseTemp(x.Temp)
		check("temperature", err)
		a.Temp = &c
	}
	if x.Price != "" {
		var err error
		a.Price, a.Currency, err = makes.Money(x.Price)
		check("price", err)
	}
	if x.milk.Species = x.Milk; x.Treatment != "" {
		var err error
		x.milk.Treatment, err = wheel.ParseTreatment(x.Treatment)
		check("treatment", err)
	}
}

// arrivedBy is the day by which the wheel had come, None where the row doesn't say.
func (x row) arrivedBy(zone *time.Location) day.Date {
	if x.arrived == day.None && x.Weight > 0 && !x.weighed.IsZero() {
		return day.At(x.weighed, zone)
	}
	return x.arrived
}

// boughtLot finds or begins the make of a row that was bought in. The maker's code is the book's too where it can be;
// else the lot gets one by its date.
func (t *taking) boughtLot(x row) (*lotTaken, error) {
	if x.variety.Name == "" {
		return nil, app.Refuse(NewNeeds{x.Tag, "variety", t.unused}).In("variety")
	}
	when, err := t.cameAt(x)
	if err != nil {
		return nil, err
	}
	q := x.receive
	q.Variety, q.Milk, q.Lot = x.variety.Name, x.milk, cmp.Or(x.Lot, x.SupplierLot)
	if x.Made != "" {
		q.Made = x.made.String()
	}
	own, err := t.Tx.Transforms(when, t.Time)
	if err != nil {
		return nil, err
	}
	coded := func() string {
		on := x.made
		if on == day.None {
			on = day.At(when, t.Zone)
		}
		return wheel.DefaultLot(on, t.Tx.LotCode(), t.hasLot)
	}
	if x.Lot == "" && (own || t.lots[strings.ToLower(q.Lot)] != nil || cave.CheckTag("lot", q.Lot) != nil) {
		q.Lot = coded()
	}
	mk, known, err := q.Make(t.Session, when)
	var ref *app.Refusal
	if errors.As(err, &ref) && x.Lot == "" {
		if _, differs := ref.Why.(makes.LotDiffers); differs {
			q.Lot = coded()
			mk, known, err = q.Make(t.Session, when)
		}
	}
	if err != nil {
		return nil, app.AsRefusal(err).In("lot")
	}
	if known {
		return t.lotNamed(mk.ID)
	}
	l := t.begun(&lotTaken{make: mk, variety: x.variety, came: q.Arrival})
	return l, t.remind(q, mk)
}

// remind notes what is still to be said of a new lot.
func (t *taking) remind(q makes.Receive, mk wheel.Make) error {
	var d makes.Arrived
	if err := q.Remind(t.Session, &d, mk); err != nil {
		return err
	}
	if d.AskMilk {
		t.out.NoMilk = append(t.out.NoMilk, mk.Lot)
	}
	if d.NoDoc {
		t.out.NoDoc = append(t.out.NoDoc, mk.Lot)
	}
	if d.NoAddr != "" && !slices.Contains(t.out.NoAddress, d.NoAddr) {
		t.out.NoAddress = append(t.out.NoAddress, d.NoAddr)
	}
	return nil
}

// cameAt is when the wheel of a row came, or was taken over: as the row says, else when it was weighed first, else now.
func (t *taking) cameAt(x row) (time.Time, error) {
	now, _, err := t.Moment()
	on := x.arrivedBy(t.Zone)
	if x.Supplier == "" && on == x.arrived && x.Weight > 0 && !x.weighed.IsZero() {
		on = day.At(x.weighed, t.Zone) // its own wheels were there before
	}
	switch {
	case err != nil || on == day.None || x.Green > 0 && x.Supplier == "":
		return now, err
	case !x.weighed.IsZero() && on == day.At(x.weighed, t.Zone) && x.timed:
		return x.weighed, nil
	case on < day.At(now, t.Zone):
		return on.Noon(t.Zone), nil
	}
	return now, nil
}

// cameBefore is when a wheel came that is in the book, as the book has it where it does.
func (t *taking) cameBefore(x row) (time.Time, error) {
	w, err := t.Tx.WheelByTag(x.Tag)
	if err != nil {
		return time.Time{}, err
	}
	l, err := t.Tx.LifeAlone(w.ID)
	if err != nil || len(l.Arrivals) == 0 {
		at, cerr := t.cameAt(x)
		return at, cmp.Or(err, cerr)
	}
	return l.Arrivals[0].At, nil
}

// arrive gives the entries of a new wheel but for its weights: what was done before it came, its coat, and that it
// came, or is kept from now on where it's older than fresh. Nothing is late then.
func (t *taking) arrive(x *row, l *lotTaken, w *wheel.Wheel) ([]wheel.Entry, error) {
	old := l.make.Date+start.FreshDays < t.Today || x.Coat != "" || x.Arrived != "" || len(x.Last) > 0
	if x.Supplier == "" && !old {
		return t.alsoHeld(l, w), nil
	}
	now, _, err := t.Moment()
	if err != nil {
		return nil, err
	}
	if x.came, err = t.cameAt(*x); err != nil {
		return nil, err
	}
	q := x.receive
	if x.Supplier == "" {
		t.out.TakenOver++
		if q.Known = now; x.arrived != day.None {
			q.HereSince = x.arrived.String()
		}
	} else {
		t.out.Received++
	}
	es, err := q.Entries(t.Session, l.make, x.came)
	if err != nil {
		return nil, app.AsRefusal(err)
	}
	if day.At(x.came, t.Zone) < day.At(now, t.Zone) {
		es = append(es, wheel.Entry{Kind: wheel.TakenOver, At: now})
	}
	for i := range es {
		es[i].Subject = w.ID
		if on := day.At(es[i].At, t.Zone); l.make.MadeBefore && !l.known {
			l.make.Date = min(l.make.Date, on)
		}
	}
	w.Since = x.came.UTC()
	return append(es, t.alsoHeld(l, w)...), nil
}

// alsoHeld are the holds that a wheel is on because the others of its lot are.
func (t *taking) alsoHeld(l *lotTaken, w *wheel.Wheel) []wheel.Entry {
	es := slices.Clone(l.held)
	for i := range es {
		es[i].Subject = w.ID
	}
	return es
}
