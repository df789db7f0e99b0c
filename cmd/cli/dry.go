package cli

import (
	"fmt"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	uc "rindkeep/cmd/app"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/store"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

func (a *app) dryCmd() *cobra.Command {
	var other string
	c := a.cmd("dry [WHAT...]", "Dry enough to wax? The verdict, with figures and reasons", `
rindkeep dry                     every wheel that waits for its coat
rindkeep dry 261120A-03          one wheel, rule by rule
rindkeep dry 261120A --on 2026-11-28
rindkeep dry 261120A-03 --if rh=88,temp=10      what other air would do`, cobra.ArbitraryArgs, func(cmd *cobra.Command, args []string) error {
		if other == "" {
			look := a.look
			if len(args) == 1 {
				look = a.view // of one wheel, mostly
			}
			return look(func(s *session) error { return s.dry(args) })
		}
		if len(args) == 0 {
			return usagef("--if needs a wheel: rindkeep dry TAG --if rh=88,temp=10")
		}
		airs, err := parseIf(other)
		if err != nil {
			return at("--if", err)
		}
		return a.view(func(s *session) error { return s.dryIf(args, airs) })
	})
	c.Flags().StringVar(&other, "if", "", "compare with other `AIR`: rh=88,temp=10,air=still; several apart by /")
	return a.completesArgs(c, func(s *session, _ int, word string) []string { return whatWords(s, word) })
}

type dryDoc struct {
	Schema string     `json:"schema"`
	At     string     `json:"at"`
	Wheels []dryWheel `json:"wheels"`
}

type ruleDoc struct {
	Rule    string           `json:"rule"`
	Code    verdict.RuleCode `json:"code"`
	Met     bool             `json:"met"`
	Have    string           `json:"have"`
	Need    string           `json:"need"`
	HaveWhy reason.List      `json:"have_reasons"`
	NeedWhy reason.List      `json:"need_reasons"`
}

type expectedDoc = uc.Expected

type dryWheel struct {
	Wheel     string       `json:"wheel"`
	Verdict   string       `json:"verdict"`
	Loss      *float64     `json:"loss_pct"`
	Moisture  est          `json:"moisture_pct"`
	Rate      est          `json:"rate_pct_per_day"`
	Rules     []ruleDoc    `json:"rules"`
	Expected  *expectedDoc `json:"expected_on"`
	Advice    string       `json:"advice"`
	Reasons   reason.List  `json:"reasons"`
	Present   est          `json:"present_loss_pct"`
	WeighedAt *string      `json:"weighed_at"`
	Weighings int          `json:"weighings"`
	Basis     string       `json:"basis"`
	Standing  *string      `json:"standing"`
	Leak      *string      `json:"leak"`
	LeakWhy   reason.List  `json:"leak_reasons"`
	Law       []string     `json:"held_by_law"`
	LawWhy    reason.List  `json:"held_by_law_reasons"`
}

// judged is one wheel with its verdict.
type judged struct {
	verdict.Case
	v        verdict.Dry
	standing drying.Verdict // of the last weighing; "" without one
	held     reason.List    // by law
	gated    bool
}

func (s *session) judge(st store.WheelState, at time.Time) (judged, error) {
	c, gated, err := s.gatedCase(st, at)
	if err != nil {
		return judged{}, err
	}
	f := c.Forecast()
	j := judged{Case: c, v: c.DryBy(f, at), gated: gated}
	if !gated && j.v.Answer != verdict.Coated {
		j.v.Advice = reason.List{verdict.NoCoat{Plan: c.Life.Plan, Answer: j.v.Answer}}
	}
	for _, h := range c.LawHolds(at) {
		j.held = append(j.held, h.Reason())
	}
	if ss := f.Standings(); len(ss) > 1 {
		j.standing = ss[len(ss)-1].Verdict
	}
	return j, nil
}

func (s *session) dry(args []string) error {
	at, _, err := s.asOf()
	if err != nil {
		return err
	}
	named := len(args) > 0
	if !named {
		args = []string{"all"}
	}
	ws, err := s.pick(args)
	if err != nil {
		return err
	}
	var list []judged
	for i, w := range ws {
		if i%64 == 0 && s.ctx.Err() != nil {
			return s.ctx.Err()
		}
		if !named {
			waits, err := s.waits(w)
			if err != nil {
				return err
			}
			if !waits {
				continue
			}
		}
		j, err := s.judge(w, at)
		if err != nil {
			return err
		}
		if !named && (j.v.Answer == verdict.Coated || j.Life.Make.Date.Start(s.loc).After(at)) {
			continue
		}
		list = append(list, j)
	}
	if s.json {
		doc := dryDoc{Schema: schema("dry"), At: instant(at, s.loc), Wheels: []dryWheel{}}
		for _, j := range list {
			doc.Wheels = append(doc.Wheels, s.dryOf(j))
		}
		return s.document(doc)
	}
	if len(list) == 1 {
		s.dryCard(list[0])
		return nil
	}
	s.dryTable(list)
	return nil
}

// waits says whether a wheel's plan has it wait at the gate, uncoated, without
// reading its history.
func (s *session) waits(w store.WheelState) (bool, error) {
	p, err := s.tx.Plan(w.Plan)
	if err != nil {
		return false, err
	}
	for _, st := range p.Steps {
		if st.Gated() {
			return true, nil
		}
	}
	return false, nil
}

func (s *session) dryOf(j judged) dryWheel {
	v, p := j.v, s.printer()
	d := dryWheel{
		Wheel: j.Life.Tag, Verdict: string(v.Answer), Moisture: pctEst(v.Moisture), Rate: pctEst(v.Rate), Rules: []ruleDoc{},
		Advice: p.Why(v.Advice), Reasons: v.Advice, Present: pctEst(v.Present), Weighings: v.Weighings,
		Basis: string(v.Basis), Leak: orNull(p.Why(v.Leak)), LeakWhy: v.Leak, Law: p.All(j.held), LawWhy: j.held,
	}
	if v.Weighings > 0 {
		l := rounded(v.Loss.Percent(), 10)
		d.Loss = &l
		t := instant(v.WeighedAt, s.loc)
		d.WeighedAt = &t
	}
	if j.standing != "" {
		w := string(j.standing)
		d.Standing = &w
	}
	for _, r := range v.Rules {
		d.Rules = append(d.Rules, ruleDoc{words.Rule(r.Code), r.Code, r.Met, p.Why(r.Have), p.Why(r.Need), r.Have, r.Need})
	}
	d.Expected = expectedOf(v.On)
	return d
}

func expectedOf(e *verdict.Expected) *expectedDoc { return uc.ExpectedOf(e) }

// urgency is the order in which people want to read the answers.
var urgency = map[verdict.Answer]int{
	verdict.TooDry: 0, verdict.DryEnough: 1, verdict.CheckByHand: 2, verdict.NotYet: 3, verdict.NoWeights: 4, verdict.Coated: 5,
}

func (s *session) dryTable(list []judged) {
	if len(list) == 0 {
		s.print("no wheel waits for its coat\n")
		s.next("name wheels to see their figures anyway: rindkeep dry WHAT")
		return
	}
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b judged) int { return urgency[a.v.Answer] - urgency[b.v.Answer] })
	t := text.Table{Columns: []text.Column{{Title: "wheel"}, {Title: "dry enough?"}, {Title: "loss", Right: true}, {Title: "a day", Right: true}, {Title: "what next", Wrap: true}}}
	ready := map[int]bool{}
	for i, j := range list {
		loss, rate := "-", "-"
		if j.v.Weighings > 0 {
			loss = fmt.Sprintf("%.1f %%", j.v.Loss.Percent())
			rate = fmt.Sprintf("%.2f %%", 100*j.v.Rate.Best)
		}
		next := s.printer().Brief(j.v.Advice)
		if j.v.On != nil && j.gated && !j.v.Overdue {
			next = "expected " + expectedShort(*j.v.On)
		}
		if w := s.printer().Lacks(j.v); w != "" && j.gated {
			next = w + "; " + next
		}
		switch j.standing {
		case drying.Fast:
			next += "; drying FAST, look for cracks"
		case drying.Slow:
			next += "; drying SLOWLY, look for slime"
		case drying.Unlikely:
			next += "; last weight DOUBTFUL, weigh again"
		}
		answer := words.Answer(j.v.Answer)
		if !j.gated && j.v.Answer != verdict.Coated {
			answer = "-"
		}
		t.Add(j.Life.Tag, answer, loss, rate, next)
		ready[i] = j.v.Answer == verdict.DryEnough || j.v.Answer == verdict.TooDry
	}
	bold := s.style("1")
	t.Style = func(row, col int, cell string) string {
		if ready[row] && col < 2 {
			return bold(cell)
		}
		return cell
	}
	s.lines(t.Lines(s.env.Columns()))
	s.next("\none wheel, rule by rule: rindkeep dry %s", list[0].Life.Tag)
}

func (s *session) dryCard(j judged) {
	v := j.v
	_, on, _ := s.asOf()
	s.print("%s  %s, %d days old", s.style("1")(j.Life.Tag), j.Variety.Title, j.Life.Age(on))
	if j.Life.Place != "" {
		s.print(", at %s", j.Life.Place)
	}
	answer := words.Answer(v.Answer)
	if !j.gated && v.Answer != verdict.Coated {
		answer = "no coat in its plan"
	}
	p := s.printer()
	s.print("\n\n%s\n", s.style("1")("Dry enough to coat?  "+answer))
	for _, l := range text.Wrap(p.Why(v.Advice), s.env.Columns()-2) {
		s.print("  %s\n", l)
	}
	if v.On != nil && j.gated && !v.Overdue {
		s.indented("expected " + expectedWords(*v.On) + ", 9 times in 10 between the dates in brackets")
	}
	s.print("\n")
	t := text.Table{Indent: 2, Columns: []text.Column{{}, {}, {Wrap: true}, {Wrap: true}}}
	for _, r := range v.Rules {
		mark := "[ ]"
		if r.Met {
			mark = "[x]"
		}
		t.Add(mark, words.Rule(r.Code), p.Why(r.Have), "needs "+p.Why(r.Need))
	}
	s.lines(t.Lines(s.env.Columns()))
	s.print("\n")
	figure := func(format string, a ...any) {
		for i, l := range text.Wrap(fmt.Sprintf(format, a...), s.env.Columns()-4) {
			s.print("%s%s\n", []string{"  ", "    "}[min(i, 1)], l)
		}
	}
	if v.Weighings > 0 {
		figure("loss %.1f %% at the last weighing, %s; now about %.1f %% (%.1f to %.1f)", v.Loss.Percent(), v.WeighedAt.In(s.loc).Format("Mon 2 Jan 15:04"), 100*v.Present.Best, 100*v.Present.Low, 100*v.Present.High)
	}
	figure("moisture about %.1f %% (%.1f to %.1f)", 100*v.Moisture.Best, 100*v.Moisture.Low, 100*v.Moisture.High)
	rate := fmt.Sprintf("losing %.2f %% a day (%.2f to %.2f)", 100*v.Rate.Best, 100*v.Rate.Low, 100*v.Rate.High)
	if flux := j.Flux(v.Rate); flux.Known() {
		rate += fmt.Sprintf(", %.2f g/dm2 a day", flux.Best)
	}
	figure("%s; from %s", rate, p.Basis(v.Basis, v.Weighings))
	for _, n := range j.Life.Chain.Notes {
		figure("note: %s", p.Sentence(n))
	}
	if w := words.Standing(j.standing); w != "" && j.standing != drying.OnCurve {
		figure("last weighing %s", w)
	}
	for _, h := range j.held {
		figure("held by law: %s", p.Sentence(h))
	}
	if !j.gated {
		figure("its plan %s has no gate: these are the usual figures", j.Life.Plan)
	}
	if v.Answer == verdict.DryEnough || v.Answer == verdict.CheckByHand {
		s.next("\ncoated it? rindkeep coat %s wax --before WEIGHT --after WEIGHT", j.Life.Tag)
		if !s.quiet {
			s.caution(words.HotWax)
		}
	}
}

// net is the mass of the cheese itself at a loss.
func net(green quantity.Grams, loss float64) quantity.Grams { return green * quantity.Grams(1-loss) }
