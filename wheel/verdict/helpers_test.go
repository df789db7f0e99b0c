package verdict

import (
	"encoding/binary"
	"testing"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/air"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/variety"
)

// made is the make day of the tests' wheels: Friday 20 November 2026.
var made = day.Of(2026, time.November, 20)

// book writes a wheel's entries, each later than the one before.
type book struct {
	tag string
	n   byte
	es  []wheel.Entry
}

func (b *book) on(days float64, e wheel.Entry) uuid.UUID {
	b.n++
	e.ID = uuid.UUID{0: 1, 14: b.n, 15: byte(len(b.tag))}
	binary.BigEndian.PutUint16(e.ID[4:], uint16(len(b.es)))
	copy(e.ID[6:], b.tag)
	e.At = made.Noon(time.UTC).Add(time.Duration(days * 24 * float64(time.Hour)))
	e.Written = made.Noon(time.UTC).Add(time.Duration(b.n) * time.Millisecond)
	b.es = append(b.es, e)
	return e.ID
}

func (b *book) weigh(days, grams float64) uuid.UUID {
	return b.on(days, wheel.Entry{Kind: wheel.Weighed, Weight: quantity.Grams(grams)})
}

// weights writes a weighing a day from day 0.
func (b *book) weights(grams ...float64) *book {
	for i, g := range grams {
		b.weigh(float64(i), g)
	}
	return b
}

func (b *book) check(days float64, h wheel.HandCheck) *book {
	b.on(days, wheel.Entry{Kind: wheel.Checked, Found: h})
	return b
}

var (
	sound = wheel.HandCheck{DryToTouch: wheel.Yes, Cracks: wheel.No}
	blown = wheel.HandCheck{DryToTouch: wheel.Yes, Gas: wheel.Yes}
)

func cheddar(t testing.TB) variety.Variety {
	t.Helper()
	v, ok := variety.Find("cheddar-waxed")
	if !ok {
		t.Fatal("no variety cheddar-waxed")
	}
	return v
}

// of makes the case of a wheel with the book's entries: a waxed cheddar of two
// kilograms in a cellar of 12 C and 82 %.
func (b *book) of(t testing.TB, gate Gate) Case {
	t.Helper()
	v := cheddar(t)
	m := wheel.Make{Lot: "261120A", Date: made, Variety: v.Name, Start: wheel.Composition{
		Moisture: v.Composition.Moisture, MoistureSD: v.Composition.MoistureSD, Fat: v.Composition.Fat,
		Salt: v.Composition.Salt, PH: v.Composition.PH,
	}}
	w := wheel.Wheel{Tag: b.tag, Plan: v.Plan, Shape: v.Shape, Place: "cellar/A/1", Since: made.Noon(time.UTC)}
	return New(Case{
		Life: wheel.NewLife(w, m, b.es, time.UTC, nil), Variety: v, Gate: gate, Loc: time.UTC,
		Air: []drying.Span{{Air: air.State{Temp: 12, RH: 0.82}, Movement: air.Gentle}},
	})
}

// noon is 12:00 UTC some days after the make.
func noon(days int) time.Time { return (made + day.Date(days)).Noon(time.UTC) }

// open is a gate that lets everything through but for the hand check.
func open() Gate { return Gate{MaxSurface: 100, MaxMoisture: 1, CheckDays: 2} }

// nov is a day of the month the books begin in.
func nov(d int) day.Date { return day.Of(2026, 11, d) }

// said shows reasons in a failure.
func said(l reason.List) string {
	b, err := l.MarshalJSON()
	if err != nil {
		return err.Error()
	}
	return string(b)
}

var damp = wheel.HandCheck{DryToTouch: wheel.No}
