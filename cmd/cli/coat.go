package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/store"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

func (a *app) coatCmd() *cobra.Command {
	var before, after, note string
	var sure bool
	c := a.cmd("coat "+whatHelp+" KIND", "Record a coat: wax, cloth, breathable, foil, oil, film", `
rindkeep coat 261120A-03 wax --before 1905 --after 1948
rindkeep coat 261120A cloth                     a whole lot, weights not taken
rindkeep coat 261120A-03 wax --at "yesterday 16:00"`, atLeast("WHAT", "KIND"), func(cmd *cobra.Command, args []string) error {
		kind, err := drying.ParseCoat(args[len(args)-1])
		if err != nil {
			if first, ferr := drying.ParseCoat(args[0]); ferr == nil {
				return at("KIND", hint(usagef("the kind of coat comes last"), "rindkeep coat %s %s", safeWord(strings.Join(args[1:], " ")), first))
			}
			return at("KIND", usageError{Msg: err.Error()})
		}
		w0, _, err := maybe("--before", before, quantity.ParseWeight)
		if err != nil {
			return err
		}
		w1, _, err := maybe("--after", after, quantity.ParseWeight)
		if err != nil {
			return err
		}
		if w0 > 0 && w1 > 0 && w1 < w0 {
			return at("--after", fmt.Errorf("the weight after the coat (%s) is under the weight before it (%s); a coat adds weight", a.units.Weight(w1), a.units.Weight(w0)))
		}
		return a.update(func(s *session) error { return s.coat(args[:len(args)-1], string(kind), w0, w1, note, sure) })
	})
	f := c.Flags()
	f.StringVar(&before, "before", "", "`WEIGHT` before the coat")
	f.StringVar(&after, "after", "", "`WEIGHT` after it")
	f.StringVar(&note, "note", "", "a `TEXT` to keep with it")
	f.BoolVar(&sure, "sure", false, "record it although a weight looks wrong")
	return a.completesArgs(c, func(s *session, nth int, word string) []string {
		out := whatWords(s, word)
		if nth > 0 {
			for _, k := range drying.Coats() {
				out = append(out, string(k))
			}
		}
		return out
	})
}

func (s *session) coat(what []string, kind string, before, after quantity.Grams, note string, sure bool) error {
	var early, again []string
	named := 0
	r, err := s.record(what, func(w store.WheelState) (wheel.Entry, error) {
		if named++; named > 1 && (before > 0 || after > 0) {
			return wheel.Entry{}, usagef("--before and --after are of one wheel, and several are named; coat them one by one")
		}
		if err := s.reweighed(w, wheel.Entry{Kind: wheel.CoatedOn, Before: before, Weight: after}, sure); err != nil {
			return wheel.Entry{}, err
		}
		why, since, err := s.tooEarly(w, kind)
		if why != "" {
			early = append(early, why)
		}
		if since != "" {
			again = append(again, since)
		}
		return wheel.Entry{Kind: wheel.CoatedOn, Coat: kind, Before: before, Weight: after, Note: note}, err
	})
	if err != nil {
		return err
	}
	ws := r.ws
	if len(ws) == 0 && !s.json {
		s.print("no wheels: nothing recorded\n")
		return nil
	}
	if s.json {
		return s.document(struct {
			Schema string   `json:"schema"`
			At     string   `json:"at"`
			Coat   string   `json:"coat"`
			Wheels []string `json:"wheels"`
			Tare   *float64 `json:"coat_g"`
			Same   bool     `json:"no_change"`
		}{schema("coat"), instant(r.when, s.loc), kind, filled(tagsOf(ws)), grams(max(0, after-before)), r.written == 0})
	}
	if r.written == 0 {
		s.print("no change, coated so already: %s\n", someOf(tagsOf(ws)))
		return nil
	}
	s.print("coated %s%s with %s: %s\n", text.Count(len(ws), "wheel"), s.then(r.when), kind, someOf(tagsOf(ws)))
	if before > 0 && after > 0 {
		s.print("the coat weighs %s and counts as no loss or gain\n", s.units.Weight(after-before))
	} else {
		s.next("weights before and after were not both taken: the loss goes on from the curve, less surely")
	}
	for i, why := range again {
		if i == 6 {
			s.next("and %d more with such a coat already", len(again)-i)
			break
		}
		s.next("again: %s", why)
	}
	for i, why := range early {
		if i == 6 {
			s.next("and %d more not ready by the gate", len(early)-i)
			break
		}
		s.next("early: %s", why)
	}
	if len(early) > 0 {
		s.next("a coat over a damp rind weeps, blisters and rots: look at it in a few days")
	}
	s.next("wrong? rindkeep strike last --why TEXT")
	if kind == string(drying.Wax) {
		if !s.quiet {
			s.caution(words.HotWax)
		}
	}
	return nil
}

// tooEarly says why a wheel is not ready for its coat by the gate of its plan,
// or "", and since when it has a coat of that kind, or "". The coat is recorded
// all the same, as the book says what happened. Oil is rubbed in again and again.
func (s *session) tooEarly(w store.WheelState, kind string) (early, again string, err error) {
	when, _, err := s.moment()
	if err != nil {
		return "", "", err
	}
	c, gated, err := s.S.GatedCase(w, when)
	if err != nil {
		return "", "", err
	}
	for _, x := range c.Life.Coats {
		if x.Coat == kind && kind != string(drying.Oil) {
			again = fmt.Sprintf("%s has a coat of %s already, since %s: a second coat, or the wrong wheel?", w.Tag, kind, x.On.Short())
		}
	}
	if !gated || len(c.Life.Coats) > 0 {
		return "", again, nil
	}
	v := c.Dry(when)
	switch v.Answer {
	case verdict.DryEnough, verdict.TooDry:
		return "", again, nil
	}
	return w.Tag + ", " + s.printer().AnswerShort(v), again, nil
}
