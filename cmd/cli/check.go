package cli

import (
	"slices"
	"time"

	"github.com/spf13/cobra"

	"rindkeep/cave/reason"
	uc "rindkeep/cmd/app"
	"rindkeep/cmd/text"
	"rindkeep/store"
	"rindkeep/wheel"
)

func (a *app) checkCmd() *cobra.Command {
	var note string
	var cracks, weeping, mould, mites, gas, dry string
	c := a.cmd("check "+whatHelp, "Record a hand check of the rind", `
rindkeep check 261120A-03 --dry-to-touch --cracks no --weeping no --mould no
rindkeep check 261120A --dry-to-touch no
rindkeep check cellar/B/2 --mites yes --note "brushed off"
rindkeep check 261120A-03 --gas yes --note "domed, sounds hollow"`, atLeast("TAG"), func(cmd *cobra.Command, args []string) error {
		var f wheel.HandCheck
		for _, x := range []struct {
			flag, value string
			to          *wheel.Seen
		}{{"--dry-to-touch", dry, &f.DryToTouch}, {"--cracks", cracks, &f.Cracks}, {"--weeping", weeping, &f.Weeping}, {"--mould", mould, &f.Mould}, {"--mites", mites, &f.Mites}, {"--gas", gas, &f.Gas}} {
			v, _, err := maybe(x.flag, x.value, wheel.ParseSeen)
			if err != nil {
				return err
			}
			*x.to = v
		}
		if !f.Said() && note == "" {
			return usagef("a hand check needs what was found: --dry-to-touch, --cracks, --weeping, --mould, --mites or --gas, each yes or no")
		}
		if !f.Said() {
			return usagef("a note alone is no hand check; use: rindkeep wheel note %s TEXT", safeWord(args[0]))
		}
		return a.update(func(s *session) error {
			r, err := s.record(args, func(store.WheelState) (wheel.Entry, error) {
				return wheel.Entry{Kind: wheel.Checked, Found: f, Note: note}, nil
			})
			if err != nil {
				return err
			}
			ws := r.ws
			asked, err := s.askSisters(r, f.Faults())
			if err != nil {
				return err
			}
			if s.json {
				return s.document(struct {
					Schema  string      `json:"schema"`
					At      string      `json:"at"`
					Wheels  []string    `json:"wheels"`
					Found   string      `json:"found"`
					Reasons reason.List `json:"reasons"`
					Sound   bool        `json:"sound"`
					Asked   []string    `json:"checks_asked"`
				}{schema("check"), instant(r.when, s.loc), filled(tagsOf(ws)), s.printer().Sentence(f), reason.List{f}, f.Sound(), filled(asked)})
			}
			if r.written == 0 {
				s.print("no change, checked so already: %s\n", someOf(tagsOf(ws)))
				return nil
			}
			s.print("checked %s%s, %s: %s\n", text.Count(len(ws), "wheel"), s.then(r.when), s.printer().Sentence(f), someOf(tagsOf(ws)))
			if f.Gas == wheel.Yes {
				s.indented(gasAdvice)
			}
			rest := f
			if rest.Gas = wheel.NotSaid; rest.Faults() != "" {
				s.indented(faultAdvice)
			}
			s.askedText(asked)
			if err := s.dryLines(ws, r.when); err != nil {
				return err
			}
			s.next("wrong? rindkeep strike last --why TEXT")
			return nil
		})
	})
	fl := c.Flags()
	for _, x := range []struct {
		name, about string
		to          *string
	}{{"dry-to-touch", "dry to the touch all over: `yes|no`", &dry}, {"cracks", "cracks in the rind: `yes|no`", &cracks}, {"weeping", "weeping: `yes|no`", &weeping}, {"mould", "mould that should not be there: `yes|no`", &mould}, {"mites", "mites: `yes|no`", &mites}, {"gas", "blown or bloated by gas it should not have: `yes|no`", &gas}} {
		fl.StringVar(x.to, x.name, "", x.about)
		fl.Lookup(x.name).NoOptDefVal = "yes"
	}
	fl.StringVar(&note, "note", "", "a `TEXT` to keep with it")
	return a.completesArgs(c, func(s *session, _ int, word string) []string { return whatWords(s, word) })
}

// faultAdvice is what to do about a fault on a rind: common practice, no
// source.
const faultAdvice = "don't coat it like this: dry a weeping rind in drier air, brush or wash mould and mites off, fill cracks with butter or lard or trim them; then check again"

// gasAdvice is what to do about a blown wheel: common practice, no source.
const gasAdvice = "do not coat it: keep it apart from the others, hold it (rindkeep wheel hold TAG --why blown), find out why, by a test if need be, before it or its sisters are coated or sold; eyes and a dome that its kind should have are not meant"

// seenFlags are the flags of a hand check: alone they say yes.
var seenFlags = []string{"--dry-to-touch", "--cracks", "--weeping", "--mould", "--mites", "--gas"}

// answered joins a hand check's flag and the answer behind it, --cracks no to
// --cracks=no: a flag that may stand alone would leave its answer behind as
// the name of a wheel.
func answered(args []string) []string {
	var out []string
	check := false
	for i := 0; i < len(args); i++ {
		check = check || args[i] == "check"
		if check && slices.Contains(seenFlags, args[i]) && i+1 < len(args) {
			if _, err := wheel.ParseSeen(args[i+1]); err == nil {
				out = append(out, args[i]+"="+args[i+1])
				i++
				continue
			}
		}
		out = append(out, args[i])
	}
	return out
}

// dryLines says in a line for each of a few wheels whether it is dry enough
// now, where its plan asks.
func (s *session) dryLines(ws []store.WheelState, when time.Time) error {
	if len(ws) > 12 || s.quiet {
		return nil
	}
	for _, w := range ws {
		c, gated, err := s.S.GatedCase(w, when)
		if err != nil {
			return err
		}
		if !gated || len(c.Life.Coats) > 0 {
			continue
		}
		v := c.Dry(when)
		s.indented(w.Tag + " " + s.printer().AnswerShort(v))
	}
	return nil
}

// askSisters asks for a hand check of the sisters of wheels with a fault.
func (s *session) askSisters(r recorded, fault string) ([]string, error) {
	return s.S.AskSisters(uc.Recorded{Wheels: r.ws, At: r.when, Written: r.written}, fault)
}

func (s *session) askedText(asked []string) {
	if len(asked) > 0 {
		s.print("%s\n", s.Words.CheckSisters(asked))
	}
}
