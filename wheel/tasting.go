package wheel

import (
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"

	"rindkeep/cave"
)

// Attribute is what a taster scores.
type Attribute string

// The attributes, in the order a taster meets them.
const (
	Appearance Attribute = "appearance"
	Colour     Attribute = "colour"
	Texture    Attribute = "texture"
	Flavour    Attribute = "flavour"
)

// Attributes lists them all.
var Attributes = []Attribute{Appearance, Colour, Texture, Flavour}

// Score is how far an attribute meets the maker's own specification: 5 meets
// it, 4 departs from it a little, 3 noticeably, 2 clearly, 1 altogether; 0 was
// not scored. The scale is that of ISO 22935-3, in our own words, from memory.
type Score int

// Tasting is what was found at a tasting.
type Tasting struct {
	Appearance Score    `json:"appearance,omitempty"`
	Colour     Score    `json:"colour,omitempty"`
	Texture    Score    `json:"texture,omitempty"`
	Flavour    Score    `json:"flavour,omitempty"`
	Faults     []string `json:"faults,omitempty"`
}

// Of is the score of one attribute, 0 where it was not scored.
func (t Tasting) Of(a Attribute) Score {
	switch a {
	case Appearance:
		return t.Appearance
	case Colour:
		return t.Colour
	case Texture:
		return t.Texture
	case Flavour:
		return t.Flavour
	}
	return 0
}

// FaultWords are the words of the USDA grades of cheddar (1956) for what can be
// wrong with a cheese, by what they are said of. A maker may use others.
var FaultWords = map[Attribute][]string{
	Flavour:    {"acid", "barny", "bitter", "feed", "flat", "fruity", "lipase", "malty", "metallic", "old milk", "onion", "sour", "sulfide", "utensil", "weedy", "whey-taint", "yeasty"},
	Texture:    {"coarse", "corky", "crumbly", "curdy", "gassy", "mealy", "open", "pasty", "pinny", "short", "slitty", "sweet holes", "weak"},
	Colour:     {"acid-cut", "bleached", "faded", "mottled", "salt spots", "seamy", "wavy"},
	Appearance: {"checked", "defective coating", "high edges", "huffed", "irregular bandaging", "lopsided", "mites", "mould under bandage", "rough", "soiled", "sour rind", "surface mould", "weak rind", "weeping"},
}

// Check says what is wrong with the tasting: scores run from 1 to 5, and each
// fault is a plain word or two.
func (t Tasting) Check() error {
	for _, a := range Attributes {
		if s := t.Of(a); s < 0 || s > 5 {
			return fmt.Errorf("a score of %d for %s is out of range; give 1 to 5, where 5 meets your own specification", s, a)
		}
	}
	if len(t.Faults) > 20 {
		return fmt.Errorf("%d faults; give at most 20", len(t.Faults))
	}
	for _, f := range t.Faults {
		if err := cave.CheckName("fault", strings.ToLower(f)); err != nil {
			return err
		}
	}
	if t.Appearance+t.Colour+t.Texture+t.Flavour == 0 && len(t.Faults) == 0 {
		return fmt.Errorf("a tasting that says nothing; give a score or a fault")
	}
	return nil
}

// Detail is the tasting as an entry carries it: JSON, faults sorted, so that
// the same tasting is the same text.
func (t Tasting) Detail() string {
	t.Faults = slices.Clone(t.Faults)
	for i, f := range t.Faults {
		t.Faults[i] = strings.ToLower(strings.TrimSpace(f))
	}
	slices.Sort(t.Faults)
	t.Faults = slices.Compact(t.Faults)
	b, err := json.Marshal(t)
	if err != nil {
		return ""
	}
	return string(b)
}

// ParseTasting reads what Detail wrote.
func ParseTasting(detail string) (Tasting, error) {
	var t Tasting
	d := json.NewDecoder(strings.NewReader(detail))
	d.DisallowUnknownFields()
	if err := d.Decode(&t); err != nil {
		return t, fmt.Errorf("that is no tasting")
	}
	if _, err := d.Token(); err != io.EOF {
		return t, fmt.Errorf("that is more than a tasting")
	}
	return t, t.Check()
}

// String is the tasting in words: "flavour 4, texture 5; bitter".
func (t Tasting) String() string {
	var w []string
	for _, a := range Attributes {
		if s := t.Of(a); s > 0 {
			w = append(w, fmt.Sprintf("%s %d", a, s))
		}
	}
	out := strings.Join(w, ", ")
	if len(t.Faults) > 0 {
		out = strings.TrimPrefix(out+"; "+strings.Join(t.Faults, ", "), "; ")
	}
	return out
}
