package refusal

import (
	"slices"
	"strings"
)

// maxNear is how many suggestions a NotFound carries.
const maxNear = 3

// Nearest picks the names that may have been meant by word: those it begins,
// and those a few slips of the finger away, nearest first.
func Nearest(word string, names []string) []string {
	w := []rune(strings.ToLower(word))
	if len(w) == 0 || len(w) > 80 {
		return nil
	}
	type scored struct {
		name string
		d    int
	}
	limit := max(2, len(w)/3)
	var found []scored
	for _, n := range names {
		r := []rune(strings.ToLower(n))
		d := distance(w, r, limit)
		if d > limit && (strings.HasPrefix(string(r), string(w)) || len(r) > 2 && strings.HasPrefix(string(w), string(r))) {
			d = limit
		}
		if head, _, ok := strings.Cut(string(r), "-"); ok && !strings.ContainsAny(head, "0123456789") {
			d = min(d, distance(w, []rune(head), limit)) // cheder: cheddar-cloth, cheddar-waxed
		}
		if d <= limit && d < max(len(w), len(r)) {
			found = append(found, scored{n, d})
		}
	}
	slices.SortFunc(found, func(a, b scored) int {
		if a.d != b.d {
			return a.d - b.d
		}
		return strings.Compare(a.name, b.name)
	})
	var out []string
	for _, f := range found {
		if len(out) < maxNear && !slices.Contains(out, f.name) {
			out = append(out, f.name)
		}
	}
	return out
}

// distance is how many letters must be put in, taken out, changed or swapped
// with their neighbour to make a into b; anything over limit is limit+1.
func distance(a, b []rune, limit int) int {
	if len(a)-len(b) > limit || len(b)-len(a) > limit {
		return limit + 1
	}
	before, prev, cur := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(a); i++ {
		cur[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				cur[j] = min(cur[j], before[j-2]+1)
			}
		}
		before, prev, cur = prev, cur, before
	}
	return min(prev[len(b)], limit+1)
}

// Holding picks the names that hold the word, or that it holds: people leave
// out the first half of a name as readily as the last.
func Holding(word string, names []string) []string {
	w := strings.ToLower(word)
	var out []string
	for _, n := range names {
		l := strings.ToLower(n)
		if len(out) < maxNear && len(w) > 2 && len(l) > 2 && (strings.Contains(l, w) || strings.Contains(w, l)) {
			out = append(out, n)
		}
	}
	return out
}
