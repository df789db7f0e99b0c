package console

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/store/bookfile"
	"rindkeep/store/refusal"
)

// Exit codes, a contract with scripts.
const (
	ExitDone        = 0
	ExitRefused     = 1
	ExitUsage       = 2
	ExitBusy        = 3
	ExitNotFound    = 4
	ExitNoBook      = 5
	ExitBug         = 70
	ExitInterrupted = 130
)

// Usage is a command line that can't be understood.
type Usage struct {
	Msg   string
	Cause error // or nil
}

// Error gives the sentence.
func (e Usage) Error() string { return e.Msg }

// Unwrap gives the cause.
func (e Usage) Unwrap() error { return e.Cause }

// Usagef makes a Usage.
func Usagef(format string, a ...any) error { return Usage{Msg: fmt.Sprintf(format, a...)} }

// Misread refuses what was typed, for an error of what it was to be read as.
func Misread(err error) error {
	if why := reason.Of(err); why != nil {
		return app.Misuse("", why)
	}
	return Usage{err.Error(), err}
}

// hinted is an error of the command line with its remedy.
type hinted struct {
	error
	hint string
}

// Unwrap gives the error.
func (h hinted) Unwrap() error { return h.error }

// Hint adds a remedy to an error of the command line.
func Hint(err error, format string, a ...any) error {
	return hinted{error: err, hint: fmt.Sprintf(format, a...)}
}

// located is an error that knows where on the command line it arose.
type located struct {
	error
	where string
}

// Unwrap gives the error.
func (l located) Unwrap() error { return l.error }

// At says where an error arose: a flag, an argument, a file.
func At(where string, err error) error { return located{err, where} }

// Silent is a failure about which everything was said already.
type Silent struct{ Code int }

// Error is empty.
func (s Silent) Error() string { return "" }

// bug is a panic that was caught.
type bug struct {
	value any
	stack []byte
}

// Error gives the panic's value.
func (f bug) Error() string { return fmt.Sprint(f.value) }

// ExitCode is the exit code of an error.
func ExitCode(err error) int {
	var u Usage
	var s Silent
	var b bug
	switch {
	case err == nil:
		return ExitDone
	case errors.As(err, &s):
		return s.Code
	case errors.As(err, &b):
		return ExitBug
	case errors.As(err, &u):
		return ExitUsage
	}
	return app.AsRefusal(err).Kind.Exit()
}

// positional are the fields of requests that are arguments on the command line.
var positional = []string{"what", "job", "wheel", "weight", "kind", "place", "lot", "room", "entry", "coat", "customer",
	"text"}

// whereOf is the place of a refusal as the command line knows it. What one command has as
// an argument may be a flag of another.
func (c *Console) whereOf(p app.Place) string {
	flag := strings.ReplaceAll(p.Field, "_", "-")
	switch {
	case p.Of != "" || p.Field == "":
		return p.Of
	case slices.Contains(positional, p.Field) && (c.Running == nil || c.Running.Flags().Lookup(flag) == nil):
		return strings.ToUpper(p.Field)
	}
	return "--" + flag
}

// said is an error as it is printed.
func (c *Console) said(err error) words.Said {
	r := app.AsRefusal(err)
	p := c.Words
	p.Book = c.Book
	d := p.Said(r, c.whereOf(r.At))
	if d.Exit = ExitCode(err); d.Exit == ExitInterrupted && c.Committed {
		d.Error = words.Interrupted
	}
	var u Usage
	var h hinted
	var l located
	var b bug
	switch {
	case errors.As(err, &b):
		d.Error = "Sorry, rindkeep hit a bug and stopped. Nothing from this command was saved"
		if path := writeBug(b); path != "" {
			d.Error += "; the details are in " + path
		}
	case errors.As(err, &u):
		d.Error = err.Error()
		d.Hint = "rindkeep --help lists the commands; rindkeep COMMAND --help shows examples"
	}
	if errors.As(err, &h) {
		d.Hint = h.hint
	}
	if errors.As(err, &l) {
		d.Where = l.where
	}
	if d.Where == "" && c.Running != nil {
		d.Where = c.Running.CommandPath()
	}
	return d.Sanitized()
}

// Report prints an error for a person or, with --json, for a program, and returns the exit code.
func (c *Console) Report(w io.Writer, err error, asJSON bool) int {
	var s Silent
	if err == nil || errors.As(err, &s) {
		return ExitCode(err)
	}
	if ExitCode(err) != ExitInterrupted {
		c.Env.noteRefused()
	}
	d := c.said(err)
	if asJSON {
		b, _ := json.Marshal(d)
		fmt.Fprintln(w, string(b))
		return d.Exit
	}
	fmt.Fprintln(w, c.fold("rindkeep: "+d.Error))
	if d.Hint != "" {
		fmt.Fprintln(w, c.fold("hint: "+d.Hint))
	}
	return d.Exit
}

// bookHarmed warns of what couldn't be read and was left out.
func (c *Console) bookHarmed(found []bookfile.Finding) {
	const shown = 5
	c.Harm = found
	for _, f := range found[:min(shown, len(found))] {
		c.Warn("rindkeep: left out: %s", text.Safe(words.Spot(f.At)+": "+c.Words.Sentence(f.What)))
	}
	if n := len(found) - shown; n > 0 {
		c.Warn("rindkeep: left out: and %d more", n)
	}
	c.Warn("hint: rindkeep book check lists everything that is damaged")
}

// WithHint is an error's sentence with its remedy, for a list of bad rows.
func (c *Console) WithHint(err error) string {
	d := c.said(err)
	if d.Hint != "" {
		return d.Error + "; " + d.Hint
	}
	return d.Error
}

func writeBug(b bug) string {
	file, err := os.CreateTemp("", "rindkeep-fault-*.txt")
	if err != nil {
		return ""
	}
	defer file.Close()
	fmt.Fprintf(file, "%v\n\n%s", b.value, b.stack)
	p, err := filepath.Abs(file.Name())
	if err != nil {
		return file.Name()
	}
	return p
}

// RecoverPanic runs fn and turns a panic into an error.
func RecoverPanic(fn func() error) (err error) {
	defer func() {
		if v := recover(); v != nil {
			err = bug{v, debug.Stack()}
		}
	}()
	return fn()
}

// NotFound is the error of a name that isn't there.
func NotFound(thing, name string) error { return refusal.NotFound{Thing: thing, Name: name} }
