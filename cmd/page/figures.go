package page

import (
	"fmt"
	"strconv"
	"strings"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
)

// figures reads the figures of a request, bare numbers in the reader's units. After
// the first that can't be read it reads no more; err says what was wrong.
type figures struct {
	text  func(name string) string
	units quantity.Units
	err   error
}

// figures reads the figures that text finds by name.
func (c *call) figures(text func(name string) string) *figures {
	return &figures{text: text, units: c.words().Units}
}

// given reads a field; it is zero where it was left out.
func given[T any](in *figures, name string, parse func(string) (T, error)) (x T) {
	if p := optional(in, name, parse); p != nil {
		return *p
	}
	return x
}

// optional reads a field; nil where it was left out.
func optional[T any](in *figures, name string, parse func(string) (T, error)) *T {
	word := in.text(name)
	if word == "" || in.err != nil {
		return nil
	}
	x, err := parse(word)
	if err != nil {
		in.err = app.Misread(name, err)
		return nil
	}
	return &x
}

func (in *figures) weight(name string) quantity.Grams  { return given(in, name, in.units.ParseWeight) }
func (in *figures) bulk(name string) quantity.Grams    { return given(in, name, in.units.ParseBulk) }
func (in *figures) length(name string) quantity.Metres { return given(in, name, in.units.ParseLength) }

func (in *figures) percent(name string) quantity.Fraction {
	return given(in, name, quantity.ParsePercent)
}

// share is a percentage that may be left out.
func (in *figures) share(name string) *quantity.Fraction {
	return optional(in, name, quantity.ParsePercent)
}

// weights reads lists of weights as they are typed; a blank in one is a wheel that wasn't
// weighed.
func (in *figures) weights(name string, lists []string) (out []quantity.Grams) {
	for _, l := range lists {
		if strings.Trim(l, ",; ") == "" {
			continue
		}
		for _, w := range quantity.WeightWords(l) {
			g := quantity.Grams(0)
			if w != "" {
				var err error
				if g, err = in.units.ParseWeight(w); err != nil && in.err == nil {
					in.err = app.Misread(name, err)
				}
			}
			out = append(out, g)
		}
	}
	return out
}

// whole reads a whole number.
func whole(s string) (int, error) {
	n, err := strconv.Atoi(s)
	if err != nil {
		err = fmt.Errorf("%q isn't a whole number", short(s))
	}
	return n, err
}

// decimal reads a number.
func decimal(s string) (float64, error) {
	x, err := quantity.Number(s)
	if err != nil {
		err = fmt.Errorf("%q isn't a number", short(s))
	}
	return x, err
}
