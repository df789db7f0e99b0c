package cli

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	uc "rindkeep/cmd/app"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/store"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
	"rindkeep/wheel/verdict"
)

func (a *app) weighCmd() *cobra.Command {
	var from, sheet, note string
	var sure bool
	c := a.cmd("weigh TAG WEIGHT [TAG WEIGHT...] | --from FILE", "Record weights, and what they mean", `
rindkeep weigh 261120A-03 1942
rindkeep weigh 261120A-03 1.942kg 261120A-04 1.905kg --at 07:40
rindkeep weigh --from weights.csv               columns tag, weight, date: all or nothing
rindkeep weigh --from - < weights.csv`, func(cmd *cobra.Command, args []string) error {
		args = unitsJoined(args)
		switch {
		case from != "" && len(args) > 0:
			return usagef("give weights on the command line or with --from, not both")
		case from == "" && sheet != "":
			return usagef("--sheet goes with --from and an XLSX workbook")
		case from == "" && len(args) < 2:
			return usagef("weigh needs a tag and a weight, like: rindkeep weigh 261120A-03 1942")
		case from == "" && len(args)%2 == 1:
			return usagef("weigh takes pairs of tag and weight, and %q has no weight", safeWord(args[len(args)-1]))
		}
		return nil
	}, func(cmd *cobra.Command, args []string) error {
		args = unitsJoined(args)
		var rows []intake.Weight
		if from != "" {
			in, err := a.openTable(from, from, sheet)
			if err != nil {
				return err
			}
			defer in.Close()
			return a.weighTable(in, from, note, sure)
		}
		for i := 0; i+1 < len(args); i += 2 {
			g, err := quantity.ParseWeight(args[i+1])
			if err != nil {
				return at("WEIGHT", usageError{Msg: err.Error()})
			}
			rows = append(rows, intake.Weight{Tag: args[i], Weight: g})
		}
		return a.update(func(s *session) error { return s.weigh(rows, nil, "", note, sure) })
	})
	c.Long = `Record weights, and what they mean.

A table of up to 100000 rows is recorded whole or not at all. A longer one needs
a date in each row. It's checked first, a million rows at a time, then recorded
wheel by wheel, and others can use the book meanwhile. If it's interrupted, what
was recorded stays; run the same command again to finish: rows that are there
already change nothing. strike last can't cancel such a load: make a backup
first.`
	f := c.Flags()
	f.StringVar(&from, "from", "", "CSV or XLSX `FILE` of weights; - for standard input")
	f.StringVar(&sheet, "sheet", "", "with --from: the workbook's sheet of this `NAME` (default: its first)")
	f.BoolVar(&sure, "sure", false, "record it although it looks wrong")
	f.StringVar(&note, "note", "", "a `TEXT` to keep with it")
	return a.completesArgs(c, func(s *session, nth int, word string) []string {
		if nth%2 == 1 {
			return nil
		}
		return whatWords(s, word)[1:]
	})
}

// unitsJoined joins a weight and its unit that were written apart: 1.01 kg.
func unitsJoined(args []string) []string {
	var out []string
	for _, w := range args {
		if n := len(out); n > 1 && n%2 == 0 && slices.Contains([]string{"g", "kg", "lb", "oz"}, strings.ToLower(w)) {
			if _, err := strconv.ParseFloat(out[n-1], 64); err == nil {
				out[n-1] += w
				continue
			}
		}
		out = append(out, w)
	}
	return out
}

// weighed is the outcome of one row.
type weighed struct {
	tag   string
	entry wheel.Entry
	row   intake.Weight
	timed bool // a time of day was given, not only a date
	same  bool // it was in the book already
}

// batchOf is everything weighed of one wheel in one command.
type batchOf struct {
	id   uuid.UUID
	lot  uuid.UUID
	rows []int
}

func (s *session) weigh(rows []intake.Weight, bad []intake.Problem, file, note string, sure bool) error {
	when, exact, err := s.moment()
	if err != nil {
		return err
	}
	out := make([]weighed, 0, len(rows))
	byWheel := map[uuid.UUID]*batchOf{}
	var order []*batchOf
	fail := func(r intake.Weight, field string, err error) error {
		if file == "" {
			return err
		}
		bad = append(bad, r.Problem(field, s.nearly(err)))
		return nil
	}
	for _, r := range rows {
		w, err := s.tx.WheelByTag(r.Tag)
		if err != nil {
			if !isNotFound(err) {
				return err
			}
			err = s.noTag(r.Tag, err)
			if file != "" {
				err = errors.New(s.nearly(err))
			}
			if err := fail(r, "tag", at(r.Tag, err)); err != nil {
				return err
			}
			continue
		}
		t, timed := when, exact
		if r.When != "" {
			if t, timed, err = s.momentOf(r.When, "date"); err != nil {
				if err := fail(r, "date", err); err != nil {
					return err
				}
				continue
			}
		}
		e := s.entry(wheel.Entry{Subject: w.ID, Kind: wheel.Weighed, At: t, Weight: r.Weight, Note: note, Sure: sure})
		if r.Note != "" {
			e.Note = r.Note
		}
		if r.ID != "" {
			if e.ID, err = uuid.Parse(r.ID); err != nil {
				if err := fail(r, "id", fmt.Errorf("%q is no UUID", safeWord(r.ID))); err != nil {
					return err
				}
				continue
			}
		}
		i := len(out)
		out = append(out, weighed{tag: r.Tag, entry: e, row: r, timed: timed})
		b := byWheel[w.ID]
		if b == nil {
			b = &batchOf{id: w.ID, lot: w.Make}
			byWheel[w.ID] = b
			order = append(order, b)
		}
		b.rows = append(b.rows, i)
	}
	// Lot by lot, so that a lot is read once.
	slices.SortStableFunc(order, func(a, b *batchOf) int { return bytes.Compare(a.lot[:], b.lot[:]) })
	cases := make(map[uuid.UUID]fitted, len(order))
	for i, b := range order {
		if i%256 == 0 && s.ctx.Err() != nil {
			return s.ctx.Err()
		}
		k, problems, err := s.weighOne(b, out, file, sure, len(order) > few)
		if err != nil {
			return err
		}
		bad = append(bad, problems...)
		if len(bad) >= enoughBad {
			break
		}
		if len(order) <= few {
			cases[b.id] = k
		}
	}
	var entries []wheel.Entry
	var from []intake.Weight
	for _, w := range out {
		if !w.same {
			entries, from = append(entries, w.entry), append(from, w.row)
		}
	}
	if _, err := s.write.Put(entries...); err != nil {
		if file == "" {
			return err
		}
		told := map[int]bool{}
		for _, p := range bad {
			told[p.Line] = true
		}
		before := len(bad)
		for _, r := range store.RefusalsOf(err) {
			if r.Index >= 0 && !told[from[r.Index].Line] {
				_ = fail(from[r.Index], "date", r)
			}
		}
		if len(bad) == before && before == 0 {
			return err
		}
	}
	if len(bad) > 0 {
		slices.SortStableFunc(bad, func(a, b intake.Problem) int { return cmp.Or(a.Line-b.Line, a.Column-b.Column) })
		return s.problems(file, bad)
	}
	if err := s.withSisters(order, cases); err != nil {
		return err
	}
	return s.weighOut(out, order, cases, file)
}

// withSisters looks at the wheels again whose sisters were weighed with them,
// now that all is recorded: the answer to one does not hang on the order in
// which they were told.
func (s *session) withSisters(order []*batchOf, cases map[uuid.UUID]fitted) error {
	of := map[uuid.UUID]int{}
	for _, b := range order {
		of[b.lot]++
	}
	for i, b := range order {
		if _, asked := cases[b.id]; !asked || of[b.lot] < 2 {
			continue
		}
		if i%64 == 0 && s.ctx.Err() != nil {
			return s.ctx.Err()
		}
		st, err := s.tx.State(b.id)
		if err != nil {
			return err
		}
		c, gated, err := s.gatedCase(st, s.now)
		if err != nil {
			return err
		}
		cases[b.id] = fitted{Case: c, f: c.Forecast(), gated: gated}
	}
	return nil
}

// enoughBad is how many bad rows are looked for before a file is given up.
const enoughBad = 1000

// few is how many wheels get their figures printed one by one, and their
// weights judged with all that their sisters tell.
const few = 200

// fitted is a case with its forecast.
type fitted struct {
	verdict.Case
	f     drying.Forecast
	gated bool
}

// weighOne looks one wheel's new weights over: repeats are marked, doubtful
// ones refused unless the writer is sure.
func (s *session) weighOne(b *batchOf, out []weighed, file string, sure, quick bool) (fitted, []intake.Problem, error) {
	st, err := s.tx.State(b.id)
	if err != nil {
		return fitted{}, nil, err
	}
	var c verdict.Case
	gated := false
	if quick {
		c, err = s.tx.CaseAlone(b.id)
	} else {
		c, gated, err = s.gatedCase(st, s.now)
	}
	if err != nil {
		return fitted{}, nil, err
	}
	fresh := map[uuid.UUID]int{}
	var added []wheel.Entry
	for _, i := range b.rows {
		w := &out[i]
		for _, e := range c.Life.Entries {
			if e.Kind == wheel.Weighed && e.Weight == w.entry.Weight && (e.At.Equal(w.entry.At) || !w.timed && day.At(e.At, s.loc) == day.At(w.entry.At, s.loc)) {
				w.same, w.entry = true, e
			}
		}
		for _, e := range added {
			w.same = w.same || e.At.Equal(w.entry.At) && e.Weight == w.entry.Weight
		}
		if !w.same {
			fresh[w.entry.ID] = i
			added = append(added, w.entry)
		}
	}
	k := fitted{Case: c, gated: gated}
	switch {
	case len(added) == 0:
	case quick:
		k.Case = c.WithQuick(added...)
	default:
		k.Case = c.With(added...)
	}
	isFresh := func(id uuid.UUID) bool { _, ok := fresh[id]; return ok }
	if quick {
		if sure || k.Plausible(isFresh) {
			return k, nil, nil
		}
		k.Case = verdict.New(k.Case)
		k.f = k.Forecast()
	} else {
		k.f = k.Forecast()
	}
	if sure {
		return k, nil, nil
	}
	var problems []intake.Problem
	doubts := k.Doubts(k.f, isFresh)
	for _, e := range added {
		d, ok := doubts[e.ID]
		if !ok {
			continue
		}
		doubtful := uc.Doubtful(c, e, d)
		if file == "" {
			return k, nil, doubtful.Of(st.Tag)
		}
		row := out[fresh[e.ID]].row
		problems = append(problems, row.Problem("weight", s.nearly(doubtful)))
	}
	return k, problems, nil
}

// caseAt is a wheel's case as it stood at an instant.
func (s *session) caseAt(st store.WheelState, until time.Time) (verdict.Case, error) {
	if until.Before(s.now) {
		return s.tx.CaseBefore(st.Wheel, until.Add(time.Millisecond))
	}
	return s.tx.Case(st.Wheel)
}

// gatedCase is a wheel's case as it stood at an instant, and whether its plan
// has a gate a coat waits at.
func (s *session) gatedCase(st store.WheelState, until time.Time) (verdict.Case, bool, error) {
	c, err := s.caseAt(st, until)
	if err != nil {
		return c, false, err
	}
	p, err := s.tx.Plan(c.Life.Plan)
	if err != nil {
		return c, false, err
	}
	for _, step := range p.Steps {
		if step.Gated() {
			return c, true, nil
		}
	}
	return c, false, nil
}

type weighDoc struct {
	Schema  string         `json:"schema"`
	Results []weighOutcome `json:"results"`
}

type weighOutcome struct {
	Wheel    string   `json:"wheel"`
	At       string   `json:"at"`
	Gross    *float64 `json:"gross_g"`
	Net      *float64 `json:"net_g"`
	Loss     *float64 `json:"loss_pct"`
	Moisture est      `json:"moisture_pct"`
	Rate     est      `json:"rate_pct_per_day"`
	Expected est      `json:"expected_loss_pct"`
	Standing string   `json:"standing"`
	Entry    string   `json:"entry"`
	NoChange bool     `json:"no_change"`

	// Dry goes with the last weight of a wheel whose plan has it coated when
	// dry; null otherwise, and in a file of many wheels.
	Dry *answerDoc `json:"dry"`
}

// answerDoc is the answer to "dry enough to coat?" in short.
type answerDoc struct {
	Verdict    string       `json:"verdict"`
	ExpectedOn *uc.Expected `json:"expected_on"`
	Advice     string       `json:"advice"`
	Reasons    reason.List  `json:"reasons"`
}

func (s *session) weighOut(out []weighed, order []*batchOf, cases map[uuid.UUID]fitted, file string) error {
	written, same := 0, 0
	for _, w := range out {
		if w.same {
			same++
		} else {
			written++
		}
	}
	doc := weighDoc{Schema: schema("weigh"), Results: make([]weighOutcome, len(out))}
	if len(order) <= few {
		for _, b := range order {
			if s.json {
				for _, i := range b.rows {
					doc.Results[i] = outcome(cases[b.id], out[i], s.loc)
				}
				last := b.rows[len(b.rows)-1]
				if v, ok := dryAfter(cases[b.id], out[last].entry); ok {
					doc.Results[last].Dry = &answerDoc{string(v.Answer), uc.ExpectedOf(v.On), s.printer().Why(v.Advice), v.Advice}
				}
			} else {
				s.weighText(cases[b.id], b, out)
			}
		}
	} else if s.json {
		if err := s.weighMany(&doc, order, out); err != nil {
			return err
		}
	}
	if s.json {
		return s.document(doc)
	}
	if file != "" || len(out) > 1 {
		s.print("recorded %s of %s", text.Count(written, "weight"), text.Count(len(order), "wheel"))
		if same > 0 {
			s.print("; %s in the book already", text.Count(same, "weight"))
		}
		s.print("\n")
	}
	if written > 0 {
		s.next("wrong? rindkeep strike last --why TEXT")
	}
	return nil
}

// weighMany fits thousands of wheels together, which share what they can.
func (s *session) weighMany(doc *weighDoc, order []*batchOf, out []weighed) error {
	const together = 4096
	for len(order) > 0 {
		if err := s.ctx.Err(); err != nil {
			return err
		}
		part := order[:min(together, len(order))]
		order = order[len(part):]
		cases := make([]verdict.Case, len(part))
		for i, b := range part {
			c, err := s.tx.Case(b.id)
			if err != nil {
				return err
			}
			cases[i] = c.Alone()
		}
		for i, f := range verdict.Forecasts(cases) {
			for _, r := range part[i].rows {
				doc.Results[r] = outcome(fitted{Case: cases[i], f: f}, out[r], s.loc)
			}
		}
	}
	return nil
}

func outcome(k fitted, w weighed, loc *time.Location) weighOutcome {
	o := weighOutcome{
		Wheel: k.Life.Tag, At: instant(w.entry.At, loc), Gross: num(float64(w.entry.Weight)), Entry: w.entry.ID.String(), NoChange: w.same,
		Moisture: estOf(quantity.Unknown()), Rate: estOf(quantity.Unknown()), Expected: estOf(quantity.Unknown()), Standing: string(drying.OnCurve),
	}
	standings := k.f.Standings()
	for i, p := range k.Life.Chain.Points {
		if p.Entry != w.entry.ID && !(p.At.Equal(w.entry.At) && p.Gross == w.entry.Weight) {
			continue
		}
		o.Net = num(float64(p.Net))
		o.Loss = num(p.Loss().Percent())
		if i == 0 {
			zero := 0.0
			o.Loss = &zero
		}
		o.Moisture = pctEst(k.Life.Make.Start.After(p.Loss()).Moisture)
		o.Rate = pctEst(k.f.RatePerDay(p.Day))
		o.Expected = pctEst(k.f.Expected(p.Day))
		o.Standing = string(standings[i].Verdict)
		break
	}
	return o
}

func (s *session) weighText(k fitted, b *batchOf, out []weighed) {
	for _, i := range b.rows {
		w := out[i]
		o := outcome(k, w, s.loc)
		if w.same {
			s.print("%s  %s: no change, already weighed so at that time\n", k.Life.Tag, s.units.Weight(w.entry.Weight))
			continue
		}
		s.print("%s  %s", k.Life.Tag, s.units.Weight(w.entry.Weight))
		if o.Loss != nil && *o.Loss == 0 && k.Life.Chain.Weighings() == 1 {
			s.print("  green weight: drying begins %s\n", day.At(w.entry.At, s.loc).Short())
			continue
		}
		if o.Loss != nil {
			s.print("  loss %.1f %%", *o.Loss)
		}
		if o.Expected.Low != nil {
			s.print(" (expected %.1f to %.1f)", *o.Expected.Low, *o.Expected.High)
		}
		s.print("\n")
		s.indented(words.Standing(drying.Verdict(o.Standing)))
	}
	last := out[b.rows[len(b.rows)-1]].entry
	if p, ok := k.Life.Chain.Last(); !ok || p.At.After(last.At) || k.Life.Chain.Weighings() < 2 {
		return
	}
	o := outcome(k, out[b.rows[len(b.rows)-1]], s.loc)
	if o.Moisture.Best != nil && o.Rate.Best != nil {
		s.print("  moisture about %.1f %% (%.1f to %.1f), losing %.2f %% a day\n", *o.Moisture.Best, *o.Moisture.Low, *o.Moisture.High, *o.Rate.Best)
	}
	if v, ok := dryAfter(k, last); ok {
		s.indented("dry enough to coat? " + s.printer().AnswerLine(v))
	}
	if why, leaks := k.f.Leaking(); leaks {
		s.indented("LEAK: " + s.printer().Sentence(why))
	}
}

// dryAfter says whether a wheel is dry enough after its last weight; ok is false
// where nobody asks: no gate, a coat on it, a first weight, an older one.
func dryAfter(k fitted, last wheel.Entry) (v verdict.Dry, ok bool) {
	if p, is := k.Life.Chain.Last(); !is || p.At.After(last.At) || k.Life.Chain.Weighings() < 2 || !k.gated || len(k.Life.Coats) > 0 {
		return v, false
	}
	return k.DryBy(k.f, last.At), true
}
