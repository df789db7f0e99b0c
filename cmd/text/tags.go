package text

import (
	"fmt"
	"strings"
	"unicode"
)

// Tags writes a list of tags short: runs of numbered tags of one lot as "261120A-01 to -04", single ones of a lot
// just named as "-07". The tags must come in the order they are to be read.
func Tags(tags []string) string {
	var parts []string
	lot := ""
	for i := 0; i < len(tags); {
		prefix, num, width, ok := split(tags[i])
		j := i + 1
		if ok {
			for j < len(tags) {
				p, n, w, ok := split(tags[j])
				if !ok || p != prefix || w != width || n != num+j-i {
					break
				}
				j++
			}
		}
		name := func(k int) string {
			if ok && prefix == lot {
				return strings.TrimPrefix(tags[k], strings.TrimSuffix(prefix, "-"))
			}
			return tags[k]
		}
		switch {
		case j-i > 2:
			first := name(i)
			lot = prefix
			parts = append(parts, first+" to "+name(j-1))
		default:
			for k := i; k < j; k++ {
				parts = append(parts, name(k))
				if ok {
					lot = prefix
				}
			}
		}
		if !ok {
			lot = ""
		}
		i = j
	}
	return strings.Join(parts, ", ")
}

// split takes 261120A-07 apart into "261120A-", 7 and the width 2.
func split(tag string) (prefix string, num, width int, ok bool) {
	i := strings.LastIndexByte(tag, '-')
	if i <= 0 || i == len(tag)-1 || len(tag)-i > 8 {
		return "", 0, 0, false
	}
	for _, c := range tag[i+1:] {
		if c < '0' || c > '9' {
			return "", 0, 0, false
		}
		num = num*10 + int(c-'0')
	}
	return tag[:i+1], num, len(tag) - i - 1, true
}

// Count writes a number of things: "1 wheel", "12 wheels". The plural is the word with an s unless given.
func Count(n int, word string, plural ...string) string {
	if n == 1 {
		return "1 " + word
	}
	if len(plural) > 0 {
		return fmt.Sprintf("%d %s", n, plural[0])
	}
	return fmt.Sprintf("%d %ss", n, word)
}

// Safe replaces what must not reach a terminal raw (control characters, escape sequences, direction and other
// invisible marks, line separators) by a visible stand-in. Line breaks and tabs stay.
func Safe(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t':
			return r
		case unicode.IsControl(r) || unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp):
			return '·'
		}
		return r
	}, s)
}

// Word shows a word that somebody typed, safe and in at most so many columns.
func Word(s string, most int) string { return Cut(strings.ReplaceAll(Safe(s), "\n", " "), most) }

// Duration writes minutes for a person: "12 min", "1 h 05 min".
func Duration(minutes float64) string {
	m := int(minutes + 0.5)
	if m < 60 {
		return fmt.Sprintf("%d min", m)
	}
	return fmt.Sprintf("%d h %02d min", m/60, m%60)
}
