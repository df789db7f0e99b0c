package cave

import (
	"cmp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"rindkeep/cave/reason"
)

// Place is where a wheel is, written room/rack/shelf with the deeper parts
// optional. The zero value is no place.
type Place string

// MaxName is the longest name the book takes, in bytes.
const MaxName = 60

// CheckName refuses a name that is empty, longer than MaxName bytes, not
// printable, or has white space at either end. Thing says what it names: lot,
// tag, room, person. The error quotes the name only if it is safe to print.
func CheckName(thing reason.Thing, s string) error {
	if s == "" {
		return reason.Err(NoName{thing})
	}
	if err := CheckText(thing, s, MaxName, ""); err != nil {
		return err
	}
	if strings.TrimSpace(s) != s {
		return reason.Err(BadName{thing, s, " ", Spaced})
	}
	return nil
}

// CheckText refuses a text of more than most bytes, one that isn't UTF-8 and one
// with a character that doesn't print, but for those that may be in it.
func CheckText(thing reason.Thing, s string, most int, but string) error {
	if len(s) > most {
		return reason.Err(LongText{thing, len(s), most})
	}
	if !utf8.ValidString(s) {
		return reason.Err(NotText{thing})
	}
	for i, r := range s {
		if !unicode.IsPrint(r) && !strings.ContainsRune(but, r) {
			return reason.Err(Unprintable{thing, r, i + 1})
		}
	}
	return nil
}

// reserved are the characters with a meaning in lists of tags and places.
const reserved = "/*,:;\"'"

// CheckTag is CheckName for lot codes, tags and the parts of a place: it also
// refuses spaces, reserved characters and the words all and last.
func CheckTag(thing reason.Thing, s string) error {
	if err := CheckName(thing, s); err != nil {
		return err
	}
	if i := strings.IndexAny(s, reserved+" "); i >= 0 {
		return reason.Err(BadName{thing, s, s[i : i+1], Reserved})
	}
	if s[0] == '-' || s[0] == '@' {
		return reason.Err(BadName{thing, s, s[:1], Begins})
	}
	if strings.EqualFold(s, "all") || strings.EqualFold(s, "last") {
		return reason.Err(BadName{thing, s, s, Word})
	}
	return nil
}

// Sited takes a name apart that another site of the business gave: site:name. A name of
// this site has no site.
func Sited(name string) (site, rest string) {
	if site, rest, ok := strings.Cut(name, ":"); ok {
		return site, rest
	}
	return "", name
}

// CheckSited is CheckTag for a name that may be another site's.
func CheckSited(thing reason.Thing, s string) error {
	site, rest := Sited(s)
	if rest != s {
		if err := CheckTag("site", site); err != nil {
			return err
		}
	}
	return CheckTag(thing, rest)
}

// ParsePlace reads room, room/rack or room/rack/shelf, the room's site before it if it's
// another: site:room, or "site:" alone for the way there. The error says which part is wrong.
func ParsePlace(s string) (Place, error) {
	w := strings.Trim(strings.TrimSpace(s), "/")
	if w == "" {
		return "", reason.Err(reason.Missing{What: "place"})
	}
	if site, ok := strings.CutSuffix(w, ":"); ok {
		return Place(w), CheckTag("site", site)
	}
	parts := strings.Split(w, "/")
	if len(parts) > 3 {
		return "", reason.Err(DeepPlace{len(parts)})
	}
	for i, p := range parts {
		check := CheckTag
		if i == 0 {
			check = CheckSited
		}
		if err := check([]reason.Thing{"room", "rack", "shelf"}[i], p); err != nil {
			return "", err
		}
	}
	return Place(strings.Join(parts, "/")), nil
}

// NamePlace reads a place as ParsePlace does, and makes one of words that it refuses: "in my
// Fridge" is the place fridge, "Ann's cellar/top shelf" is anns-cellar/top-shelf.
func NamePlace(s string) (Place, error) {
	if p, err := ParsePlace(s); err == nil {
		return p, nil
	}
	parts := strings.Split(strings.Trim(strings.TrimSpace(s), "/"), "/")
	for i, part := range parts {
		ws := strings.Fields(strings.ToLower(part))
		for len(ws) > 1 && slices.Contains([]string{"in", "on", "at", "the", "my", "our", "a"}, ws[0]) {
			ws = ws[1:]
		}
		parts[i] = strings.TrimLeft(strings.Map(func(r rune) rune {
			if strings.ContainsRune(reserved, r) {
				return -1
			}
			return r
		}, strings.Join(ws, "-")), "-@")
	}
	return ParsePlace(strings.Join(parts, "/"))
}

// Site is the site that the place belongs to; "" is this one.
func (p Place) Site() string { site, _ := Sited(string(p)); return site }

// Bound is the site that a wheel is on the way to, whose place is that site without a room; ""
// if it isn't on the way.
func (p Place) Bound() string {
	if site, rest := Sited(string(p)); rest == "" {
		return site
	}
	return ""
}

// Room is the first part of the place.
func (p Place) Room() string { r, _, _ := strings.Cut(string(p), "/"); return r }

// Rack is the place without its shelf: room/rack, or the room alone.
func (p Place) Rack() Place {
	if room, within, ok := strings.Cut(string(p), "/"); ok {
		rack, _, _ := strings.Cut(within, "/")
		return Place(room + "/" + rack)
	}
	return p
}

// Within is true where p is the place q or a deeper part of it.
func (p Place) Within(q Place) bool {
	return p == q || q != "" && strings.HasPrefix(string(p), string(q)+"/")
}

// NaturalCompare orders names as you walk past them, numbers by their value: shelf
// 2 comes before shelf 10. It is a strict weak order.
func NaturalCompare(a, b string) int {
	for i, j := 0, 0; ; {
		if i == len(a) || j == len(b) {
			return cmp.Or(cmp.Compare(len(a)-i, len(b)-j), strings.Compare(a, b))
		}
		if digit(a[i]) && digit(b[j]) {
			si, sj := i, j
			for i < len(a) && digit(a[i]) {
				i++
			}
			for j < len(b) && digit(b[j]) {
				j++
			}
			na, nb := strings.TrimLeft(a[si:i], "0"), strings.TrimLeft(b[sj:j], "0")
			if c := cmp.Or(cmp.Compare(len(na), len(nb)), strings.Compare(na, nb)); c != 0 {
				return c
			}
			continue
		}
		if a[i] != b[j] {
			return cmp.Compare(a[i], b[j])
		}
		i, j = i+1, j+1
	}
}

func digit(c byte) bool { return c >= '0' && c <= '9' }
