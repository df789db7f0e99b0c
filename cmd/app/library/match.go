package library

import (
	"slices"
	"strings"
	"unicode"

	"rindkeep/store/refusal"
	"rindkeep/wheel/variety"
)

// OtherKind is the built-in variety for a cheese that none of the others is like.
const OtherKind = "other-pressed"

// Match gives the varieties that a word or two may mean: the one of that name, or all that
// have each of the words in their name or title. Where there are none, near has those that
// have some, or words like them, the most first.
func Match(all []variety.Variety, word string) (meant, near []variety.Variety) {
	asked := wordsOf(word)
	if len(asked) == 0 {
		return nil, nil
	}
	var names []string
	hits := make([]int, len(all)) // how many of the words each has
	for i, v := range all {
		if strings.EqualFold(v.Name, strings.TrimSpace(word)) {
			return all[i : i+1], nil
		}
		has := append(wordsOf(v.Name), wordsOf(v.Title)...)
		names = append(names, has...)
		for _, w := range asked {
			if slices.ContainsFunc(has, func(h string) bool { return strings.HasPrefix(h, w) }) {
				hits[i]++
			}
		}
		if hits[i] == len(asked) {
			meant = append(meant, v)
		}
	}
	if len(meant) > 0 {
		return meant, nil
	}
	for _, w := range asked {
		like := refusal.Nearest(w, names)
		for i, v := range all {
			has := append(wordsOf(v.Name), wordsOf(v.Title)...)
			if slices.ContainsFunc(has, func(h string) bool { return slices.Contains(like, h) && !strings.HasPrefix(h, w) }) {
				hits[i]++
			}
		}
	}
	for n := len(asked); n > 0; n-- {
		for i, v := range all {
			if hits[i] == n {
				near = append(near, v)
			}
		}
	}
	return nil, near
}

// fillers are words that tell no kind of cheese from another.
var fillers = []string{"cheese", "a", "the", "my", "and", "of", "type", "style", "de", "some"}

// wordsOf are a name's words in small letters.
func wordsOf(s string) []string {
	ws := strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	return slices.DeleteFunc(ws, func(w string) bool { return slices.Contains(fillers, w) })
}
