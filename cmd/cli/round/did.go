// Package round has the commands of a walk through the rooms: what is due, what
// was done.
package round

import (
	"github.com/spf13/cobra"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/round"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/wheel"
)

// Commands are the commands of a round.
func Commands(c *console.Console) []*cobra.Command {
	return []*cobra.Command{todayCmd(c), didCmd(c), skipCmd(c)}
}

func didCmd(c *console.Console) *cobra.Command {
	var q round.Job
	cmd := c.Cmd("did JOB,.. "+console.What, "Record a job as done", `
rindkeep did turn all
rindkeep did brush cellar/B --due         only the wheels it was due for
rindkeep did turn 261120A 261121A-02 --at 07:15
rindkeep did wash cellar/A/2 --on yesterday --by Orla
rindkeep did turn,brush cellar/A/2        both jobs at once
rindkeep did turn all --twice             once more, and not by two people together`, console.AtLeast("JOB", "WHAT"),
		func(_ *cobra.Command, args []string) error { return handled(c, q, args) })
	cmd.Long = cmd.Short + `.

For up to 400 wheels, or 100 that wait for their coat, it's recorded at once or not at all;
for more of them lot by lot, so that others can use the book in between. If that is
interrupted, it says how to go on.
So do wheel move, wheel note, wheel plan, coat and skip.`
	cmd.Flags().StringVar(&q.Note, "note", "", "`TEXT` to save with it")
	return finished(c, cmd, &q)
}

func skipCmd(c *console.Console) *cobra.Command {
	q := round.Job{Skipped: true}
	cmd := c.Cmd("skip JOB,.. "+console.What, "Skip a job and say why", `
rindkeep skip brush cellar/B --why "mould still setting"
rindkeep skip turn 261120A --due --why "too soft to handle"`, console.AtLeast("JOB", "WHAT"),
		func(_ *cobra.Command, args []string) error { return handled(c, q, args) })
	cmd.Flags().StringVar(&q.Note, "why", "", "the `REASON`")
	return finished(c, cmd, &q)
}

// finished gives a command the flags of both.
func finished(c *console.Console, cmd *cobra.Command, q *round.Job) *cobra.Command {
	cmd.Flags().BoolVar(&q.Due, "due", false, "only the wheels it is due for")
	cmd.Flags().BoolVar(&q.Twice, "twice", false, "a round more, though one was recorded a short while ago")
	return c.CompletesArgs(cmd, jobThenWhat)
}

func jobThenWhat(s *app.Session, nth int, word string) []string {
	if nth > 0 {
		return console.WhatWords(s, word)
	}
	return JobNames()
}

// JobNames are the names of all jobs.
func JobNames() []string {
	return app.Each(wheel.Jobs, func(j wheel.Job) string { return string(j) })
}

// handled records that a job was done, or skipped, for the wheels named.
func handled(c *console.Console, q round.Job, args []string) error {
	jobs, err := ReadJobs("JOB", args[0])
	if err == nil && len(jobs) == 0 {
		err = console.At("JOB", app.Misuse("", reason.Missing{What: "job"}))
	}
	if err != nil {
		return err
	}
	q.Job, q.Then, q.What = jobs[0], jobs[1:], args[1:]
	d, err := round.Did(c.Ctx, c.App, c.Caller(), q)
	r, done, err := console.Recorded(c, d, err)
	if done {
		return err
	}
	parts := r.Jobs
	if parts == nil {
		parts = []round.OfJob{{Job: q.Job, Wheels: r.Wheels, NoChange: r.NoChange, Shared: r.Shared}}
	}
	for _, j := range parts {
		word := j.Job.Done() + " "
		if q.Skipped {
			word = "skipped: " + string(j.Job) + " of "
		}
		if len(j.Wheels) > 0 {
			c.Print("%s%s%s: %s\n", word, text.Count(len(j.Wheels), "wheel"), c.Words.When(r.When), c.Words.Tags(j.Wheels))
		}
		for _, s := range c.Words.SharedRounds(j.Shared) {
			c.Print("%s\n", s)
		}
		if len(j.NoChange) > 0 {
			c.Print("no change, %s already then: %s\n", j.Job.Done(), c.Words.Tags(j.NoChange))
		}
		if len(j.Wheels)+len(j.NoChange) == 0 && q.Due {
			c.Note("no wheel there is due to %s", j.Job)
		}
	}
	c.Cautions(r.Cautions)
	nextOfJob(c, r)
	return nil
}

// nextOfJob says what may have to follow.
func nextOfJob(c *console.Console, r round.JobDone) {
	if len(r.Wheels) > 0 {
		c.Next("wrong? rindkeep strike last --why TEXT")
	}
	if len(r.Shared) > 0 {
		c.Next("done twice? strike it, then record it again with --twice")
	}
	if len(r.NoChange) > 0 && c.On != "" {
		c.Next("one more round that day? give its time with --at")
	}
	if len(r.Wheels)+len(r.NoChange) == 0 {
		c.Print("no wheels: nothing recorded\n")
	}
}
