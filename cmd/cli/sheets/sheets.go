// Package sheets has the commands that print: the day's list, labels, a wheel's
// card, a make's sheet, a trace, a recall.
package sheets

import (
	"cmp"
	"os"
	"path/filepath"
	"strings"
	"unicode"

	"github.com/spf13/cobra"

	"rindkeep/cmd/app"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/sheet"
	"rindkeep/cmd/text"
)

// Command is sheet with its subcommands.
func Command(c *console.Console) *cobra.Command {
	const short = "Printed sheets: the day's list, labels, a wheel's card, a make's sheet, a trace, a recall, what is held"
	return console.Group("sheet", short,
		todayCmd(c), labelsCmd(c), wheelCmd(c), makeCmd(c), traceCmd(c), recallCmd(c), heldCmd(c))
}

// Flags are what all sheets are told.
type Flags struct {
	Out     string
	Replace bool
	Paper   string
	Large   bool
}

func (f *Flags) where(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.Out, "out", "", "write to `FILE`, - for stdout "+
		"(default: named after the sheet, in this folder)")
	cmd.Flags().BoolVar(&f.Replace, "replace", false, "put it in the place of a PDF that is there")
}

// Add adds the flags of a sheet on plain paper.
func (f *Flags) Add(cmd *cobra.Command) {
	f.where(cmd)
	cmd.Flags().StringVar(&f.Paper, "paper", "a4", "`a4|letter`")
	cmd.Flags().BoolVar(&f.Large, "large", false, "large print")
	papers := cobra.FixedCompletions([]string{"a4", "letter"}, cobra.ShellCompDirectiveNoFileComp)
	_ = cmd.RegisterFlagCompletionFunc("paper", papers)
}

// Printed is a sheet with all it takes from the book, and what there is to say of it.
type Printed struct {
	Draw  func() (sheet.Doc, error)
	Name  string // of the file, where nobody gives another
	Paper string // or label stock; "": the paper of the flags
	What  string // the paper in words; "": its name
	Note  string // what to mind when printing
}

// Write gathers a sheet from the book, lets the book go, lays the sheet out and writes it.
func Write(c *console.Console, f *Flags, gather func(*app.Session, sheet.Head) (Printed, error)) error {
	if f.Out == "-" {
		switch {
		case c.JSON:
			return console.Usagef("--out - and --json both want stdout; give --out a file")
		case c.Env.OutTTY:
			return console.Usagef("a PDF can't be shown on a terminal; give --out a file, or send stdout on")
		}
	}
	paper := sheet.A4
	if f.Paper != "" {
		var ok bool
		if paper, ok = sheet.FindPaper(f.Paper); !ok {
			return console.At("--paper", console.Usagef("no paper %q; papers are a4 and letter", console.SafeWord(f.Paper)))
		}
	}
	p, err := console.Ask(c, func(s *app.Session) (Printed, error) {
		return gather(s, sheet.HeadOf(s, paper, f.Large))
	})
	if err != nil {
		return err
	}
	p.Paper, p.What = cmp.Or(p.Paper, paper.Name), cmp.Or(p.What, paper.Name)
	doc, err := console.Await(c.Ctx, func() (doc sheet.Doc, err error) { // ten thousand labels take some seconds
		err = console.RecoverPanic(func() (err error) {
			doc, err = p.Draw()
			return err
		})
		return doc, err
	})
	if err != nil {
		return err
	}
	if f.Out == "-" {
		_, _ = c.Env.Out.Write(doc.PDF) // Output remembers a failure
		return nil
	}
	path := cmp.Or(f.Out, p.Name)
	if st, err := os.Stat(path); f.Out != "" && err == nil && st.IsDir() {
		path = filepath.Join(path, p.Name)
	}
	if err := console.WriteOver(path, doc.PDF, "%PDF-", f.Replace); err != nil {
		return console.At("--out", err)
	}
	c.Committed = true
	if c.JSON {
		return c.Document(Written{app.Schema("sheet"), path, doc.Pages, len(doc.PDF), p.Paper})
	}
	c.Print("%s: %s, %s\n", console.SafePath(path), text.Count(doc.Pages, "page"), p.What)
	if p.Note != "" {
		c.Next("%s", p.Note)
	}
	return nil
}

// Written is what a sheet came to.
type Written struct {
	Schema string `json:"schema"`
	Path   string `json:"path"`
	Pages  int    `json:"pages"`
	Bytes  int    `json:"bytes"`
	Paper  string `json:"paper"`
}

// FileName makes a name for a file from words of the book, whatever is in them.
func FileName(words ...string) string {
	s := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) || strings.ContainsRune("-_.", r) {
			return r
		}
		return '_'
	}, strings.Join(words, "-"))
	return strings.Trim(s, ".") + ".pdf"
}
