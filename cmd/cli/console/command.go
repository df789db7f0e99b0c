package console

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"rindkeep/cave/quantity"
	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/app/makes"
	"rindkeep/cmd/app/sites"
	"rindkeep/cmd/words"
)

// What is the part of a usage line that stands for a choice of wheels.
const What = "WHAT..."

// Run is what a command does once its flags and arguments are read.
type Run func(cmd *cobra.Command, args []string) error

// Cmd makes a command whose run function marks that the command line was
// understood and reads the flags that stand everywhere.
func (c *Console) Cmd(use, short, examples string, args cobra.PositionalArgs, run Run) *cobra.Command {
	cmd := &cobra.Command{Use: use, Short: short, Example: Indent(examples), Args: args}
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if err := c.ReadFlags(cmd); err != nil {
			return err
		}
		c.Started, c.Running = true, cmd
		read := func() error {
			if err := c.ReadFigures(cmd); err != nil {
				return err
			}
			return run(cmd, args)
		}
		err := read()
		for c.cleared(cmd, args, err) {
			err = read()
		}
		return err
	}
	return cmd
}

// NowCmd is Cmd for a command about the book as it is now: a date would be ignored, so it is refused.
func (c *Console) NowCmd(use, short, examples string, args cobra.PositionalArgs, run Run) *cobra.Command {
	return c.Cmd(use, short, examples, args, func(cmd *cobra.Command, args []string) error {
		if c.On != "" || c.At != "" {
			return Usagef("%s shows the book as it is now and takes no --on or --at", path(cmd))
		}
		return run(cmd, args)
	})
}

// Group makes a command that only holds others; alone it prints its help, with an example
// of each of them, and a word it doesn't know is a usage error with a suggestion.
func Group(use, short string, subs ...*cobra.Command) *cobra.Command {
	cmd := &cobra.Command{Use: use, Short: short, SuggestionsMinimumDistance: 2, RunE: UnknownCommand}
	cmd.AddCommand(subs...)
	var firsts []string
	for _, sub := range subs {
		first, _, _ := strings.Cut(sub.Example, "\n")
		firsts = append(firsts, first)
	}
	cmd.Example = strings.Join(firsts, "\n")
	return cmd
}

// UnknownCommand refuses a word that no command has, and suggests those it may mean.
func UnknownCommand(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return cmd.Help()
	}
	err := Usagef("no command %q in %s", SafeWord(args[0]), cmd.CommandPath())
	if !cmd.HasParent() {
		if ms := MeantBy(cmd, args[0]); len(ms) > 0 {
			return Hint(err, "%s", hintOf(ms))
		}
	}
	if near := cmd.SuggestionsFor(args[0]); len(near) > 0 {
		return Hint(err, "did you mean %s %s?", cmd.CommandPath(), strings.Join(near, " or "))
	}
	for _, group := range cmd.Root().Commands() {
		for _, sub := range group.Commands() {
			if sub.Name() == args[0] && sub.IsAvailableCommand() {
				return Hint(err, "did you mean %s?", sub.CommandPath())
			}
		}
	}
	return err
}

// FlagProblem is the usage error of a flag that can't be read, with what the command takes.
func FlagProblem(cmd *cobra.Command, err error) error {
	msg := err.Error()
	if v := new(pflag.InvalidValueError); errors.As(err, &v) {
		kinds := map[string]string{"int": "a whole number", "float64": "a number", "bool": "true or false"}
		var unclear quantity.Unclear
		if errors.As(err, &unclear) {
			msg = fmt.Sprintf("--%s %s", v.GetFlag().Name, unclear.Error())
		} else if want := kinds[v.GetFlag().Value.Type()]; want != "" {
			msg = fmt.Sprintf("--%s %q can't be read; give %s", v.GetFlag().Name, SafeWord(v.GetValue()), want)
		}
	}
	if none := new(pflag.NotExistError); errors.As(err, &none) {
		return Hint(Usage{Msg: msg}, "%s", flagsOf(cmd))
	}
	return Hint(Usage{Msg: msg}, "%s --help shows its flags", cmd.CommandPath())
}

// flagsOf says which flags a command takes where they are few.
func flagsOf(cmd *cobra.Command) string {
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

// Indent sets every line in by two.
func Indent(s string) string {
	s = strings.Trim(s, "\n")
	if s == "" {
		return ""
	}
	return "  " + strings.ReplaceAll(s, "\n", "\n  ")
}

// path is a command's words without the program's name, which stands before every
// refusal.
func path(cmd *cobra.Command) string { return strings.TrimPrefix(cmd.CommandPath(), "rindkeep ") }

// Exactly wants the named arguments and says which are missing.
func Exactly(names ...string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		switch {
		case len(args) < len(names):
			like := strings.TrimPrefix(cmd.UseLine(), "rindkeep ")
			missing := strings.Join(names[len(args):], " and ")
			return Usagef("%s needs %s; give it like: rindkeep %s", path(cmd), missing, like)
		case len(args) > len(names):
			return Usagef("%s takes %d arguments and was given %d", path(cmd), len(names), len(args))
		}
		return nil
	}
}

// AtMost takes up to n arguments.
func AtMost(n int) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) > n {
			return Usagef("%s takes at most %d arguments and was given %d", path(cmd), n, len(args))
		}
		return nil
	}
}

// AtLeast wants the named arguments and takes any number more.
func AtLeast(names ...string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) < len(names) {
			return Exactly(names...)(cmd, args)
		}
		return nil
	}
}

// NoArgs refuses arguments.
func NoArgs(cmd *cobra.Command, args []string) error {
	if len(args) > 0 {
		return Usagef("%s takes no argument and was given %q", path(cmd), SafeWord(args[0]))
	}
	return nil
}

// Need reads a flag's value and refuses an empty one by the flag's name.
func Need[T any](flag, value string, parse func(string) (T, error)) (T, error) {
	var zero T
	if value == "" {
		return zero, Usagef("%s is missing", flag)
	}
	v, err := parse(value)
	if err != nil {
		if reason.Of(err) == nil {
			err = Usage{flag + " " + err.Error(), err}
		}
		return zero, At(flag, Misread(err))
	}
	return v, nil
}

// AskedAgain does an act; where it lifts a safety hold or fills a place too full, and the
// person at the terminal answers that they want that, it does it with sure.
func AskedAgain[R any](c *Console, act func(sure bool) (R, error)) (R, error) {
	r, err := act(false)
	if err == nil || !c.Env.InTTY || c.JSON {
		return r, err
	}
	why := app.AsRefusal(err).Why
	switch full := why.(type) {
	case app.LiftsSafety, app.LeavesLaw, makes.TestAwaited, sites.LeavesOthers:
	case makes.Overfull:
		why = makes.PutThere(full)
	case makes.Delivered:
		why = makes.OneMore(full)
	default:
		return r, err
	}
	if c.Yes(words.Sanitize(c.Words.Sentence(why))) {
		return act(true)
	}
	return r, err
}

// Surely is AskedAgain for an act whose request says in a field that the person is sure.
func Surely[Q, R any](c *Console, act app.Deed[Q, R], q *Q, sure *bool) (app.Did[R], error) {
	given := *sure
	return AskedAgain(c, func(yes bool) (app.Did[R], error) {
		*sure = given || yes
		return act(c.Ctx, c.App, c.Caller(), *q)
	})
}

// HistoryFlag adds the flag of how much of a wheel's history to show.
func HistoryFlag(cmd *cobra.Command, most *int) {
	cmd.Flags().IntVar(most, "history", 12, "the last `N` entries; 0 for all")
}
