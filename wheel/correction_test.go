package wheel

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/wheel/shape"
)

func correctedMake(t *testing.T) Make {
	t.Helper()
	d, err := day.ParseISO("2026-11-20")
	if err != nil {
		t.Fatal(err)
	}
	return Make{
		ID: uuid.MustParse("0193a5c0-7b1e-7c3a-9f10-2b7d4e9f3c1a"), Lot: "261120A", Date: d, Variety: "tomme",
		Milk: Milk{Species: "cow", Litres: 60, Treatment: Pasteurised}, Note: "slow", SoldAs: "Fell Tomme",
		Start:   Composition{Moisture: 0.42, MoistureSD: 0.02, Fat: 0.28, Salt: 0.012},
		Written: time.Date(2026, 11, 20, 15, 0, 0, 0, time.UTC),
	}
}

func TestCorrectionSaysWhatChangedAndNothingElse(t *testing.T) {
	was := correctedMake(t)
	now := was
	now.Date--
	now.Milk.Treatment, now.Milk.Litres = Raw, 0
	now.Start.Moisture, now.SoldAs = 0.44, ""
	now.Shape = shape.Shape{Form: "cylinder", Diameter: 0.2, Height: 0.08}
	c, ok := CorrectionOf(was, now)
	const want = `{"was":{"date":"2026-11-20","milk.litres":60,"milk.treatment":"pasteurised","shape":null,` +
		`"sold_as":"Fell Tomme","start.moisture_fraction":0.42},` +
		`"now":{"date":"2026-11-19","milk.litres":null,"milk.treatment":"raw",` +
		`"shape":{"form":"cylinder","diameter_m":0.2,"height_m":0.08},"sold_as":null,"start.moisture_fraction":0.44}}`
	if got := c.Detail(); !ok || got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	back, err := ParseCorrection(c.Detail())
	if err != nil {
		t.Fatal(err)
	}
	if got, err := back.Of(was); err != nil || got != now {
		t.Errorf("corrected: %+v, %v", got, err)
	}
	if got, err := back.Before(now); err != nil || got != was {
		t.Errorf("as it was: %+v, %v", got, err)
	}
	if _, ok := CorrectionOf(was, was); ok {
		t.Error("no difference is a correction")
	}
	other := was
	other.Lot, other.By, other.ID = "261120B", "Nora", uuid.Nil
	if c, ok := CorrectionOf(was, other); ok {
		t.Errorf("the lot, the writer and the ID can't be corrected: %s", c.Detail())
	}
}

func TestParseCorrectionRefusesWhatIsNone(t *testing.T) {
	for name, detail := range map[string]string{
		"nothing":                  ``,
		"an empty one":             `{"was":{},"now":{}}`,
		"the lot code":             `{"was":{"lot":"A"},"now":{"lot":"B"}}`,
		"an unknown field":         `{"was":{"milk.breed":"x"},"now":{"milk.breed":"y"}}`,
		"what it was left out":     `{"was":{},"now":{"note":"x"}}`,
		"another field as it was":  `{"was":{"sold_as":"x"},"now":{"note":"x"}}`,
		"a date that isn't one":    `{"was":{"date":"2026-11-20"},"now":{"date":"soon"}}`,
		"a number in words":        `{"was":{"curd_g":1},"now":{"curd_g":"six"}}`,
		"a field inside of a word": `{"was":{"note.x":"1"},"now":{"note.x":"2"}}`,
	} {
		if c, err := ParseCorrection(detail); err == nil {
			t.Errorf("%s is taken as %v", name, c)
		}
	}
}

func TestCorrectionsAddUpAndCanBeStruck(t *testing.T) {
	m := correctedMake(t)
	var es []Entry
	put := func(kind Kind, detail string, target uuid.UUID) uuid.UUID {
		id := uuid.UUID{15: byte(len(es) + 1)}
		at := m.Written.Add(time.Duration(len(es)+1) * time.Hour)
		es = append(es, Entry{ID: id, Subject: m.ID, Kind: kind, At: at, Written: at, Detail: detail, Target: target})
		return id
	}
	correct := func(change func(*Make)) uuid.UUID {
		was := m.AsCorrected(es)
		now := was
		change(&now)
		c, _ := CorrectionOf(was, now)
		return put(Corrected, c.Detail(), uuid.Nil)
	}
	date := correct(func(m *Make) { m.Date -= 2 })
	correct(func(m *Make) { m.Curd = quantity.Grams(6100) })
	later := correct(func(m *Make) { m.Date++ })
	if got := m.AsCorrected(es); got.Date != m.Date-1 || got.Curd != 6100 || got.Removed {
		t.Errorf("after three corrections: %+v", got)
	}
	put(Struck, "", later)
	if got := m.AsCorrected(es); got.Date != m.Date-2 || got.Curd != 6100 {
		t.Errorf("after one was struck: %+v", got)
	}
	put(Struck, "", date)
	if got := m.AsCorrected(es); got.Date != m.Date || got.Curd != 6100 {
		t.Errorf("after both were struck: %+v", got)
	}
	if got := m.Earliest(es); got != m.Date-2 {
		t.Errorf("the earliest date is %s", got)
	}
	void := put(Voided, "", uuid.Nil)
	if got := m.AsCorrected(es); !got.Removed || got.Curd != 6100 {
		t.Errorf("removed: %+v", got)
	}
	put(Struck, "", void)
	if m.AsCorrected(es).Removed {
		t.Error("still removed after that was struck")
	}
}
