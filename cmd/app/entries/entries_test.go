package entries

import (
	"errors"
	"slices"
	"testing"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/apptest"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/app/tasting"
	"rindkeep/wheel"
)

// tastedBook is a book with an invented lot of two wheels, one of them tasted by Orla
// after Bram had turned both.
func tastedBook(t *testing.T) *app.App {
	t.Helper()
	a := apptest.Book(t)
	var err error
	do := func(next error) { err = errors.Join(err, next) }
	lot := makes.New{Variety: "tomme", Lot: "L1", Batch: makes.Batch{Weights: []quantity.Grams{1700, 1710}}}
	_, next := makes.Create(t.Context(), a, app.Caller{By: "Nora", At: "2026-11-10T17:00", Command: "make"}, lot)
	do(next)
	turned := round.Job{Job: wheel.Turn, What: []string{"L1"}}
	_, next = round.Did(t.Context(), a, app.Caller{By: "Bram", At: "2026-11-24T09:00", Command: "did"}, turned)
	do(next)
	taste := tasting.New{What: []string{"L1-01"}, Found: wheel.Tasting{Flavour: 4}, Own: []string{"Cardboard"}, Core: 12}
	_, next = tasting.Record(t.Context(), a, app.Caller{By: "Orla", Command: "taste"}, taste)
	if do(next); err != nil {
		t.Fatal(err)
	}
	return a
}

func TestEntriesAreStruckByTheirMarkOrNotAtAll(t *testing.T) {
	a := tastedBook(t)
	log, err := Of(t.Context(), a, app.Caller{}, Question{Kinds: []string{"did"}})
	if err != nil || log.Matched != 2 {
		t.Fatalf("%+v, %v", log, err)
	}
	mark := "L1-01:" + log.Entries[0].Mark
	for _, c := range []struct {
		name  string
		by    string
		q     ToStrike
		code  string
		kind  app.Kind
		field string
	}{
		{"no reason", "Orla", ToStrike{Entries: []string{mark}}, "missing", app.Misused, "why"},
		{"a name that does not print", "Orla",
			ToStrike{Entries: []string{"a\x1bb"}, Why: "wrong"}, "no-name-of-an-entry", app.Refused,
			"entry"},
		{"a mark that isn't there", "Orla",
			ToStrike{Entries: []string{"L1-01:zzzzzz"}, Why: "wrong"}, "", app.Missing, ""},
		{"the last act of another", "Bram",
			ToStrike{Entries: []string{"last"}, Why: "wrong"}, "last-act-by-another", app.Refused, ""},
		{"one that is there and one that isn't", "Orla",
			ToStrike{Entries: []string{mark, "zzzzzz"}, Why: "wrong"}, "", app.Missing, ""},
	} {
		_, err := Strike(t.Context(), a, app.Caller{By: c.by}, c.q)
		var r *app.Refusal
		if !errors.As(err, &r) || r.Kind != c.kind || r.At.Field != c.field || c.code != "" && r.Code() != c.code {
			t.Errorf("%s: %+v", c.name, err)
		}
	}
	if log, err = Of(t.Context(), a, app.Caller{}, Question{Struck: true}); err != nil || log.Matched != 0 {
		t.Errorf("struck after refusals: %+v, %v", log, err)
	}

	// The tasting, its core, and the check of the other wheel that its fault asks for.
	did, err := Strike(t.Context(), a, app.Caller{By: "Orla"}, ToStrike{Entries: []string{"LAST"}, Why: "wrong wheel"})
	if err != nil {
		t.Fatal(err)
	}
	var what []string
	for _, e := range did.Result.Struck {
		what = append(what, e.Of+" "+e.What)
	}
	if want := []string{"L1-01 tasted", "L1-01 cored", "L1-02 asked for a check"}; !slices.Equal(what, want) {
		t.Errorf("struck %q, want %q", what, want)
	}
	_, err = Strike(t.Context(), a, app.Caller{By: "Orla"}, ToStrike{Entries: []string{"last"}, Why: "again"})
	var r *app.Refusal
	if !errors.As(err, &r) || r.Code() != "last-act-wrote-none" {
		t.Errorf("a strike of the strike: %v", err)
	}
}

func TestTheLogIsSummedUpByDayAndPerson(t *testing.T) {
	a := tastedBook(t)
	d, err := ByDay(t.Context(), a, app.Caller{}, Question{What: []string{"L1"}, From: "2026-11-20"})
	if err != nil || len(d.Days) != 2 {
		t.Fatalf("%+v, %v", d, err)
	}
	bram, orla := d.Days[0], d.Days[1]
	if bram.Person != "Bram" || bram.Entries != 2 || bram.Late != 2 || !slices.Equal(bram.Did, []Done{{"turned", 2}}) {
		t.Errorf("%+v", bram)
	}
	if orla.Date != "2026-11-25" || orla.Entries != 3 || orla.Late != 0 || orla.First != "2026-11-25T08:00:00Z" {
		t.Errorf("%+v", orla)
	}
	for _, c := range []struct {
		caller app.Caller
		q      Question
		field  string
	}{
		{app.Caller{At: "08:00"}, Question{}, "at"}, {app.Caller{On: "today"}, Question{From: "mon"}, "on"},
		{app.Caller{}, Question{From: "someday"}, "from"}, {app.Caller{}, Question{From: "today", To: "yesterday"}, "to"},
		{app.Caller{}, Question{Jobs: []string{"juggle"}}, "job"},
		{app.Caller{}, Question{Kinds: []string{"juggled"}}, "kind"},
		{app.Caller{}, Question{Most: -1}, "most"},
	} {
		_, err := Of(t.Context(), a, c.caller, c.q)
		var r *app.Refusal
		if !errors.As(err, &r) || r.Kind != app.Misused || r.At.Field != c.field {
			t.Errorf("%+v of %+v: %v", c.q, c.caller, err)
		}
	}
}
