package care

import (
	"fmt"

	"github.com/spf13/cobra"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app/care"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/store/chain"
)

func checkCmd(c *console.Console) *cobra.Command {
	var head string
	cmd := c.NowCmd("check", "Check that the book is sound: records, indexes and history", `
rindkeep book check
rindkeep book check --head 9f86-d081-884c-7d65     does it still hold the history noted so?`, console.NoArgs,
		func(cmd *cobra.Command, _ []string) error {
			digits := ""
			if cmd.Flags().Changed("head") {
				var err error
				if digits, err = chain.ParseHead(head); err != nil {
					return console.Usagef("--head: %s", c.Words.Sentence(reason.Of(err)))
				}
			}
			x, err := care.Check(c.Ctx, c.App, digits, progress(c, ofTotal("checked")))
			if err != nil {
				return err
			}
			c.Words.FillFindings(x.Findings)
			if !c.JSON {
				printChecked(c, x)
				return x.Fault()
			}
			if err := c.Document(x); err != nil || x.Sound {
				return err
			}
			return console.Silent{Code: console.ExitRefused}
		})
	cmd.Long = cmd.Short + `.

Everything written to the book is linked into a chain of hashes, each over what
was written and the link before. The check names every record that was changed,
removed, put in or moved to another time by anything other than rindkeep. The
last link, the head, stands for the whole history: note it in a notebook, or send
it to somebody who has to be sure later, and ask with --head whether the book
still holds that history.

If the history was altered, the first line says so.

What it can't show by itself: somebody who can write the file can also write all
of it again, the chain included, or put an older copy in its place. So it asks
the newest automatic backup too: the book must hold all of that one's history.
That doesn't help against somebody who can write the backups as well. Have them
made on another disk (rindkeep book backups --folder), or note the head: only a
copy or a head kept somewhere else shows it for certain.`
	cmd.Flags().StringVar(&head, "head", "", "the `HASH` of a head noted earlier: its first 16 digits, or more")
	return cmd
}

func printChecked(c *console.Console, x care.Checked) {
	altered := 0
	for _, f := range x.Findings {
		if f.History {
			altered++
		}
	}
	if altered > 0 {
		c.Print("the history isn't what rindkeep wrote: it differs in %s\n", text.Count(altered, "place"))
	} else if n := x.Noted; n != nil && n.Link == nil {
		c.Print("the history isn't the one that was noted\n")
	}
	for _, f := range x.Findings {
		c.Print("%s: %s\n", text.Safe(f.Where), text.Safe(f.What))
	}
	if len(x.Findings) == 0 {
		c.Print("the book is sound: every record reads, every index agrees with the entries\n")
		history := "the history is as it was written: head " + c.Words.Link(x.Chain.Head) + "; " + c.Words.Since(*x.Chain)
		c.Lines(text.Wrap(history, c.Env.Columns()))
	}
	if r := x.Releasers; r.From != "" {
		c.Lines(text.Wrap(words.MayLift(r.Names, r.By, r.From), c.Env.Columns()))
	}
	if n := x.Noted; n != nil && n.Link != nil {
		after := "it is the head"
		if n.After > 0 {
			after = text.Count(n.After, "link") + " came after it"
		}
		held := fmt.Sprintf("the head noted is link %d, written %s: %s", n.Link.Number, words.Minute(n.Link.Written), after)
		c.Lines(text.Wrap(held, c.Env.Columns()))
	}
}
