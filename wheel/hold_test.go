package wheel

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
)

func TestAReasonForLiftingASafetyHoldSaysSomething(t *testing.T) {
	for words, want := range map[string]bool{
		"":                                  false,
		"x":                                 false,
		"ok":                                false,
		"-":                                 false,
		"in haste":                          false, // too short to say what was found
		"ok ok ok ok ok ok ok":              false,
		"xxxxxxxxxxxxxxx":                   false,
		"asdfghjkl;qwertyuiop":              true, // it can't tell nonsense from sense
		"aaaaaaa bbbbbbb":                   false,
		"1234567890 1234567890":             false,
		"report 4417: not detected in 25 g": true,
		"clear, report 12":                  true,
		"sample for testing":                true,
		"rapport 12 : absence dans 25 g":    true,
		"検査報告書4417号、25gで不検出":                   true,
		"Prüfbericht 12: nicht nachgewiesen":   true,
		"……………………………………":                       false,
		"released released released released":  false,
		"результат отрицательный, протокол 12": true,
	} {
		if got := SaysWhy(words); got != want {
			t.Errorf("%q: %v, want %v", words, got, want)
		}
	}
}

func TestOnlyReservedAndQualityAreNoMatterOfSafety(t *testing.T) {
	for word, safety := range map[string]bool{
		"test": true, "Recall ": true, "contamination": true, "": true, "reserved": false, "quality": false,
	} {
		k, err := ParseHoldKind(word)
		if err != nil || k.Safety() != safety {
			t.Errorf("%q: %q, safety %v, %v", word, k, k.Safety(), err)
		}
	}
	if _, err := ParseHoldKind("smelly"); err == nil {
		t.Error("a kind that isn't one is read")
	}
}

func TestAReleaseEndsTheHoldsItNames(t *testing.T) {
	id := func(n byte) uuid.UUID { return uuid.UUID{15: n} }
	hs := []Hold{{ID: id(1), Why: "a"}, {ID: id(2), Why: "b", Kind: ReservedHold}, {ID: id(3), Why: "c", Kind: TestHold}}
	for _, c := range []struct {
		name string
		e    Entry
		want []Hold
	}{
		{"an older one ends all", Entry{Kind: Released}, nil},
		{"one", Entry{Kind: Released, Detail: ReleaseOf(hs[1:2]).Detail()}, []Hold{hs[0], hs[2]}},
		{"two", Entry{Kind: Released, Detail: ReleaseOf(hs[:2]).Detail()}, hs[2:]},
		{"one that ended before", Entry{Kind: Released, Detail: ReleaseOf([]Hold{{ID: id(9)}}).Detail()}, hs},
	} {
		if err := c.e.checkDetail(); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
		if d := cmp.Diff(c.want, c.e.endHolds(append([]Hold(nil), hs...))); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
	}
	if r, ok := (Entry{Kind: Released, Detail: ReleaseOf(hs[1:2]).Detail()}).Release(); !ok || len(r.Ended) != 1 ||
		r.Ended[0] != hs[1].Reason() {
		t.Errorf("a release read again: %+v %v", r, ok)
	}
	for _, bad := range []Entry{
		{Kind: Held, Detail: `{"kind":"smelly"}`}, {Kind: Held, Detail: `{"why":"x"}`}, {Kind: Released, Detail: `[]`},
	} {
		if bad.checkDetail() == nil {
			t.Errorf("%s is taken", bad.Detail)
		}
	}
}
