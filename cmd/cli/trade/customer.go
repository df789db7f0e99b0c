// Package trade has the commands about customers and traces.
package trade

import (
	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/app/trade"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
)

// Commands are the commands about customers and traces.
func Commands(c *console.Console) []*cobra.Command {
	return []*cobra.Command{
		console.Group("customer", "Customers: who wheels go to, and how to reach them",
			customerNewCmd(c), customerListCmd(c), customerShowCmd(c)),
		traceCmd(c),
	}
}

func customerNewCmd(c *console.Console) *cobra.Command {
	var contact, address, note string
	cmd := c.Cmd("new NAME", "Save a customer, or change one", `
rindkeep customer new "The Corner Shop" --contact "Mary, 000 555 0100" --address "1 Main Street, Hollow Ash"
rindkeep customer new "The Corner Shop" --contact "Joe, 000 555 0100"      changes only that`, console.Exactly("NAME"),
		func(cmd *cobra.Command, args []string) error {
			q := trade.CustomerFacts{Name: args[0]}
			for flag, to := range map[string]**string{"contact": &q.Contact, "address": &q.Address, "note": &q.Note} {
				if f := cmd.Flags().Lookup(flag); f.Changed {
					given := f.Value.String()
					*to = &given
				}
			}
			return console.Do(c, trade.SaveCustomer, q, customerSaved)
		})
	f := cmd.Flags()
	f.StringVar(&contact, "contact", "", "telephone, mail or a person: `TEXT`")
	f.StringVar(&address, "address", "", "where they are: `TEXT`")
	f.StringVar(&note, "note", "", "note to save with it: `TEXT`")
	f.SortFlags = false
	return c.CompletesArgs(cmd, customerWords)
}

func customerSaved(c *console.Console, r trade.CustomerSaved) {
	switch {
	case r.Same:
		c.Print("no change, customer %s is saved like that already\n", r.Name)
	case r.New:
		c.Print("customer %s saved\n", r.Name)
	default:
		c.Print("customer %s changed\n", r.Name)
	}
	if r.Contact == "" && r.Address == "" {
		c.Next("a recall needs to reach them: give --contact and --address")
	}
}

func customerListCmd(c *console.Console) *cobra.Command {
	return c.Cmd("list", "The customers", `
rindkeep customer list`, console.NoArgs, func(*cobra.Command, []string) error {
		d, err := trade.Customers(c.Ctx, c.App, c.Caller())
		if done, err := c.Answered(d, err); done {
			return err
		}
		if len(d.Customers) == 0 {
			c.Print("no customers yet\n")
			c.Next("save one: rindkeep customer new NAME --contact TEXT --address TEXT")
			return nil
		}
		t := text.Table{Columns: []text.Column{
			{Title: "customer", Wrap: true}, {Title: "contact", Wrap: true}, {Title: "address", Wrap: true},
		}}
		for _, x := range d.Customers {
			t.Add(x.Name, trade.OneLine(x.Contact), trade.OneLine(x.Address))
		}
		c.Table(t)
		return nil
	})
}

func customerShowCmd(c *console.Console) *cobra.Command {
	cmd := c.Cmd("show NAME", "One customer", `
rindkeep customer show "The Corner Shop"`, console.Exactly("NAME"), func(_ *cobra.Command, args []string) error {
		d, err := trade.ShowCustomer(c.Ctx, c.App, c.Caller(), args[0])
		if done, err := c.Answered(d, err); done {
			return err
		}
		c.Print("%s\n\n", c.Style("1")(d.Name))
		t := text.Table{Indent: 2, Columns: []text.Column{{}, {Wrap: true}}}
		for _, r := range [][2]string{{"contact", d.Contact}, {"address", d.Address}, {"note", d.Note}} {
			if r[1] == "" {
				r[1] = "-"
			}
			t.Add(r[0], r[1])
		}
		t.Add("written", words.Minute(d.Written)+" by "+d.By)
		c.Table(t)
		c.Next("\nwhat they had: rindkeep trace --customer %s", words.Shell(d.Name))
		return nil
	})
	return c.CompletesArgs(cmd, customerWords)
}

func customerWords(s *app.Session, _ int, _ string) []string { return CustomerNames(s) }

// CustomerNames are the names of the book's customers.
func CustomerNames(s *app.Session) []string {
	if s == nil {
		return nil
	}
	all, err := s.Tx.Customers()
	if err != nil {
		return nil
	}
	out := make([]string, len(all))
	for i, c := range all {
		out[i] = c.Name
	}
	return out
}
