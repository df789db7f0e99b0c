package pages

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"rindkeep/cave"
	"rindkeep/cmd/app"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/page"
	"rindkeep/cmd/page/access"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/store/bookfile"
)

// known is a person or a device in JSON.
type known struct {
	Schema string `json:"schema,omitempty"`
	Name   string `json:"name"`
	Role   string `json:"role"`
	Since  string `json:"since"`
}

func knownOf(schema string, k access.Known) known {
	return known{schema, k.Name, string(k.Role), k.Since.UTC().Format(time.RFC3339)}
}

// accessCmd is a command about who may use the page of a book that is there: a list
// beside a mistyped path would let nobody in anywhere.
func accessCmd(
	c *console.Console, use, short, examples string, args cobra.PositionalArgs,
	run func(a *access.List, args []string) error,
) *cobra.Command {
	return c.NowCmd(use, short, examples, args, func(_ *cobra.Command, args []string) error {
		if _, err := bookfile.Revision(c.Book); err != nil {
			return err
		}
		return run(accessOf(c), args)
	})
}

func passwordCmd(c *console.Console) *cobra.Command {
	var role string
	cmd := accessCmd(c, "password NAME", "Give a person a password for the page, or change it", `
rindkeep page password Nora                      asks twice on a terminal
rindkeep page password Inspector --role reader   can look but not change anything
rindkeep page password Nora < secret.txt         one line`, console.Exactly("NAME"),
		func(a *access.List, args []string) error {
			name := args[0]
			if err := cave.CheckName("person", name); err != nil {
				return console.At("NAME", err)
			}
			switch access.Role(role) {
			case "", access.Writer, access.Reader:
			default:
				return console.At("--role", console.Usagef("--role is writer or reader, not %q", console.SafeWord(role)))
			}
			password, err := newPassword(c, name)
			if err != nil {
				return err
			}
			before, err := a.Known()
			if err != nil {
				return err
			}
			is, err := a.SetPassword(name, access.Role(role), password, c.Env.Now())
			if err != nil {
				return console.At("NAME", err)
			}
			if c.JSON {
				return c.Document(knownOf(app.Schema("page-password"), is))
			}
			does := "can record things"
			if is.Role == access.Reader {
				does = "has read-only access"
			}
			c.Print("%s has a password and %s\n", is.Name, does)
			if slices.ContainsFunc(before, func(k access.Known) bool { return k.Name == is.Name }) {
				c.Next("%s is logged out elsewhere, straight away", is.Name)
			}
			return nil
		})
	cmd.Flags().StringVar(&role, "role", "", "`writer|reader` (default: unchanged; writer for a new person)")
	return cmd
}

// newPassword asks for a password: twice on a terminal that does not show it, else
// one line of standard input.
func newPassword(c *console.Console, name string) (string, error) {
	if !c.Env.InTTY || c.Env.Secret == nil {
		line, err := bufio.NewReader(io.LimitReader(c.Env.In, 4096)).ReadString('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return "", err
		}
		if line = strings.TrimRight(line, "\r\n"); line == "" {
			return "", console.Usagef("no password was given; send it as one line of standard input")
		}
		return line, access.CheckPassword(name, line)
	}
	first, err := secret(c, fmt.Sprintf("a password for %s, at least 12 characters: ", name))
	if err != nil {
		return "", err
	}
	if err := access.CheckPassword(name, first); err != nil {
		return "", err
	}
	second, err := secret(c, "the same again: ")
	if err == nil && first != second {
		err = errors.New("the two don't match; nothing was changed")
	}
	return first, err
}

// secret asks for words that the terminal doesn't show.
func secret(c *console.Console, question string) (string, error) {
	fmt.Fprint(c.Env.Err, question)
	said, err := c.Env.Secret(c.Ctx)
	fmt.Fprintln(c.Env.Err)
	return said, err
}

func deviceCmd(c *console.Console) *cobra.Command {
	return accessCmd(c, "device NAME", "Give a scale or a logger a token, shown only once", `
rindkeep page device scale-1      it can send weights and air readings of the last 72 hours`, console.Exactly("NAME"),
		func(a *access.List, args []string) error {
			name := args[0]
			if err := cave.CheckName("device", name); err != nil {
				return console.At("NAME", err)
			}
			token, err := a.AddDevice(name, c.Env.Now())
			if errors.Is(err, access.ErrTaken) {
				err = console.At("NAME", console.Hint(err,
					"use another name, or first run rindkeep page forget %s", words.Shell(name)))
			}
			if err != nil {
				return err
			}
			if c.JSON {
				return c.Document(struct {
					Schema string `json:"schema"`
					Name   string `json:"name"`
					Token  string `json:"token"`
				}{app.Schema("page-device"), name, token})
			}
			c.Print("%s\n", token)
			c.Note("keep this token of %s, it is shown only once. The device sends it as: Authorization: Bearer TOKEN", name)
			return nil
		})
}

func peopleCmd(c *console.Console) *cobra.Command {
	return accessCmd(c, "people", "List who may use the page", `
rindkeep page people`, console.NoArgs, func(a *access.List, _ []string) error {
		all, err := a.Known()
		if err != nil {
			return err
		}
		docs := []known{}
		t := text.Table{Columns: []text.Column{{Title: "name", Wrap: true}, {Title: "role"}, {Title: "since"}}}
		for _, k := range all {
			docs = append(docs, knownOf("", k))
			t.Add(k.Name, string(k.Role), k.Since.Format(time.DateOnly))
		}
		if c.JSON {
			return c.Document(struct {
				Schema string  `json:"schema"`
				People []known `json:"people"`
			}{app.Schema("page-people"), docs})
		}
		if len(all) == 0 {
			c.Print("nobody has a password: the page is for this machine alone, and asks for none\n")
			c.Next("let somebody in: rindkeep page password NAME")
			return nil
		}
		c.Table(t)
		return nil
	})
}

func forgetCmd(c *console.Console) *cobra.Command {
	return accessCmd(c, "forget NAME", "Take away a person's password or a device's token", `
rindkeep page forget Bram      also logs them out of a page that is running`, console.Exactly("NAME"),
		func(a *access.List, args []string) error {
			was, ok, err := a.Forget(args[0])
			if err != nil {
				return err
			}
			if !ok {
				none := console.NotFound("person or device", args[0])
				return console.At("NAME", console.Hint(none, "rindkeep page people lists them"))
			}
			if c.JSON {
				return c.Document(knownOf(app.Schema("page-forget"), was))
			}
			c.Print("%s can't use the page any more and is logged out everywhere; what they recorded stays in the book\n",
				was.Name)
			return nil
		})
}

func apiCmd(c *console.Console) *cobra.Command {
	return c.NowCmd("api", "Print what programs may send to the page and read from it", `
rindkeep page api`, console.NoArgs, func(*cobra.Command, []string) error {
		c.Raw(page.API())
		return nil
	})
}
