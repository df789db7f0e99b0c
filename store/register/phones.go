package register

import (
	"cmp"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/table"
)

// Phone is what the book knows of a phone that entries are made on. A phone numbers
// what is entered on it and says which numbers it still has, so that the book can tell
// what never came. This is in the book, and not beside it, so that a number arrives in
// the transaction of its entry: after a crash, or in a restored backup, the two still
// agree. It's no fact: it isn't chained or exported.
type Phone struct {
	ID    uuid.UUID `json:"id"`
	By    string    `json:"by,omitempty"` // who uses it now
	Heard time.Time `json:"heard"`        // when it last said something new
	Last  int       `json:"last"`         // the highest number it gave
	Open  []Tap     `json:"open,omitempty"`
	Lost  []Tap     `json:"lost,omitempty"` // were open when the phone's storage was cleared
}

// Tap is an entry on a phone.
type Tap struct {
	Number int       `json:"n"`
	At     time.Time `json:"at,omitzero"`  // zero: not known
	By     string    `json:"by,omitempty"` // who was on the phone when it said that it had it
}

// named gives who used a phone to entries that don't say it, as older books' don't.
func (p *Phone) named() {
	for _, list := range [][]Tap{p.Open, p.Lost} {
		for i := range list {
			list[i].By = cmp.Or(list[i].By, p.By)
		}
	}
}

// MostTaps is how many entries of one phone are kept track of.
const MostTaps = 2000

var phonePrefix = []byte("phone/")

func phoneKey(id uuid.UUID) []byte { return append(slices.Clone(phonePrefix), id[:]...) }

// Phone is a phone by its ID; a new one where the book doesn't know it.
func (t *Reader) Phone(id uuid.UUID) (Phone, error) {
	p := Phone{ID: id}
	v := t.tab.Get(layout.Book, phoneKey(id))
	if v == nil {
		return p, nil
	}
	if err := pack.ReadJSON(v, &p); err != nil {
		return p, t.tab.Damaged(err, "phone", id)
	}
	p.named()
	return p, nil
}

// Phones are all the phones, the one heard last first.
func (t *Reader) Phones() ([]Phone, error) {
	var out []Phone
	for k, v := range t.tab.In(layout.Book, phonePrefix) {
		var p Phone
		if err := pack.ReadJSON(v, &p); err != nil {
			return nil, t.tab.Damaged(err, "phone", k)
		}
		p.named()
		out = append(out, p)
	}
	slices.SortFunc(out, func(a, b Phone) int {
		return cmp.Or(b.Heard.Compare(a.Heard), slices.Compare(a.ID[:], b.ID[:]))
	})
	return out, nil
}

// PutPhone keeps what is known of a phone. By itself that's no change of the book that
// a person made: the last command stays the last.
func (t *Writer) PutPhone(p Phone) error {
	p.Open, p.Lost = p.Open[:min(len(p.Open), MostTaps)], p.Lost[:min(len(p.Lost), MostTaps)]
	was := t.tab.Changed
	changed, err := table.PutRecord(t.tab, layout.Book, phoneKey(p.ID), p)
	t.tab.Changed, t.tab.Beside = was, t.tab.Beside || changed
	return err
}

// ForgetPhone lets go of a phone.
func (t *Writer) ForgetPhone(id uuid.UUID) {
	was := t.tab.Changed
	t.tab.Put(layout.Book, phoneKey(id), nil)
	t.tab.Changed, t.tab.Beside = was, true
}

// Arrived notes that an entry of a phone is in the book.
func (t *Writer) Arrived(phone uuid.UUID, number int, by string) error {
	p, err := t.read.Phone(phone)
	if err != nil {
		return err
	}
	p.By, p.Heard, p.Last = by, t.tab.Now(), max(p.Last, number)
	is := func(x Tap) bool { return x.Number == number }
	p.Open, p.Lost = slices.DeleteFunc(p.Open, is), slices.DeleteFunc(p.Lost, is)
	return t.PutPhone(p)
}
