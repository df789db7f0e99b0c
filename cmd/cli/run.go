// Package cli is the command line: its root, and the commands by subject in the
// folders below.
package cli

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	carecmd "rindkeep/cmd/cli/care"
	"rindkeep/cmd/cli/console"
	dryingcmd "rindkeep/cmd/cli/drying"
	entriescmd "rindkeep/cmd/cli/entries"
	librarycmd "rindkeep/cmd/cli/library"
	makescmd "rindkeep/cmd/cli/makes"
	pagescmd "rindkeep/cmd/cli/pages"
	roomscmd "rindkeep/cmd/cli/rooms"
	roundcmd "rindkeep/cmd/cli/round"
	"rindkeep/cmd/cli/sheets"
	sitescmd "rindkeep/cmd/cli/sites"
	tastingcmd "rindkeep/cmd/cli/tasting"
	tradecmd "rindkeep/cmd/cli/trade"
	wheelscmd "rindkeep/cmd/cli/wheels"
	workcmd "rindkeep/cmd/cli/work"
)

// Env is the world a command runs in.
type Env = console.Env

// System is the real world, with the given clock.
var System = console.System

// Run runs one command line and returns its exit code. Data goes to env.Out, all
// else to env.Err. No panic leaves it.
func Run(ctx context.Context, args []string, env Env) int {
	c, out := console.New(ctx, env)
	first := ""
	if len(args) > 0 {
		first = args[0]
	}
	root := rootCmd(c, first)
	c.Args = args
	root.SetArgs(dryingcmd.Answered(args))
	root.SetIn(c.Env.In)
	root.SetOut(c.Env.Out)
	root.SetErr(env.Err)
	err := console.RecoverPanic(func() (err error) {
		c.Running, err = root.ExecuteContextC(ctx)
		return err
	})
	if err == nil {
		err = c.NoSuchHelp
	}
	if err == nil && ctx.Err() != nil && !c.Committed {
		err = ctx.Err()
	}
	if err != nil && !c.Started && console.ExitCode(err) == console.ExitRefused {
		err = console.Usage{Msg: strings.TrimSuffix(err.Error(), "\n")}
	}
	if werr := out.Err(); err == nil && werr != nil {
		err = fmt.Errorf("could not write the output: %w", werr)
	}
	c.BackUp()
	asJSON := c.JSON
	for _, s := range args {
		asJSON = asJSON || s == "--json"
	}
	return c.Report(env.Err, err, asJSON)
}

// forReleases are the commands that only those who make a release need.
var forReleases []func(*console.Console, *cobra.Command) *cobra.Command

// byItself are the commands of a day's work, which are made alone where one is the first word:
// to make all of them takes as long as much of what these do.
var byItself = map[string]func(*console.Console) *cobra.Command{
	"weigh": dryingcmd.WeighCmd, "dry": dryingcmd.DryCmd, "check": dryingcmd.CheckCmd, "coat": dryingcmd.CoatCmd,
}

// commands are all of them.
func commands(c *console.Console) []*cobra.Command {
	return slices.Concat(
		roundcmd.Commands(c), roomscmd.Commands(c), entriescmd.Commands(c), tradecmd.Commands(c), librarycmd.Commands(c),
		[]*cobra.Command{
			dryingcmd.WeighCmd(c), dryingcmd.DryCmd(c), dryingcmd.CurveCmd(c), dryingcmd.CheckCmd(c), dryingcmd.CoatCmd(c),
			carecmd.DemoCmd(c), makescmd.Command(c), makescmd.StartCmd(c), wheelscmd.Command(c), tastingcmd.Command(c),
			workcmd.Command(c), sheets.Command(c), pagescmd.Command(c), sitescmd.Command(c), carecmd.Command(c),
			versionCmd(c),
		})
}

// rootCmd makes the commands that a command line beginning with a word may mean.
func rootCmd(c *console.Console, first string) *cobra.Command {
	root := &cobra.Command{
		Use:   "rindkeep",
		Short: "Keep the book of a cheese-ripening cave",
		Long: `rindkeep remembers every wheel, says what to do today, follows each wheel's ` +
			`drying and answers "dry enough to wax?" with a figure, an interval and reasons.`,
		Version:      Version,
		SilenceUsage: true, SilenceErrors: true,
		SuggestionsMinimumDistance: 2,
	}
	root.RunE = func(cmd *cobra.Command, args []string) error {
		if len(args) == 0 && makescmd.FirstSteps(c, cmd) {
			return nil
		}
		return console.UnknownCommand(cmd, args)
	}
	root.Args = cobra.ArbitraryArgs
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		if len(c.Args) > 0 && !cmd.HasParent() && !strings.HasPrefix(c.Args[0], "-") {
			return console.UnknownCommand(cmd, c.Args[:1])
		}
		return console.FlagProblem(cmd, err)
	})
	c.Flags(root.PersistentFlags())
	if alone := byItself[first]; alone != nil {
		root.AddCommand(alone(c))
	} else {
		root.AddCommand(commands(c)...)
	}
	for _, cmd := range forReleases {
		root.AddCommand(cmd(c, root))
	}
	root.SetHelpCommand(helpCmd(c, root))
	root.SetHelpFunc(func(cmd *cobra.Command, _ []string) { showHelp(c, cmd) })
	for _, cmd := range allCommands(root) {
		if cmd.RunE != nil && cmd.HasSubCommands() {
			cmd.Args = cobra.ArbitraryArgs
		}
	}
	return root
}

func allCommands(c *cobra.Command) []*cobra.Command {
	out := []*cobra.Command{c}
	for _, s := range c.Commands() {
		out = append(out, allCommands(s)...)
	}
	return out
}
