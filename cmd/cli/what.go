package cli

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"rindkeep/cave"
	"rindkeep/cmd/text"
	"rindkeep/store"
)

// whatHelp is the part of a usage line that stands for a selection.
const whatHelp = "WHAT..."

// maxWord is the longest selector read, in bytes.
const maxWord = 3*cave.MaxName + 3

// pick finds the wheels that the words name: tags, lots, places, all, and
// beginnings with a trailing *. Each wheel comes once, in the order it was
// named; wheels that are gone are left out unless named by their own tag. A
// word that names nothing is an error.
func (s *session) pick(words []string) ([]store.WheelState, error) {
	var out []store.WheelState
	seen := map[uuid.UUID]bool{}
	add := func(list ...store.WheelState) {
		for _, w := range list {
			if !seen[w.Wheel] {
				seen[w.Wheel] = true
				out = append(out, w)
			}
		}
	}
	said := map[string]bool{} // a word said again names nothing new, and may cost a walk through the book
	for _, group := range words {
		for _, word := range strings.Split(group, ",") {
			word = strings.TrimSpace(word)
			if word == "" || said[word] {
				continue
			}
			said[word] = true
			found, err := s.pickWord(word)
			if err != nil {
				return nil, err
			}
			add(found...)
		}
	}
	return out, nil
}

func (s *session) pickWord(word string) ([]store.WheelState, error) {
	if len(word) > maxWord {
		return nil, at("WHAT", fmt.Errorf("a name of %d bytes is longer than any tag, lot or place", len(word)))
	}
	if text.Safe(word) != word {
		return nil, at("WHAT", fmt.Errorf("a name with characters that do not print is no tag, lot or place"))
	}
	if strings.EqualFold(word, "all") {
		var out []store.WheelState
		for w, err := range s.tx.States() {
			if err != nil {
				return nil, err
			}
			if w.Here() {
				out = append(out, w)
			}
		}
		sortTagged(out)
		return out, nil
	}
	if prefix, ok := strings.CutSuffix(word, "*"); ok {
		return s.pickPrefix(word, prefix)
	}
	if strings.Contains(word, "/") {
		return s.pickPlace(word)
	}
	if w, err := s.tx.WheelByTag(word); err == nil {
		st, err := s.tx.State(w.ID)
		return []store.WheelState{st}, err
	} else if !isNotFound(err) {
		return nil, err
	} else if m, lerr := s.tx.MakeByLot(word); lerr == nil {
		return s.standingsOf(m.ID)
	} else if !isNotFound(lerr) {
		return nil, lerr
	} else if _, rerr := s.tx.Room(word); rerr == nil {
		return s.pickPlace(word)
	} else {
		var nf, lot, room store.NotFound
		errors.As(err, &nf)
		errors.As(lerr, &lot)
		errors.As(rerr, &room)
		if strings.Contains(word, "-") {
			return nil, at(word, s.noTag(word, nf))
		}
		near := slices.Concat(lot.Near, room.Near, nf.Near)
		if len(near) > 3 {
			near = near[:3]
		}
		return nil, at(word, store.NotFound{Thing: "wheel, lot or place", Name: word, Near: near})
	}
}

// noTag is a tag that was not found, with how many wheels its lot has where that
// is known.
func (s *session) noTag(tag string, err error) error {
	lot, _, ok := cutLast(tag, "-")
	if !ok || !s.safeName(lot) {
		return err
	}
	m, merr := s.tx.MakeByLot(lot)
	if merr != nil {
		return err
	}
	ws, werr := s.tx.WheelsOf(m.ID)
	if werr != nil || len(ws) == 0 {
		return err
	}
	tags := make([]string, len(ws))
	for i, w := range ws {
		tags[i] = w.Tag
	}
	var nf store.NotFound
	meant := ""
	if errors.As(err, &nf) && !slices.ContainsFunc(nf.Near, func(n string) bool { return !slices.Contains(tags, n) }) && len(nf.Near) > 0 {
		meant = "did you mean " + strings.Join(nf.Near, ", ") + "? "
	}
	return hint(err, "%slot %s has %s: %s", meant, m.Lot, text.Count(len(ws), "wheel"), someOf(tags))
}

func cutLast(s, sep string) (before, after string, found bool) {
	if i := strings.LastIndex(s, sep); i >= 0 {
		return s[:i], s[i+len(sep):], true
	}
	return s, "", false
}

func isNotFound(err error) bool {
	var nf store.NotFound
	return errors.As(err, &nf)
}

func (s *session) pickPrefix(word, prefix string) ([]store.WheelState, error) {
	if strings.Contains(prefix, "*") {
		return nil, at(word, fmt.Errorf("%q has a * inside; it may stand only at the end", word))
	}
	if strings.Contains(prefix, "/") {
		places, err := s.tx.PlacesStarting(prefix)
		if err != nil {
			return nil, err
		}
		var out []store.WheelState
		for _, p := range places {
			at, err := s.tx.WheelsAt(p)
			if err != nil {
				return nil, err
			}
			for _, w := range at {
				if w.Place == p {
					out = append(out, w)
				}
			}
		}
		if len(out) == 0 {
			return nil, at(word, store.NotFound{Thing: "place with wheels that begins with", Name: prefix})
		}
		return out, nil
	}
	tagged, err := s.tx.TagsStarting(prefix)
	if err != nil {
		return nil, err
	}
	out := tagged[:0]
	for _, w := range tagged {
		if w.Here() {
			out = append(out, w)
		}
	}
	if len(out) == 0 {
		return nil, at(word, store.NotFound{Thing: "wheel whose tag begins with", Name: prefix})
	}
	sortTagged(out)
	return out, nil
}

func (s *session) pickPlace(word string) ([]store.WheelState, error) {
	p, err := cave.ParsePlace(word)
	if err != nil {
		return nil, at(word, err)
	}
	r, err := s.tx.Room(p.Room())
	if err != nil {
		return nil, at(word, err)
	}
	_, rest, deeper := strings.Cut(string(p), "/")
	if deeper {
		p = cave.Place(r.Name + "/" + rest)
	} else {
		p = cave.Place(r.Name)
	}
	return s.tx.WheelsAt(p)
}

// standingsOf lists the wheels of a make that are still here.
func (s *session) standingsOf(mk uuid.UUID) ([]store.WheelState, error) {
	ws, err := s.tx.WheelsOf(mk)
	if err != nil {
		return nil, err
	}
	var out []store.WheelState
	for _, w := range ws {
		st, err := s.tx.State(w.ID)
		if err != nil {
			return nil, err
		}
		if st.Here() {
			out = append(out, st)
		}
	}
	return out, nil
}

func sortTagged(ws []store.WheelState) {
	slices.SortStableFunc(ws, func(a, b store.WheelState) int {
		switch {
		case cave.NaturalLess(a.Tag, b.Tag):
			return -1
		case cave.NaturalLess(b.Tag, a.Tag):
			return 1
		}
		return 0
	})
}

func tagsOf(ws []store.WheelState) []string {
	out := make([]string, len(ws))
	for i, w := range ws {
		out[i] = w.Tag
	}
	return out
}

// someOf is a short list of tags for a sentence.
func someOf(tags []string) string {
	const most = 24
	if len(tags) > most {
		return text.Tags(tags[:most]) + fmt.Sprintf(" and %d more", len(tags)-most)
	}
	return text.Tags(tags)
}

// completes lets the shell complete a flag from the book, or the library
// where there is no book.
func (a *app) completes(c *cobra.Command, flag string, from func(*session) []string) {
	_ = c.RegisterFlagCompletionFunc(flag, func(cmd *cobra.Command, _ []string, word string) ([]string, cobra.ShellCompDirective) {
		return a.complete(cmd, word, from)
	})
}

// completesArgs does the same for arguments; from is told which argument it is
// for.
func (a *app) completesArgs(c *cobra.Command, from func(s *session, nth int, word string) []string) *cobra.Command {
	c.ValidArgsFunction = func(cmd *cobra.Command, args []string, word string) ([]string, cobra.ShellCompDirective) {
		return a.complete(cmd, word, func(s *session) []string { return from(s, len(args), word) })
	}
	return c
}

func (a *app) complete(cmd *cobra.Command, word string, from func(*session) []string) ([]string, cobra.ShellCompDirective) {
	var out []string
	_ = caught(func() error {
		if err := a.globals(cmd); err != nil {
			return err
		}
		offer := func(s *session) error {
			for _, w := range from(s) {
				if strings.HasPrefix(strings.ToLower(w), strings.ToLower(word)) {
					out = append(out, w)
				}
				if len(out) == 200 {
					break
				}
			}
			return nil
		}
		err := a.view(offer)
		if isNoBook(err) {
			return offer(&session{app: a}) // what the library holds
		}
		return err
	})
	return out, cobra.ShellCompDirectiveNoFileComp
}

// whatWords are the words that may go on from a beginning: lots, places, tags.
func whatWords(s *session, word string) []string {
	out := []string{"all"}
	if s.tx == nil {
		return out
	}
	out = append(out, s.roomNames()...)
	if places, err := s.tx.PlacesStarting(word); err == nil && strings.Contains(word, "/") {
		for _, p := range places {
			out = append(out, string(p))
		}
	}
	out = append(out, s.lotNames()...)
	if word != "" {
		if ws, err := s.tx.TagsStarting(word); err == nil {
			for i, w := range ws {
				if i == 200 {
					break
				}
				if w.Here() {
					out = append(out, w.Tag)
				}
			}
		}
	}
	return out
}

func (s *session) roomNames() []string {
	if s.tx == nil {
		return nil
	}
	var out []string
	rooms, err := s.tx.Rooms()
	if err != nil {
		return nil
	}
	for _, r := range rooms {
		out = append(out, r.Name)
	}
	return out
}

// lotNames lists the newest lots.
func (s *session) lotNames() []string {
	if s.tx == nil {
		return nil
	}
	var out []string
	for m, err := range s.tx.Makes() {
		if err != nil || len(out) == 100 {
			break
		}
		out = append(out, m.Lot)
	}
	return out
}
