package tables

import (
	"context"
	"strings"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/library"
	"rindkeep/store"
	"rindkeep/wheel/variety"
)

// NoKind refuses a word for a kind of cheese that no variety goes under.
type NoKind struct {
	Word string `json:"word"`
	Near string `json:"near"` // the variety that may be meant, or ""

	Nearest []string `json:"nearest"` // all that may be meant, and last the one for any cheese
}

// Code implements reason.Reason.
func (NoKind) Code() string { return "no-such-kind" }

// mostNear is how many kinds are offered for one that isn't known.
const mostNear = 5

// Variety is what a table means by a word for a kind of cheese: as kinds has it in lower case,
// or by a variety's name or title in any case, spaces for dashes.
func Variety(tx *store.ReadTx, kinds map[string]string, word string) (variety.Variety, error) {
	word = strings.TrimSpace(word)
	if name := kinds[strings.ToLower(word)]; name != "" {
		return tx.Variety(name)
	}
	v, err := tx.Variety(strings.ReplaceAll(strings.ToLower(word), " ", "-"))
	if !app.IsNotFound(err) {
		return v, err
	}
	vs, err := tx.Varieties()
	if err != nil {
		return v, err
	}
	for _, x := range vs {
		if strings.EqualFold(x.Title, word) {
			return x, nil
		}
	}
	no := NoKind{Word: word}
	meant, near := library.Match(vs, word)
	for _, x := range append(meant, near...) {
		if x.Name != library.OtherKind && len(no.Nearest) < mostNear {
			no.Nearest = append(no.Nearest, x.Name)
		}
	}
	if len(no.Nearest) > 0 {
		no.Near = no.Nearest[0]
	}
	no.Nearest = append(no.Nearest, library.OtherKind)
	return v, app.Refuse(no).In("variety")
}

// KindOf is the name of the variety that a person means by a word. The error may be a NoKind.
func KindOf(ctx context.Context, a *app.App, c app.Caller, word string) (string, error) {
	return app.Ask(ctx, a, c, func(s *app.Session) (string, error) {
		v, err := Variety(s.Tx, nil, word)
		return v.Name, err
	})
}
