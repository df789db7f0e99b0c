package tomlfile

import "testing"

func TestNearestIsTheWordMeantOrNone(t *testing.T) {
	words := []string{"turn", "turned", "brush", "coat", "coated", "[dry]"}
	for word, want := range map[string]string{
		"trun": "turn", "TURN": "turn", "turnd": "turn", "coatd": "coat", "bruch": "brush", "dri": "[dry]",
		"": "", "xyzzy": "", "a word far too long to be any of these words at all": "",
	} {
		if got := Nearest(word, words); got != want {
			t.Errorf("Nearest(%q) = %q, want %q", word, got, want)
		}
	}
}

func TestDistanceCountsSlipsOfTheHand(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"", "abc", 3}, {"turn", "turn", 0}, {"turn", "trun", 1}, {"coat", "coats", 1}, {"wash", "wax", 2}, {"käse", "kase", 1}} {
		if got := distance(c.a, c.b); got != c.want {
			t.Errorf("distance(%q, %q) = %d, want %d", c.a, c.b, got, c.want)
		}
	}
}

func TestNamesAreSmallLettersDigitsAndDashes(t *testing.T) {
	for _, good := range []string{"ab", "waxed-hard", "type-3", "0123456789012345678901234567890123456789"} {
		if r := CheckName(good); r != "" {
			t.Errorf("%q refused: %s", good, r)
		}
	}
	for _, bad := range []string{"", "a", "-a", "a-", "A b", "käse", "a/b", "a\x00b", "01234567890123456789012345678901234567890"} {
		if CheckName(bad) == "" {
			t.Errorf("%q accepted", bad)
		}
	}
}

func TestABoundItselfPassesAndTheNextFigureDoesNot(t *testing.T) {
	// 7 % read and turned back into percent is 7.000000000000001.
	if r := Outside("loss", "7%", 0.07*100, 1, 7, "%"); r != "" {
		t.Error(r)
	}
	for _, c := range []struct {
		x    float64
		unit string
		want string
	}{
		{7.01, "%", "k v is over 7 %; give 1% to 7%"},
		{0.99, "C", "k v is under 1 C; give 1C to 7C"},
		{101, "%", "k v is over 100 %; give 1% to 7%"},
		{8, "days", "k v is over 7 days; give 1 to 7 days"},
		{8, "", "k v is over 7; give 1 to 7"},
	} {
		if got := Outside("k", "v", c.x, 1, 7, c.unit); got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
}
