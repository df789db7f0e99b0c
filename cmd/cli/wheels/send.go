package wheels

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/wheels"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/cli/trade"
	"rindkeep/cmd/text"
)

// askAll asks at a terminal whether all the wheels of a lot or a place go, which one word named.
func askAll(c *console.Console, q wheels.Sending) error {
	if !c.Env.InTTY || c.JSON || q.Sure || q.To == "" {
		return nil
	}
	tags, err := app.Ask(c.Ctx, c.App, c.Caller(), func(s *app.Session) (tags []string, err error) {
		for _, group := range q.What {
			for w := range strings.SplitSeq(group, ",") {
				found, err := s.Pick([]string{w})
				if err != nil || len(found) < 2 || strings.Contains(w, "..") {
					continue // what is wrong with a word is said when it's sent
				}
				for _, st := range found {
					tags = append(tags, st.Tag)
				}
			}
		}
		return tags, nil
	})
	if err != nil || len(tags) == 0 || c.Yes(fmt.Sprintf("send all %s to %s: %s?", text.Count(len(tags), "wheel"),
		text.Safe(q.To), text.Tags(tags))) {
		return err
	}
	if err := c.Ctx.Err(); err != nil {
		return err
	}
	return errors.New("nothing was sent; name the wheels that go by their tags, like " + tags[0])
}

func sendCmd(c *console.Console) *cobra.Command {
	var q wheels.Sending
	cmd := c.Cmd("send "+console.What, "Record wheels, or a piece of one, as sold or sent away", `
rindkeep wheel send 261120A-03 --to "The Corner Shop" --weight 1.88kg --document DN-117
rindkeep wheel send 261120A-03 --to "The Corner Shop" --part --weight 420g
rindkeep wheel send 261120A-03 --to "The Far Shop" --country FR
rindkeep wheel send 261120A-03 --to "Lab" --override "sample for the laboratory"`, console.AtLeast("WHAT"),
		func(_ *cobra.Command, args []string) error {
			q.What = args
			if err := askAll(c, q); err != nil {
				return err
			}
			did, err := console.Surely(c, wheels.Send, &q, &q.Lifts)
			return recorded(c, did, err)
		})
	f := cmd.Flags()
	f.StringVar(&q.To, "to", "", "`NAME` of the customer")
	console.Figure(f, &q.Weight, console.Weight, "weight", "", "`WEIGHT` sent, of each")
	f.BoolVar(&q.Part, "part", false, "a piece of it; the rest stays")
	f.StringVar(&q.Document, "document", "", "`NUMBER` of the delivery note")
	f.StringVar(&q.Country, "country", "", "where they go, ISO `CODES`: the law there counts as well as the book's")
	f.StringVar(&q.Override, "override", "", "send it although it is held, with the `REASON`")
	f.BoolVar(&q.Sure, "sure", false, "record it although the weight or the name looks wrong, or it is held for safety")
	noteFlag(cmd, &q.Note)
	c.Completes(cmd, "to", trade.CustomerNames)
	return c.CompletesWhat(cmd)
}
