package library

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app/library"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/wheel/holdrule"
)

const lawCaution = words.LawCaution

func lawListCmd(c *console.Console) *cobra.Command {
	var countries string
	run := func(*cobra.Command, []string) error {
		d, err := library.Laws(c.Ctx, c.App, c.Caller(), countries)
		if done, err := c.Answered(d, err); done {
			return err
		}
		if len(d.Laws) == 0 {
			c.Print("no rule on file; add your own with rindkeep law add FILE\n")
			return nil
		}
		t := text.Table{Columns: []text.Column{
			{Title: "rule"}, {Title: "of"}, {Title: "for", Wrap: true}, {Title: "asks", Wrap: true},
			{Title: "source", Wrap: true}, {},
		}}
		for _, l := range d.Laws {
			source := l.Source + " (" + words.RuleRead(l.Edition, l.Read) + ")"
			t.Add(l.Name, words.Countries(l.Countries), lawFor(l.Rule), c.Words.RuleAsks(l.Rule), source, ownWord(l.Own))
		}
		c.Table(t)
		c.Print("\n")
		c.Caution(lawCaution)
		return nil
	}
	cmd := c.NowCmd("list", "The rules, with their sources", `
rindkeep law list
rindkeep law list --country CA`, console.NoArgs, run)
	cmd.Flags().StringVar(&countries, "country", "", "only those of these `CODES`")
	return cmd
}

func lawFor(r holdrule.Rule) string {
	if len(r.SoldAs) > 0 {
		return "sold as " + strings.Join(r.SoldAs, " or ")
	}
	if len(r.Varieties)+len(r.Groups) == 0 {
		return "all kinds"
	}
	return strings.Join(slices.Concat(r.Varieties, r.Groups), ", ")
}

func followCmd(c *console.Console) *cobra.Command {
	var q library.Follow
	cmd := c.NowCmd("follow [COUNTRY...]", "Set or show whose food law applies", `
rindkeep law follow                        show it
rindkeep law follow US                     by ISO code
rindkeep law follow CA US FR --note "sold abroad from this spring"
rindkeep law follow --none                 no law holds anything`, cobra.ArbitraryArgs,
		func(_ *cobra.Command, args []string) error {
			q.Countries = strings.Join(args, " ")
			d, err := console.Surely(c, library.FollowLaw, &q, &q.Sure)
			return console.Done(c, d, err, followed)
		})
	cmd.Long = cmd.Short + `.

A law's days count only in warm enough air, and only days with readings of the room end
a hold. One reading speaks for up to eight days after it; the first, also before it.`
	cmd.Flags().BoolVar(&q.None, "none", false, "follow no country's rules; your own varieties may still ask for days")
	cmd.Flags().StringVar(&q.Note, "note", "", "note to save with it: `TEXT`; why, if safety holds end with it")
	cmd.Flags().BoolVar(&q.Sure, "sure", false, "change it although that ends safety holds")
	return cmd
}

func followed(c *console.Console, d library.Followed) {
	switch {
	case len(d.Countries) == 0:
		c.Print("the book follows no country's law: nothing is held by law\n")
	case d.Changed:
		c.Print("from now on the book follows %s\n", strings.Join(d.Countries, ", "))
	default:
		c.Print("the book follows %s\n", strings.Join(d.Countries, ", "))
	}
	if len(d.History) > 1 {
		t := text.Table{Indent: 2, Columns: []text.Column{{}, {}, {Wrap: true}, {}}}
		for _, l := range d.History {
			countries := strings.Join(l.Countries, " ")
			if countries == "" {
				countries = "none"
			}
			t.Add(words.Minute(l.From), countries, l.Note, l.By)
		}
		c.Table(t)
	}
	if len(d.Silent) > 0 {
		c.Caution(words.NoRuleFor(d.Silent))
	}
	c.Caution(lawCaution)
}
