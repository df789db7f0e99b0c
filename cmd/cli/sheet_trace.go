package cli

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/cmd/sheet"
	"rindkeep/cmd/text"
)

func (a *app) sheetTraceCmd() *cobra.Command {
	return a.tracedSheetCmd("trace", "What went in and who had what, one step each way", `
rindkeep sheet trace 261120A
rindkeep sheet trace --ingredient 4417 --paper letter
rindkeep sheet trace --room cellar --from 2026-11-01 --to 2026-11-20`, (*session).sheetTrace)
}

func (a *app) sheetRecallCmd() *cobra.Command {
	return a.tracedSheetCmd("recall", "A recall on paper: whom to reach, what they had, a box for each", `
rindkeep sheet recall 261120A
rindkeep sheet recall 261120A-03 --large
rindkeep sheet recall --ingredient 4417              all that a milk or culture lot went into`, (*session).sheetRecall)
}

// tracedSheetCmd is a sheet of what trace gathers.
func (a *app) tracedSheetCmd(name, short, examples string, lay func(*session, sheet.Head, *traced) (printed, error)) *cobra.Command {
	var f *sheetFlags
	var of traceFlags
	c := a.cmd(name+" [WHAT...]", short, examples, cobra.ArbitraryArgs, func(cmd *cobra.Command, args []string) error {
		if err := of.check(a, args); err != nil {
			return err
		}
		return a.sheet(f, func(s *session, h sheet.Head) (printed, error) {
			t, err := s.trace(args, &of)
			if err != nil {
				return printed{}, err
			}
			return lay(s, h, t)
		})
	})
	f = a.sheetFlags(c)
	of.add(a, c)
	return c
}

// fileOf names the file of a sheet of a trace.
func (t *traced) fileOf(word string) string {
	words := []string{word, t.asked.words[0]}
	if len(t.asked.words) > 1 {
		words = append(words, "and", fmt.Sprint(len(t.asked.words)-1), "more")
	}
	if t.asked.from != t.asked.to || t.asked.kind == "room" {
		words = append(words, t.asked.from.String())
	}
	return fileName(words...)
}

// weightOrNot is a weight, or a dash where nobody weighed.
func (s *session) weightOrNot(g quantity.Grams) string {
	if g <= 0 {
		return "-"
	}
	return s.units.Weight(g)
}

func (s *session) sheetTrace(h sheet.Head, t *traced) (printed, error) {
	d := sheet.Trace{Of: t.asked.String(), What: t.heading()}
	for _, l := range t.lots {
		x := sheet.Lot{Name: l.make.Lot, What: fmt.Sprintf("%s, made %s", l.title, l.make.Date.Long())}
		for _, f := range s.lotFacts(l) {
			x.Facts = append(x.Facts, sheet.Fact{Name: f[0], Value: f[1]})
		}
		d.Lots = append(d.Lots, x)
	}
	for _, x := range t.deliveries {
		d.Deliveries = append(d.Deliveries, sheet.Delivery{Date: x.on.String(), Customer: x.customer, Wheel: x.wheel, Part: x.part(), Weight: s.weightOrNot(x.entry.Weight), Document: x.document})
	}
	for _, c := range t.customers() {
		how := "not written down"
		if c.Known {
			how = clauses(oneLine(c.Contact), oneLine(c.Address))
		}
		d.Reach = append(d.Reach, sheet.Fact{Name: c.Name, Value: how})
	}
	for _, x := range t.here() {
		d.Here = append(d.Here, sheet.Fact{Name: x[0], Value: x[1]})
	}
	for _, w := range t.lost() {
		d.Lost = append(d.Lost, sheet.Gone{Tag: w.life.Tag, Date: w.life.GoneOn.String(), Why: w.life.GoneWhy})
	}
	draw := func() (sheet.Doc, error) { return sheet.TraceSheet(h, d) }
	return printed{draw, t.fileOf("trace"), h.Paper.Name, h.Paper.Name, ""}, nil
}

// heading says of when a trace is and how much it found.
func (t *traced) heading() []string {
	out := []string{"as of " + t.at.In(t.loc).Format("Mon 2 Jan 2006 15:04"), t.sum()}
	if len(t.asked.words) > 1 {
		out = append([]string{t.asked.String()}, out...) // the title may have no room for them
	}
	return out
}

// recallCaution is common practice, no source.
const recallCaution = "CAUTION: food that is called back is your local authority's business too: tell them as your law says. Keep what comes back apart and marked, and keep this sheet."

func (s *session) sheetRecall(h sheet.Head, t *traced) (printed, error) {
	d := sheet.Recall{Of: t.asked.String(), What: t.heading(), Caution: []string{recallCaution}}
	for _, c := range t.customers() {
		d.Reach = append(d.Reach, sheet.Reach{Name: c.Name, Contact: oneLine(c.Contact), Address: oneLine(c.Address), Had: s.had(t, c.Name)})
	}
	for _, x := range t.here() {
		d.Here = append(d.Here, sheet.Fact{Name: x[0], Value: x[1]})
	}
	note := ""
	if n := len(t.customers()); n > 0 && !t.allKnown() {
		note = "some customers are not written down: rindkeep customer new NAME --contact TEXT, then print it again"
	}
	draw := func() (sheet.Doc, error) { return sheet.RecallSheet(h, d) }
	return printed{draw, t.fileOf("recall"), h.Paper.Name, h.Paper.Name, note}, nil
}

func (t *traced) allKnown() bool {
	for _, c := range t.customers() {
		if c.Contact == "" && c.Address == "" {
			return false
		}
	}
	return true
}

// had is what a customer had: the wheels of one lot that went on one day with
// one document in one line, whole ones apart from pieces.
func (s *session) had(t *traced, customer string) []sheet.Had {
	type of struct {
		on                  day.Date
		lot, part, document string
	}
	type sum struct {
		title     string
		tags      []string
		count     int
		weight    quantity.Grams
		unweighed int
	}
	var order []of
	sums := map[of]*sum{}
	for _, x := range t.deliveries {
		if !strings.EqualFold(x.customer, customer) {
			continue
		}
		k := of{x.on, x.lot, x.part(), x.document}
		if sums[k] == nil {
			order = append(order, k)
			sums[k] = &sum{title: x.title}
		}
		m := sums[k]
		m.count++
		if !slices.Contains(m.tags, x.wheel) { // several pieces of one wheel
			m.tags = append(m.tags, x.wheel)
		}
		m.weight += x.entry.Weight
		if x.entry.Weight <= 0 {
			m.unweighed++
		}
	}
	var out []sheet.Had
	for _, k := range order {
		m := sums[k]
		what := "whole: "
		switch {
		case k.part == "piece":
			what = text.Count(m.count, "piece") + ": "
		case len(m.tags) > 1:
			what = fmt.Sprintf("%d whole: ", len(m.tags))
		}
		what += fmt.Sprintf("%s\n%s, lot %s", text.Tags(m.tags), m.title, k.lot)
		weight := s.weightOrNot(m.weight)
		if m.weight > 0 && m.unweighed > 0 {
			weight += fmt.Sprintf(" and %d not weighed", m.unweighed)
		}
		out = append(out, sheet.Had{Date: madeOn(k.on), What: what, Weight: weight, Document: k.document})
	}
	return out
}
