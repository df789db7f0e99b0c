package console

import (
	"errors"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/store/bookfile"
)

// mostOffered is how many words a completion offers.
const mostOffered = 200

// Offer gives the words that may stand somewhere on the command line. The session
// is nil where there is no book: what the library holds can still be offered.
type Offer func(*app.Session) []string

// Completes lets the shell complete a flag.
func (c *Console) Completes(cmd *cobra.Command, flag string, from Offer) {
	_ = cmd.RegisterFlagCompletionFunc(flag,
		func(cmd *cobra.Command, _ []string, word string) ([]string, cobra.ShellCompDirective) {
			return c.complete(cmd, word, from), cobra.ShellCompDirectiveNoFileComp
		})
}

// CompletesArgs lets the shell complete arguments; from is told which argument it is for.
func (c *Console) CompletesArgs(cmd *cobra.Command,
	from func(s *app.Session, nth int, word string) []string) *cobra.Command {
	cmd.ValidArgsFunction = func(cmd *cobra.Command, args []string, word string) ([]string, cobra.ShellCompDirective) {
		words := c.complete(cmd, word, func(s *app.Session) []string { return from(s, len(args), word) })
		return words, cobra.ShellCompDirectiveNoFileComp
	}
	return cmd
}

// CompletesWhat lets the shell complete arguments that name wheels.
func (c *Console) CompletesWhat(cmd *cobra.Command) *cobra.Command {
	return c.CompletesArgs(cmd, func(s *app.Session, _ int, word string) []string { return WhatWords(s, word) })
}

// CompletesTag lets the shell complete a first argument that is the tag of one wheel.
func (c *Console) CompletesTag(cmd *cobra.Command) *cobra.Command {
	return c.CompletesArgs(cmd, func(s *app.Session, nth int, word string) []string {
		if nth > 0 {
			return nil
		}
		return WhatWords(s, word)[1:] // all is no tag
	})
}

func (c *Console) complete(cmd *cobra.Command, word string, from Offer) (out []string) {
	_ = RecoverPanic(func() error {
		if err := c.ReadFlags(cmd); err != nil {
			return err
		}
		words, err := Ask(c, func(s *app.Session) ([]string, error) { return from(s), nil })
		if errors.Is(err, bookfile.ErrNoBook) {
			words = from(nil)
		}
		for _, w := range words {
			if strings.HasPrefix(strings.ToLower(w), strings.ToLower(word)) && len(out) < mostOffered {
				out = append(out, w)
			}
		}
		return nil
	})
	return out
}

// WhatWords are the words that may go on from a beginning: rooms, lots, places, tags.
func WhatWords(s *app.Session, word string) []string {
	out := []string{"all"}
	if s == nil {
		return out
	}
	out = append(out, RoomNames(s)...)
	if places, err := s.Tx.PlacesStarting(word); err == nil && strings.Contains(word, "/") {
		for _, p := range places {
			out = append(out, string(p))
		}
	}
	out = append(out, LotNames(s)...)
	if ws, err := s.Tx.TagsStarting(word); err == nil && word != "" {
		for _, w := range ws[:min(mostOffered, len(ws))] {
			if w.Here() {
				out = append(out, w.Tag)
			}
		}
	}
	return out
}

// RoomNames are the rooms of the book.
func RoomNames(s *app.Session) []string {
	if s == nil {
		return nil
	}
	rooms, err := s.Tx.Rooms()
	if err != nil {
		return nil
	}
	var out []string
	for _, r := range rooms {
		out = append(out, r.Name)
	}
	return out
}

// LotNames are the newest lots of the book.
func LotNames(s *app.Session) []string {
	if s == nil {
		return nil
	}
	var out []string
	for m, err := range s.Tx.Makes() {
		if err != nil || len(out) == mostOffered/2 {
			break
		}
		out = append(out, m.Lot)
	}
	return out
}
