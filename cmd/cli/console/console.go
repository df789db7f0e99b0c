package console

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/rs/zerolog"
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"rindkeep/cave/quantity"
	"rindkeep/cmd/app"
	"rindkeep/cmd/text"
	"rindkeep/cmd/words"
	"rindkeep/store"
	"rindkeep/store/bookfile"
)

// Console is one run of the command line: the flags that stand everywhere, the
// streams, and the App that its commands ask.
type Console struct {
	Env     Env
	Ctx     context.Context
	App     *app.App
	Words   words.Printer // in the reader's units
	Log     zerolog.Logger
	Command string   // the command's whole name
	Args    []string // the command line

	wheels Pace // of an act on many

	Started    bool               // the command line was understood: what fails from here is no usage error
	Harm       []bookfile.Finding // what couldn't be read and was left out
	Committed  bool               // a change is saved for good: an interruption doesn't undo it
	Wrote      *store.Settings    // of a book that may have changed; nil: none did
	Running    *cobra.Command     // nil before it was understood
	NoSuchHelp error              // help was asked on a command that isn't there

	Book           string
	JSON           bool
	By, On, At, ID string
	Units          quantity.Units // to print in; ReaderUnits before a book was opened
	Quiet, Verbose bool

	unitsName, logFormat string
	answers              *bufio.Scanner // of Ask
	unitsKnown           bool           // the reader chose them, or the book was asked
}

// New is a console in a world, with its streams guarded: reading ends when ctx
// does, and Out remembers a failed write.
func New(ctx context.Context, env Env) (*Console, *Output) {
	out := &Output{w: env.Out}
	env.Out = out
	env.In = &ctxReader{ctx: ctx, r: env.In}
	return &Console{Env: env, Ctx: ctx, Log: zerolog.Nop(), App: &app.App{}, logFormat: "text"}, out
}

// Flags adds the flags that stand everywhere.
func (c *Console) Flags(f *pflag.FlagSet) {
	f.StringVar(&c.Book, "book", "", "`FILE` of the book (or RINDKEEP_BOOK; default: in your data folder)")
	f.BoolVar(&c.JSON, "json", false, "print one JSON document")
	f.StringVar(&c.By, "by", "", "`NAME` of who did it (default: you)")
	f.StringVar(&c.On, "on", "", "`DATE` it happened, or date to show: 2026-11-25, yesterday, tue")
	f.StringVar(&c.At, "at", "", "`TIME` it happened: 2026-11-25T08:30, yesterday 18:00, tue 18:00, 07:15")
	f.StringVar(&c.ID, "id", "", "`UUID`, your own ID for this command; repeats are ignored")
	f.StringVar(&c.unitsName, "units", "", "`metric|imperial`; a bare weight is in grams or ounces, "+
		"a bare temperature in C or F (default: the book's)")
	f.BoolVar(&c.Quiet, "quiet", false, "print only what was asked for, no next steps")
	f.BoolVar(&c.Verbose, "verbose", false, "log what is being done to stderr")
	f.StringVar(&c.logFormat, "log-format", "text", "form of --verbose lines: `text|json`")
	f.SortFlags = false
}

// UnitsFlag is what --units says, and whether it was given.
func (c *Console) UnitsFlag() (u quantity.Units, given bool) { return c.Units, c.unitsName != "" }

// exampleID shows what --id wants.
const exampleID = "0193a5c0-7b1e-7c3a-9f10-2b7d4e9f3c1a"

// ReadFlags checks the flags that stand everywhere and fills what the command line left out from the environment.
func (c *Console) ReadFlags(cmd *cobra.Command) error {
	for _, book := range []string{c.Env.Getenv("RINDKEEP_BOOK"), c.Env.DefaultBook()} {
		if c.Book == "" {
			c.Book = book
		}
	}
	if c.On != "" && c.At != "" {
		return Usagef("give --on or --at, not both")
	}
	if _, err := uuid.Parse(c.ID); err != nil && c.ID != "" {
		return At("--id", Usagef("--id wants a UUID (RFC 9562), like %s, and was given %q", exampleID, SafeWord(c.ID)))
	}
	c.Units, c.unitsKnown = quantity.Metric, false
	name := c.unitsName
	if name == "" {
		name = c.Env.Getenv("RINDKEEP_UNITS")
	}
	if name != "" {
		u, err := quantity.ParseUnits(name)
		if err != nil {
			return Misread(err)
		}
		c.Units, c.unitsKnown = u, true
	}
	c.Words = words.Printer{Units: c.Units, For: words.CommandLine}
	if c.logFormat != "text" && c.logFormat != "json" {
		return Usagef("no log format %q; give text or json", SafeWord(c.logFormat))
	}
	if c.Verbose {
		c.Log = c.Logger(zerolog.TraceLevel)
	}
	c.Command = cmd.CommandPath()
	*c.App = app.App{Book: c.Book, Now: c.Env.Now, Person: c.Env.Person(), Log: c.Log,
		Opened: c.bookOpened, Harmed: c.bookHarmed, Backups: c.Env.Backups, NoBackup: c.noBackup,
		Wrote: func(set store.Settings) { c.Wrote = &set }, Pace: c.paceOfWheels()}
	c.Log.Debug().Str("command", c.Command).Str("book", c.Book).Msg("run")
	return nil
}

// Logger logs to stderr in the form asked for, by the console's clock.
func (c *Console) Logger(level zerolog.Level) zerolog.Logger {
	w := c.Env.Err
	if c.logFormat != "json" {
		w = zerolog.ConsoleWriter{Out: c.Env.Err, NoColor: true, TimeFormat: time.TimeOnly}
	}
	stamp := func(e *zerolog.Event, _ zerolog.Level, _ string) { e.Time("time", c.Env.Now()) }
	return zerolog.New(zerolog.SyncWriter(w)).Level(level).Hook(zerolog.HookFunc(stamp))
}

// Caller is who runs the command, and when what it records happened.
func (c *Console) Caller() app.Caller {
	return app.Caller{By: c.By, ID: c.ID, On: c.On, At: c.At, Command: c.Command}
}

// Ask answers a question of one read transaction.
func Ask[R any](c *Console, fn func(*app.Session) (R, error)) (R, error) {
	return app.Ask(c.Ctx, c.App, c.Caller(), fn)
}

// Saved notes that an act is in the book for good, and says so where it was there
// before; done is true then, and nothing is left to print.
func Saved[R any](c *Console, d app.Did[R], err error) (r R, done bool, _ error) {
	var x app.Stopped
	if errors.As(err, &x) {
		c.wheels.End()
		c.Committed = true
		c.Note("recorded for %d of %s before that; to go on, run the same command again with --id %s;\n"+
			"to undo it: rindkeep strike last --why TEXT", x.Done, text.Count(x.Of, "wheel"), x.ID)
	}
	if err != nil {
		return r, true, err
	}
	c.Committed = true
	if d.Known == nil {
		return d.Result, false, nil
	}
	if c.JSON {
		return r, true, c.Document(d.Known)
	}
	c.Print("no change: this command was recorded before, for %s\n", c.Words.Tags(d.Known.Of))
	return r, true, nil
}

// Recorded is Saved, and prints the result with --json once what fill adds is in it.
func Recorded[R any](c *Console, d app.Did[R], err error, fill ...func(*R)) (r R, done bool, _ error) {
	r, done, err = Saved(c, d, err)
	if done {
		return r, true, err
	}
	for _, f := range fill {
		f(&r)
	}
	done, err = c.Answered(r, nil)
	return r, done, err
}

// Done prints what an act came to: with --json as a document, else as show does.
func Done[R any](c *Console, d app.Did[R], err error, show func(*Console, R)) error {
	r, done, err := Recorded(c, d, err)
	if !done {
		show(c, r)
	}
	return err
}

// Do does an act, and prints what it came to.
func Do[Q, R any](c *Console, act app.Deed[Q, R], q Q, show func(*Console, R)) error {
	d, err := act(c.Ctx, c.App, c.Caller(), q)
	return Done(c, d, err, show)
}

// Answer asks a question, and prints the answer.
func Answer[Q, R any](
	c *Console, ask func(context.Context, *app.App, app.Caller, Q) (R, error), q Q, show func(*Console, R),
) error {
	r, err := ask(c.Ctx, c.App, c.Caller(), q)
	return Show(c, r, err, show)
}

// Show does the same for the answer to a question.
func Show[R any](c *Console, r R, err error, show func(*Console, R)) error {
	done, err := c.Answered(r, err)
	if !done {
		show(c, r)
	}
	return err
}

// Answered is true where nothing is left to print of an answer: it failed, or --json printed it.
func (c *Console) Answered(r any, err error) (done bool, _ error) {
	if err != nil || !c.JSON {
		return err != nil, err
	}
	return true, c.Document(r)
}

// fold breaks lines that a terminal would break inside a word.
func (c *Console) fold(s string) string {
	if c.Env.Width <= 0 {
		return s
	}
	return text.Fold(s, max(c.Env.Width, 20))
}

// Note tells something on stderr that isn't data, unless --quiet.
func (c *Console) Note(format string, v ...any) {
	if !c.Quiet {
		c.Warn(format, v...)
	}
}

// Warn tells of a danger on stderr, with --quiet too.
func (c *Console) Warn(format string, v ...any) {
	fmt.Fprint(c.Env.Err, c.fold(fmt.Sprintf(format+"\n", v...)))
}

// Print writes data for a person.
func (c *Console) Print(format string, v ...any) {
	fmt.Fprint(c.Env.Out, c.fold(fmt.Sprintf(format, v...)))
}

// Raw writes what another program is to read, or a picture.
func (c *Console) Raw(s string) { fmt.Fprint(c.Env.Out, s) }

// Lines writes lines of text.
func (c *Console) Lines(ls []string) {
	for _, l := range ls {
		c.Print("%s\n", l)
	}
}

// Table prints a table.
func (c *Console) Table(t text.Table) { c.Lines(t.Lines(c.Env.Columns())) }

// Indented prints a sentence wrapped and set in by two.
func (c *Console) Indented(sentence string) {
	for _, l := range text.Wrap(sentence, c.Env.Columns()-2) {
		c.Print("  %s\n", l)
	}
}

// Caution prints a caution, wrapped.
func (c *Console) Caution(s string) { c.Lines(text.Wrap(s, c.Env.Columns())) }

// Cautions prints cautions, with --quiet too.
func (c *Console) Cautions(cs app.Cautions) {
	for _, x := range cs {
		c.Caution(c.Words.Caution(x))
	}
}

// Next says what to do next, unless --quiet or --json. Line breaks in front stay.
func (c *Console) Next(format string, v ...any) {
	if c.Quiet || c.JSON {
		return
	}
	s := fmt.Sprintf(format, v...)
	body := strings.TrimLeft(s, "\n")
	fmt.Fprint(c.Env.Out, s[:len(s)-len(body)])
	c.Lines(text.Wrap(body, c.Env.Columns()))
}

// Document writes one JSON document, its cautions in words.
func (c *Console) Document(v any) error {
	c.Words.FillCautions(v)
	enc := json.NewEncoder(c.Env.Out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

// Style gives a function that sets text in an ANSI style on terminals that take it; elsewhere it changes nothing.
func (c *Console) Style(code string) func(string) string {
	if !c.Env.Colour() {
		return func(s string) string { return s }
	}
	return func(s string) string { return "\x1b[" + code + "m" + s + "\x1b[0m" }
}

// SafeWord shows a word a person typed without letting it touch the terminal.
func SafeWord(s string) string { return text.Word(s, 60) }

// SafePath shows a file's path in the same way, whole.
func SafePath(p string) string { return text.Safe(p) }
