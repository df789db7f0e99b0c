package plot

import (
	"fmt"
	"math"
	"strings"

	"rindkeep/wheel"
)

// abreast is how many letters stand side by side at one point.
const abreast = 4

// Scores draws the mean scores over the age in columns of text, to half a point, each attribute by its first
// letter; nil where there is one age alone. What falls on one point stands side by side.
func Scores(course []wheel.AgeScores, width int) []string {
	low, scored := lowestMean(course)
	if len(course) < 2 || !scored {
		return nil
	}
	const edge = 3 // columns left of the points
	first, last := course[0].Age, course[len(course)-1].Age
	right := max(20, width-edge-1-abreast) - 1
	lowest := rowOf(math.Floor(max(1, low)))
	t := &letters{}
	words := func(x, y int, s string) {
		for i, r := range []rune(s) {
			t.put(x+i, y, string(r), "")
		}
	}
	for y := range lowest + 1 {
		if words(0, y, "  │"); y%2 == 0 {
			words(0, y, fmt.Sprintf("%d ┤", 5-y/2))
		}
	}
	words(0, lowest+1, "  └"+strings.Repeat("─", right+1+abreast))
	free, drawn := 0, map[wheel.Attribute]bool{}
	for _, c := range course {
		x := edge + (c.Age-first)*right/(last-first)
		words(x, lowest+1, "┬")
		if age := fmt.Sprintf("%d d", c.Age); x >= free {
			words(x, lowest+2, age)
			free = x + len(age) + 2
		}
		for _, a := range wheel.Attributes {
			if m := c.Scores[a]; m.N > 0 {
				t.beside(x, rowOf(m.Mean), letter(a))
				drawn[a] = true
			}
		}
	}
	var out, legend []string
	for _, row := range t.rows {
		out = append(out, strings.TrimRight(string(row), " "))
	}
	for _, a := range wheel.Attributes {
		if drawn[a] {
			legend = append(legend, letter(a)+" "+string(a))
		}
	}
	return append(out, strings.Join(legend, "  "))
}

// lowestMean is the lowest of all means; scored is false where there are none.
func lowestMean(course []wheel.AgeScores) (low float64, scored bool) {
	low = 5
	for _, c := range course {
		for _, m := range c.Scores {
			if m.N > 0 {
				low, scored = min(low, m.Mean), true
			}
		}
	}
	return low, scored
}

// beside puts a letter at a point, or next to the letters there where there is room.
func (t *letters) beside(x, y int, ch string) {
	for k := x; k < x+abreast; k++ {
		if row := t.rows[y]; k >= len(row) || row[k] == ' ' {
			t.put(k, y, ch, "")
			return
		}
	}
}

// rowOf is the row of a mean score, from 5 down by half a point.
func rowOf(mean float64) int { return int(2*(5-mean) + 0.5) }

func letter(a wheel.Attribute) string { return strings.ToUpper(string(a))[:1] }
