package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"

	"rindkeep/cmd/text"
	"rindkeep/store"
)

// Exit codes, a contract with scripts.
const (
	exitDone        = 0
	exitRefused     = 1
	exitUsage       = 2
	exitBusy        = 3
	exitNotFound    = 4
	exitNoBook      = 5
	exitFault       = 70
	exitInterrupted = 130
)

// usageError is a command line that cannot be understood.
type usageError struct{ msg string }

func (e usageError) Error() string { return e.msg }

func usagef(format string, a ...any) error { return usageError{fmt.Sprintf(format, a...)} }

// hinted is an error with the remedy.
type hinted struct {
	error
	hint string
	sure bool // --sure gets it done all the same
}

func (h hinted) Unwrap() error { return h.error }

func hint(err error, format string, a ...any) error {
	return hinted{error: err, hint: fmt.Sprintf(format, a...)}
}

// unsure is an error about what looks wrong and may be right: first says what
// to look at, and --sure records it all the same.
func unsure(err error, first string) error {
	return hinted{err, first + "if it is right, repeat with --sure", true}
}

// located is an error that knows where in the input it arose.
type located struct {
	error
	where string
}

func (l located) Unwrap() error { return l.error }

func at(where string, err error) error { return located{err, where} }

// silent is a failure of which everything was said already.
type silent struct{ code int }

func (s silent) Error() string { return "" }

// fault is a panic that was caught.
type fault struct {
	value any
	stack []byte
}

func (f fault) Error() string { return fmt.Sprint(f.value) }

func exitCode(err error) int {
	var u usageError
	var nf store.NotFound
	var s silent
	var f fault
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, &s):
		return s.code
	case errors.As(err, &f):
		return exitFault
	case errors.As(err, &u):
		return exitUsage
	case errors.Is(err, context.Canceled):
		return exitInterrupted
	case errors.Is(err, store.ErrBusy):
		return exitBusy
	case errors.As(err, &nf):
		return exitNotFound
	case errors.Is(err, store.ErrNoBook), errors.Is(err, store.ErrNewer):
		return exitNoBook
	}
	return exitRefused
}

// remedy is the hint that goes with an error.
func remedy(err error, book string) string {
	var h hinted
	var nf store.NotFound
	var u usageError
	switch {
	case errors.As(err, &h):
		return h.hint
	case errors.As(err, &nf) && len(nf.Near) > 0:
		return "did you mean " + strings.Join(nf.Near, ", ") + "?"
	case errors.Is(err, store.ErrNoBook):
		return fmt.Sprintf("begin one with: rindkeep make new --book %s   or try the invented one: rindkeep demo", book)
	case errors.Is(err, store.ErrBusy):
		return "try again in a moment"
	case errors.Is(err, store.ErrNewer):
		return "use the newer rindkeep, or a backup from before"
	case errors.Is(err, store.ErrCutOff), errors.Is(err, store.ErrDamaged):
		return "keep the file, and put the last backup in its place: rindkeep book restore BACKUP --replace"
	case errors.As(err, &u):
		return "rindkeep --help lists the commands; rindkeep COMMAND --help shows examples"
	}
	return ""
}

// report prints an error for a person or, with --json, for a program, and
// returns the exit code.
func report(w io.Writer, err error, asJSON bool, book string) int {
	code := exitCode(err)
	var s silent
	if err == nil || errors.As(err, &s) {
		return code
	}
	msg, hint := err.Error(), remedy(err, book)
	var f fault
	switch {
	case errors.As(err, &f):
		msg = "rindkeep hit a fault of its own and stopped; nothing half-done was kept"
		if path := writeFault(f); path != "" {
			msg += "; the details are in " + path
		}
	case code == exitInterrupted:
		msg = "interrupted; nothing half-done was kept"
	}
	var l located
	where := ""
	if errors.As(err, &l) {
		where = l.where
	}
	msg, hint, where = sayable(msg), sayable(hint), sayable(where)
	if asJSON {
		var h hinted
		b, _ := json.Marshal(struct {
			Error string `json:"error"`
			Where string `json:"where"`
			Hint  string `json:"hint,omitempty"`
			Exit  int    `json:"exit"`
			Sure  bool   `json:"sure,omitempty"`
		}{msg, where, hint, code, errors.As(err, &h) && h.sure})
		fmt.Fprintln(w, string(b))
		return code
	}
	fmt.Fprintln(w, "rindkeep:", msg)
	if hint != "" {
		fmt.Fprintln(w, "hint:", hint)
	}
	return code
}

// sayable makes an error's words fit for a terminal, whoever wrote them: what a
// person typed may be in them, with anything in it and of any length. The
// middle of a line too long is left out, so that the remedy at its end stays.
func sayable(s string) string {
	const most, head, tail = 480, 280, 180
	lines := strings.Split(text.Safe(strings.ToValidUTF8(s, "·")), "\n")
	for i, l := range lines {
		if r := []rune(l); len(r) > most {
			lines[i] = string(r[:head]) + " … " + string(r[len(r)-tail:])
		}
	}
	return strings.Join(lines, "\n")
}

func writeFault(f fault) string {
	file, err := os.CreateTemp("", "rindkeep-fault-*.txt")
	if err != nil {
		return ""
	}
	defer file.Close()
	fmt.Fprintf(file, "%v\n\n%s", f.value, f.stack)
	p, err := filepath.Abs(file.Name())
	if err != nil {
		return file.Name()
	}
	return p
}

// caught runs fn and turns a panic into a fault.
func caught(fn func() error) (err error) {
	defer func() {
		if v := recover(); v != nil {
			err = fault{v, debug.Stack()}
		}
	}()
	return fn()
}

func isNoBook(err error) bool { return errors.Is(err, store.ErrNoBook) }

func notFound(thing, name string) error { return store.NotFound{Thing: thing, Name: name} }

// notInLibrary says that neither plan nor variety of that name is built in.
func notInLibrary(kind, name string) error {
	return hint(notFound(kind, safeWord(name)), "rindkeep %s list shows what there is", kind)
}
