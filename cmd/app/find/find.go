// Package find searches the book for words: kinds of cheese, suppliers, lots, tags,
// customers, and what people wrote.
package find

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"github.com/google/uuid"
	"golang.org/x/text/unicode/norm"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/entries"
	"rindkeep/store/history"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
)

// Question asks for whatever has all of the words, as parts of words, in any case and with
// or without accents.
type Question struct {
	Words []string
	Most  int // of each sort; 0: all
}

// Found is what has the words.
type Found struct {
	Schema    string           `json:"schema"`
	Words     []string         `json:"words"`
	Makes     []Make           `json:"makes"`     // the newest first
	Wheels    []Wheel          `json:"wheels"`    // whose make alone doesn't have all the words, by tag
	Customers []Customer       `json:"customers"` // by name
	Notes     []entries.Logged `json:"notes"`     // and other entries with words in them, the newest first
	Matched   Matched          `json:"matched"`   // how many there are of each, given or not
	Near      []string         `json:"near"`      // where nothing was found: what may be meant
}

// Matched counts what was found.
type Matched struct {
	Makes     int `json:"makes"`
	Wheels    int `json:"wheels"`
	Customers int `json:"customers"`
	Notes     int `json:"notes"`
}

// Any says whether anything was found.
func (d Found) Any() bool { return d.Matched != Matched{} }

// Make is a make that has the words.
type Make struct {
	Lot       string   `json:"lot"`
	Variety   string   `json:"variety"`
	Title     string   `json:"variety_title"`
	Made      string   `json:"made"`
	Here      int      `json:"wheels_here"`
	Suppliers []string `json:"suppliers"` // of its wheels or its milk
	Note      string   `json:"note"`
}

// Wheel is a wheel that has the words.
type Wheel struct {
	Tag     string  `json:"wheel"`
	Lot     string  `json:"lot"`
	Variety string  `json:"variety"`
	Place   string  `json:"place"`
	Gone    *string `json:"gone_on"`
}

// Customer is a customer that has the words.
type Customer struct {
	Name    string `json:"name"`
	Contact string `json:"contact"`
	Address string `json:"address"`
}

// Words searches the book. It goes through all of it.
func Words(ctx context.Context, a *app.App, c app.Caller, q Question) (Found, error) {
	d := Found{
		Schema: app.Schema("find"), Makes: []Make{}, Wheels: []Wheel{}, Customers: []Customer{}, Notes: []entries.Logged{},
		Near: []string{},
	}
	var f finder
	for _, w := range q.Words {
		d.Words = append(d.Words, strings.Fields(w)...)
	}
	for _, w := range d.Words {
		f.words = append(f.words, fold(w))
	}
	if len(f.words) == 0 {
		return d, app.Misuse("words", reason.Missing{What: "word to look for"})
	}
	if q.Most < 0 {
		return d, app.Misuse("most", entries.NotMany{Most: q.Most})
	}
	return app.AskLong(ctx, a, c, func(s *app.Session) (Found, error) {
		f.Session, f.found = s, &d
		for _, step := range []func(context.Context) error{f.entries, f.makes, f.wheels, f.customers} {
			if err := step(ctx); err != nil {
				return d, err
			}
		}
		if d.sort(q.Most); !d.Any() {
			d.Near = f.near()
		}
		return d, nil
	})
}

// fold is text without case and accents.
func fold(text string) string {
	if strings.IndexFunc(text, func(r rune) bool { return r >= 0x80 }) >= 0 {
		text = strings.Map(func(r rune) rune {
			if unicode.Is(unicode.Mn, r) {
				return -1
			}
			return r
		}, norm.NFD.String(text))
	}
	return strings.ToLower(text)
}

type finder struct {
	*app.Session
	words []string // folded
	found *Found
	from  map[uuid.UUID]supply // of a wheel, or of a make's milk and ingredients
	lots  map[uuid.UUID]*lot
}

// supply is who supplied something, and the codes of theirs that people look for.
type supply struct{ names, codes []string }

// lot is what a wheel needs of its make.
type lot struct {
	Make
	text  string   // to look for words in, folded
	known []string // suppliers and codes in it
	has   bool     // all of the words
	here  int
}

func (f *finder) has(text string) bool {
	return !slices.ContainsFunc(f.words, func(w string) bool { return !strings.Contains(text, w) })
}

// entries finds what people wrote, and notes who supplied what.
func (f *finder) entries(ctx context.Context) error {
	f.from = map[uuid.UUID]supply{}
	return f.Tx.EachLogged(ctx, history.Query{Match: func(e history.Logged) bool {
		return !e.Struck && (e.Note != "" || e.Kind == wheel.Received || e.Kind == wheel.Logged || e.Kind == wheel.Tasted)
	}}, func(e history.Logged) error {
		text := []string{e.Note}
		switch e.Kind {
		case wheel.Received:
			a := e.Arrival()
			f.from[e.Subject] = supply{[]string{a.Supplier, a.Maker}, []string{a.Lot, a.Document}}
		case wheel.Logged:
			if m, err := wheel.ParseMakeLog(e.Detail); err == nil {
				text = append(text, m.Stage, m.Source, m.Name, m.Lot, m.For)
				x := f.from[e.Subject]
				f.from[e.Subject] = supply{append(x.names, m.Source), append(x.codes, m.Lot, m.Name)}
			}
		case wheel.Tasted:
			if t, err := wheel.ParseTasting(e.Detail); err == nil {
				text = append(text, t.Faults...)
			}
		}
		if f.has(fold(strings.Join(text, " "))) {
			f.found.Notes = append(f.found.Notes,
				entries.Logged{Subject: f.SubjectName(e.Subject), Kind: e.Kind.String(), EntryDoc: f.EntryDoc(e.Entry, false)})
		}
		return nil
	})
}

// makes reads all makes; wheels says which of them to tell of.
func (f *finder) makes(context.Context) error {
	f.lots = map[uuid.UUID]*lot{}
	for m, err := range f.Tx.Makes() {
		if err != nil {
			return err
		}
		v, err := f.Tx.VarietyOf(m)
		if err != nil {
			return err
		}
		l := &lot{Make: Make{Lot: m.Lot, Variety: v.Name, Title: v.Title, Made: m.Date.String(), Note: m.Note}}
		l.text = fold(fmt.Sprint(m.Lot, " ", v.Name, " ", v.Title, " ", m.SoldAs, " ", m.Milk.Species, " ", m.Milk.Treatment,
			" ", m.Note, " ", l.Made))
		l.came(f.from[m.ID])
		f.lots[m.ID] = l
	}
	return nil
}

// wheels finds wheels, and makes by what they and their wheels have.
func (f *finder) wheels(ctx context.Context) error {
	type found struct {
		of *lot
		Wheel
	}
	var more []found
	n := 0
	for st, err := range f.Tx.States() {
		if n++; n%4096 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			return err
		}
		l := f.lots[st.Make]
		if l == nil { // of a make that was removed
			continue
		}
		if st.Here() {
			l.here++
		}
		l.came(f.from[st.Wheel])
		if f.has(l.text + " " + fold(st.Tag+" "+string(st.Place))) {
			more = append(more, found{l, Wheel{st.Tag, l.Lot, l.Variety, string(st.Place), app.DateOrNull(st.Gone)}})
		}
	}
	for _, l := range f.lots {
		if l.has = f.has(l.text); l.has {
			l.Here, l.Suppliers = l.here, app.Filled(l.Suppliers)
			f.found.Makes = append(f.found.Makes, l.Make)
		}
	}
	for _, w := range more {
		if !w.of.has {
			f.found.Wheels = append(f.found.Wheels, w.Wheel)
		}
	}
	return nil
}

// came adds from whom the make, or a wheel of it, has something.
func (l *lot) came(x supply) {
	for i, w := range slices.Concat(x.names, x.codes) {
		if w == "" || slices.Contains(l.known, w) {
			continue
		}
		l.known = append(l.known, w)
		l.text += " " + fold(w)
		if i < len(x.names) {
			l.Suppliers = append(l.Suppliers, w)
		}
	}
}

func (f *finder) customers(context.Context) error {
	cs, err := f.Tx.Customers()
	for _, c := range cs {
		if f.has(fold(strings.Join([]string{c.Name, c.Contact, c.Address, c.Note}, " "))) {
			f.found.Customers = append(f.found.Customers, Customer{c.Name, c.Contact, c.Address})
		}
	}
	return err
}

// near are names in the book that may be meant by words that nothing has: of kinds, lots, suppliers and customers.
func (f *finder) near() (out []string) {
	var names []string
	add := func(texts ...string) {
		for _, t := range texts {
			for _, n := range strings.FieldsFunc(t, func(r rune) bool { return r == ' ' || r == ',' }) {
				if !slices.Contains(names, n) {
					names = append(names, n)
				}
			}
		}
	}
	for _, l := range f.lots {
		add(append([]string{l.Lot, l.Title}, l.known...)...)
	}
	cs, _ := f.Tx.Customers() // they were read before
	for _, c := range cs {
		add(c.Name)
	}
	slices.Sort(names)
	for _, w := range f.words {
		for _, n := range refusal.Nearest(w, names) {
			if fold(n) != w && !slices.Contains(out, n) && len(out) < 3 {
				out = append(out, n)
			}
		}
	}
	return out
}

// sort puts what was found in order and cuts it off.
func (d *Found) sort(most int) {
	slices.SortFunc(d.Makes, func(a, b Make) int {
		return strings.Compare(b.Made+b.Lot, a.Made+a.Lot)
	})
	slices.SortFunc(d.Wheels, func(a, b Wheel) int { return strings.Compare(a.Tag, b.Tag) })
	slices.SortFunc(d.Customers, func(a, b Customer) int { return strings.Compare(a.Name, b.Name) })
	slices.SortStableFunc(d.Notes, func(a, b entries.Logged) int { return b.Of.At.Compare(a.Of.At) })
	d.Matched = Matched{len(d.Makes), len(d.Wheels), len(d.Customers), len(d.Notes)}
	if most == 0 {
		return
	}
	d.Makes, d.Wheels = d.Makes[:min(most, len(d.Makes))], d.Wheels[:min(most, len(d.Wheels))]
	d.Customers, d.Notes = d.Customers[:min(most, len(d.Customers))], d.Notes[:min(most, len(d.Notes))]
}
