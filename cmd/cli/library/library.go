// Package library has the commands about rind plans, varieties and food laws.
package library

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/library"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/store"
)

// Commands are the commands about the library.
func Commands(c *console.Console) []*cobra.Command {
	plans := kind{library.Plan, "rind plan", "a rind plan", "my-plan.toml", "waxed-hard"}
	varieties := kind{library.Variety, "variety", "a variety", "my-tomme.toml", "tomme"}
	laws := kind{library.Law, "rule", "a rule", "my-rule.toml", "us-cheddar"}
	limits := kind{library.Limit, "limit", "a limit", "my-limit.toml", "eu-listeria"}
	return []*cobra.Command{
		plans.group(c, "Rind plans: what handling a rind gets, and when", planListCmd(c)),
		varieties.group(c, "Varieties: kinds of cheese, with their sources", varietyListCmd(c)),
		laws.group(c, "Rules of food laws: days a cheese is held, words its label needs", lawListCmd(c), followCmd(c)),
		limits.group(c, "Limits of laboratory tests, with their sources", limitListCmd(c)),
	}
}

// kind is a kind of text with its words for help.
type kind struct {
	library.Kind
	noun, one, file, example string
}

func (k kind) group(c *console.Console, short string, more ...*cobra.Command) *cobra.Command {
	return console.Group(string(k.Kind), short, append(more, k.showCmd(c), k.checkCmd(c), k.addCmd(c))...)
}

func (k kind) showCmd(c *console.Console) *cobra.Command {
	like := fmt.Sprintf("\nrindkeep %s show %s\nrindkeep %s show %s > %s", k.Kind, k.example, k.Kind, k.example, k.file)
	cmd := c.NowCmd("show NAME", "One "+k.noun+" as its TOML text, sources and all", like, console.Exactly("NAME"),
		func(_ *cobra.Command, args []string) error {
			t, err := library.Show(c.Ctx, c.App, c.Caller(), k.Kind, args[0])
			if done, err := c.Answered(t, err); done {
				return err
			}
			c.Raw(strings.TrimSuffix(t.TOML, "\n") + "\n")
			if k.Kind == library.Law || k.Kind == library.Limit {
				c.Warn("%s", lawCaution)
			}
			return nil
		})
	return c.CompletesArgs(cmd, func(s *app.Session, _ int, _ string) []string { return library.Names(s, k.Kind) })
}

func (k kind) checkCmd(c *console.Console) *cobra.Command {
	like := fmt.Sprintf("\nrindkeep %s check %s", k.Kind, k.file)
	return c.NowCmd("check FILE", "Check "+k.one+" without adding it", like, console.Exactly("FILE"),
		func(_ *cobra.Command, args []string) error {
			name, data, err := readText(c, args[0])
			if err != nil {
				return err
			}
			g, err := library.Check(k.Kind, name, data)
			if err != nil {
				return app.About(args[0], err)
			}
			word := "is sound"
			if k.Kind == library.Law {
				word += ": " + strings.Join(g.Rule.Countries, " ") + ", " + c.Words.RuleAsks(g.Rule) + "; check your own law"
			}
			if k.Kind == library.Limit {
				word += ": " + g.Limit.Test + ", " + g.Limit.Asks().String() + "; check your own law"
			}
			return k.out(c, g, word)
		})
}

func (k kind) addCmd(c *console.Console) *cobra.Command {
	like := fmt.Sprintf("\nrindkeep %s add %s", k.Kind, k.file)
	q := library.Adding{Kind: k.Kind}
	cmd := c.Cmd("add FILE", "Add your own "+k.noun+", or override one", like, console.Exactly("FILE"),
		func(_ *cobra.Command, args []string) error {
			var err error
			if q.File, q.TOML, err = readText(c, args[0]); err != nil {
				return err
			}
			if _, err := library.Check(k.Kind, q.File, q.TOML); err != nil {
				return app.About(args[0], err)
			}
			if err := c.CreateBook(store.Settings{}); err != nil {
				return err
			}
			d, err := console.Surely(c, library.Add, &q, &q.Sure)
			g, done, err := console.Saved(c, d, app.About(args[0], err))
			if done || err != nil {
				return err
			}
			for _, v := range g.Strangers {
				c.Note("the rule names %s, which isn't a variety of this book yet", v)
			}
			word := "is in the book"
			if g.Overrides {
				word += ", in place of the built-in one"
			}
			if k.Kind == library.Law || k.Kind == library.Limit {
				return k.out(c, g, word+"; check your own law")
			}
			return k.out(c, g, word+"; what is due is up to date with it")
		})
	if k.Kind != library.Plan {
		cmd.Flags().StringVar(&q.Why, "why", "", "the `REASON`, if safety holds end with it")
		cmd.Flags().BoolVar(&q.Sure, "sure", false, "add it although that ends safety holds")
	}
	return cmd
}

func (k kind) out(c *console.Console, g library.Good, word string) error {
	done, err := c.Answered(g, nil)
	if !done {
		c.Print("%s %s (%s) %s\n", k.Kind, g.Name, text.Safe(g.Title), word)
	}
	return err
}

// readText reads a TOML file named on the command line, and gives it the name its
// faults are told by.
func readText(c *console.Console, path string) (name string, data []byte, err error) {
	in, err := c.OpenFile(path)
	if err != nil {
		return "", nil, err
	}
	defer in.Close()
	data, err = io.ReadAll(io.LimitReader(in, library.MaxFile+1))
	if c.Ctx.Err() != nil {
		return "", nil, c.Ctx.Err()
	}
	if err != nil {
		return "", nil, fmt.Errorf("cannot read %s: %s", console.SafeWord(path), console.PlainOS(err))
	}
	if path == "-" {
		return "standard input", data, nil
	}
	return filepath.Base(path), data, nil
}

func planListCmd(c *console.Console) *cobra.Command {
	run := func(*cobra.Command, []string) error {
		d, err := library.Plans(c.Ctx, c.App, c.Caller())
		if done, err := c.Answered(d, err); done {
			return err
		}
		t := text.Table{Columns: []text.Column{
			{Title: "plan"}, {Title: "for", Wrap: true}, {Title: "steps", Right: true}, {},
		}}
		for _, p := range d.Plans {
			t.Add(p.Name, p.Title, fmt.Sprint(p.Steps), ownWord(p.Own))
		}
		c.Table(t)
		return nil
	}
	return c.NowCmd("list", "The rind plans", "\nrindkeep plan list", console.NoArgs, run)
}

func varietyListCmd(c *console.Console) *cobra.Command {
	run := func(*cobra.Command, []string) error {
		d, err := library.Varieties(c.Ctx, c.App, c.Caller())
		if done, err := c.Answered(d, err); done {
			return err
		}
		t := text.Table{Columns: []text.Column{
			{Title: "variety"}, {Title: "what", Wrap: true}, {Title: "rind"}, {Title: "plan"},
			{Title: "moisture", Right: true}, {Title: "ready", Right: true}, {},
		}}
		for _, v := range d.Varieties {
			moisture, ready := fmt.Sprintf("%.1f %%", *v.Moisture), fmt.Sprintf("%d d", v.Ready)
			t.Add(v.Name, v.Title, v.Rind, v.Plan, moisture, ready, ownWord(v.Own))
		}
		c.Table(t)
		return nil
	}
	return c.NowCmd("list", "The varieties", "\nrindkeep variety list", console.NoArgs, run)
}

func ownWord(own bool) string {
	if own {
		return "your own"
	}
	return ""
}
