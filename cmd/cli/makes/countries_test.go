package makes

import (
	"strings"
	"testing"

	"golang.org/x/text/language"
	"golang.org/x/text/language/display"
)

func TestEveryCountryIsKnownByItsName(t *testing.T) {
	names := display.English.Regions()
	for a := 'A'; a <= 'Z'; a++ {
		for b := 'A'; b <= 'Z'; b++ {
			r, err := language.ParseRegion(string([]rune{a, b}))
			if err != nil || !r.IsCountry() || names.Name(r) == "" {
				continue
			}
			r = r.Canonicalize()
			if code, ok := countryNamed(strings.ToUpper(names.Name(r))); !ok || code != r.String() {
				t.Errorf("%s is %q, %v; want %s", names.Name(r), code, ok, r)
			}
		}
	}
	if code, ok := countryNamed("#"); ok {
		t.Errorf("a comment is %q", code)
	}
}
