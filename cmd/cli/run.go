package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/rs/zerolog"
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"rindkeep/cave/quantity"
	"rindkeep/wheel"
	"rindkeep/wheel/drying"
)

// app is one run of the command line.
type app struct {
	env     Env
	ctx     context.Context
	log     zerolog.Logger
	command string   // the command's whole name
	words   []string // the command line
	started bool     // a command's own work began: what fails from here is no usage error

	aside     bool // a look that may take long: on a copy
	committed bool // a change is in the book for good: no interruption undoes it

	book      string
	json      bool
	by        string
	on, at    string
	id        string // the sender's own identity of this command; "": one is made
	unitsName string
	units     quantity.Units
	quiet     bool
	verbose   bool
	logFormat string
}

// Run runs one command line and returns its exit code. Data goes to env.Out,
// all else to env.Err. No panic leaves it.
func Run(ctx context.Context, args []string, env Env) int {
	a := &app{env: env, ctx: ctx, log: zerolog.Nop()}
	out := &pipe{w: env.Out}
	a.env.Out = out
	a.env.In = &patient{ctx: ctx, r: env.In}
	root := a.root()
	a.words = args
	root.SetArgs(answered(args))
	root.SetIn(a.env.In)
	root.SetOut(a.env.Out)
	root.SetErr(env.Err)
	err := caught(func() error { return root.ExecuteContext(ctx) })
	if err == nil && ctx.Err() != nil && !a.committed {
		err = ctx.Err()
	}
	if err != nil && !a.started && exitCode(err) == exitRefused {
		err = usageError{strings.TrimSuffix(err.Error(), "\n")}
	}
	if err == nil && out.err != nil && !out.broken {
		err = fmt.Errorf("could not write the output: %w", out.err)
	}
	asJSON := a.json
	for _, s := range args {
		asJSON = asJSON || s == "--json"
	}
	return report(env.Err, err, asJSON, a.book)
}

// pipe remembers a failed write; a reader that went away (less, head) is no
// error.
type pipe struct {
	w      io.Writer
	err    error
	broken bool
}

func (p *pipe) Write(b []byte) (int, error) {
	n, err := p.w.Write(b)
	if err != nil && p.err == nil {
		p.err = err
		p.broken = isBrokenPipe(err)
	}
	return n, err
}

// patient reads for as long as nobody interrupts: a person at a terminal may
// never end what they type, and a read that waits for them does not end by
// itself. What an interrupted read would have brought is lost with the program.
type patient struct {
	ctx context.Context
	r   io.Reader
}

func (p *patient) Read(b []byte) (int, error) {
	type came struct {
		n   int
		err error
	}
	own := make([]byte, len(b))
	done := make(chan came, 1)
	go func() {
		n, err := p.r.Read(own)
		done <- came{n, err}
	}()
	select {
	case c := <-done:
		return copy(b, own[:c.n]), c.err
	case <-p.ctx.Done():
		return 0, p.ctx.Err()
	}
}

func isBrokenPipe(err error) bool {
	return errors.Is(err, io.ErrClosedPipe) || strings.Contains(err.Error(), "broken pipe")
}

// cmd makes a command whose run function marks that the command line was
// understood, reads the global flags and is guarded against panics.
func (a *app) cmd(use, short, examples string, args cobra.PositionalArgs, run func(cmd *cobra.Command, args []string) error) *cobra.Command {
	c := &cobra.Command{Use: use, Short: short, Example: indent(examples), Args: args}
	c.RunE = func(cmd *cobra.Command, args []string) error {
		if err := a.globals(cmd); err != nil {
			return err
		}
		a.started = true
		return run(cmd, args)
	}
	return c
}

// nowCmd is cmd for a command that shows or changes the book as it is now: a
// date would be ignored, so it is refused.
func (a *app) nowCmd(use, short, examples string, args cobra.PositionalArgs, run func(cmd *cobra.Command, args []string) error) *cobra.Command {
	return a.cmd(use, short, examples, args, func(cmd *cobra.Command, args []string) error {
		if a.on != "" || a.at != "" {
			return usagef("%s speaks of the book as it is now and takes no --on or --at", cmd.CommandPath())
		}
		return run(cmd, args)
	})
}

// group makes a command that only holds others; alone it prints its help, and
// a word it does not know is a usage error with a suggestion.
func (a *app) group(use, short string, subs ...*cobra.Command) *cobra.Command {
	c := &cobra.Command{Use: use, Short: short, SuggestionsMinimumDistance: 2}
	c.RunE = func(cmd *cobra.Command, args []string) error { return unknown(cmd, args) }
	c.AddCommand(subs...)
	return c
}

func unknown(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return cmd.Help()
	}
	err := usagef("no command %q in %s", safeWord(args[0]), cmd.CommandPath())
	if !cmd.HasParent() {
		if like := saidElsewhere(cmd, args[0]); like != "" {
			return hint(err, "give it like: %s", like)
		}
	}
	if near := cmd.SuggestionsFor(args[0]); len(near) > 0 {
		return hint(err, "did you mean %s %s?", cmd.CommandPath(), strings.Join(near, " or "))
	}
	return err
}

// saidElsewhere is the command that a word means which is none itself: a coat, a
// job, a command of a group; or "".
func saidElsewhere(root *cobra.Command, word string) string {
	if k, err := drying.ParseCoat(word); err == nil {
		return "rindkeep coat WHAT " + string(k)
	}
	if j, err := wheel.ParseJob(word); err == nil {
		if cmd, ok := elsewhere[j]; ok {
			return cmd
		}
		return "rindkeep did " + string(j) + " WHAT"
	}
	for _, c := range root.Commands() {
		for _, sub := range c.Commands() {
			if c.Name() == "wheel" && sub.Name() == word {
				return sub.UseLine()
			}
		}
	}
	return ""
}

// flagHint says which flags a command takes where they are few.
func flagHint(cmd *cobra.Command) string {
	var own []string
	cmd.LocalNonPersistentFlags().VisitAll(func(f *pflag.Flag) {
		if f.Name != "help" && !f.Hidden {
			own = append(own, "--"+f.Name)
		}
	})
	if len(own) == 0 || len(own) > 8 {
		return cmd.CommandPath() + " --help shows its flags"
	}
	return cmd.CommandPath() + " takes " + strings.Join(own, ", ") + "; --help says more"
}

func indent(s string) string {
	s = strings.Trim(s, "\n")
	if s == "" {
		return ""
	}
	return "  " + strings.ReplaceAll(s, "\n", "\n  ")
}

// exactly wants n arguments and names them when they are missing.
func exactly(names ...string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		switch {
		case len(args) < len(names):
			return usagef("%s needs %s; give it like: rindkeep %s", cmd.CommandPath(), strings.Join(names[len(args):], " and "), strings.TrimPrefix(cmd.UseLine(), "rindkeep "))
		case len(args) > len(names):
			return usagef("%s takes %d arguments and was given %d", cmd.CommandPath(), len(names), len(args))
		}
		return nil
	}
}

// atLeast wants the named arguments and takes any number more.
func atLeast(names ...string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) < len(names) {
			return exactly(names...)(cmd, args)
		}
		return nil
	}
}

func none(cmd *cobra.Command, args []string) error {
	if len(args) > 0 {
		return usagef("%s takes no argument and was given %q", cmd.CommandPath(), safeWord(args[0]))
	}
	return nil
}

func (a *app) root() *cobra.Command {
	root := &cobra.Command{
		Use:   "rindkeep",
		Short: "Keep the book of a cheese-ripening cave",
		Long: `rindkeep remembers every wheel, says what to do today, follows each wheel's
drying and answers "dry enough to wax?" with a figure, an interval and reasons.

WHAT is any mix of tags, lots, places (room/rack/shelf) or the word all; a
trailing * matches. Dates: 2026-11-25, today, yesterday, mon..sun, +3d, -2d.
Weights: 1942, 1942g, 1.942kg, 4lb5oz, 68.5oz. Percent: 1.8% or 1.8.

Exit codes: 0 done, 1 refused or failed, 2 wrong usage, 3 the book is busy,
4 not found, 5 no book there or one from a newer program, 70 a fault of
rindkeep's own, 130 interrupted.`,
		Example: indent(`
rindkeep demo                                    an invented cave to look around in
rindkeep make new --variety cheddar-waxed --wheels 4 --weight 2.1kg
rindkeep today                                   what to do today
rindkeep did turn all                            done: every wheel turned
rindkeep weigh 261120A-03 1942                   a weight, and what it means
rindkeep dry                                     who is dry enough to wax`),
		Version:      Version,
		SilenceUsage: true, SilenceErrors: true,
		SuggestionsMinimumDistance: 2,
	}
	root.RunE = func(cmd *cobra.Command, args []string) error { return unknown(cmd, args) }
	root.Args = cobra.ArbitraryArgs
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		if len(a.words) > 0 && !cmd.HasParent() && !strings.HasPrefix(a.words[0], "-") {
			return unknown(cmd, a.words[:1])
		}
		if none := new(pflag.NotExistError); errors.As(err, &none) {
			return hint(usageError{flagFault(err)}, "%s", flagHint(cmd))
		}
		return hint(usageError{flagFault(err)}, "%s --help shows its flags", cmd.CommandPath())
	})
	f := root.PersistentFlags()
	f.StringVar(&a.book, "book", "", "the book's `FILE` (or RINDKEEP_BOOK; default under your data folder)")
	f.BoolVar(&a.json, "json", false, "print one JSON document")
	f.StringVar(&a.by, "by", "", "`NAME` of who did it (default: you)")
	f.StringVar(&a.on, "on", "", "`DATE` it happened on, or to look at: 2026-11-25, yesterday, tue (the last one; the next to look ahead)")
	f.StringVar(&a.at, "at", "", "`TIME` it happened at: 2026-11-25T08:30, yesterday 18:00, tue 18:00, 07:15")
	f.StringVar(&a.id, "id", "", "`UUID` of this command, given by the sender: sent twice, it is done once")
	f.StringVar(&a.unitsName, "units", "", "print in `metric|imperial`")
	f.BoolVar(&a.quiet, "quiet", false, "print only what was asked for, no next steps")
	f.BoolVar(&a.verbose, "verbose", false, "say on stderr what is being done")
	f.StringVar(&a.logFormat, "log-format", "text", "form of --verbose lines: `text|json`")
	f.SortFlags = false
	for _, c := range []*cobra.Command{
		a.demoCmd(), a.todayCmd(), a.aheadCmd(), a.didCmd(), a.skipCmd(), a.weighCmd(), a.dryCmd(), a.curveCmd(), a.checkCmd(), a.coatCmd(), a.tasteCmd(),
		a.makeCmd(), a.wheelCmd(), a.roomCmd(), a.airCmd(), a.planCmd(), a.varietyCmd(), a.lawCmd(), a.workCmd(), a.strikeCmd(), a.customerCmd(), a.stockCmd(), a.traceCmd(), a.logCmd(), a.sheetCmd(), a.pageCmd(), a.bookCmd(), a.versionCmd(),
	} {
		root.AddCommand(c)
	}
	root.SetHelpCommand(&cobra.Command{Use: "help", Hidden: true, RunE: func(cmd *cobra.Command, args []string) error {
		c, rest, err := root.Find(args)
		if err != nil || c == nil || len(rest) > 0 {
			return usagef("no help on %q", safeWord(strings.Join(args, " ")))
		}
		return c.Help()
	}})
	for _, c := range allCommands(root) {
		c.SetHelpTemplate(helpTemplate)
		if c.RunE != nil && c.HasSubCommands() {
			c.Args = cobra.ArbitraryArgs
		}
	}
	return root
}

// helpTemplate puts the examples first: they are what most people came for.
const helpTemplate = `{{with (or .Long .Short)}}{{. | trimTrailingWhitespaces}}
{{end}}{{if .HasExample}}
Examples:
{{.Example}}
{{end}}
Usage: {{.UseLine}}{{if .HasAvailableSubCommands}}

Commands:{{range .Commands}}{{if .IsAvailableCommand}}
  {{rpad .Name .NamePadding }} {{.Short}}{{end}}{{end}}{{end}}{{if .HasAvailableLocalFlags}}

Flags:
{{.LocalFlags.FlagUsagesWrapped 80 | trimTrailingWhitespaces}}{{end}}{{if .HasAvailableInheritedFlags}}

Everywhere:
{{.InheritedFlags.FlagUsagesWrapped 80 | trimTrailingWhitespaces}}{{end}}
`

func allCommands(c *cobra.Command) []*cobra.Command {
	out := []*cobra.Command{c}
	for _, s := range c.Commands() {
		out = append(out, allCommands(s)...)
	}
	return out
}

// flagFault says what is wrong with a flag; a value that does not read is told
// with what would.
func flagFault(err error) string {
	var v *pflag.InvalidValueError
	if errors.As(err, &v) {
		want := map[string]string{"int": "a whole number", "float64": "a number", "bool": "true or false"}[v.GetFlag().Value.Type()]
		if want != "" {
			return fmt.Sprintf("--%s %q cannot be read; give %s", v.GetFlag().Name, safeWord(v.GetValue()), want)
		}
	}
	return err.Error()
}

// globals reads the flags every command has; the environment fills what the
// command line left out.
func (a *app) globals(cmd *cobra.Command) error {
	if a.book == "" {
		a.book = a.env.Getenv("RINDKEEP_BOOK")
	}
	if a.book == "" {
		a.book = a.env.defaultBook()
	}
	if a.on != "" && a.at != "" {
		return usagef("give --on or --at, not both")
	}
	if a.id != "" {
		if _, err := uuid.Parse(a.id); err != nil {
			return at("--id", usagef("--id wants a UUID (RFC 9562), like %s, and was given %q", exampleID, safeWord(a.id)))
		}
	}
	a.units = quantity.Metric
	name := a.unitsName
	if name == "" {
		name = a.env.Getenv("RINDKEEP_UNITS")
	}
	if name != "" {
		u, err := quantity.ParseUnits(name)
		if err != nil {
			return usageError{err.Error()}
		}
		a.units = u
	}
	switch a.logFormat {
	case "text", "json":
	default:
		return usagef("no log format %q; give text or json", safeWord(a.logFormat))
	}
	if a.verbose {
		var w = a.env.Err
		if a.logFormat == "text" {
			w = zerolog.ConsoleWriter{Out: a.env.Err, NoColor: true, TimeFormat: time.TimeOnly}
		}
		a.log = zerolog.New(w).With().Logger().Hook(zerolog.HookFunc(func(e *zerolog.Event, _ zerolog.Level, _ string) {
			e.Time("time", a.env.Now())
		}))
	}
	a.command = cmd.CommandPath()
	a.log.Debug().Str("command", cmd.CommandPath()).Str("book", a.book).Msg("run")
	return nil
}
