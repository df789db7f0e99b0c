package makes

import (
	"cmp"
	"errors"
	"strings"
	"time"

	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/store/history"
	"rindkeep/wheel"
	"rindkeep/wheel/holdrule"
)

// LotDiffers refuses to put wheels in a lot that isn't theirs.
type LotDiffers struct {
	Lot     string       `json:"lot"`
	Variety string       `json:"variety"`
	Made    day.Date     `json:"made"`
	What    reason.Thing `json:"what"`  // that differs
	Has     string       `json:"has"`   // the lot; "": not known, or none
	Given   string       `json:"given"` // for the wheels
}

// CodeOfItsOwn is the remedy for LotDiffers.
type CodeOfItsOwn struct {
	Bought bool `json:"bought"`
}

// Delivered doubts a delivery that is in the book already.
type Delivered struct {
	Lot      string   `json:"lot"`
	Wheels   int      `json:"wheels"`
	On       day.Date `json:"on"`
	Document string   `json:"document"`
}

// OneMore asks whether a delivery that is in the book already came again.
type OneMore Delivered

// The codes.

func (LotDiffers) Code() string   { return "lot-is-another-make" }
func (CodeOfItsOwn) Code() string { return "code-of-its-own" }
func (Delivered) Code() string    { return "delivered-already" }
func (OneMore) Code() string      { return "delivered-already-asked" }

// fits refuses to add the wheels to a lot from which they differ: one lot is held,
// tested and recalled as one.
func (q Receive) fits(s *app.Session, old wheel.Make, made day.Date, before bool) error {
	is, some, err := CameAs(s, old)
	if err != nil {
		return err
	}
	if !some { // all of it was a mistake: nobody knows how it came
		is = q.Arrival
	}
	milk, err := s.Tx.MilkOf(old.ID)
	if err != nil {
		return err
	}
	treatment := cmp.Or(q.Milk.Treatment, milk.Treatment)
	cs, err := app.Countries("country", q.Country)
	if err != nil {
		return err
	}
	country, soldAs := cmp.Or(holdrule.Joined(cs), old.Countries), cmp.Or(q.SoldAs, old.SoldAs)
	dated := func(d day.Date, unknown bool) string {
		if unknown {
			return ""
		}
		return d.String()
	}
	for _, x := range []struct {
		what       reason.Thing
		has, given string
	}{
		{"supplier", is.Supplier, q.Arrival.Supplier}, {"maker", is.From(), q.Arrival.From()},
		{"maker-lot", is.Lot, q.Arrival.Lot}, {"milk-treatment", string(milk.Treatment), string(treatment)},
		{"country", old.Countries, country}, {"sold-as", old.SoldAs, soldAs},
		{"variety", old.Variety, q.Variety}, {"made", dated(old.Date, old.MadeBefore), dated(made, before)},
	} {
		if !strings.EqualFold(strings.TrimSpace(x.has), strings.TrimSpace(x.given)) {
			why := LotDiffers{old.Lot, old.Variety, old.Date, x.what, x.has, x.given}
			return app.Refuse(why, CodeOfItsOwn{q.Arrival.Supplier != ""}).In("lot")
		}
	}
	return nil
}

// CameAs is how the wheels of a lot came; the zero arrival where they were made here. some
// is false where it has none but those removed as mistakes.
func CameAs(s *app.Session, mk wheel.Make) (a wheel.Arrival, some bool, err error) {
	ws, err := s.Tx.WheelsOf(mk.ID)
	for _, w := range ws {
		l, err := s.Tx.LifeAlone(w.ID)
		if err != nil {
			return a, false, err
		}
		if wheel.IsVoid(l.Entries) {
			continue
		}
		some = true
		if e, ok := l.Received(); ok {
			return e.Arrival(), true, nil
		}
	}
	return a, some, err
}

// again doubts a delivery that is in the book already, as the same wheels typed twice are.
func (q Receive) again(s *app.Session, mk wheel.Make, n int, when time.Time) error {
	if q.Sure || q.Arrival.Supplier == "" {
		return nil
	}
	on, a := day.At(when, s.Zone), q.Arrival
	type one struct {
		lot     string
		written time.Time
	}
	came := map[one]int{}
	err := s.Tx.EachLogged(s.Ctx, history.Query{
		Kind: wheel.Received, From: on.Start(s.Zone), To: (on + 1).Start(s.Zone),
		Match: func(e history.Logged) bool {
			was := e.Arrival()
			return !e.Struck && strings.EqualFold(was.Supplier, a.Supplier) &&
				strings.EqualFold(was.Document, a.Document) && strings.EqualFold(was.Lot, a.Lot)
		},
	}, func(e history.Logged) error {
		st, err := s.Tx.State(e.Subject)
		if app.IsNotFound(err) { // of a make that was removed
			return nil
		}
		es, herr := s.Tx.History(e.Subject)
		old, merr := s.Tx.Make(st.Make)
		err = errors.Join(err, herr, merr)
		if err == nil && !wheel.IsVoid(wheel.Live(es)) && old.Variety == mk.Variety &&
			old.MadeBefore == mk.MadeBefore && (mk.MadeBefore || old.Date == mk.Date) &&
			(q.Lot == "" || strings.EqualFold(q.Lot, old.Lot)) {
			came[one{old.Lot, e.Written}]++
		}
		return err
	})
	if err != nil {
		return err
	}
	for x, wheels := range came {
		if wheels == n {
			return app.Unsure(Delivered{x.lot, n, on, a.Document}).In("wheels")
		}
	}
	return nil
}

// HoldsOn are the safety holds set by hand that all the wheels here of a lot are on, as
// entries that hold others as well. They lack their IDs and wheels.
func HoldsOn(s *app.Session, mk wheel.Make, when time.Time) (out []wheel.Entry, err error) {
	hs, here, err := s.HandHolds(mk.ID)
	if !here {
		return nil, err
	}
	for _, h := range hs {
		out = append(out, wheel.Entry{
			Kind: wheel.Held, At: when, Note: h.Why, Detail: wheel.Holding{Kind: h.Kind}.Detail(),
		})
	}
	return out, err
}
