package wheels

import (
	"context"
	"slices"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/app/wheels"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/wheel"
)

// recorded prints what an act came to.
func recorded(c *console.Console, did app.Did[wheels.Recorded], err error) error {
	d, done, err := console.Saved(c, did, err)
	if done || err != nil {
		return err
	}
	notes := c.Words.All(d.Notes)
	if c.JSON {
		for _, n := range append(notes, c.Words.All(d.Duties)...) {
			c.Note("%s", n)
		}
		c.Words.FillRecorded(&d)
		return c.Document(d)
	}
	c.Print("%s\n", c.Words.Recorded(d))
	for _, n := range notes {
		c.Note("%s", n)
	}
	if len(d.Wheels) > 0 && !d.Same {
		c.Next("wrong? rindkeep strike last --why TEXT")
	}
	for _, n := range c.Words.All(d.Duties) {
		c.Caution(n)
	}
	c.Cautions(d.Cautions)
	return nil
}

// lastOf splits the last argument off those before it.
func lastOf(args []string) (what []string, last string) {
	n := len(args) - 1
	return args[:n], args[n]
}

func moveCmd(c *console.Console) *cobra.Command {
	var q wheels.NewPlace
	cmd := c.Cmd("move "+console.What+" PLACE", "Move wheels to another place", `
rindkeep wheel move 261120A cellar/B/3
rindkeep wheel move drying/A/1 cellar/B/1 --on yesterday
rindkeep wheel move 261120A south:     on the way to the site south, until it receives them`,
		console.AtLeast("WHAT", "PLACE"),
		func(_ *cobra.Command, args []string) error {
			q.What, q.Place = lastOf(args)
			did, err := console.Surely(c, wheels.Move, &q, &q.Sure)
			return recorded(c, did, err)
		})
	noteFlag(cmd, &q.Note)
	cmd.Flags().BoolVar(&q.Sure, "sure", false, "move them although they don't fit there")
	return c.CompletesWhat(cmd)
}

func noteFlag(cmd *cobra.Command, note *string) {
	cmd.Flags().StringVar(note, "note", "", "note to save with it: `TEXT`")
}

func planCmd(c *console.Console) *cobra.Command {
	var q wheels.NewPlan
	cmd := c.Cmd("plan "+console.What+" PLAN", "Give wheels another rind plan", `
rindkeep wheel plan 261120A washed-rind`, console.AtLeast("WHAT", "PLAN"), func(_ *cobra.Command, args []string) error {
		q.What, q.Plan = lastOf(args)
		did, err := wheels.Plan(c.Ctx, c.App, c.Caller(), q)
		return recorded(c, did, err)
	})
	return c.CompletesArgs(cmd, func(s *app.Session, nth int, word string) []string {
		out := console.WhatWords(s, word)
		if nth > 0 {
			out = append(out, library.Names(s, library.Plan)...)
		}
		return out
	})
}

func takeOverCmd(c *console.Console) *cobra.Command {
	var q wheels.TakeOver
	cmd := c.Cmd("take-over "+console.What, "Start a plan afresh for wheels that had ripened before", `
rindkeep wheel take-over cellar
rindkeep wheel take-over 260124A --on 2026-11-20 --here-since 2026-03-01`, console.AtLeast("WHAT"),
		func(_ *cobra.Command, args []string) error {
			q.What = args
			did, err := wheels.Take(c.Ctx, c.App, c.Caller(), q)
			return recorded(c, did, err)
		})
	cmd.Long = `Start a plan afresh for wheels in the book that had ripened before anyone kept it.

Jobs count from that day, and none is late then. A first weight from that day on
isn't a green weight: loss counts from it, and loss before that is unknown.`
	cmd.Flags().StringVar(&q.HereSince, "here-since", "", "`DATE` since when they have been at their place")
	noteFlag(cmd, &q.Note)
	return c.CompletesWhat(cmd)
}

func tagCmd(c *console.Console) *cobra.Command {
	var q wheels.NewTag
	cmd := c.Cmd("tag TAG NEWTAG", "Give a wheel another tag", `
rindkeep wheel tag 261120A-03 pepper-1`, console.Exactly("TAG", "NEWTAG"), func(_ *cobra.Command, args []string) error {
		q.Wheel, q.Tag = args[0], args[1]
		did, err := console.Surely(c, wheels.Tag, &q, &q.Sure)
		return recorded(c, did, err)
	})
	cmd.Long = cmd.Short + `.

A trace, and so a recall, finds a wheel by every tag that it had.`
	cmd.Flags().BoolVar(&q.Sure, "sure", false, "though another wheel had that tag")
	return c.CompletesTag(cmd)
}

func noteCmd(c *console.Console) *cobra.Command {
	var photo string
	cmd := c.Cmd("note WHAT... TEXT", "Add a note to wheels", `
rindkeep wheel note 261120A-03 "small crack, filled"
rindkeep wheel note 261120A-03 "crack at the edge" --photo crack.jpg`, console.AtLeast("WHAT", "TEXT"),
		func(_ *cobra.Command, args []string) (err error) {
			var q wheels.NewNote
			q.What, q.Text = lastOf(args)
			if q.Photo, err = c.ReadPhoto(photo); err != nil {
				return err
			}
			did, err := wheels.Note(c.Ctx, c.App, c.Caller(), q)
			return recorded(c, did, err)
		})
	console.PhotoFlag(cmd, &photo)
	return c.CompletesWhat(cmd)
}

// takeCmd is a command that records that something was taken off a wheel.
func takeCmd(
	c *console.Console, use, short, examples, what string, act app.Deed[wheels.Taken, wheels.Recorded],
) *cobra.Command {
	var q wheels.Taken
	cmd := c.Cmd(use+" TAG", short, examples, console.Exactly("TAG"), func(_ *cobra.Command, args []string) error {
		q.Wheel = args[0]
		did, err := console.Surely(c, act, &q, &q.Lifts)
		return recorded(c, did, err)
	})
	f := cmd.Flags()
	console.Figure(f, &q.Before, console.Weight, "before", "", "`WEIGHT` before it")
	console.Figure(f, &q.After, console.Weight, "after", "", "`WEIGHT` after it")
	console.Figure(f, &q.Removed, console.Weight, "removed", "", "`WEIGHT` of "+what)
	f.BoolVar(&q.Sure, "sure", false, "record it although a weight looks wrong")
	noteFlag(cmd, &q.Note)
	return c.CompletesTag(cmd)
}

func coreCmd(c *console.Console) *cobra.Command {
	return takeCmd(c, "core", "Record a core taken with a trier", `
rindkeep wheel core 261120A-03 --removed 12g
rindkeep wheel core 261120A-03 --before 1890 --after 1878`, "the core", wheels.Core)
}

func cutCmd(c *console.Console) *cobra.Command {
	cmd := takeCmd(c, "cut", "Record that a piece was cut off or trimmed", `
rindkeep wheel cut 261120A-03 --before 1890 --after 940`, "the piece", wheels.Cut)
	cmd.Long = cmd.Short + `.

Don't record a piece for a customer here as well: wheel send --part takes it off. A wheel
that is held for safety is cut only by somebody who may lift that hold, with a --note that
says why; a sample for a laboratory is make sample, or wheel core.`
	return cmd
}

// becauseCmd is a command that records something of wheels for a reason.
func becauseCmd(
	c *console.Console, use, short, example string, act app.Deed[wheels.Because, wheels.Recorded],
) *cobra.Command {
	var q wheels.Because
	cmd := c.Cmd(use+" "+console.What, short, example, console.AtLeast("WHAT"),
		func(_ *cobra.Command, args []string) error {
			q.What = args
			did, err := console.Surely(c, act, &q, &q.Sure)
			return recorded(c, did, err)
		})
	cmd.Flags().StringVar(&q.Why, "why", "", "the `REASON`")
	cmd.Flags().BoolVar(&q.Sure, "sure", false, "do it although it ends a safety hold")
	return c.CompletesWhat(cmd)
}

const kindsOfHold = "test, recall or contamination (safety), reserved or quality (anybody may lift it)"

func holdCmd(c *console.Console) *cobra.Command {
	var q wheels.Holds
	cmd := c.Cmd("hold "+console.What, "Hold wheels back: they may not leave", `
rindkeep wheel hold 261120A --why "Listeria test awaited" --kind test
rindkeep wheel hold 261120A-03 --why "for The Corner Shop, Christmas" --kind reserved`, console.AtLeast("WHAT"),
		func(_ *cobra.Command, args []string) error {
			q.What = args
			did, err := wheels.Hold(c.Ctx, c.App, c.Caller(), q)
			return recorded(c, did, err)
		})
	cmd.Flags().StringVar(&q.Why, "why", "", "the `REASON`")
	cmd.Flags().StringVar(&q.Kind, "kind", "", "`KIND`: "+kindsOfHold+"; default: for safety")
	completesKind(cmd)
	return c.CompletesWhat(cmd)
}

func releaseCmd(c *console.Console) *cobra.Command {
	var q wheels.Holds
	cmd := c.Cmd("release "+console.What, "Release wheels from their holds", `
rindkeep wheel release 261120A --why "report 4417: not detected in 25 g"
rindkeep wheel release 261120A-03 --why "customer cancelled" --kind reserved`, console.AtLeast("WHAT"),
		func(_ *cobra.Command, args []string) error {
			q.What = args
			did, err := console.Surely(c, wheels.Release, &q, &q.Sure)
			return recorded(c, did, err)
		})
	cmd.Long = cmd.Short + `.

A safety hold needs a real reason, from somebody the book authorises (rindkeep book
releasers). Where one person uses the book, that person is asked again.`
	cmd.Flags().StringVar(&q.Why, "why", "", "the `REASON`")
	cmd.Flags().StringVar(&q.Kind, "kind", "", "only holds of this `KIND`: "+kindsOfHold)
	cmd.Flags().BoolVar(&q.Sure, "sure", false, "lift a safety hold without being asked again")
	completesKind(cmd)
	return c.CompletesWhat(cmd)
}

func completesKind(cmd *cobra.Command) {
	kinds := app.Each(wheel.HoldKinds, func(k wheel.HoldKind) string { return string(k) })
	_ = cmd.RegisterFlagCompletionFunc("kind", cobra.FixedCompletions(kinds, cobra.ShellCompDirectiveNoFileComp))
}

func heldCmd(c *console.Console) *cobra.Command {
	var q wheels.WhichHeld
	cmd := c.NowCmd("held [WHAT...]", "What is held and why, since when, and what would end it", `
rindkeep wheel held
rindkeep wheel held 261120A cellar/B
rindkeep wheel held --variety cheddar-waxed`, cobra.ArbitraryArgs, func(_ *cobra.Command, args []string) error {
		q.What = args
		d, err := wheels.WhatIsHeld(c.Ctx, c.App, c.Caller(), q)
		if err != nil {
			return err
		}
		c.Words.FillHeld(&d)
		return console.Show(c, d, nil, held)
	})
	c.NarrowFlags(cmd, &q.Narrow)
	c.MostFlag(cmd, &q.Most)
	return c.CompletesWhat(cmd)
}

func held(c *console.Console, d wheels.HeldList) {
	c.Print("%s\n", c.Words.HeldSum(d))
	for _, h := range d.Holds {
		c.Print("\n")
		c.Caution(words.HeldTitle(h))
		c.Table(text.Facts(2, c.Words.HeldFacts(h)))
	}
	c.Rest(d.More, "hold")
	if slices.ContainsFunc(d.Holds, func(h wheels.Held) bool { return h.Safety }) {
		c.Next("\n%s", words.MayLift(d.Releasers, d.NamedBy, d.NamedOn))
	}
}

func lostCmd(c *console.Console) *cobra.Command {
	destroyed := false
	cmd := becauseCmd(c, "lost", "Record wheels as lost: thrown out, eaten, broken", `
rindkeep wheel lost 261120A-03 --why "blown, thrown out"
rindkeep wheel lost 261120A-04 --destroyed --why "metal in it, burnt with Nora there"`,
		func(ctx context.Context, a *app.App, by app.Caller, q wheels.Because) (app.Did[wheels.Recorded], error) {
			q.Destroyed = destroyed
			return wheels.Lose(ctx, a, by, q)
		})
	cmd.Flags().BoolVar(&destroyed, "destroyed", false, "so that nobody eats it; of a wheel on hold too")
	return cmd
}

func voidCmd(c *console.Console) *cobra.Command {
	return becauseCmd(c, "void", "Remove wheels entered by mistake", `
rindkeep wheel void 261120A-05 --why "four wheels, not five"`, wheels.Void)
}
