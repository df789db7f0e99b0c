package cli

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	uc "rindkeep/cmd/app"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/app/trade"
	"rindkeep/cmd/cli/console"
	tradecmd "rindkeep/cmd/cli/trade"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/store"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

func (a *app) wheelCmd() *cobra.Command {
	return a.group("wheel", "Wheels: list, show, move, plan, hold, core, cut, send",
		a.wheelListCmd(), a.wheelShowCmd(), a.wheelMoveCmd(), a.wheelPlanCmd(), a.wheelTagCmd(), a.wheelNoteCmd(), a.wheelPhotoCmd(), a.wheelCoreCmd(), a.wheelCutCmd(),
		a.wheelHoldCmd(), a.wheelReleaseCmd(), a.wheelSendCmd(), a.wheelLostCmd(), a.wheelVoidCmd())
}

// recorded is what one command wrote: the wheels it named, when it happened,
// and how many entries were new.
type recorded struct {
	ws      []store.WheelState
	when    time.Time
	written int
}

// record writes one entry, made by of, for every wheel named.
func (s *session) record(what []string, of func(st store.WheelState) (wheel.Entry, error)) (recorded, error) {
	var r recorded
	var err error
	if r.when, _, err = s.moment(); err != nil {
		return r, err
	}
	if r.ws, err = s.pick(what); err != nil {
		return r, err
	}
	var entries []wheel.Entry
	for _, st := range r.ws {
		e, err := of(st)
		if err != nil {
			return r, err
		}
		e.Subject, e.At = st.Wheel, r.when
		entries = append(entries, s.entry(e))
	}
	res, err := s.write.Put(entries...)
	r.written = res.Written
	return r, err
}

// each records one entry for every wheel named, made by of, and prints what
// was done.
func (a *app) each(what []string, word string, of func(s *session, st store.WheelState) (wheel.Entry, error)) error {
	return a.update(func(s *session) error {
		r, err := s.record(what, func(st store.WheelState) (wheel.Entry, error) { return of(s, st) })
		if err != nil {
			return err
		}
		ws := r.ws
		if s.json {
			return s.document(struct {
				Schema string   `json:"schema"`
				What   string   `json:"what"`
				At     string   `json:"at"`
				Wheels []string `json:"wheels"`
				Same   bool     `json:"no_change"`
			}{schema("recorded"), word, instant(r.when, s.loc), filled(tagsOf(ws)), r.written == 0})
		}
		switch {
		case len(ws) == 0:
			s.print("no wheels: nothing recorded\n")
		case r.written == 0:
			s.print("no change, recorded already: %s\n", someOf(tagsOf(ws)))
		default:
			s.print("%s %s%s: %s\n", word, text.Count(len(ws), "wheel"), s.then(r.when), someOf(tagsOf(ws)))
			s.next("wrong? rindkeep strike last --why TEXT")
		}
		return nil
	})
}

func (a *app) wheelMoveCmd() *cobra.Command {
	var note string
	c := a.cmd("move "+whatHelp+" PLACE", "Move wheels to another place", `
rindkeep wheel move 261120A cellar/B/3
rindkeep wheel move drying/A/1 cellar/B/1 --on yesterday`, atLeast("WHAT", "PLACE"), func(cmd *cobra.Command, args []string) error {
		place, err := cave.ParsePlace(args[len(args)-1])
		if err != nil {
			return at("PLACE", usageError{Msg: err.Error()})
		}
		return a.each(args[:len(args)-1], "moved to "+string(place)+":", func(s *session, st store.WheelState) (wheel.Entry, error) {
			to, err := makes.PlaceIn(s.S, place)
			if err != nil {
				return wheel.Entry{}, err
			}
			if err := s.warnSweat(st, to); err != nil {
				return wheel.Entry{}, err
			}
			return wheel.Entry{Kind: wheel.Moved, Place: to, Note: note}, nil
		})
	})
	c.Flags().StringVar(&note, "note", "", "a `TEXT` to keep with it")
	return a.completesArgs(c, func(s *session, _ int, word string) []string { return whatWords(s, word) })
}

// warnSweat says, once for a pair of rooms, when a cold wheel will sweat in
// the air it is carried into.
func (s *session) warnSweat(st store.WheelState, to cave.Place) error {
	if st.Place == "" || st.Place.Room() == to.Room() {
		return nil
	}
	from, err := s.tx.Room(st.Place.Room())
	if err != nil {
		return nil
	}
	dest, err := s.tx.Room(to.Room())
	if err != nil {
		return err
	}
	key := from.Name + ">" + dest.Name
	if s.said[key] {
		return nil
	}
	if s.said == nil {
		s.said = map[string]bool{}
	}
	s.said[key] = true
	if air.Sweats(from.Temp, dest.SetPoint()) {
		s.note("a wheel at the %s of %s sweats in %s, whose dew point is %s: let it warm up covered, or the rind gets wet", s.units.Temp(from.Temp), from.Name, dest.Name, s.units.Temp(air.DewPoint(dest.SetPoint())))
	}
	return nil
}

func (a *app) wheelPlanCmd() *cobra.Command {
	c := a.cmd("plan "+whatHelp+" PLAN", "Give wheels another rind plan", `
rindkeep wheel plan 261120A washed-rind`, atLeast("WHAT", "PLAN"), func(cmd *cobra.Command, args []string) error {
		name := args[len(args)-1]
		return a.each(args[:len(args)-1], "on plan "+safeWord(name)+" now:", func(s *session, st store.WheelState) (wheel.Entry, error) {
			p, err := s.tx.Plan(name)
			if err != nil {
				return wheel.Entry{}, at("PLAN", err)
			}
			return wheel.Entry{Kind: wheel.Planned, Plan: p.Name}, nil
		})
	})
	return a.completesArgs(c, func(s *session, nth int, word string) []string {
		out := whatWords(s, word)
		if nth > 0 {
			out = append(out, library.Names(s.S, library.Plan)...)
		}
		return out
	})
}

func (a *app) wheelTagCmd() *cobra.Command {
	c := a.cmd("tag TAG NEWTAG", "Give a wheel another tag", `
rindkeep wheel tag 261120A-03 pepper-1`, exactly("TAG", "NEWTAG"), func(cmd *cobra.Command, args []string) error {
		if err := cave.CheckTag("tag", args[1]); err != nil {
			return at("NEWTAG", err)
		}
		return a.each(args[:1], "tagged "+args[1]+" now:", func(s *session, st store.WheelState) (wheel.Entry, error) {
			if !strings.EqualFold(st.Tag, args[0]) {
				return wheel.Entry{}, usagef("a tag goes on one wheel; name it by its tag")
			}
			return wheel.Entry{Kind: wheel.Tagged, Tag: args[1]}, nil
		})
	})
	return a.completesArgs(c, func(s *session, nth int, word string) []string {
		if nth > 0 {
			return nil
		}
		return whatWords(s, word)[1:]
	})
}

func (a *app) wheelNoteCmd() *cobra.Command {
	var photo string
	c := a.cmd("note WHAT... TEXT", "Add a note to wheels", `
rindkeep wheel note 261120A-03 "small crack, filled"
rindkeep wheel note 261120A-03 "crack at the edge" --photo crack.jpg`, atLeast("WHAT", "TEXT"), func(cmd *cobra.Command, args []string) error {
		note := args[len(args)-1]
		if strings.TrimSpace(note) == "" {
			return usagef("the note is empty")
		}
		keep, err := a.pictured(photo)
		if err != nil {
			return err
		}
		return a.each(args[:len(args)-1], "noted on", func(s *session, _ store.WheelState) (wheel.Entry, error) {
			detail, err := keep(s)
			return wheel.Entry{Kind: wheel.Noted, Note: note, Detail: detail}, err
		})
	})
	console.PhotoFlag(c, &photo)
	return a.completesArgs(c, func(s *session, _ int, word string) []string { return whatWords(s, word) })
}

// reweighFlags are the weights round a core or cut.
type reweighFlags struct {
	before, after, removed, note string
	sure                         bool
}

func (r *reweighFlags) add(c *cobra.Command, what string) {
	f := c.Flags()
	f.StringVar(&r.before, "before", "", "`WEIGHT` before it")
	f.StringVar(&r.after, "after", "", "`WEIGHT` after it")
	f.StringVar(&r.removed, "removed", "", "`WEIGHT` of "+what)
	f.StringVar(&r.note, "note", "", "a `TEXT` to keep with it")
	f.BoolVar(&r.sure, "sure", false, "record it although a weight looks wrong")
}

// reweighed refuses weights round a coat, core or cut that cannot be right by
// the wheel's last weight, unless the writer is sure.
func (s *session) reweighed(st store.WheelState, e wheel.Entry, sure bool) error {
	return s.S.Reweighed(st, e, sure)
}

func (r *reweighFlags) entry(kind wheel.Kind) (wheel.Entry, error) {
	e := wheel.Entry{Kind: kind, Note: r.note}
	var err error
	for _, x := range []struct {
		flag, value string
		to          *quantity.Grams
	}{{"--before", r.before, &e.Before}, {"--after", r.after, &e.Weight}, {"--removed", r.removed, &e.Removed}} {
		if *x.to, _, err = maybe(x.flag, x.value, quantity.ParseWeight); err != nil {
			return e, err
		}
	}
	if e.Before > 0 && e.Weight > e.Before {
		return e, at("--after", fmt.Errorf("the weight after it is over the weight before it; what is taken away makes a wheel lighter"))
	}
	if e.Before > 0 && e.Removed >= e.Before {
		return e, at("--removed", fmt.Errorf("more taken away than the wheel weighs"))
	}
	return e, nil
}

func (a *app) wheelCoreCmd() *cobra.Command {
	var r reweighFlags
	c := a.cmd("core TAG", "Record a core taken with a trier", `
rindkeep wheel core 261120A-03 --removed 12g
rindkeep wheel core 261120A-03 --before 1890 --after 1878`, exactly("TAG"), func(cmd *cobra.Command, args []string) error {
		e, err := r.entry(wheel.Cored)
		if err != nil {
			return err
		}
		return a.each(args, "cored", func(s *session, st store.WheelState) (wheel.Entry, error) { return e, s.reweighed(st, e, r.sure) })
	})
	r.add(c, "the core")
	return a.completesArgs(c, func(s *session, _ int, word string) []string { return whatWords(s, word)[1:] })
}

func (a *app) wheelCutCmd() *cobra.Command {
	var r reweighFlags
	c := a.cmd("cut TAG", "Record that a piece was cut off or trimmed", `
rindkeep wheel cut 261120A-03 --before 1890 --after 940`, exactly("TAG"), func(cmd *cobra.Command, args []string) error {
		e, err := r.entry(wheel.Cut)
		if err != nil {
			return err
		}
		return a.each(args, "cut", func(s *session, st store.WheelState) (wheel.Entry, error) { return e, s.reweighed(st, e, r.sure) })
	})
	c.Long = `Record that a piece was cut off or trimmed.

A piece that goes to a customer is taken off by wheel send --part, and is not
cut off here as well.`
	r.add(c, "the piece")
	return a.completesArgs(c, func(s *session, _ int, word string) []string { return whatWords(s, word)[1:] })
}

func (a *app) whyCmd(use, short, examples, flag, about, word string, of func(s *session, st store.WheelState, why string) (wheel.Entry, error)) *cobra.Command {
	var why string
	c := a.cmd(use+" "+whatHelp, short, examples, atLeast("WHAT"), func(cmd *cobra.Command, args []string) error {
		if strings.TrimSpace(why) == "" {
			return usagef("--%s is missing: %s", flag, about)
		}
		return a.each(args, word, func(s *session, st store.WheelState) (wheel.Entry, error) { return of(s, st, why) })
	})
	c.Flags().StringVar(&why, flag, "", about+", a `TEXT`")
	return a.completesArgs(c, func(s *session, _ int, word string) []string { return whatWords(s, word) })
}

func (a *app) wheelHoldCmd() *cobra.Command {
	return a.whyCmd("hold", "Hold wheels back: they may not leave", `
rindkeep wheel hold 261120A --why "test pending"`, "why", "the reason of the hold", "held", func(s *session, st store.WheelState, why string) (wheel.Entry, error) {
		return wheel.Entry{Kind: wheel.Held, Note: why}, nil
	})
}

func (a *app) wheelReleaseCmd() *cobra.Command {
	return a.whyCmd("release", "Release wheels from their holds", `
rindkeep wheel release 261120A --why "tests clear, report 4417"`, "why", "what lets them go", "released", func(s *session, st store.WheelState, why string) (wheel.Entry, error) {
		l, err := s.tx.Life(st.Wheel)
		if err != nil {
			return wheel.Entry{}, err
		}
		if len(l.Holds) == 0 {
			return wheel.Entry{}, at(st.Tag, fmt.Errorf("%s is not held", st.Tag))
		}
		return wheel.Entry{Kind: wheel.Released, Note: why}, nil
	})
}

func (a *app) wheelLostCmd() *cobra.Command {
	return a.whyCmd("lost", "Record wheels as lost: thrown out, eaten, broken", `
rindkeep wheel lost 261120A-03 --why "blown, thrown out"`, "why", "what became of them", "written off", func(s *session, st store.WheelState, why string) (wheel.Entry, error) {
		return wheel.Entry{Kind: wheel.Lost, Note: why}, nil
	})
}

func (a *app) wheelVoidCmd() *cobra.Command {
	return a.whyCmd("void", "Take wheels back that were entered by mistake and never were", `
rindkeep wheel void 261120A-05 --why "four wheels, not five"`, "why", "the mistake", "taken back", func(s *session, st store.WheelState, why string) (wheel.Entry, error) {
		return wheel.Entry{Kind: wheel.Voided, Note: why}, nil
	})
}

func (a *app) wheelSendCmd() *cobra.Command {
	var to, weight, note, override, document, country string
	var part, sure bool
	c := a.cmd("send "+whatHelp, "Record wheels, or a piece of one, as sold or sent away", `
rindkeep wheel send 261120A-03 --to "The Corner Shop" --weight 1.88kg --document DN-117
rindkeep wheel send 261120A-03 --to "The Corner Shop" --part --weight 420g
rindkeep wheel send 261120A-03 --to "Fromagerie du Coin" --country FR
rindkeep wheel send 261120A-03 --to "Lab" --override "sample for testing"`, atLeast("WHAT"), func(cmd *cobra.Command, args []string) error {
		if strings.TrimSpace(to) == "" {
			return usagef("--to is missing: who gets them")
		}
		g, _, err := maybe("--weight", weight, quantity.ParseWeight)
		if err != nil {
			return err
		}
		if part && g == 0 {
			return usagef("--part needs --weight: the weight of the piece")
		}
		if err := cave.CheckName("customer", to); err != nil {
			return at("--to", err)
		}
		if document != "" {
			if err := cave.CheckName("document", document); err != nil {
				return at("--document", err)
			}
			if strings.Contains(document, ";") {
				return at("--document", usagef("a document's reference holds no semicolon"))
			}
		}
		abroad, err := uc.Countries("country", country)
		if err != nil {
			return err
		}
		var sent []verdict.Case
		told := false // that nobody knows the customer
		word, kind := "sent to "+to+":", wheel.Sent
		if part {
			word, kind = "sent a piece to "+to+" of", wheel.SentPart
		}
		if err := a.each(args, word, func(s *session, st store.WheelState) (wheel.Entry, error) {
			why, c, err := s.held(st, abroad)
			if err != nil {
				return wheel.Entry{}, err
			}
			sent = append(sent, c)
			name, known, err := trade.Addressee(s.S, to, sure)
			if err != nil {
				return wheel.Entry{}, err
			}
			if !known && !told {
				told = true
				a.note("no customer %q is saved: rindkeep customer new %s --contact TEXT --address TEXT", to, shellWord(to))
			}
			if odd := c.Life.OddSending(g, part); odd != nil && !sure {
				return wheel.Entry{}, at(st.Tag, unsure(fmt.Errorf("%s: %s", st.Tag, s.printer().Sentence(odd)), "look at the weight again; "))
			}
			e := wheel.Entry{Kind: kind, To: name, Weight: g, Note: note}
			sending := wheel.Sending{Document: document}
			switch {
			case len(why) == 0:
			case strings.TrimSpace(override) == "":
				return e, at(st.Tag, hint(errors.New(st.Tag+" is held: "+strings.Join(s.printer().All(why), "; ")), "a hold set by hand is lifted with rindkeep wheel release %s --why TEXT; if it may go anyway, say why with --override", st.Tag))
			default:
				sending.Held, sending.Override = why, override
			}
			e.Detail = sending.Detail()
			return e, nil
		}); err != nil {
			return err
		}
		for _, d := range duties(sent) {
			if a.json {
				a.note("%s", d)
				continue
			}
			a.caution(d)
		}
		a.next("CAUTION: food for sale: your local food law and authority have the last word")
		return nil
	})
	f := c.Flags()
	f.StringVar(&to, "to", "", "who gets them, a `NAME`")
	f.StringVar(&weight, "weight", "", "`WEIGHT` sent, of each")
	f.BoolVar(&part, "part", false, "a piece of it; the rest stays")
	f.StringVar(&document, "document", "", "its delivery note, a `REF`")
	f.StringVar(&country, "country", "", "where they go, ISO `CODES`: the law there counts besides the book's")
	f.StringVar(&override, "override", "", "send it although it is held, and `WHY`")
	f.BoolVar(&sure, "sure", false, "record it although the weight or the name looks wrong")
	f.StringVar(&note, "note", "", "a `TEXT` to keep with it")
	a.Completes(c, "to", tradecmd.CustomerNames)
	return a.completesArgs(c, func(s *session, _ int, word string) []string { return whatWords(s, word) })
}

// held says why a wheel may not leave; empty where it may: holds set by hand, and the days
// that laws ask, those of the countries it goes to among them.
func (s *session) held(st store.WheelState, to []string) (reason.List, verdict.Case, error) {
	when, _, err := s.moment()
	if err != nil {
		return nil, verdict.Case{}, err
	}
	c, err := s.caseAt(st, when)
	if err != nil {
		return nil, c, err
	}
	if len(to) > 0 {
		if c.Law, err = s.tx.MakeLaw(c.Life.Make, to...); err != nil {
			return nil, c, err
		}
	}
	var why reason.List
	for _, h := range c.Life.Holds {
		why = append(why, wheel.HeldSince{Words: h.Why, Since: h.On})
	}
	for _, h := range c.LawHolds(when) {
		why = append(why, h.Reason())
	}
	return why, c, nil
}

// duties is what the laws ask of the labels of wheels that leave, and which of
// them nothing is on file of, each said once.
func duties(cs []verdict.Case) []string {
	var out []string
	add := func(w string) {
		if !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	for _, c := range cs {
		for _, r := range c.Labels() {
			add(words.Printer{}.Label(r))
		}
		milk := c.Life.Make.Milk.Treatment
		if silent := c.Laws().Silent(milk); len(silent) > 0 && milk != wheel.Pasteurised {
			of := strings.TrimSpace(string(milk) + " milk")
			if milk == "" {
				of = "milk nobody said the treatment of"
			}
			add(fmt.Sprintf("no rule on file for %s in %s of %s; check your own law", c.Variety.Name, strings.Join(silent, ", "), of))
		}
	}
	return out
}

type wheelRow struct {
	Tag     string   `json:"wheel"`
	Lot     string   `json:"lot"`
	Variety string   `json:"variety"`
	Age     int      `json:"age_days"`
	Stage   string   `json:"stage"`
	Place   string   `json:"place"`
	Plan    string   `json:"plan"`
	Weight  *float64 `json:"weight_g"`
	Loss    *float64 `json:"loss_pct"`
	Held    bool     `json:"held"`
	Law     bool     `json:"held_by_law"`
	Gone    *string  `json:"gone_on"`
}

func (s *session) rowOf(st store.WheelState) (wheelRow, wheel.Life, error) {
	l, err := s.tx.Life(st.Wheel)
	if err != nil {
		return wheelRow{}, l, err
	}
	v, err := s.tx.Variety(l.Make.Variety)
	if err != nil {
		return wheelRow{}, l, err
	}
	drying := v.DryingDays
	if waits, err := s.waits(st); err != nil {
		return wheelRow{}, l, err
	} else if waits {
		drying = 0 // it dries until it is coated
	}
	r := wheelRow{
		Tag: l.Tag, Lot: l.Make.Lot, Variety: v.Name, Age: l.Age(s.today), Stage: string(l.StageOn(s.today, drying, v.ReadyDays, s.loc)),
		Place: string(l.Place), Plan: l.Plan, Weight: grams(l.WeightNow()), Held: len(l.Holds) > 0, Gone: dateOrNull(l.GoneOn),
	}
	if p, ok := l.Chain.Last(); ok {
		x := rounded(p.Loss().Percent(), 10)
		r.Loss = &x
	}
	r.Law, err = s.S.HeldByLaw(l)
	return r, l, err
}

func (a *app) wheelListCmd() *cobra.Command {
	var stage string
	var gone bool
	c := a.nowCmd("list [WHAT...]", "The wheels, with age, stage, place and loss", `
rindkeep wheel list
rindkeep wheel list cellar/B --stage coated
rindkeep wheel list 261120A --gone`, cobra.ArbitraryArgs, func(cmd *cobra.Command, args []string) error {
		var only wheel.Stage
		if stage != "" {
			st, err := wheel.ParseStage(stage)
			if err != nil {
				return at("--stage", usageError{Msg: err.Error()})
			}
			only = st
		}
		return a.look(func(s *session) error {
			ws, err := s.listed(args, gone)
			if err != nil {
				return err
			}
			doc := struct {
				Schema string     `json:"schema"`
				Wheels []wheelRow `json:"wheels"`
			}{schema("wheel-list"), []wheelRow{}}
			t := text.Table{Columns: []text.Column{{Title: "wheel"}, {Title: "variety", Wrap: true}, {Title: "age", Right: true}, {Title: "stage"}, {Title: "place", Wrap: true}, {Title: "weight", Right: true}, {Title: "loss", Right: true}, {}}}
			for i, w := range ws {
				if i%256 == 0 && s.ctx.Err() != nil {
					return s.ctx.Err()
				}
				r, l, err := s.rowOf(w)
				if err != nil {
					return err
				}
				if only != "" && r.Stage != string(only) {
					continue
				}
				doc.Wheels = append(doc.Wheels, r)
				weight, loss, mark := "-", "-", ""
				if r.Weight != nil {
					weight = s.units.Weight(l.WeightNow())
				}
				if r.Loss != nil {
					loss = fmt.Sprintf("%.1f %%", *r.Loss)
				}
				if r.Held {
					mark = "HELD"
				}
				if l.GoneOn != day.None {
					mark = s.printer().Why(l.GoneWhy)
				}
				t.Add(r.Tag, r.Variety, fmt.Sprintf("%d d", r.Age), r.Stage, r.Place, weight, loss, mark)
			}
			if s.json {
				return s.document(doc)
			}
			if len(t.Rows) == 0 {
				s.print("no wheels\n")
				return nil
			}
			s.lines(t.Lines(s.env.Columns()))
			return nil
		})
	})
	c.Flags().StringVar(&stage, "stage", "", "only `STAGE`: pressing, drying, coated, ripening, ready, gone")
	c.Flags().BoolVar(&gone, "gone", false, "those that are gone too")
	return a.completesArgs(c, func(s *session, _ int, word string) []string { return whatWords(s, word) })
}

// listed is pick, all by default, with the wheels that are gone where asked.
func (s *session) listed(args []string, gone bool) ([]store.WheelState, error) {
	if len(args) == 0 {
		args = []string{"all"}
	}
	ws, err := s.pick(args)
	if err != nil || !gone {
		return ws, err
	}
	here := map[[16]byte]bool{}
	lots := map[[16]byte]bool{}
	for _, w := range ws {
		here[w.Wheel] = true
		lots[w.Make] = true
	}
	everything := len(args) == 1 && strings.EqualFold(args[0], "all")
	for _, word := range args {
		if m, err := s.tx.MakeByLot(word); err == nil {
			lots[m.ID] = true
		}
	}
	for w, err := range s.tx.States() {
		if err != nil {
			return nil, err
		}
		if !w.Here() && !here[w.Wheel] && (everything || lots[w.Make]) {
			ws = append(ws, w)
		}
	}
	sortTagged(ws)
	return ws, nil
}
