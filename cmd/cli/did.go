package cli

import (
	"slices"
	"time"

	"github.com/spf13/cobra"

	"rindkeep/cave/day"
	"rindkeep/cmd/text"
	"rindkeep/store"
	"rindkeep/wheel"
)

func (a *app) didCmd() *cobra.Command {
	var note string
	var due bool
	c := a.cmd("did JOB "+whatHelp, "Record a job as done", `
rindkeep did turn all
rindkeep did brush cellar/B --due         only the wheels it was due for
rindkeep did turn 261120A 261121A-02 --at 07:15
rindkeep did wash cellar/A/2 --on yesterday --by Orla`, atLeast("JOB", "WHAT"), func(cmd *cobra.Command, args []string) error {
		return a.handled(wheel.Did, args, note, due)
	})
	c.Flags().StringVar(&note, "note", "", "a `TEXT` to keep with it")
	c.Flags().BoolVar(&due, "due", false, "only the wheels for which the job is due")
	return a.completesArgs(c, jobThenWhat)
}

func (a *app) skipCmd() *cobra.Command {
	var why string
	var due bool
	c := a.cmd("skip JOB "+whatHelp, "Pass a job over, with the reason", `
rindkeep skip brush cellar/B --why "mould still setting"
rindkeep skip turn 261120A --due --why "too soft to handle"`, atLeast("JOB", "WHAT"), func(cmd *cobra.Command, args []string) error {
		if why == "" {
			return usagef("--why is missing: say why the job was passed over")
		}
		return a.handled(wheel.Skipped, args, why, due)
	})
	c.Flags().StringVar(&why, "why", "", "the reason, a `TEXT`")
	c.Flags().BoolVar(&due, "due", false, "only the wheels for which the job is due")
	return a.completesArgs(c, jobThenWhat)
}

func jobThenWhat(s *session, nth int, word string) []string {
	if nth == 0 {
		return jobNames()
	}
	return whatWords(s, word)
}

type doneDoc struct {
	Schema   string   `json:"schema"`
	Job      string   `json:"job"`
	At       string   `json:"at"`
	Wheels   []string `json:"wheels"`
	NoChange []string `json:"no_change"`
}

// handled records that a job was done, or passed over, for the wheels named.
func (a *app) handled(kind wheel.Kind, args []string, note string, due bool) error {
	job, err := wheel.ParseJob(args[0])
	if err != nil {
		return at("JOB", usageError{Msg: err.Error()})
	}
	if cmd, ok := elsewhere[job]; ok && kind == wheel.Did {
		return hint(usagef("%s has a command of its own, which records more than that it was done", job), "give it like: %s", cmd)
	}
	return a.update(func(s *session) error {
		when, exact, err := s.moment()
		if err != nil {
			return err
		}
		exact = exact || day.At(when, s.loc) == s.today
		ws, err := s.pick(args[1:])
		if err != nil {
			return err
		}
		if due {
			if ws, err = s.onlyDue(ws, job, day.At(when, s.loc)); err != nil {
				return err
			}
		}
		if len(ws) == 0 {
			if due {
				a.note("no wheel there is due to %s", job)
			}
			return s.doneOut(job, kind, when, nil, nil)
		}
		var entries []wheel.Entry
		var done, same []string
		for _, w := range ws {
			t := when
			if !exact {
				var again bool
				if t, again, err = s.roundTime(w, job, when); err != nil {
					return err
				}
				if again {
					same = append(same, w.Tag)
					continue
				}
			}
			entries = append(entries, s.entry(wheel.Entry{Subject: w.Wheel, Kind: kind, Job: job, At: t, Note: note}))
			done = append(done, w.Tag)
		}
		res, err := s.write.Put(entries...)
		if err != nil {
			return err
		}
		if res.Repeated > 0 {
			// An entry that said nothing new is not in the book under its own
			// identity.
			all := done
			done = nil
			for i, e := range entries {
				_, err := s.tx.EntryByID(e.ID)
				switch {
				case err == nil:
					done = append(done, all[i])
				case isNotFound(err):
					same = append(same, all[i])
				default:
					return err
				}
			}
		}
		return s.doneOut(job, kind, when, done, same)
	})
}

// entry fills in what every entry of this command shares.
func (s *session) entry(e wheel.Entry) wheel.Entry {
	e.ID, e.Written, e.By = s.nextID(), s.now, s.who
	return e
}

// roundTime finds the instant for a job of which only the date is known. Each
// round of that day gets a minute of its own after noon; once the plan's
// rounds of the day are all there, again is true and nothing should be
// written: the same command was most likely sent twice.
func (s *session) roundTime(w store.WheelState, job wheel.Job, noon time.Time) (t time.Time, again bool, err error) {
	l, err := s.tx.Life(w.Wheel)
	if err != nil {
		return noon, false, err
	}
	on := day.At(noon, s.loc)
	n := 0
	for _, e := range l.Entries {
		if (e.Kind == wheel.Did || e.Kind == wheel.Skipped) && e.Job == job && day.At(e.At, s.loc) == on {
			n++
		}
	}
	rounds := 1
	p, err := s.tx.Plan(w.Plan)
	if err != nil {
		return noon, false, err
	}
	for _, st := range p.Steps {
		if st.Job == job {
			rounds = max(rounds, st.PerDay, len(st.MinutesAfter))
		}
	}
	return noon.Add(time.Duration(n) * time.Minute), n >= rounds, nil
}

func (s *session) onlyDue(ws []store.WheelState, job wheel.Job, on day.Date) ([]store.WheelState, error) {
	tasks, err := s.tx.Due(on)
	if err != nil {
		return nil, err
	}
	isDue := map[[16]byte]bool{}
	for _, t := range tasks {
		if _, ok := t.On(on); ok && t.Job == job {
			isDue[t.Wheel] = true
		}
	}
	out := ws[:0]
	for _, w := range ws {
		if isDue[w.Wheel] {
			out = append(out, w)
		}
	}
	return out, nil
}

func (s *session) doneOut(job wheel.Job, kind wheel.Kind, when time.Time, done, same []string) error {
	if s.json {
		return s.document(doneDoc{schema("did"), string(job), instant(when, s.loc), filled(done), filled(same)})
	}
	word := job.Done()
	if kind == wheel.Skipped {
		word = "passed over: " + string(job) + " of"
	}
	if len(done) > 0 {
		s.print("%s %s%s: %s\n", word, text.Count(len(done), "wheel"), s.then(when), someOf(done))
		s.next("wrong? rindkeep strike last --why TEXT")
	}
	if len(same) > 0 {
		s.print("no change, %s already then: %s\n", job.Done(), someOf(same))
		if s.on != "" {
			s.next("one more round that day? give its time with --at")
		}
	}
	if len(done)+len(same) == 0 {
		s.print("no wheels: nothing recorded\n")
	}
	return nil
}

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
					Schema string   `json:"schema"`
					At     string   `json:"at"`
					Wheels []string `json:"wheels"`
					Found  string   `json:"found"`
					Sound  bool     `json:"sound"`
					Asked  []string `json:"checks_asked"`
				}{schema("check"), instant(r.when, s.loc), filled(tagsOf(ws)), f.String(), f.Sound(), filled(asked)})
			}
			if r.written == 0 {
				s.print("no change, checked so already: %s\n", someOf(tagsOf(ws)))
				return nil
			}
			s.print("checked %s%s, %s: %s\n", text.Count(len(ws), "wheel"), s.then(r.when), f, someOf(tagsOf(ws)))
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
const faultAdvice = "do not coat it so: dry a weeping rind in drier air, brush or wash mould and mites off, fill cracks with butter or lard or trim them; then check again"

// gasAdvice is what to do about a blown wheel: common practice, no source.
const gasAdvice = "do not coat it: keep it apart from the others, hold it (rindkeep wheel hold TAG --why blown), find out why, by a test if need be, before it or its sisters are coated or sold; eyes and a dome that its kind should have are not meant"

// then says when something happened, unless it was now.
func (s *session) then(t time.Time) string {
	if t.Equal(s.now) {
		return ""
	}
	return " at " + t.In(s.loc).Format("2006-01-02 15:04")
}

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
		c, gated, err := s.gatedCase(w, when)
		if err != nil {
			return err
		}
		if !gated || len(c.Life.Coats) > 0 {
			continue
		}
		v := c.Dry(when)
		s.indented(w.Tag + " " + answerShort(v))
	}
	return nil
}
