package wheel

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/reason"
)

// Attribute is what a taster scores.
type Attribute string

// The attributes, in the order a taster notices them.
const (
	Appearance Attribute = "appearance"
	Colour     Attribute = "colour"
	Texture    Attribute = "texture"
	Flavour    Attribute = "flavour"
)

// Attributes lists them all.
var Attributes = []Attribute{Appearance, Colour, Texture, Flavour}

// Score is how well an attribute meets the maker's own specification: 5 meets it,
// 4 deviates slightly, 3 noticeably, 2 clearly, 1 completely; 0 wasn't scored.
// The scale is that of ISO 22935-3, in our own words, from memory.
type Score int

// Tasting is what one tasting found.
type Tasting struct {
	Appearance Score    `json:"appearance,omitempty"`
	Colour     Score    `json:"colour,omitempty"`
	Texture    Score    `json:"texture,omitempty"`
	Flavour    Score    `json:"flavour,omitempty"`
	Faults     []string `json:"faults,omitempty"`
}

// Of is the score of one attribute, 0 if it wasn't scored.
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

// FaultWords are the names of faults, by the attribute they belong to. Source: USDA
// grades of cheddar, 1956; mites and weeping are common practice, no source. A maker may
// use others.
var FaultWords = map[Attribute][]string{
	Flavour: {"acid", "barny", "bitter", "feed", "flat", "fruity", "lipase", "malty", "metallic", "old milk", "onion",
		"sour", "sulfide", "utensil", "weedy", "whey-taint", "yeasty"},
	Texture: {"coarse", "corky", "crumbly", "curdy", "gassy", "mealy", "open", "pasty", "pinny", "short", "slitty",
		"sweet holes", "weak"},
	Colour: {"acid-cut", "bleached", "faded", "mottled", "salt spots", "seamy", "wavy"},
	Appearance: {"checked", "defective coating", "high edges", "huffed", "irregular bandaging", "lopsided", "mites",
		"mould under bandage", "rough", "soiled", "sour rind", "surface mould", "weak rind", "weeping"},
}

// PublishedFaults are all of FaultWords, in the order of their attributes.
func PublishedFaults() []string {
	var out []string
	for _, a := range Attributes {
		out = append(out, FaultWords[a]...)
	}
	return out
}

// FaultOf gives the attribute that a published fault belongs to; ok is false for
// a maker's own word.
func FaultOf(word string) (a Attribute, ok bool) {
	for _, a := range Attributes {
		if slices.Contains(FaultWords[a], word) {
			return a, true
		}
	}
	return "", false
}

// EmptyTasting is a tasting that says nothing.
const EmptyTasting reason.Flat = "empty-tasting"

// Check refuses scores outside 1 to 5, faults that aren't plain words, more than 20 of
// them (our choice), and a tasting with neither.
func (t Tasting) Check() error {
	for _, a := range Attributes {
		if s := t.Of(a); s < 0 || s > 5 {
			return reason.Err(reason.Outside[int]{What: "score", Value: int(s), Low: 1, High: 5})
		}
	}
	if n := len(t.Faults); n > 20 {
		return reason.Err(reason.TooLong{What: "faults", Has: n, Most: 20})
	}
	for _, f := range t.Faults {
		if err := cave.CheckName("fault", strings.ToLower(f)); err != nil {
			return err
		}
	}
	if t.Appearance+t.Colour+t.Texture+t.Flavour == 0 && len(t.Faults) == 0 {
		return reason.Err(EmptyTasting)
	}
	return nil
}

// Detail is the tasting as an entry's Detail holds it. Faults are sorted, so that
// equal tastings give equal texts.
func (t Tasting) Detail() string {
	t.Faults = slices.Clone(t.Faults)
	for i, f := range t.Faults {
		t.Faults[i] = strings.ToLower(strings.TrimSpace(f))
	}
	slices.Sort(t.Faults)
	t.Faults = slices.Compact(t.Faults)
	return encodeDetail(t)
}

// ParseTasting reads what Detail wrote.
func ParseTasting(detail string) (Tasting, error) {
	var t Tasting
	if err := decodeDetail(detail, &t, "tasting"); err != nil {
		return t, err
	}
	return t, t.Check()
}

// String is the tasting in words: "texture 5, flavour 4; bitter".
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

// Sample is one tasting of one wheel.
type Sample struct {
	Wheel string // its tag
	By    string
	On    day.Date
	Age   int // in days
	Found Tasting
}

// Mean is the mean of N scores with the lowest and the highest of them; null in JSON
// where nobody scored.
type Mean struct {
	Mean float64 `json:"mean"`
	Low  Score   `json:"low"`
	High Score   `json:"high"`
	N    int     `json:"count"`
}

// MarshalJSON implements json.Marshaler.
func (m Mean) MarshalJSON() ([]byte, error) {
	if m.N == 0 {
		return []byte("null"), nil
	}
	type known Mean
	return json.Marshal(known(m))
}

// AgeScores are the tastings at one age: on which dates, how many, of how many wheels,
// by how many people, and the scores of each attribute.
type AgeScores struct {
	Age      int                `json:"age_days"`
	Dates    []day.Date         `json:"dates"`
	Tastings int                `json:"tastings"`
	Wheels   int                `json:"wheels"`
	Tasters  int                `json:"tasters"`
	Scores   map[Attribute]Mean `json:"scores"`
}

// Course gives the scores by age, youngest first.
func Course(samples []Sample) []AgeScores {
	byAge := map[int][]Sample{}
	for _, x := range samples {
		byAge[x.Age] = append(byAge[x.Age], x)
	}
	out := []AgeScores{}
	for age, xs := range byAge {
		a := AgeScores{Age: age, Tastings: len(xs), Scores: map[Attribute]Mean{}}
		a.Wheels, a.Tasters = CountTasted(xs)
		for _, x := range xs {
			a.Dates = append(a.Dates, x.On)
		}
		slices.Sort(a.Dates)
		a.Dates = slices.Compact(a.Dates)
		for _, at := range Attributes {
			var m Mean
			sum := 0
			for _, x := range xs {
				v := x.Found.Of(at)
				if v == 0 {
					continue
				}
				if m.N++; m.N == 1 {
					m.Low, m.High = v, v
				}
				m.Low, m.High = min(m.Low, v), max(m.High, v)
				sum += int(v)
			}
			if m.N > 0 {
				m.Mean = float64(sum) / float64(m.N)
			}
			a.Scores[at] = m
		}
		out = append(out, a)
	}
	slices.SortFunc(out, func(a, b AgeScores) int { return a.Age - b.Age })
	return out
}

// CountTasted counts the wheels that were tasted and the people who tasted.
func CountTasted(samples []Sample) (wheels, tasters int) {
	return distinct(samples, func(x Sample) string { return x.Wheel }), distinct(samples,
		func(x Sample) string { return x.By })
}

func distinct(xs []Sample, of func(Sample) string) int {
	seen := map[string]bool{}
	for _, x := range xs {
		seen[of(x)] = true
	}
	return len(seen)
}

// FaultCount is how often a fault was found, on how many wheels, and at which
// ages.
type FaultCount struct {
	Fault    string     `json:"fault"`
	Of       *Attribute `json:"said_of"` // nil for a maker's own word
	Count    int        `json:"count"`
	Wheels   int        `json:"wheels"`
	Youngest int        `json:"from_age_days"`
	Oldest   int        `json:"to_age_days"`
}

// CountFaults counts faults, the most frequent first.
func CountFaults(samples []Sample) []FaultCount {
	by := map[string][]Sample{}
	for _, x := range samples {
		for _, f := range x.Found.Faults {
			by[f] = append(by[f], x)
		}
	}
	out := []FaultCount{}
	for f, xs := range by {
		c := FaultCount{Fault: f, Count: len(xs), Youngest: xs[0].Age, Oldest: xs[0].Age}
		if of, published := FaultOf(f); published {
			c.Of = &of
		}
		c.Wheels, _ = CountTasted(xs)
		for _, x := range xs {
			c.Youngest, c.Oldest = min(c.Youngest, x.Age), max(c.Oldest, x.Age)
		}
		out = append(out, c)
	}
	slices.SortFunc(out, func(a, b FaultCount) int {
		if a.Count != b.Count {
			return b.Count - a.Count
		}
		return strings.Compare(a.Fault, b.Fault)
	})
	return out
}
