package cli

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"rindkeep/cave"
	"rindkeep/cmd/page"
	"rindkeep/cmd/text"
	"rindkeep/store"
)

// knownDoc is a person or a device in JSON.
type knownDoc struct {
	Name  string `json:"name"`
	Role  string `json:"role"`
	Since string `json:"since"`
}

// withBook wants the book to be there: access beside a mistyped path would let
// nobody in anywhere.
func (a *app) withBook() error {
	_, err := store.Revision(a.book)
	return err
}

func (a *app) pagePasswordCmd() *cobra.Command {
	var role string
	c := a.nowCmd("password NAME", "Give a person a password for the page, or another one", `
rindkeep page password Nora                      asks twice on a terminal
rindkeep page password Inspector --role reader   can look but not change anything
rindkeep page password Nora < secret.txt         one line`, exactly("NAME"), func(cmd *cobra.Command, args []string) error {
		name := args[0]
		if err := cave.CheckName("person", name); err != nil {
			return at("NAME", err)
		}
		switch page.Role(role) {
		case "", page.Writer, page.Reader:
		default:
			return at("--role", usagef("--role is writer or reader, not %q", safeWord(role)))
		}
		if err := a.withBook(); err != nil {
			return err
		}
		password, err := a.newPassword(name)
		if err != nil {
			return err
		}
		is, err := a.access().SetPassword(name, page.Role(role), password, a.env.Now())
		if err != nil {
			return at("NAME", err)
		}
		if a.json {
			return a.document(struct {
				Schema string `json:"schema"`
				knownDoc
			}{schema("page-password"), knownDocOf(is)})
		}
		does := "may write"
		if is.Role == page.Reader {
			does = "has read-only access"
		}
		a.print("%s has a password and %s\n", is.Name, does)
		a.next("%s is logged out elsewhere, straight away", is.Name)
		return nil
	})
	c.Flags().StringVar(&role, "role", "", "`writer|reader` (default: as before; a new person writes)")
	return c
}

func knownDocOf(k page.Known) knownDoc {
	return knownDoc{k.Name, string(k.Role), k.Since.UTC().Format("2006-01-02T15:04:05Z")}
}

// newPassword asks for a password: twice on a terminal that does not show it,
// else one line of standard input.
func (a *app) newPassword(name string) (string, error) {
	if !a.env.InTTY || a.env.Secret == nil {
		line, err := bufio.NewReader(io.LimitReader(a.env.In, 4096)).ReadString('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return "", err
		}
		line = strings.TrimRight(line, "\r\n")
		if line == "" {
			return "", usagef("no password was given: one line of standard input")
		}
		return line, page.CheckPassword(name, line)
	}
	fmt.Fprintf(a.env.Err, "a password for %s, at least 12 characters: ", name)
	first, err := a.env.Secret(a.ctx)
	fmt.Fprintln(a.env.Err)
	if err != nil {
		return "", err
	}
	if err := page.CheckPassword(name, first); err != nil {
		return "", err
	}
	fmt.Fprint(a.env.Err, "the same once more: ")
	second, err := a.env.Secret(a.ctx)
	fmt.Fprintln(a.env.Err)
	if err != nil {
		return "", err
	}
	if first != second {
		return "", errors.New("the two are not the same; nothing was changed")
	}
	return first, nil
}

func (a *app) pageDeviceCmd() *cobra.Command {
	return a.nowCmd("device NAME", "Give a scale or a logger a token, shown this once", `
rindkeep page device scale-1      it may send weights and air, and nothing else`, exactly("NAME"), func(cmd *cobra.Command, args []string) error {
		name := args[0]
		if err := cave.CheckName("device", name); err != nil {
			return at("NAME", err)
		}
		if err := a.withBook(); err != nil {
			return err
		}
		token, err := a.access().AddDevice(name, a.env.Now())
		if err != nil {
			return at("NAME", hint(err, "another name, or first: rindkeep page forget %s", shellWord(name)))
		}
		if a.json {
			return a.document(struct {
				Schema string `json:"schema"`
				Name   string `json:"name"`
				Token  string `json:"token"`
			}{schema("page-device"), name, token})
		}
		a.print("%s\n", token)
		a.note("the token of %s, shown this once; it sends it as: Authorization: Bearer TOKEN", name)
		return nil
	})
}

func (a *app) pagePeopleCmd() *cobra.Command {
	return a.nowCmd("people", "Who may use the page", `
rindkeep page people`, none, func(cmd *cobra.Command, _ []string) error {
		if err := a.withBook(); err != nil {
			return err
		}
		all, err := a.access().Known()
		if err != nil {
			return err
		}
		docs := []knownDoc{}
		t := text.Table{Columns: []text.Column{{Title: "name", Wrap: true}, {Title: "role"}, {Title: "since"}}}
		for _, k := range all {
			docs = append(docs, knownDocOf(k))
			t.Add(k.Name, string(k.Role), k.Since.Format("2006-01-02"))
		}
		if a.json {
			return a.document(struct {
				Schema string     `json:"schema"`
				People []knownDoc `json:"people"`
			}{schema("page-people"), docs})
		}
		if len(all) == 0 {
			a.print("nobody has a password: the page is for this machine alone, and asks for none\n")
			a.next("let somebody in: rindkeep page password NAME")
			return nil
		}
		a.lines(t.Lines(a.env.Columns()))
		return nil
	})
}

func (a *app) pageForgetCmd() *cobra.Command {
	return a.nowCmd("forget NAME", "Take a person's password or a device's token away", `
rindkeep page forget Bram      out of a page that is served, too`, exactly("NAME"), func(cmd *cobra.Command, args []string) error {
		if err := a.withBook(); err != nil {
			return err
		}
		was, ok, err := a.access().Forget(args[0])
		if err != nil {
			return err
		}
		if !ok {
			return at("NAME", hint(notFound("person or device", args[0]), "rindkeep page people lists them"))
		}
		if a.json {
			return a.document(struct {
				Schema string `json:"schema"`
				knownDoc
			}{schema("page-forget"), knownDocOf(was)})
		}
		a.print("%s is forgotten, and logged out everywhere; what they wrote stays in the book\n", was.Name)
		return nil
	})
}

func (a *app) pageAPICmd() *cobra.Command {
	return a.nowCmd("api", "What may be sent to the page and read from it, by programs", `
rindkeep page api`, none, func(cmd *cobra.Command, _ []string) error {
		a.print("%s", page.API())
		return nil
	})
}
