package trade

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cmd/app"
	"rindkeep/store"
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
	Wheels       []string `json:"wheels"`

	source string    // who gave the lot code, and where they are; "": the site, as there was none
	at     time.Time // when
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
func (t *finder) where(name string) (line string, c store.Customer, err error) {
	c, err = t.Tx.Customer(name)
	if app.IsNotFound(err) {
		return name, store.Customer{}, nil
	}
	return place(name, c.Address, c.Contact), c, err
}

// noAddress notes a supplier or maker of whom the book has no address.
func (t *finder) noAddress(name string, c store.Customer) {
	if c.Address == "" && !slices.Contains(t.lacking, name) {
		t.lacking = append(t.lacking, name)
	}
}

// receipts are how wheels of a lot came; none of a lot that was made here.
func (t *finder) receipts(traced []tracedWheel) ([]Receipt, error) {
	var out []Receipt
	for _, w := range traced {
		e, ok := w.Received()
		if !ok {
			continue
		}
		a := e.Arrival()
		r := Receipt{
			Supplier: a.Supplier, Maker: a.From(), MakerLot: a.Lot, DocumentType: a.DocumentType, Document: a.Document,
			Date: day.At(e.At, t.Zone), at: e.At,
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
		out[i].Wheels = append(out[i].Wheels, w.Tag)
	}
	return out, nil
}

// arrived fills in how a lot's wheels came, and under whose code they leave.
func (t *finder) arrived(l *Lot, traced []tracedWheel) (err error) {
	if l.Received, err = t.receipts(traced); err != nil {
		return err
	}
	l.Received = app.Filled(l.Received)
	for _, r := range l.Received {
		own, err := t.Tx.Transforms(r.at)
		if err != nil {
			return err
		}
		l.Transformed = l.Transformed || own && r.MakerLot != l.Lot
	}
	if l.Transformed {
		l.done = completed(traced, t.Zone)
	}
	return nil
}

// completed is when the wheels that came were made into what they leave as: when the last
// of them was coated or cut before any left, else when the first left; None where neither
// has happened.
func completed(traced []tracedWheel, zone *time.Location) day.Date {
	worked, left := day.None, day.None
	for _, w := range traced {
		came, ok := w.Received()
		if !ok {
			continue
		}
		for _, e := range w.Entries {
			on := day.At(e.At, zone)
			switch {
			case e.At.Before(came.At):
			case sends(e) && (left == day.None || on < left):
				left = on
			case e.Kind == wheel.CoatedOn && e.At.After(came.At), e.Kind == wheel.Cut:
				worked = max(worked, on)
			}
		}
	}
	if worked != day.None && (left == day.None || worked <= left) {
		return worked
	}
	return left
}

// outward is the lot code a wheel leaves under, and who gave it; source "" is the site.
func (l *Lot) outward(tag string) (code, source string) {
	if !l.Transformed {
		for _, r := range l.Received {
			if slices.Contains(r.Wheels, tag) {
				return r.code(l.Lot), r.source
			}
		}
	}
	return l.Lot, ""
}
