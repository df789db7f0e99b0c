// Package tasting has the commands about how cheese tastes.
package tasting

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/tasting"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

// Command is taste with its subcommand.
func Command(c *console.Console) *cobra.Command {
	var q tasting.New
	cmd := c.Cmd("taste "+console.What, "Record a tasting: scores, faults, the core taken", `
rindkeep taste 261120A-03 --flavour 5 --texture 4 --fault crumbly --core 12g
rindkeep taste 261120A --flavour 3 --fault bitter,feed --note "young still"
rindkeep taste 261120A-03 --flavour 3 --fault-own cardboard     a word of your own
rindkeep taste show 261120A                                     its scores over time`, nil,
		func(cmd *cobra.Command, args []string) error {
			if err := console.AtLeast("TAG")(cmd, args); err != nil {
				return err
			}
			q.What = args
			return console.Do(c, tasting.Record, q, tasted)
		})
	f := cmd.Flags()
	f.IntVar((*int)(&q.Found.Appearance), "appearance", 0, "`SCORE` from 1 to 5; 5 meets your own specification")
	f.IntVar((*int)(&q.Found.Colour), "colour", 0, "`SCORE`")
	f.IntVar((*int)(&q.Found.Texture), "texture", 0, "`SCORE` of body and texture")
	f.IntVar((*int)(&q.Found.Flavour), "flavour", 0, "`SCORE`")
	console.ListFlag(f, &q.Found.Faults, "fault", "faults, from the list above: `WORDS` like bitter,crumbly")
	console.ListFlag(f, &q.Own, "fault-own", "faults in `WORDS` of your own; from then on, --fault knows them")
	console.Figure(f, &q.Core, console.Weight, "core", "", "`WEIGHT` of the core the trier took")
	f.BoolVar(&q.Sure, "sure", false, "record the core although its weight looks wrong")
	f.StringVar(&q.Note, "note", "", "`TEXT` to save with it")
	f.SetNormalizeFunc(func(_ *pflag.FlagSet, name string) pflag.NormalizedName {
		if name == "flavor" || name == "color" {
			name = strings.TrimSuffix(name, "or") + "our"
		}
		return pflag.NormalizedName(name)
	})
	f.SortFlags = false
	c.Completes(cmd, "fault", func(*app.Session) []string { return wheel.PublishedFaults() })
	cmd.Long = cmd.Short + "\n\nFaults by name (USDA grades of cheddar, 1956, and mites and weeping):\n"
	for _, at := range wheel.Attributes {
		name := string(at)
		for _, l := range text.Wrap(strings.Join(wheel.FaultWords[at], ", "), 64) {
			cmd.Long += fmt.Sprintf("  %-12s%s\n", name, l)
			name = ""
		}
	}
	cmd.AddCommand(showCmd(c))
	return c.CompletesArgs(cmd,
		func(s *app.Session, _ int, word string) []string { return console.WhatWords(s, word)[1:] })
}

func tasted(c *console.Console, d tasting.Tasted) {
	if d.Same {
		c.Print("no change, this tasting is recorded already: %s\n", c.Words.Tags(d.Wheels))
		return
	}
	c.Print("tasted %s, %s: %s\n", text.Count(len(d.Wheels), "wheel"), d.Found, c.Words.Tags(d.Wheels))
	if d.Core != nil {
		c.Print("the core of %s doesn't count as a loss\n", c.Words.Weight(quantity.Grams(*d.Core)))
	}
	if len(d.Asked) > 0 {
		c.Print("%s\n", c.Words.CheckSisters(d.Asked))
	}
}
