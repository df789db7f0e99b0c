// Package drying has the commands for weights, coats and hand checks, and those that
// say how wheels dry.
package drying

import (
	"cmp"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/wheel/verdict"
)

// DryCmd is dry.
func DryCmd(c *console.Console) *cobra.Command {
	var plans []string
	var q drying.Which
	cmd := c.Cmd("dry [WHAT...]", "Dry enough to wax? The verdict, with figures and reasons", `
rindkeep dry                     every wheel that waits for its coat
rindkeep dry --room drying       those of one room
rindkeep dry 261120A-03          one wheel, rule by rule
rindkeep dry 261120A --on 2026-11-28
rindkeep dry 261120A-03 --if rh=88,temp=10      what other air would do
rindkeep dry 261120A-03 --if coat=wax --if coat=cloth,+7d,rh=88 --if coat=bare`, cobra.ArbitraryArgs,
		func(_ *cobra.Command, args []string) error {
			if len(plans) > 0 {
				if q.Narrow != (app.Narrow{}) {
					return console.Usagef("--if compares the wheels that are named: it goes with no flag that narrows a list")
				}
				return whatIf(c, args, plans)
			}
			q.What = args
			v, err := drying.DryEnough(c.Ctx, c.App, c.Caller(), q)
			if err != nil {
				return err
			}
			if c.JSON {
				c.Words.FillVerdicts(&v)
				return c.Document(v)
			}
			if len(v.List) == 1 {
				dryCard(c, v)
			} else {
				DryTable(c, v.List)
			}
			c.Rest(v.More, "wheel")
			return nil
		})
	cmd.Flags().StringArrayVar(&plans, "if", nil, "compare with another `PLAN`: rh=88,temp=10,air=still, "+
		"coat=wax or bare, from a date: coat=cloth,2026-12-01; give it again, or a / between, for several")
	c.NarrowFlags(cmd, &q.Narrow)
	c.MostFlag(cmd, &q.Most)
	return c.CompletesArgs(cmd, func(s *app.Session, _ int, word string) []string { return console.WhatWords(s, word) })
}

// DryTable lists several wheels, those first that have to be seen to first.
func DryTable(c *console.Console, list []app.Judged) {
	if len(list) == 0 {
		c.Print("no wheel waits for its coat\n")
		c.Next("name wheels to see their figures anyway: rindkeep dry WHAT")
		return
	}
	list = drying.ByUrgency(list)
	t := text.Table{Columns: []text.Column{
		{Title: "wheels", Wrap: true},
		{Title: "dry enough?"},
		{Title: "loss", Right: true},
		{Title: "a day", Right: true},
		{Title: "what next", Wrap: true},
	}}
	rows, tags := c.Words.DryRows(list)
	for i, r := range rows {
		t.Add(text.Tags(tags[i]), r.Answer, r.Loss, r.Rate, r.Next)
	}
	bold := c.Style("1")
	t.Style = func(row, col int, cell string) string {
		if row < 0 || col > 1 || !rows[row].Ready { // row -1: the heading
			return cell
		}
		return bold(cell)
	}
	c.Table(t)
	c.Next("\none wheel, rule by rule: rindkeep dry %s", list[0].Life.Tag)
}

// dryCard prints one wheel's verdict, rule by rule.
func dryCard(c *console.Console, all drying.Verdicts) {
	j, p, bold := all.List[0], c.Words, c.Style("1")
	v := j.Dry
	place := ""
	if j.Life.Place != "" {
		place = ", at " + string(j.Life.Place)
	}
	c.Print("%s  %s, %d days old%s\n", bold(j.Life.Tag), j.Variety.Title, j.Life.Age(all.On), place)
	c.Print("\n%s\n", bold("Dry enough to coat?  "+words.DryAnswer(j)))
	c.Indented(p.Why(v.Advice))
	if v.On != nil && j.Gated && !v.Overdue {
		c.Indented("expected " + p.Expected(*v.On) + ", 9 times in 10 between the dates in brackets")
	}
	c.Print("\n")
	t := text.Table{Indent: 2, Columns: []text.Column{{}, {}, {Wrap: true}, {Wrap: true}}}
	for _, r := range v.Rules {
		mark := "[ ]"
		if r.Met {
			mark = "[x]"
		}
		t.Add(mark, words.Rule(r.Code), p.Why(r.Have), "needs "+p.Why(r.Need))
	}
	c.Table(t)
	c.Print("\n")
	for _, figure := range p.DryFigures(j) {
		for i, l := range text.Wrap(figure, c.Env.Columns()-4) {
			c.Print("%s%s\n", []string{"  ", "    "}[min(i, 1)], l)
		}
	}
	if v.Answer == verdict.DryEnough || v.Answer == verdict.CheckByHand {
		c.Next("\ncoated it? rindkeep coat %s %s --before WEIGHT --after WEIGHT", j.Life.Tag, cmp.Or(j.Coat, "wax"))
	}
	c.Cautions(all.Cautions)
}
