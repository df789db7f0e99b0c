package trade

import (
	"cmp"
	"slices"
	"strings"

	"rindkeep/cave/day"
	"rindkeep/cmd/app"
	"rindkeep/store/register"
	"rindkeep/wheel"
)

// Receipt is wheels of a lot that came from a supplier together.
type Receipt struct {
	Supplier     string   `json:"supplier"`
	Contact      string   `json:"supplier_contact"`
	Address      string   `json:"supplier_address"`
	Maker        string   `json:"maker"`
	MakerLot     string   `json:"maker_lot"`
	DocumentType string   `json:"document_type"`
	Document     string   `json:"document"`
	Date         day.Date `json:"date"`
	Wheels       []string `json:"wheels"`          // those that the trace concerns
	Came         int      `json:"wheels_received"` // all of them

	source string   // who gave the lot code, and where they are; "": the site, as there was none
	own    int      // how many leave under the book's own code
	all    []string // tags of all that came
}

// code is the lot code that wheels came under: the maker's or, of one who gave none, the
// book's own.
func (r Receipt) code(own string) string { return cmp.Or(r.MakerLot, own) }

// place is a name with what is known of where it is, in a line.
func place(name, address, contact string) string {
	var w []string
	for _, s := range []string{name, OneLine(address), OneLine(contact)} {
		if s != "" {
			w = append(w, s)
		}
	}
	return strings.Join(w, ", ")
}

// where is a supplier, maker or customer with what is known of where they are.
func (t *finder) where(name string) (line string, c register.Customer, err error) {
	c, err = t.Tx.Customer(name)
	if app.IsNotFound(err) {
		return name, register.Customer{}, nil
	}
	return place(name, c.Address, c.Contact), c, err
}

// noAddress notes a supplier or maker of whom the book has no address.
func (t *finder) noAddress(name string, c register.Customer) {
	if c.Address == "" && !slices.Contains(t.lacking, name) {
		t.lacking = append(t.lacking, name)
	}
}

// receipts are how a lot's wheels came; none of a lot that was made here.
func (t *finder) receipts(l *Lot, all []tracedWheel) ([]Receipt, error) {
	var out []Receipt
	for _, w := range all {
		e, ok := w.Received()
		if !ok {
			continue
		}
		a := e.Arrival()
		r := Receipt{
			Supplier: a.Supplier, Maker: a.From(), MakerLot: a.Lot, DocumentType: a.DocumentType, Document: a.Document,
			Date: day.At(e.At, t.Zone), Wheels: []string{},
		}
		i := slices.IndexFunc(out, func(o Receipt) bool {
			return o.Supplier == r.Supplier && o.Maker == r.Maker && o.MakerLot == r.MakerLot && o.Document == r.Document &&
				o.DocumentType == r.DocumentType && o.Date == r.Date
		})
		if i < 0 {
			_, from, err := t.where(r.Supplier)
			if err != nil {
				return nil, err
			}
			r.Contact, r.Address = from.Contact, from.Address
			t.noAddress(r.Supplier, from)
			if r.MakerLot != "" {
				if r.source, from, err = t.where(r.Maker); err != nil {
					return nil, err
				}
				t.noAddress(r.Maker, from)
			}
			i = len(out)
			out = append(out, r)
		}
		own, err := t.own(l, w, w.left)
		if err != nil {
			return nil, err
		}
		if own {
			out[i].own++
			l.Transformed = true
		}
		out[i].Came++
		out[i].all = append(out[i].all, w.Tag)
	}
	return out, nil
}

// arrived fills in how a lot's wheels came, and under whose code they leave.
func (t *finder) arrived(l *Lot, all, traced []tracedWheel) (err error) {
	if l.came, err = t.receipts(l, all); err != nil {
		return err
	}
	for _, r := range l.came {
		for _, w := range traced {
			if slices.Contains(r.all, w.Tag) {
				r.Wheels = append(r.Wheels, w.Tag)
			}
		}
		if len(r.Wheels) > 0 {
			l.Received = append(l.Received, r)
		}
	}
	if l.Transformed {
		l.done, err = t.completed(l, all)
	}
	return err
}

// own says whether a wheel that came leaves under the book's own code with an entry, or now
// with none. A code that the book gave its lot as it came stays, whatever is said later.
func (t *finder) own(l *Lot, w tracedWheel, left wheel.Entry) (bool, error) {
	came, ok := w.Received()
	if !ok || came.Arrival().Lot == l.Lot {
		return false, nil
	}
	at, written := left.At, left.Written
	if left.Kind == 0 {
		at, written = t.Time, t.Time
	}
	own, err := t.Tx.Transforms(came.At, written)
	if err != nil || own {
		return own, err
	}
	return t.Tx.Transforms(at, written)
}

// made is wheels of a lot that were made into what they leave as on one day.
type made struct {
	on     day.Date
	wheels int
	codes  []string // lot codes that they came under
}

// completed are the days on which wheels that came were made into what they leave as: each
// when it was coated or cut last before any of it left, else when that left.
func (t *finder) completed(l *Lot, all []tracedWheel) (out []made, err error) {
	for _, w := range all {
		on, err := t.completedOn(l, w)
		if err != nil {
			return nil, err
		}
		if on == day.None {
			continue
		}
		i := slices.IndexFunc(out, func(m made) bool { return m.on == on })
		if i < 0 {
			i = len(out)
			out = append(out, made{on: on})
		}
		out[i].wheels++
		for _, r := range l.came {
			if c := r.code(l.Lot); slices.Contains(r.all, w.Tag) && !slices.Contains(out[i].codes, c) {
				out[i].codes = append(out[i].codes, c)
			}
		}
	}
	slices.SortFunc(out, func(a, b made) int { return cmp.Compare(a.on, b.on) })
	return out, nil
}

// completedOn is completed of one wheel; None where it keeps the maker's code, or nothing was
// done to it yet.
func (t *finder) completedOn(l *Lot, w tracedWheel) (day.Date, error) {
	own, err := t.own(l, w, w.left)
	if err != nil || !own {
		return day.None, err
	}
	came, _ := w.Received()
	worked := day.None
	for _, e := range w.Entries {
		on := day.At(e.At, t.Zone)
		switch {
		case e.At.Before(came.At):
		case sends(e):
			if own, err := t.own(l, w, e); err != nil || own && worked == day.None {
				return on, err
			} else if own {
				return worked, nil
			}
		case e.Kind == wheel.CoatedOn && e.At.After(came.At), e.Kind == wheel.Cut:
			worked = on
		}
	}
	return worked, nil
}

// outward is the lot code a wheel left under with an entry, and who gave it; source "" is
// the site.
func (t *finder) outward(l *Lot, w tracedWheel, left wheel.Entry) (code, source string, err error) {
	own, err := t.own(l, w, left)
	if !own {
		for _, r := range l.came {
			if slices.Contains(r.all, w.Tag) {
				return r.code(l.Lot), r.source, err
			}
		}
	}
	return l.Lot, "", err
}
