package cli

import (
	"cmp"
	"embed"
	"fmt"
	"regexp"
	"strings"
	"sync"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/text"
)

// everyday are the commands that the program's own help describes; the others it
// only names, by group, so that all of it fits a screen of 24 lines.
var everyday = []string{"start", "today", "did", "skip", "weigh", "check", "coat", "dry", "strike"}

// groups are the other commands, by what they are about.
var groups = [][2]string{
	{"cheese", "make, wheel, stock, curve, taste"},
	{"cave", "room, air, ahead"},
	{"kinds and rules", "variety, plan, law, limit"},
	{"who had it", "customer, trace"},
	{"paper and phone", "sheet, page"},
	{"book and tools", "book, sites, log, find, work, demo, version, completion"},
}

// topicFiles are pages of help that belong to no command, as text: the first line says what a page is about, and what
// stands between fences isn't filled. A fence marked console shows what the program prints; the test of README runs it.
//
//go:embed topics/*.txt
var topicFiles embed.FS

// topics are the names of those pages.
func topics() (names []string) {
	files, _ := topicFiles.ReadDir("topics") // it's in the program: a pattern without files doesn't compile
	for _, f := range files {
		names = append(names, strings.TrimSuffix(f.Name(), ".txt"))
	}
	return names
}

// topicText is a page of help; false if there's none of that name.
func topicText(name string) (string, bool) {
	b, err := topicFiles.ReadFile("topics/" + name + ".txt")
	return string(b), err == nil
}

// helpCmd is help, with the topics. A topic comes before a command of its name.
func helpCmd(c *console.Console, root *cobra.Command) *cobra.Command {
	return &cobra.Command{Use: "help", Hidden: true, RunE: func(_ *cobra.Command, args []string) error {
		of, rest, err := root.Find(args)
		if len(args) == 1 {
			if s, ok := topicText(args[0]); ok {
				topicHelp(c, root, args[0], s)
				return nil
			}
			if args[0] == "topics" {
				c.Table(topicTable())
				return nil
			}
			if err != nil || of == root {
				if known, err := c.HelpOn(root, args[0]); known {
					return err
				}
			}
		}
		if err != nil || of == nil || len(rest) > 0 {
			return console.Usagef("no help on %q", console.SafeWord(strings.Join(args, " ")))
		}
		return of.Help()
	}}
}

// topicHelp prints a page of help, and where to find the command of that name.
func topicHelp(c *console.Console, root *cobra.Command, name, s string) {
	wide := c.Env.Columns()
	for i, part := range strings.Split(strings.TrimSpace(s), "\n```") {
		if part == "" {
			continue // nothing after the last fence
		}
		if i > 0 {
			c.Print("\n")
		}
		if i%2 == 0 {
			c.Lines(reflow(strings.TrimSpace(part), wide))
			continue
		}
		kind, part, _ := strings.Cut(part, "\n")
		for l := range strings.SplitSeq(part, "\n") {
			switch {
			case kind == "" && l != "":
				c.Lines(exampleLines("  "+l, wide))
			case strings.HasPrefix(l, "$ "):
				c.Lines(exampleLines(l, wide))
			default:
				c.Lines([]string{l})
			}
		}
	}
	if name == "flags" {
		c.Print("\n")
		c.Lines(flagLines(root.PersistentFlags(), wide))
	}
	if of, _, err := root.Find([]string{name}); err == nil && of != root {
		c.Print("\n")
		c.Lines(text.Wrap("The command and its flags: rindkeep "+name+" --help.", wide))
	}
}

// topicTable lists the pages of help.
func topicTable() text.Table {
	t := text.Table{Columns: []text.Column{{}, {Wrap: true}}}
	for _, name := range topics() {
		s, _ := topicText(name)
		title, _, _ := strings.Cut(s, "\n")
		_, about, named := strings.Cut(title, ": ")
		if !named {
			about = title
		}
		t.Add("rindkeep help "+name, strings.TrimSuffix(about, "."))
	}
	return t
}

// showHelp prints a command's help in the columns there are: examples before the
// flags, as they are what most people came for.
func showHelp(c *console.Console, cmd *cobra.Command) {
	if words := cmd.Flags().Args(); cmd.HasParent() && cmd.HasSubCommands() && len(words) > 0 {
		c.NoSuchHelp = console.UnknownCommand(cmd, words)
		return
	}
	if !cmd.HasParent() {
		rootHelp(c, cmd)
		return
	}
	wide := c.Env.Columns()
	c.Lines(reflow(strings.TrimSpace(cmp.Or(cmd.Long, cmd.Short)), wide))
	if cmd.HasExample() {
		c.Print("\nExamples:\n")
		for _, l := range strings.Split(cmd.Example, "\n") {
			c.Lines(exampleLines(l, wide))
		}
	}
	c.Print("\n")
	c.Lines(text.Wrap("Usage: "+cmd.UseLine(), wide))
	if cmd.HasAvailableSubCommands() {
		c.Print("\nCommands:\n")
		t := text.Table{Indent: 2, Columns: []text.Column{{}, {Wrap: true}}}
		for _, sub := range cmd.Commands() {
			if sub.IsAvailableCommand() {
				t.Add(sub.Name(), sub.Short)
			}
		}
		c.Table(t)
	}
	if cmd.HasAvailableLocalFlags() {
		c.Print("\nFlags:\n")
		c.Lines(flagLines(cmd.LocalFlags(), wide))
	}
	if cmd.HasAvailableInheritedFlags() {
		c.Print("\nEverywhere:\n")
		c.Lines(flagLines(cmd.InheritedFlags(), wide))
	}
}

func rootHelp(c *console.Console, root *cobra.Command) {
	c.Lines(text.Wrap(root.Long, c.Env.Columns()))
	c.Print("\n")
	t := text.Table{Indent: 2, Columns: []text.Column{{}, {Wrap: true}}}
	for _, name := range everyday {
		if cmd, _, err := root.Find([]string{name}); err == nil {
			t.Add(name, cmd.Short)
		}
	}
	c.Table(t)
	c.Print("\n")
	t = text.Table{Indent: 2, Columns: []text.Column{{}, {Wrap: true}}}
	for _, g := range groups {
		t.Add(g[0], g[1])
	}
	c.Table(t)
	c.Print("\n")
	c.Lines(text.Wrap("rindkeep COMMAND --help has examples and flags. rindkeep help TOPIC: "+
		strings.Join(topics(), ", ")+".", c.Env.Columns()))
}

// reflow wraps the paragraphs that are too wide. Lines that are set in keep their
// place.
func reflow(s string, wide int) (out []string) {
	for i, para := range strings.Split(s, "\n\n") {
		if i > 0 {
			out = append(out, "")
		}
		lines := strings.Split(para, "\n")
		fits := true
		for _, l := range lines {
			fits = fits && text.Width(l) <= wide
		}
		switch {
		case fits:
			out = append(out, lines...)
		case strings.HasPrefix(para, " "), strings.HasPrefix(para, "\t"): // commands to copy
			for _, l := range lines {
				out = append(out, exampleLines(l, wide)...)
			}
		default:
			out = append(out, text.Wrap(strings.Join(lines, " "), wide)...)
		}
	}
	return out
}

// flagLines lays out flags with what they mean. pflag's own layout lets a long
// first word run over the edge.
func flagLines(f *pflag.FlagSet, wide int) (out []string) {
	const most = 28 // columns for a flag; a wider one has a line to itself
	all := strings.Split(strings.TrimRight(f.FlagUsages(), "\n"), "\n")
	heads, meanings, column := make([]string, len(all)), make([]string, len(all)), 0
	for i, l := range all {
		name := strings.TrimLeft(l, " ")
		name, meanings[i], _ = strings.Cut(name, "   ")
		heads[i] = strings.Repeat(" ", strings.Index(l, name)) + name
		if w := text.Width(heads[i]) + 2; w <= most {
			column = max(column, w)
		}
	}
	for i, head := range heads {
		lines := text.Wrap(strings.TrimSpace(meanings[i]), wide-column)
		if text.Width(head)+2 <= column {
			out = append(out, text.Pad(head, column)+lines[0])
			lines = lines[1:]
		} else {
			out = append(out, head)
		}
		for _, l := range lines {
			out = append(out, strings.Repeat(" ", column)+l)
		}
	}
	return out
}

// exampleWord is a word of a command line, and a flag with its value. What stands
// in quotes is one word.
var exampleWord = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`(?:--[\w-]+ )?(?:[^\s"]|"[^"]*")+`)
})

// exampleLines lays out one line of an example. If it's too wide, its remark goes
// below it, and then the command goes on in a second line, as in a shell script.
func exampleLines(l string, wide int) []string {
	if text.Width(l) <= wide {
		return []string{l}
	}
	command := strings.TrimLeft(l, " \t")
	indent := strings.Repeat(" ", len(l)-len(command))
	command, remark, _ := strings.Cut(command, "   ")
	var out []string
	line := ""
	for _, word := range exampleWord().FindAllString(command, -1) {
		switch {
		case line == "":
			line = indent + word
		case text.Width(line+" "+word+` \`) > wide:
			out = append(out, line+` \`)
			line = indent + "    " + word
		default:
			line += " " + word
		}
	}
	out = append(out, line)
	for _, r := range text.Wrap(strings.TrimSpace(remark), wide-len(indent)-6) {
		if r != "" {
			out = append(out, fmt.Sprintf("%s      %s", indent, r))
		}
	}
	return out
}
