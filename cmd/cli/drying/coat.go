package drying

import (
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	model "rindkeep/wheel/drying"
)

// CoatCmd is coat.
func CoatCmd(c *console.Console) *cobra.Command {
	var q drying.Coating
	cmd := c.Cmd("coat "+console.What+" KIND", "Record a coat: wax, cloth, breathable, foil, oil, film", `
rindkeep coat 261120A-03 wax --before 1905 --after 1948
rindkeep coat 261120A cloth                     a whole lot, weights not taken
rindkeep coat 261120A-03 wax --at "yesterday 16:00"`, console.AtLeast("WHAT", "KIND"),
		func(_ *cobra.Command, args []string) error {
			var err error
			q.What = args[:len(args)-1]
			if q.Coat, err = coatOf(args); err != nil {
				return err
			}
			d, err := drying.Coat(c.Ctx, c.App, c.Caller(), q)
			return coated(c, d, err)
		})
	f := cmd.Flags()
	console.Figure(f, &q.Before, console.Weight, "before", "", "`WEIGHT` of the wheel before the coat")
	console.Figure(f, &q.After, console.Weight, "after", "", "`WEIGHT` of the wheel with its coat")
	f.StringVar(&q.Note, "note", "", "`TEXT` to save with it")
	f.BoolVar(&q.Sure, "sure", false, "record it although a weight looks wrong")
	return c.CompletesArgs(cmd, func(s *app.Session, nth int, word string) []string {
		out := console.WhatWords(s, word)
		if nth > 0 {
			for _, k := range model.Coats() {
				out = append(out, string(k))
			}
		}
		return out
	})
}

// coatOf is the kind of coat, which comes last.
func coatOf(args []string) (model.Coat, error) {
	kind, err := model.ParseCoat(args[len(args)-1])
	if err == nil {
		return kind, nil
	}
	if first, ferr := model.ParseCoat(args[0]); ferr == nil {
		return "", console.At("KIND", console.Hint(console.Usagef("the kind of coat comes last"), "rindkeep coat %s %s",
			console.SafeWord(strings.Join(args[1:], " ")), first))
	}
	return "", console.At("KIND", console.Misread(err))
}

func coated(c *console.Console, did app.Did[drying.Coated], err error) error {
	d, done, err := console.Recorded(c, did, err, c.Words.FillCoated)
	switch {
	case done:
		return err
	case len(d.Wheels) == 0:
		c.Print("no wheels: nothing recorded\n")
		return nil
	case d.Same:
		c.Print("no change, this coat is recorded already: %s\n", c.Words.Tags(d.Wheels))
		return nil
	}
	c.Print("coated %s%s with %s: %s\n", text.Count(len(d.Wheels), "wheel"), c.Words.When(d.When), d.Coat,
		c.Words.Tags(d.Wheels))
	if d.Mass > 0 {
		c.Print("the coat weighs %s; the loss stays as it was\n", c.Words.Weight(d.Mass))
	} else {
		c.Next("without weights before and after the coat, the loss continues from the curve and is less certain")
	}
	for _, s := range d.Remarks {
		c.Next("%s", s)
	}
	c.Next("wrong? rindkeep strike last --why TEXT")
	c.Cautions(d.Cautions)
	return nil
}
