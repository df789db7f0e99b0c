package wheel

import (
	"testing"
	"time"

	"github.com/google/uuid"
)

func TestFindingsAsLaboratoriesWriteThem(t *testing.T) {
	for words, want := range map[string]string{
		"not detected in 25 g":   "not detected in 25 g",
		"Not Detected / 25g":     "not detected in 25 g",
		"ND in 25g":              "not detected in 25 g",
		"n.d./25 g":              "not detected in 25 g",
		"absent in 125 g":        "not detected in 125 g",
		"not detected":           "not detected",
		"n.n. in 25 g":           "not detected in 25 g",
		"nicht nachweisbar/25g":  "not detected in 25 g",
		"Non détecté dans 25 g":  "not detected in 25 g",
		"Absence / 25 g":         "not detected in 25 g",
		"assente in 25 g":        "not detected in 25 g",
		"Ausente en 25 g":        "not detected in 25 g",
		"<LOD in 25g":            "not detected in 25 g",
		"ND":                     "not detected",
		"Présence dans 25 g":     "detected in 25 g",
		"nachgewiesen in 25 g":   "detected in 25 g",
		"<LOQ in 25 g":           "",
		"Detected":               "detected",
		"present in 25 g":        "detected in 25 g",
		"<10 cfu/g":              "<10 cfu/g",
		"< 10":                   "<10",
		">300 CFU/g":             ">300 cfu/g",
		"240":                    "240",
		"1.2e3 cfu/g":            "1200 cfu/g",
		"0.92":                   "0.92",
		"":                       "",
		"x":                      "",
		"1,200":                  "", // a thousand and two hundred, or one and a fifth?
		"1 200 cfu/g":            "",
		"-3":                     "",
		"not detected in a lot":  "",
		"not detected in 0 g":    "",
		"NaN":                    "",
		"Inf":                    "",
		"detected in 1e99 g":     "",
		"\x1b[31m10":             "",
		"about 10":               "",
		"<10 KbE/g":              "<10 KbE/g",
		"1.2E3 KbE/g":            "1200 KbE/g",
		"<":                      "",
		"99999999999999999999 g": "",
	} {
		f, err := ParseFinding(words)
		if want == "" {
			if err == nil {
				t.Errorf("%q is read as %v", words, f)
			}
			continue
		}
		if err != nil || f.String() != want {
			t.Errorf("%q: %q, %v; want %q", words, f.String(), err, want)
			continue
		}
		if again, err := ParseFinding(f.String()); err != nil || again != f {
			t.Errorf("%q read again: %+v, %v", words, again, err)
		}
	}
}

func FuzzFinding(f *testing.F) {
	for _, s := range []string{"not detected in 25 g", "<10 cfu/g", "240", "nd/25g", "1e400", "> 3 %"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, words string) {
		x, err := ParseFinding(words)
		if err != nil {
			return
		}
		if again, err := ParseFinding(x.String()); err != nil || again != x {
			t.Errorf("%q is %+v, and again %+v, %v", words, x, again, err)
		}
	})
}

func TestALotIsHeldWhileATestIsOpen(t *testing.T) {
	began := time.Date(2026, 11, 20, 9, 0, 0, 0, time.UTC)
	id := func(n byte) uuid.UUID { return uuid.UUID{15: n} }
	at := func(h int) time.Time { return began.Add(time.Duration(h) * time.Hour) }
	taken := func(n byte, h int, test string) Entry {
		return Entry{ID: id(n), Kind: Sampled, At: at(h), By: "Nora", Detail: LabSample{"S1", test, "North Lab"}.Detail()}
	}
	came := func(n byte, h int, of byte, found string, js ...Judged) Entry {
		r := LabResult{Sample: id(of), Number: "S1", Found: found, Limits: js}
		return Entry{ID: id(n), Kind: Resulted, At: at(h), By: "Bram", Detail: r.Detail()}
	}
	inside, outside := Judged{Limit: "a", Inside: true}, Judged{Limit: "b"}
	strike := func(n byte, h int, of byte) Entry {
		return Entry{ID: id(n), Kind: Struck, At: at(h), Written: at(h), Target: id(of)}
	}
	for _, c := range []struct {
		name string
		es   []Entry
		want []string // why it is held
		ids  []uuid.UUID
	}{
		{"no sample", nil, nil, nil},
		{"a result is awaited", []Entry{taken(1, 1, "Listeria")}, []string{"Listeria, S1, North Lab"}, []uuid.UUID{id(1)}},
		{"inside", []Entry{taken(1, 1, "Listeria"), came(2, 9, 1, "not detected in 25 g", inside)}, nil, nil},
		{"outside", []Entry{taken(1, 1, "Listeria"), came(2, 9, 1, "detected", outside)}, []string{"Listeria, S1, detected"},
			[]uuid.UUID{id(2)}},
		{"inside one limit of two", []Entry{taken(1, 1, "Listeria"), came(2, 9, 1, "80", inside, outside)},
			[]string{"Listeria, S1, 80"}, []uuid.UUID{id(2)}},
		{"no limit to be inside of", []Entry{taken(1, 1, "pH"), came(2, 9, 1, "5.2")}, []string{"pH, S1, 5.2"},
			[]uuid.UUID{id(2)}},
		{"two tests, one result", []Entry{taken(1, 1, "Listeria"),
			taken(3, 1, "Salmonella"), came(2, 9, 1, "detected", inside)},
			[]string{"Salmonella, S1, North Lab"}, []uuid.UUID{id(3)}},
		{"a result that was struck", []Entry{taken(1, 1, "Listeria"), came(2, 9, 1, "not detected in 25 g", inside),
			strike(4, 10, 2)}, []string{"Listeria, S1, North Lab"}, []uuid.UUID{id(1)}},
		{"a sample that was struck", []Entry{taken(1, 1, "Listeria"), strike(4, 10, 1)}, nil, nil},
	} {
		tests := LotTests(c.es)
		l := NewLife(Wheel{Since: began}, Make{Lab: LabOf(tests)}, nil, time.UTC, nil)
		var got []string
		for i, h := range l.Holds {
			if got = append(got, h.Why); i < len(c.ids) && h.ID != c.ids[i] || h.Kind != TestHold || !h.Kind.Safety() {
				t.Errorf("%s: hold %+v", c.name, h)
			}
		}
		if len(got) != len(c.want) || len(got) > 0 && got[0] != c.want[0] {
			t.Errorf("%s: held for %q, want %q", c.name, got, c.want)
		}
	}

	// Who lifted the wait hasn't seen the result: one that is outside holds again.
	lifted := Entry{ID: id(9), Kind: Released, At: at(5), Detail: ReleaseOf([]Hold{{ID: id(1)}}).Detail()}
	es := []Entry{taken(1, 1, "Listeria")}
	life := func() Life {
		return NewLife(Wheel{Since: began}, Make{Lab: LabOf(LotTests(es))}, []Entry{lifted}, time.UTC, nil)
	}
	if l := life(); len(l.Holds) > 0 {
		t.Errorf("released, and held: %+v", l.Holds)
	}
	es = append(es, came(2, 9, 1, "detected", outside))
	if l := life(); len(l.Holds) != 1 {
		t.Errorf("a bad result after a release: %+v", l.Holds)
	}
}
