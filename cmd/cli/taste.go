package cli

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/text"
	"rindkeep/store"
	"rindkeep/wheel"
)

func (a *app) tasteCmd() *cobra.Command {
	var appearance, colour, texture, flavour int
	var faults []string
	var core, note string
	c := a.cmd("taste "+whatHelp, "Record a tasting: scores, faults, the core taken", `
rindkeep taste 261120A-03 --flavour 5 --texture 4 --fault crumbly --core 12g
rindkeep taste 261120A --flavour 3 --fault bitter,feed --note "young still"`, atLeast("TAG"), func(cmd *cobra.Command, args []string) error {
		t := wheel.Tasting{Appearance: wheel.Score(appearance), Colour: wheel.Score(colour), Texture: wheel.Score(texture), Flavour: wheel.Score(flavour)}
		for _, f := range faults {
			if w := strings.ToLower(strings.TrimSpace(f)); w != "" {
				t.Faults = append(t.Faults, w)
			}
		}
		if err := t.Check(); err != nil {
			return usageError{err.Error()}
		}
		removed, _, err := maybe("--core", core, quantity.ParseWeight)
		if err != nil {
			return err
		}
		return a.update(func(s *session) error { return s.taste(args, t, removed, note) })
	})
	f := c.Flags()
	f.IntVar(&appearance, "appearance", 0, "`SCORE` 1 to 5; 5 meets your own specification")
	f.IntVar(&colour, "colour", 0, "`SCORE`")
	f.IntVar(&texture, "texture", 0, "`SCORE` of body and texture")
	f.IntVar(&flavour, "flavour", 0, "`SCORE`")
	f.StringSliceVar(&faults, "fault", nil, "`WORDS` for what is wrong: bitter,crumbly")
	f.StringVar(&core, "core", "", "`WEIGHT` of the core the trier took")
	f.StringVar(&note, "note", "", "a `TEXT` to keep with it")
	f.SortFlags = false
	a.completes(c, "fault", func(*session) []string {
		var out []string
		for _, at := range wheel.Attributes {
			out = append(out, wheel.FaultWords[at]...)
		}
		return out
	})
	return a.completesArgs(c, func(s *session, _ int, word string) []string { return whatWords(s, word)[1:] })
}

func (s *session) taste(what []string, t wheel.Tasting, removed quantity.Grams, note string) error {
	r, err := s.record(what, func(store.Standing) (wheel.Entry, error) {
		return wheel.Entry{Kind: wheel.Tasted, Detail: t.Detail(), Note: note}, nil
	})
	if err != nil {
		return err
	}
	if removed > 0 {
		if _, err := s.record(what, func(store.Standing) (wheel.Entry, error) {
			return wheel.Entry{Kind: wheel.Cored, Removed: removed}, nil
		}); err != nil {
			return err
		}
	}
	asked, err := s.askSisters(r, strings.Join(t.Faults, ", "))
	if err != nil {
		return err
	}
	if s.json {
		return s.document(struct {
			Schema string        `json:"schema"`
			At     string        `json:"at"`
			Wheels []string      `json:"wheels"`
			Found  wheel.Tasting `json:"found"`
			Core   *float64      `json:"core_g"`
			Asked  []string      `json:"checks_asked"`
			Same   bool          `json:"no_change"`
		}{schema("taste"), instant(r.when, s.loc), filled(tagsOf(r.ws)), t, grams(removed), filled(asked), r.written == 0})
	}
	if r.written == 0 {
		s.print("no change, tasted so already: %s\n", someOf(tagsOf(r.ws)))
		return nil
	}
	s.print("tasted %s, %s: %s\n", text.Count(len(r.ws), "wheel"), t, someOf(tagsOf(r.ws)))
	if removed > 0 {
		s.print("the core of %s counts as no loss\n", s.units.Weight(removed))
	}
	s.askedText(asked)
	return nil
}

// askSisters asks for a hand check of every sister of the wheels a fault was
// seen on, unless one is asked for already. It gives their tags.
func (s *session) askSisters(r recorded, fault string) ([]string, error) {
	if fault == "" || r.written == 0 {
		return nil, nil
	}
	seen := tagsOf(r.ws)
	lots := map[[16]byte]string{}
	var order [][16]byte
	for _, w := range r.ws {
		if _, ok := lots[w.Make]; !ok {
			order = append(order, w.Make)
			lots[w.Make] = w.Tag
		}
	}
	var entries []wheel.Entry
	var asked []string
	for _, mk := range order {
		sisters, err := s.standingsOf(mk)
		if err != nil {
			return nil, err
		}
		for _, o := range sisters {
			if slices.Contains(seen, o.Tag) {
				continue
			}
			l, err := s.tx.Life(o.Wheel)
			if err != nil {
				return nil, err
			}
			if _, open := l.Asked[wheel.Check]; open {
				continue
			}
			entries = append(entries, s.entry(wheel.Entry{Subject: o.Wheel, Kind: wheel.Asked, Job: wheel.Check, At: r.when, Note: fmt.Sprintf("%s seen on %s", fault, lots[mk])}))
			asked = append(asked, o.Tag)
		}
	}
	_, err := s.tx.Put(entries...)
	return asked, err
}

func (s *session) askedText(asked []string) {
	if len(asked) > 0 {
		s.print("a check is asked for of its sisters: %s\n", someOf(asked))
	}
}
