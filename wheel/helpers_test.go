package wheel

import (
	"encoding/binary"
	"math"
	"math/rand"
	"testing"
	"time"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
)

// began is the make day of the tests' wheels: Friday 20 November 2026.
var began = day.Of(2026, time.November, 20)

// diary writes entries one after the other, each with its own ID and a later
// time of writing.
type diary struct {
	n  int
	es []Entry
}

func (d *diary) id() uuid.UUID {
	d.n++
	var u uuid.UUID
	binary.BigEndian.PutUint64(u[8:], uint64(d.n))
	return u
}

var subject = uuid.MustParse("018f0000-0000-7000-8000-0000000000aa")

// on writes an entry a number of days (of 24 h) after noon of the make day and
// gives its ID.
func (d *diary) on(days float64, e Entry) uuid.UUID {
	e.ID, e.Subject = d.id(), subject
	e.At = began.Noon(time.UTC).Add(time.Duration(days * 24 * float64(time.Hour)))
	e.Written = began.Noon(time.UTC).Add(time.Duration(d.n) * time.Millisecond)
	d.es = append(d.es, e)
	return e.ID
}

func (d *diary) weigh(days, grams float64) uuid.UUID {
	return d.on(days, Entry{Kind: Weighed, Weight: quantity.Grams(grams)})
}

func (d *diary) strike(days float64, target uuid.UUID) uuid.UUID {
	return d.on(days, Entry{Kind: Struck, Target: target})
}

// life adds up what was written so far.
func (d *diary) life() Life {
	return NewLife(Wheel{ID: subject, Tag: "261120A-01", Plan: "waxed-hard", Since: began.Noon(time.UTC)},
		Make{Date: began, Lot: "261120A"}, d.es, time.UTC, nil)
}

func (d *diary) chain() Chain { return d.life().Chain }

func near(a, b, tol float64) bool { return math.Abs(a-b) <= tol || math.IsNaN(a) && math.IsNaN(b) }

// retained gives the retained fractions of a chain.
func retained(c Chain) []float64 {
	var out []float64
	for _, p := range c.Points {
		if !p.Aside {
			out = append(out, p.Retained)
		}
	}
	return out
}

func sameFigures(a, b []float64, tol float64) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if !near(a[i], b[i], tol) {
			return false
		}
	}
	return true
}

// anyDrying draws how much of a wheel is left at some rising days, day 0 first.
func anyDrying(t *rapid.T) (days, left []float64) {
	n := rapid.IntRange(3, 12).Draw(t, "weighings")
	d, r := 0.0, 1.0
	for i := range n {
		if i > 0 {
			d += rapid.Float64Range(0.1, 20).Draw(t, "days")
			r *= rapid.Float64Range(0.97, 1).Draw(t, "step")
		}
		days, left = append(days, d), append(left, r)
	}
	return days, left
}

func shuffled(es []Entry, seed int64) []Entry {
	out := append([]Entry(nil), es...)
	rand.New(rand.NewSource(seed)).Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	return out
}

func mustNotFail(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
