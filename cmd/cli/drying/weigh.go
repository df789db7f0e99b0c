package drying

import (
	"errors"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/store/register"
)

// WeighCmd is weigh.
func WeighCmd(c *console.Console) *cobra.Command {
	var q drying.Weights
	var f console.TableFlags
	var from string
	cmd := c.Cmd("weigh TAG WEIGHT [TAG WEIGHT...] | --from FILE", "Record weights, and what they mean", `
rindkeep weigh 261120A-03 1942
rindkeep weigh 261120A-03 1.942kg 261120A-04 1.905kg --at 07:40
rindkeep weigh --from weights.csv               columns tag, weight, date: all or nothing
rindkeep weigh --from - < weights.csv
rindkeep weigh --from scale.csv --map="tag=Cheese no, weight=Net" --dry-run
rindkeep weigh --from scale.csv --mapping "platform scale"   as its log was read before
rindkeep weigh --from weights.csv --sure=12,15   these lines look wrong and are right`,
		func(_ *cobra.Command, args []string) error { return weighArgs(unitsJoined(args), from, f) },
		func(_ *cobra.Command, args []string) error {
			q.Brief = !c.JSON
			if from != "" {
				return weighTable(c, q, from, &f)
			}
			if len(q.SureOf) > 0 {
				return console.Usagef("--sure=%s goes with --from; for weights given here it's --sure", (*sure)(&q))
			}
			args = unitsJoined(args)
			for i := 0; i+1 < len(args); i += 2 {
				g, err := c.ReaderUnits().ParseWeight(args[i+1])
				if err != nil {
					return console.At("WEIGHT", console.Misread(err))
				}
				q.Rows = append(q.Rows, intake.Weight{Tag: args[i], Weight: g})
			}
			d, err := drying.Weigh(c.Ctx, c.App, c.Caller(), q)
			return weighed(c, d, err, len(q.Rows) > 1)
		})
	cmd.Long = `Record weights, and what they mean.

Each row of a table needs its date, or --on gives it for those without one. Run
twice, a table changes nothing the second time.

A table of up to 1000 rows is recorded whole or not at all. A longer one is checked
first, up to a million rows at a time, and then recorded lot by lot, so that others
can use the book in between. If it's interrupted, what was recorded stays; run the
same command again to finish: rows that are there already change nothing. strike last
can't cancel over 100000 rows: make a backup first.`
	fl := cmd.Flags()
	fl.StringVar(&from, "from", "", "CSV or XLSX `FILE` of weights; - for standard input")
	f.MapFlag(fl, "with --from: ")
	f.UnitFlag(fl, "with --from: ")
	f.Add(fl, "with --from: ")
	fl.Var((*sure)(&q), "sure", "record it although it looks wrong; =`LINES`: only these lines of the table")
	fl.Lookup("sure").NoOptDefVal = "all"
	fl.StringVar(&q.Note, "note", "", "`TEXT` to save with it")
	return c.CompletesArgs(cmd, func(s *app.Session, nth int, word string) []string {
		if nth%2 == 1 {
			return nil
		}
		return console.WhatWords(s, word)[1:]
	})
}

// weighArgs refuses a command line that isn't pairs of tag and weight, or a file.
func weighArgs(args []string, from string, f console.TableFlags) error {
	switch {
	case from != "" && len(args) > 0:
		return console.Usagef("give weights on the command line or with --from, not both")
	case from == "" && f.Sheet != "":
		return console.Usagef("--sheet goes with --from and an XLSX workbook")
	case from == "" && (f.Map+f.Mapping+f.Unit != "" || f.Try):
		return console.Usagef("--map, --mapping, --unit and --dry-run go with --from")
	case from == "" && len(args) < 2:
		return console.Usagef("weigh needs a tag and a weight, like: rindkeep weigh 261120A-03 1942")
	case from == "" && len(args)%2 == 1:
		last := console.SafeWord(args[len(args)-1])
		return console.Usagef("weigh takes pairs of tag and weight, and %q has no weight", last)
	}
	return nil
}

// unitsJoined joins a weight and its unit that were written apart: 1.01 kg.
func unitsJoined(args []string) []string {
	var out []string
	for _, w := range args {
		if n := len(out); n > 1 && n%2 == 0 && slices.Contains([]string{"g", "kg", "lb", "oz"}, strings.ToLower(w)) {
			if strings.Trim(out[n-1], "0123456789.,") == "" {
				out[n-1] += w
				continue
			}
		}
		out = append(out, w)
	}
	return out
}

// sure is weights with the flag that says which of them are right although they look wrong.
type sure drying.Weights

// Set implements pflag.Value.
func (s *sure) Set(v string) error {
	if s.Sure = v == "all" || v == "true"; s.Sure || v == "false" {
		return nil
	}
	for _, w := range strings.Split(v, ",") {
		n, err := strconv.Atoi(strings.TrimSpace(w))
		if err != nil || n < 1 {
			return fmt.Errorf("want lines of the table, like --sure=12,15")
		}
		s.SureOf = append(s.SureOf, n)
	}
	return nil
}

// String implements pflag.Value.
func (s *sure) String() string {
	w := app.Each(slices.Compact(slices.Sorted(slices.Values(s.SureOf))), func(n int) string { return strconv.Itoa(n) })
	return strings.Join(w, ",")
}

// Type implements pflag.Value.
func (*sure) Type() string { return "lines" }

// doubted are the lines of a table that only look wrong; none where others are wrong.
func doubted(err error) (lines []int) {
	var bad intake.Problems
	errors.As(err, &bad)
	for _, p := range bad {
		if r, ok := p.Why.(*app.Refusal); !ok || !r.Sure {
			return nil
		}
		lines = append(lines, p.Line)
	}
	return lines
}

// weighTable records a table of weights.
func weighTable(c *console.Console, q drying.Weights, file string, f *console.TableFlags) error {
	given, err := f.Given(register.OfWeights)
	if err != nil {
		return err
	}
	var wrong error
	take := func(m register.Mapping, try bool) (func() error, error) {
		in, err := c.OpenTable(file, file, f.Sheet)
		if err != nil {
			return nil, err
		}
		defer in.Close()
		rows, err := intake.OpenWeights(in, intake.How{Columns: m.Columns, Unit: m.Unit})
		if err != nil {
			return nil, app.About(file, intake.In(file, err))
		}
		p := console.Pace{C: c, Of: "weights", Note: words.InParts}
		t := drying.Table{Name: file, Rows: rows, Tell: p.Tell}
		if st, err := os.Stat(file); err == nil && file != "-" && st.Mode().IsRegular() {
			t.Size = st.Size()
		}
		q.Try = try
		d, err := drying.WeighTable(c.Ctx, c.App, c.Caller(), q, t)
		p.End()
		var u drying.Unfinished
		if errors.As(err, &u) && u.Loaded.Recorded > 0 {
			c.Committed = true
			c.Note("%s of %s were recorded before that, wheel by wheel; run the same command again to go on",
				text.Count(u.Loaded.Recorded, "weight"), text.Count(u.Loaded.Wheels, "wheel"))
		}
		wrong = err
		return func() error { return weighed(c, d, err, true) }, err
	}
	err = c.Tabled(given, console.Table{File: file, Flags: f, Take: take})
	if lines := doubted(wrong); err != nil && len(lines) > 0 {
		all := &sure{SureOf: append(lines, q.SureOf...)}
		return console.Hint(err, "--sure=%s records these as they are; leave out the lines that are wrong", all)
	}
	return err
}

// weighed prints what weights came to; total sums them up.
func weighed(c *console.Console, d app.Did[drying.Weighed], err error, total bool) error {
	r, done := d.Result, false
	if err != nil || !r.Try {
		r, done, err = console.Saved(c, d, err)
	}
	switch {
	case done || err != nil:
		return err
	case c.JSON && r.Load != nil:
		return c.Document(r.Load)
	case c.JSON:
		c.Words.FillWeighed(&r)
		return c.Document(r)
	}
	for _, of := range r.ByWheel {
		for _, i := range of {
			head, more := c.Words.Outcome(r.Results[i])
			c.Print("%s\n", head)
			for _, s := range more {
				c.Indented(s)
			}
		}
	}
	if total {
		c.Print("%s\n", c.Words.WeighedTotal(r))
	}
	c.Cautions(r.Cautions)
	switch {
	case r.Try:
		c.Note("nothing was recorded")
	case r.Recorded == 0:
	case r.Load != nil:
		c.Next("wrong? strike last can't cancel a load: %s", words.UndoLoad)
	default:
		c.Next("wrong? rindkeep strike last --why TEXT")
	}
	return nil
}
