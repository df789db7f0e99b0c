package cli

import (
	"errors"
	"fmt"
	"strings"

	"github.com/google/uuid"
	"github.com/spf13/cobra"

	"rindkeep/cmd/text"
	"rindkeep/store"
)

func (a *app) customerCmd() *cobra.Command {
	return a.group("customer", "Customers: who wheels go to, and how to reach them", a.customerNewCmd(), a.customerListCmd(), a.customerShowCmd())
}

type customerDoc struct {
	Name    string `json:"name"`
	Contact string `json:"contact"`
	Address string `json:"address"`
	Note    string `json:"note"`
	Written string `json:"written"`
	By      string `json:"by"`
}

func (s *session) customerDocOf(c store.Customer) customerDoc {
	return customerDoc{c.Name, c.Contact, c.Address, c.Note, instant(c.Written, s.loc), c.By}
}

func (a *app) customerNewCmd() *cobra.Command {
	var contact, address, note string
	c := a.cmd("new NAME", "Write down a customer, or change one", `
rindkeep customer new "The Corner Shop" --contact "Mary, 021 555 0100" --address "1 Main Street, Cork"
rindkeep customer new "The Corner Shop" --contact "Joe, 021 555 0100"      changes that alone`, exactly("NAME"), func(cmd *cobra.Command, args []string) error {
		return a.update(func(s *session) error {
			old, err := s.tx.Customer(args[0])
			known := err == nil
			if err != nil && !isNotFound(err) {
				return err
			}
			c := old // and its spelling
			if !known {
				c.Name = args[0]
				if c.ID, err = uuid.NewV7(); err != nil {
					return err
				}
			}
			c.Written, c.By = s.now, s.who
			for _, x := range []struct {
				flag, value string
				to          *string
			}{{"contact", contact, &c.Contact}, {"address", address, &c.Address}, {"note", note, &c.Note}} {
				if cmd.Flags().Changed(x.flag) {
					*x.to = strings.TrimSpace(x.value)
				}
			}
			if err := s.write.PutCustomer(c); err != nil {
				return err
			}
			if c, err = s.tx.Customer(c.Name); err != nil {
				return err
			}
			same := known && c == old
			if s.json {
				return s.document(struct {
					Schema string `json:"schema"`
					customerDoc
					Same bool `json:"no_change"`
				}{schema("customer"), s.customerDocOf(c), same})
			}
			switch {
			case same:
				s.print("no change, customer %s is so already\n", c.Name)
			case known:
				s.print("customer %s changed\n", c.Name)
			default:
				s.print("customer %s written down\n", c.Name)
			}
			if c.Contact == "" && c.Address == "" {
				s.next("a recall needs to reach them: give --contact and --address")
			}
			return nil
		})
	})
	f := c.Flags()
	f.StringVar(&contact, "contact", "", "telephone, mail, a person: a `TEXT`")
	f.StringVar(&address, "address", "", "where they are, a `TEXT`")
	f.StringVar(&note, "note", "", "a `TEXT` to keep with it")
	f.SortFlags = false
	return a.completesArgs(c, func(s *session, _ int, _ string) []string { return s.customerNames() })
}

func (a *app) customerListCmd() *cobra.Command {
	return a.cmd("list", "The customers", `
rindkeep customer list`, none, func(cmd *cobra.Command, _ []string) error {
		return a.view(func(s *session) error {
			all, err := s.tx.Customers()
			if err != nil {
				return err
			}
			docs := []customerDoc{}
			t := text.Table{Columns: []text.Column{{Title: "customer", Wrap: true}, {Title: "contact", Wrap: true}, {Title: "address", Wrap: true}}}
			for _, c := range all {
				docs = append(docs, s.customerDocOf(c))
				t.Add(c.Name, oneLine(c.Contact), oneLine(c.Address))
			}
			if s.json {
				return s.document(struct {
					Schema    string        `json:"schema"`
					Customers []customerDoc `json:"customers"`
				}{schema("customer-list"), docs})
			}
			if len(all) == 0 {
				s.print("no customers yet\n")
				s.next("write one down: rindkeep customer new NAME --contact TEXT --address TEXT")
				return nil
			}
			s.lines(t.Lines(s.env.Columns()))
			return nil
		})
	})
}

func (a *app) customerShowCmd() *cobra.Command {
	c := a.cmd("show NAME", "One customer", `
rindkeep customer show "The Corner Shop"`, exactly("NAME"), func(cmd *cobra.Command, args []string) error {
		return a.view(func(s *session) error {
			c, err := s.tx.Customer(args[0])
			if err != nil {
				return at("NAME", err)
			}
			if s.json {
				return s.document(struct {
					Schema string `json:"schema"`
					customerDoc
				}{schema("customer-show"), s.customerDocOf(c)})
			}
			s.print("%s\n\n", s.style("1")(c.Name))
			t := text.Table{Indent: 2, Columns: []text.Column{{}, {Wrap: true}}}
			for _, r := range [][2]string{{"contact", c.Contact}, {"address", c.Address}, {"note", c.Note}} {
				if r[1] == "" {
					r[1] = "-"
				}
				t.Add(r[0], r[1])
			}
			t.Add("written", c.Written.In(s.loc).Format("2006-01-02 15:04")+" by "+c.By)
			s.lines(t.Lines(s.env.Columns()))
			s.next("\nwhat they had: rindkeep trace --customer %s", shellWord(c.Name))
			return nil
		})
	})
	return a.completesArgs(c, func(s *session, _ int, _ string) []string { return s.customerNames() })
}

func (s *session) customerNames() []string {
	if s.tx == nil {
		return nil
	}
	all, err := s.tx.Customers()
	if err != nil {
		return nil
	}
	out := make([]string, len(all))
	for i, c := range all {
		out[i] = c.Name
	}
	return out
}

// oneLine brings a text with line breaks onto one line.
func oneLine(s string) string {
	return strings.Join(strings.Fields(strings.ReplaceAll(s, "\n", ", ")), " ")
}

// shellWord is a name as it can be typed again on a command line.
func shellWord(s string) string {
	if strings.ContainsFunc(s, func(r rune) bool {
		return !strings.ContainsRune("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_./", r)
	}) {
		return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
	}
	return s
}

// addressee is whom a sending goes to: the customer's own spelling where there
// is one of that name. A name nobody wrote down is taken too, and said once; but
// one that is near a customer's is a slip, unless the writer is sure.
func (s *session) addressee(name string, sure bool) (string, error) {
	c, err := s.tx.Customer(name)
	var nf store.NotFound
	switch {
	case err == nil:
		return c.Name, nil
	case !errors.As(err, &nf):
		return "", err
	case len(nf.Near) > 0 && !sure:
		return "", at("--to", unsure(fmt.Errorf("no customer %q is written down", name), "did you mean "+strings.Join(nf.Near, ", ")+"? "))
	}
	if s.said == nil {
		s.said = map[string]bool{}
	}
	if key := "customer " + name; !s.said[key] {
		s.said[key] = true
		s.note("no customer %q is written down: rindkeep customer new %s --contact TEXT --address TEXT", name, shellWord(name))
	}
	return name, nil
}

// documentWord begins the note of a sending with a delivery note.
const documentWord = "document "

// withDocument puts the reference of a delivery note at the head of a note.
func withDocument(ref, note string) string {
	if ref == "" {
		return note
	}
	return strings.TrimSuffix(documentWord+ref+"; "+note, "; ")
}

// documentOf is the reference of the delivery note in a sending's note, or "".
func documentOf(note string) string {
	rest, ok := strings.CutPrefix(note, documentWord)
	if !ok {
		return ""
	}
	ref, _, _ := strings.Cut(rest, ";")
	return strings.TrimSpace(ref)
}
