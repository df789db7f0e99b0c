package holdrule

import (
	"regexp"
	"slices"
	"strings"
	"sync"

	"rindkeep/cave/reason"
)

// codes are the country codes of ISO 3166-1 alpha-2, from memory, and EU, which
// the standard reserves for the European Union.
var codes = strings.Fields(`
AD AE AF AG AI AL AM AO AQ AR AS AT AU AW AX AZ BA BB BD BE BF BG BH BI BJ BL BM BN BO BQ BR BS BT BV BW BY BZ
CA CC CD CF CG CH CI CK CL CM CN CO CR CU CV CW CX CY CZ DE DJ DK DM DO DZ EC EE EG EH ER ES ET EU FI FJ FK FM
FO FR GA GB GD GE GF GG GH GI GL GM GN GP GQ GR GS GT GU GW GY HK HM HN HR HT HU ID IE IL IM IN IO IQ IR IS IT
JE JM JO JP KE KG KH KI KM KN KP KR KW KY KZ LA LB LC LI LK LR LS LT LU LV LY MA MC MD ME MF MG MH MK ML MM MN
MO MP MQ MR MS MT MU MV MW MX MY MZ NA NC NE NF NG NI NL NO NP NR NU NZ OM PA PE PF PG PH PK PL PM PN PR PS PT
PW PY QA RE RO RS RU RW SA SB SC SD SE SG SH SI SJ SK SL SM SN SO SR SS ST SV SX SY SZ TC TD TF TG TH TJ TK TL
TM TN TO TR TT TV TW TZ UA UG UM US UY UZ VA VC VE VG VI VN VU WF WS YE YT ZA ZM ZW`)

var part = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^[A-Z]{2}-[A-Z0-9]{1,3}$`)
})

// ParseCountry reads the ISO code of a country or of a part of one, in any case.
func ParseCountry(word string) (string, error) {
	c := strings.ToUpper(strings.TrimSpace(word))
	whole, _, ok := strings.Cut(c, "-")
	if slices.Contains(codes, whole) && (!ok || part().MatchString(c)) {
		return c, nil
	}
	return "", reason.Err(reason.Unreadable{What: "country", Word: word})
}

// maxCountries is the most countries that a book, make or rule can name: our choice.
const maxCountries = 60

// ParseCountries reads ISO codes separated by commas or spaces, and gives them sorted and without duplicates.
func ParseCountries(words string) ([]string, error) {
	out := []string{}
	for _, w := range strings.FieldsFunc(words, func(r rune) bool { return r == ',' || r == ' ' }) {
		c, err := ParseCountry(w)
		if err != nil {
			return nil, err
		}
		if !slices.Contains(out, c) {
			out = append(out, c)
		}
	}
	if len(out) > maxCountries {
		return nil, reason.Err(reason.TooLong{What: "countries", Has: len(out), Most: maxCountries})
	}
	slices.Sort(out)
	return out, nil
}

// Joined is a list of countries as the book stores it: "CA US".
func Joined(countries []string) string { return strings.Join(countries, " ") }

// CheckJoined refuses a text that Joined doesn't write.
func CheckJoined(stored string) error {
	cs, err := ParseCountries(stored)
	if err == nil && Joined(cs) != stored {
		err = reason.Err(reason.Unreadable{What: "countries", Word: stored})
	}
	return err
}
