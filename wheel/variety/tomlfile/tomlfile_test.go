package tomlfile

import (
	"testing"

	"rindkeep/cave/quantity"
)

func TestNamesAreSmallLettersDigitsAndDashes(t *testing.T) {
	good := func(word string) bool {
		f := &Table{file: &file{}}
		f.Name("name", word)
		return f.Err() == nil
	}
	for _, word := range []string{"ab", "waxed-hard", "type-3", "0123456789012345678901234567890123456789"} {
		if !good(word) {
			t.Errorf("%q refused", word)
		}
	}
	for _, word := range []string{"", "a", "-a", "a-", "A b", "käse", "a/b", "a\x00b",
		"01234567890123456789012345678901234567890"} {
		if good(word) {
			t.Errorf("%q accepted", word)
		}
	}
}

func TestABoundItselfPassesAndTheNextFigureDoesNot(t *testing.T) {
	for text, want := range map[string]string{
		"loss = 7":         "", // 7 % read and turned back into percent is 7.000000000000001
		"loss = \"7%\"":    "",
		"loss = 1":         "",
		"loss = 7.01":      "f line 1: loss: out-of-range {Low:1 High:7 Unit:% Whole:false}",
		"loss = \"0.99%\"": "f line 1: loss: out-of-range {Low:1 High:7 Unit:% Whole:false}",
		"loss = nan":       "f line 1: loss: out-of-range {Low:1 High:7 Unit:% Whole:false}",
		"loss = \"some\"":  "f line 1: loss: out-of-range {Low:1 High:7 Unit:% Whole:false}",
		"days = 8":         "f line 1: days: out-of-range {Low:1 High:7 Unit:days Whole:true}",
		"days = 1.5":       "f line 1: days: out-of-range {Low:1 High:7 Unit:days Whole:true}",
		"days = \"3\"":     "f line 1: days: out-of-range {Low:1 High:7 Unit:days Whole:true}",
	} {
		var file struct {
			Loss quantity.Fraction `toml:"loss" range:"1 7"`
			Days int               `toml:"days" range:"1 7 days"`
		}
		_, err := Decode("f", []byte(text), &file)
		got := ""
		if err != nil {
			got = err.Error()
		}
		if got != want {
			t.Errorf("%s: %q, want %q", text, got, want)
		}
	}
}
