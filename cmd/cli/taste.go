package cli

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"rindkeep/cave/quantity"
	uc "rindkeep/cmd/app"
	"rindkeep/cmd/text"
	"rindkeep/store"
	"rindkeep/wheel"
)

func (a *app) tasteCmd() *cobra.Command {
	var appearance, colour, texture, flavour int
	var faults, own []string
	var core, note string
	var sure bool
	c := a.cmd("taste "+whatHelp, "Record a tasting: scores, faults, the core taken", `
rindkeep taste 261120A-03 --flavour 5 --texture 4 --fault crumbly --core 12g
rindkeep taste 261120A --flavour 3 --fault bitter,feed --note "young still"
rindkeep taste 261120A-03 --flavour 3 --fault-own cardboard     a word of your own
rindkeep taste show 261120A                                     its scores over time`, nil, func(cmd *cobra.Command, args []string) error {
		if err := atLeast("TAG")(cmd, args); err != nil {
			return err
		}
		t := wheel.Tasting{Appearance: wheel.Score(appearance), Colour: wheel.Score(colour), Texture: wheel.Score(texture), Flavour: wheel.Score(flavour)}
		said := faultWords(faults)
		t.Faults = append(said, faultWords(own)...)
		if err := t.Check(); err != nil {
			return usageError{Msg: err.Error()}
		}
		removed, _, err := maybe("--core", core, quantity.ParseWeight)
		if err != nil {
			return err
		}
		return a.update(func(s *session) error {
			if err := s.knownFaults(said); err != nil {
				return err
			}
			return s.taste(args, t, wheel.Entry{Kind: wheel.Cored, Removed: removed}, sure, note)
		})
	})
	f := c.Flags()
	f.IntVar(&appearance, "appearance", 0, "`SCORE` 1 to 5; 5 meets your own specification")
	f.IntVar(&colour, "colour", 0, "`SCORE`")
	f.IntVar(&texture, "texture", 0, "`SCORE` of body and texture")
	f.IntVar(&flavour, "flavour", 0, "`SCORE`")
	f.StringSliceVar(&faults, "fault", nil, "`WORDS` for what is wrong: bitter,crumbly")
	f.StringSliceVar(&own, "fault-own", nil, "`WORDS` of your own for what is wrong; once in the book, --fault knows them")
	f.StringVar(&core, "core", "", "`WEIGHT` of the core the trier took")
	f.BoolVar(&sure, "sure", false, "record the core although its weight looks wrong")
	f.StringVar(&note, "note", "", "a `TEXT` to keep with it")
	f.SetNormalizeFunc(func(_ *pflag.FlagSet, name string) pflag.NormalizedName {
		switch name {
		case "flavor", "color":
			name = strings.TrimSuffix(name, "or") + "our"
		}
		return pflag.NormalizedName(name)
	})
	f.SortFlags = false
	a.completes(c, "fault", func(*session) []string { return publishedFaults() })
	c.Long = c.Short + "\n\nPublished words for faults (USDA grades of cheddar, 1956):\n"
	for _, at := range wheel.Attributes {
		for i, l := range text.Wrap(strings.Join(wheel.FaultWords[at], ", "), 64) {
			name := string(at)
			if i > 0 {
				name = ""
			}
			c.Long += fmt.Sprintf("  %-12s%s\n", name, l)
		}
	}
	c.AddCommand(a.tasteShowCmd())
	return a.completesArgs(c, func(s *session, _ int, word string) []string { return whatWords(s, word)[1:] })
}

// faultWords brings words for faults to the form they are kept in.
func faultWords(words []string) []string {
	var out []string
	for _, f := range words {
		if w := strings.ToLower(strings.TrimSpace(f)); w != "" {
			out = append(out, w)
		}
	}
	return out
}

func publishedFaults() []string {
	var out []string
	for _, at := range wheel.Attributes {
		out = append(out, wheel.FaultWords[at]...)
	}
	return out
}

// knownFaults refuses a word that is neither published nor one of the maker's
// own, which are those that some tasting of the book holds: a slip of the finger
// becomes no word. Only for a word that is not published does it go through the
// book.
func (s *session) knownFaults(words []string) error {
	unknown := slices.DeleteFunc(slices.Clone(words), func(w string) bool {
		_, ok := wheel.FaultOf(w)
		return ok
	})
	if len(unknown) == 0 {
		return nil
	}
	own, err := s.ownFaults()
	if err != nil {
		return err
	}
	for _, w := range unknown {
		if slices.Contains(own, w) {
			continue
		}
		err := at("--fault", usagef("no word %q for a fault", safeWord(w)))
		mine := "a word of your own: --fault-own " + shellWord(safeWord(w))
		if near := store.Nearest(w, append(publishedFaults(), own...)); len(near) > 0 {
			return hint(err, "did you mean %s? If not, and it is %s", near[0], mine)
		}
		return hint(err, "if it is %s; rindkeep taste --help lists the published ones", mine)
	}
	return nil
}

// ownFaults are the words of the maker's own that tastings of the book hold.
func (s *session) ownFaults() ([]string, error) {
	var own []string
	err := s.tx.EachLogged(s.ctx, store.LogQuery{Match: func(e store.Logged) bool { return e.Kind == wheel.Tasted && !e.Struck }}, func(e store.Logged) error {
		t, err := wheel.ParseTasting(e.Detail)
		if err != nil {
			return nil
		}
		for _, f := range t.Faults {
			if _, published := wheel.FaultOf(f); !published && !slices.Contains(own, f) {
				own = append(own, f)
			}
		}
		return nil
	})
	slices.Sort(own)
	return own, err
}

// taste records a tasting, and the core that was taken for it where that was
// weighed.
func (s *session) taste(what []string, t wheel.Tasting, core wheel.Entry, sure bool, note string) error {
	r, err := s.record(what, func(store.WheelState) (wheel.Entry, error) {
		return wheel.Entry{Kind: wheel.Tasted, Detail: t.Detail(), Note: note}, nil
	})
	if err != nil {
		return err
	}
	if core.Removed > 0 {
		if _, err := s.record(what, func(st store.WheelState) (wheel.Entry, error) {
			return core, s.reweighed(st, core, sure)
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
		}{schema("taste"), instant(r.when, s.loc), filled(tagsOf(r.ws)), t, grams(core.Removed), filled(asked), r.written == 0})
	}
	if r.written == 0 {
		s.print("no change, tasted so already: %s\n", someOf(tagsOf(r.ws)))
		return nil
	}
	s.print("tasted %s, %s: %s\n", text.Count(len(r.ws), "wheel"), t, someOf(tagsOf(r.ws)))
	if core.Removed > 0 {
		s.print("the core of %s counts as no loss\n", s.units.Weight(core.Removed))
	}
	s.askedText(asked)
	return nil
}

// askSisters asks for a hand check of every sister of the wheels a fault was
// seen on, unless one is asked for already. It gives their tags.
func (s *session) askSisters(r recorded, fault string) ([]string, error) {
	return s.S.AskSisters(uc.Recorded{Wheels: r.ws, At: r.when, Written: r.written}, fault)
}

func (s *session) askedText(asked []string) {
	if len(asked) > 0 {
		s.print("%s\n", s.Words.CheckSisters(asked))
	}
}
