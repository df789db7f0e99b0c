// Package console is what every command of the command line shares: the world it runs in, the flags that stand
// everywhere, printing, errors and exit codes. The commands themselves are in the folders beside it, by subject.
package console

import (
	"context"
	"io"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"golang.org/x/term"
)

// Env is the world a command runs in.
type Env struct {
	In     io.Reader
	Out    io.Writer
	Err    io.Writer
	Now    func() time.Time
	Getenv func(string) string
	InTTY  bool // a person can answer at In
	OutTTY bool // Out is a terminal
	Width  int  // columns to print in; 0: 80

	Backups bool // backups of the book are made by themselves

	// Secret reads what a person types at In without showing it; nil where nobody can type there.
	Secret func(context.Context) (string, error)
}

// System is the real world, with the given clock.
func System(now func() time.Time) Env {
	e := Env{In: os.Stdin, Out: os.Stdout, Err: os.Stderr, Now: now, Getenv: os.Getenv, Backups: true}
	e.InTTY = term.IsTerminal(int(os.Stdin.Fd()))
	if e.InTTY {
		e.Secret = typedUnseen
	}
	e.OutTTY = term.IsTerminal(int(os.Stdout.Fd()))
	if w, _, err := term.GetSize(int(os.Stdout.Fd())); e.OutTTY && err == nil {
		e.Width = w
	} else if w, err := strconv.Atoi(os.Getenv("COLUMNS")); err == nil { // into a file or a pipe, where it's exported
		e.Width = min(max(w, 60), 140)
	}
	return e
}

// typedUnseen reads a line from the terminal without showing it. Interrupted, it
// leaves the terminal as it found it.
func typedUnseen(ctx context.Context) (string, error) {
	fd := int(os.Stdin.Fd())
	was, err := term.GetState(fd)
	if err != nil {
		return "", err
	}
	line, err := Await(ctx, func() ([]byte, error) { return term.ReadPassword(fd) })
	if ctx.Err() != nil {
		_ = term.Restore(fd, was)
	}
	return string(line), err
}

// Columns is the columns to print in, never under 60 and never over 140: longer lines read slowly.
func (e Env) Columns() int {
	if e.Width <= 0 {
		return 80
	}
	return min(max(e.Width, 60), 140)
}

// Colour says whether to use colour: on a terminal, unless NO_COLOR is set (no-color.org) or the terminal is dumb.
func (e Env) Colour() bool {
	return e.OutTTY && e.Getenv("NO_COLOR") == "" && e.Getenv("TERM") != "dumb"
}

// DefaultBook is where the book is when nobody says: under the user's data
// folder (XDG Base Directory Specification; the platform's own elsewhere).
func (e Env) DefaultBook() string {
	folder := ""
	switch data, local, home := e.Getenv("XDG_DATA_HOME"), e.Getenv("LOCALAPPDATA"), e.Getenv("HOME"); {
	case filepath.IsAbs(data):
		folder = filepath.Join(data, "rindkeep")
	case local != "":
		folder = filepath.Join(local, "rindkeep")
	case home != "":
		folder = filepath.Join(home, ".local", "share", "rindkeep")
	}
	return filepath.Join(folder, "cave.book")
}

// Person is who writes when --by does not say: the name the system knows.
func (e Env) Person() string {
	for _, k := range []string{"RINDKEEP_BY", "USER", "LOGNAME", "USERNAME"} {
		if n := e.Getenv(k); n != "" {
			return n
		}
	}
	if u, err := user.Current(); err == nil {
		return u.Username
	}
	return ""
}

// ZoneName finds the IANA name of the zone the machine keeps: TZ, the link
// /etc/localtime, /etc/timezone; UTC where none of them says.
func (e Env) ZoneName() string {
	valid := func(n string) bool {
		_, err := time.LoadLocation(n)
		return err == nil && n != "" && n != "Local"
	}
	if n := strings.TrimPrefix(e.Getenv("TZ"), ":"); valid(n) {
		return n
	}
	if l, err := filepath.EvalSymlinks("/etc/localtime"); err == nil {
		if _, n, ok := strings.Cut(l, "zoneinfo/"); ok && valid(n) {
			return n
		}
	}
	if b, err := os.ReadFile("/etc/timezone"); err == nil && valid(strings.TrimSpace(string(b))) {
		return strings.TrimSpace(string(b))
	}
	return "UTC"
}
