package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode"

	"github.com/spf13/cobra"

	"rindkeep/cmd/sheet"
	"rindkeep/cmd/text"
)

func (a *app) sheetCmd() *cobra.Command {
	return a.group("sheet", "Printed sheets: the day's list, labels, a wheel's card, a make's sheet, a trace, a recall", a.sheetTodayCmd(), a.sheetLabelsCmd(), a.sheetWheelCmd(), a.sheetMakeCmd(), a.sheetTraceCmd(), a.sheetRecallCmd())
}

// sheetFlags are what all sheets are told.
type sheetFlags struct {
	out     string
	replace bool
	paper   string
	large   bool
}

func (f *sheetFlags) where(c *cobra.Command) {
	c.Flags().StringVar(&f.out, "out", "", "write to `FILE`, - for stdout (default: named after the sheet, in this folder)")
	c.Flags().BoolVar(&f.replace, "replace", false, "put it in the place of a PDF that is there")
}

func (a *app) sheetFlags(c *cobra.Command) *sheetFlags {
	f := &sheetFlags{}
	f.where(c)
	c.Flags().StringVar(&f.paper, "paper", "a4", "`a4|letter`")
	c.Flags().BoolVar(&f.large, "large", false, "large print")
	_ = c.RegisterFlagCompletionFunc("paper", cobra.FixedCompletions([]string{"a4", "letter"}, cobra.ShellCompDirectiveNoFileComp))
	return f
}

// printed is a sheet with all it takes from the book, and what there is to say
// of it.
type printed struct {
	draw  func() (sheet.Doc, error)
	name  string // of the file, where nobody gives another
	paper string // or label stock
	what  string // the paper in words
	note  string // what to mind when printing
}

// sheet gathers a sheet from the book, lets the book go, lays the sheet out and
// writes it.
func (a *app) sheet(f *sheetFlags, gather func(*session, sheet.Head) (printed, error)) error {
	if f.out == "-" {
		switch {
		case a.json:
			return usagef("--out - and --json both want stdout; give --out a file")
		case a.env.OutTTY:
			return usagef("a PDF is nothing for a terminal; give --out a file, or send stdout on")
		}
	}
	paper := sheet.A4
	if f.paper != "" {
		var err error
		if paper, err = sheet.ParsePaper(f.paper); err != nil {
			return at("--paper", usageError{Msg: fmt.Sprintf("no paper %q; papers are a4 and letter", safeWord(f.paper))})
		}
	}
	var p printed
	err := a.view(func(s *session) error {
		head := sheet.Head{Book: s.tx.Settings().Name, Printed: s.now.In(s.loc), Paper: paper, Large: f.large}
		if head.Book == "" {
			head.Book = strings.TrimSuffix(filepath.Base(a.book), filepath.Ext(a.book))
		}
		var err error
		p, err = gather(s, head)
		return err
	})
	if err != nil {
		return err
	}
	doc, err := a.laidOut(p.draw)
	if err != nil {
		return err
	}
	if f.out == "-" {
		_, _ = a.env.Out.Write(doc.PDF) // pipe remembers a failure
		return nil
	}
	path := f.out
	if path == "" {
		path = p.name
	} else if st, err := os.Stat(path); err == nil && st.IsDir() {
		path = filepath.Join(path, p.name)
	}
	if err := writeSheet(path, doc.PDF, f.replace); err != nil {
		return at("--out", err)
	}
	a.Committed = true
	if a.json {
		return a.document(struct {
			Schema string `json:"schema"`
			Path   string `json:"path"`
			Pages  int    `json:"pages"`
			Bytes  int    `json:"bytes"`
			Paper  string `json:"paper"`
		}{schema("sheet"), path, doc.Pages, len(doc.PDF), p.paper})
	}
	a.print("%s: %s, %s\n", safePath(path), text.Count(doc.Pages, "page"), p.what)
	if p.note != "" {
		a.next("%s", p.note)
	}
	return nil
}

// laidOut waits for a sheet to be drawn, and for no longer than nobody
// interrupts: ten thousand labels take some seconds.
func (a *app) laidOut(draw func() (sheet.Doc, error)) (sheet.Doc, error) {
	type drawn struct {
		doc sheet.Doc
		err error
	}
	done := make(chan drawn, 1)
	go func() {
		var d drawn
		d.err = caught(func() (err error) {
			d.doc, err = draw()
			return err
		})
		done <- d
	}()
	select {
	case d := <-done:
		return d.doc, d.err
	case <-a.ctx.Done():
		return sheet.Doc{}, a.ctx.Err()
	}
}

// writeSheet writes a PDF whole or not at all. What is there already is left
// alone without replace; with it only another PDF gives way, so that a slip of
// the hand costs no book and no picture.
func writeSheet(path string, pdf []byte, replace bool) error {
	name := safeWord(path)
	there := hint(fmt.Errorf("%s is there already; nothing was written", name), "repeat with --replace to put this one in its place, or give --out another name")
	if !replace {
		if _, err := os.Lstat(path); err == nil {
			return there
		}
		err := writeNew(path, pdf)
		if errors.Is(err, fs.ErrExist) {
			return there
		}
		return cannotWrite(path, err)
	}
	switch st, err := os.Stat(path); {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return cannotWrite(path, err)
	case !st.Mode().IsRegular() || !isPDF(path):
		return fmt.Errorf("%s is no PDF; it was left alone", name)
	}
	return writeFile(path, pdf)
}

// writeNew makes a file that was not there, and leaves none where that fails.
func writeNew(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		os.Remove(path)
	}
	return err
}

func isPDF(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	head := make([]byte, 5)
	_, err = io.ReadFull(f, head)
	return err == nil && bytes.Equal(head, []byte("%PDF-"))
}

// fileName makes a name for a file from words of the book, whatever is in them.
func fileName(words ...string) string {
	s := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) || strings.ContainsRune("-_.", r) {
			return r
		}
		return '_'
	}, strings.Join(words, "-"))
	return strings.Trim(s, ".") + ".pdf"
}

// spaced takes the terminal's line breaks out of a text: paper breaks its own
// lines.
func spaced(s string) string { return strings.ReplaceAll(s, "\n", " ") }
