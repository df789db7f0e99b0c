package plot

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"rindkeep/wheel"
)

func TestTheCourseOfScoresIsDrawnToHalfAPoint(t *testing.T) {
	m := func(x float64) wheel.Mean { return wheel.Mean{N: 1, Mean: x} }
	course := []wheel.AgeScores{
		{Age: 30, Scores: map[wheel.Attribute]wheel.Mean{
			wheel.Flavour: m(2.5), wheel.Texture: m(5), wheel.Colour: m(5),
		}},
		{Age: 60, Scores: map[wheel.Attribute]wheel.Mean{wheel.Flavour: m(3.8)}},
		{Age: 90, Scores: map[wheel.Attribute]wheel.Mean{
			wheel.Flavour: m(4.7), wheel.Texture: m(4.7), wheel.Colour: m(4.7), wheel.Appearance: m(4.7),
		}},
	}
	want := strings.Trim(`
5 ┤CT
  │                               ACTF
4 ┤               F
  │
3 ┤
  │F
2 ┤
  └┬──────────────┬───────────────┬────
   30 d           60 d            90 d
A appearance  C colour  T texture  F flavour
`, "\n")
	if d := cmp.Diff(want, strings.Join(Scores(course, 40), "\n")); d != "" {
		t.Errorf("the picture (-want +got):\n%s", d)
	}
	if got := Scores(course[:1], 40); got != nil {
		t.Errorf("one age is drawn: %q", got)
	}
	if got := Scores([]wheel.AgeScores{{Age: 1}, {Age: 2}}, 40); got != nil {
		t.Errorf("faults alone are drawn: %q", got)
	}
	// Any ages, any width: nothing out of its frame.
	for _, last := range []int{61, 75, 100, 4000} {
		course[2].Age = last
		for width := 1; width < 200; width += 7 {
			for _, l := range Scores(course, width) {
				if n := len([]rune(l)); n > max(width, 28)+16 {
					t.Errorf("%d columns wide, asked for %d: %q", n, width, l)
				}
			}
		}
	}
}
