package cli

import (
	"context"
	"fmt"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"rindkeep/cmd/text"
)

// The program's own help fits a terminal of 80 columns and 24 lines, with a line
// left for the prompt, and names every command exactly once.
func TestTheHelpFitsOneScreen(t *testing.T) {
	w := newWorld(t)
	w.env.Width = 80
	out := w.must("--help")
	if n := strings.Count(out, "\n"); n > 23 {
		t.Errorf("%d lines, want at most 23:\n%s", n, out)
	}
	named := slices.Clone(everyday)
	for _, g := range groups {
		named = append(named, strings.Split(g[1], ", ")...)
	}
	have := []string{"completion"} // cobra adds it as the program starts
	for _, cmd := range rootCmd(w.console(context.Background()), "").Commands() {
		if !cmd.Hidden {
			have = append(have, cmd.Name())
		}
	}
	slices.Sort(named)
	slices.Sort(have)
	if !slices.Equal(named, have) {
		t.Errorf("the help names\n%v\nand the commands are\n%v", named, have)
	}
	list := w.must("help topics")
	for _, topic := range topics() {
		if !regexp.MustCompile(`\b`+topic+`[,.]`).MatchString(out) || !strings.Contains(list, "help "+topic+" ") {
			t.Errorf("the help doesn't name the topic %s:\n%s\n%s", topic, out, list)
		}
	}
}

// The commands that README and the pages of help show to copy are there, with their flags.
func TestTheCommandsToCopyAreThere(t *testing.T) {
	root := rootCmd(newWorld(t).console(context.Background()), "")
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	docs := map[string]string{"README": string(readme)}
	for _, name := range topics() {
		docs[name], _ = topicText(name)
	}
	n := 0
	for name, doc := range docs {
		copied := ""
		for _, fence := range regexp.MustCompile("(?s)```.*?\n(.*?)```").FindAllStringSubmatch(doc, -1) {
			copied += strings.ReplaceAll(fence[1], "\\\n", " ")
		}
		command := regexp.MustCompile(`(?m)^(?:\$ |sudo -u rindkeep )?rindkeep ([a-z][^|\n]*)`)
		for _, l := range command.FindAllStringSubmatch(copied, -1) {
			line, _, _ := strings.Cut(l[1], "   ")
			of, _, err := root.Find(strings.Fields(line))
			if err != nil || of == root {
				t.Errorf("%s: no such command: rindkeep %s", name, line)
				continue
			}
			n++
			for _, f := range regexp.MustCompile(`--([a-z-]+)`).FindAllStringSubmatch(line, -1) {
				if f[1] != "help" && of.Flag(f[1]) == nil {
					t.Errorf("%s: %s has no --%s: %s", name, of.CommandPath(), f[1], line)
				}
			}
		}
	}
	if n < 100 {
		t.Errorf("only %d commands found", n)
	}
}

// Help fits 60 and 80 columns, and wraps between words.
func TestHelpBreaksNoWord(t *testing.T) {
	w := newWorld(t)
	lines := []string{"--help", "help topics"}
	for _, topic := range topics() {
		lines = append(lines, "help "+topic)
	}
	for _, cmd := range allCommands(rootCmd(w.console(context.Background()), "")) {
		if cmd.HasParent() && !cmd.Hidden {
			lines = append(lines, strings.TrimPrefix(cmd.CommandPath(), "rindkeep ")+" --help")
		}
	}
	for _, line := range lines {
		w.fits(line)
	}
}

// The tables and sentences of a whole cave fit 60 and 80 columns and break no word.
func TestAnswersBreakNoWord(t *testing.T) {
	w := newWorld(t)
	w.must("demo --quiet --book " + w.book)
	for _, line := range []string{
		"today", "ahead", "dry", "dry 261121A-01", "stock", "wheel list", "wheel show 261121A-01", "wheel held", "make list",
		"make show 261121A", "make samples", "room list", "room show drying", "plan list",
		"variety list", "law list", "limit list", "customer list",
		"log", "air show", "book info", "work salt --curd 4.2kg --rate 1.8% --moisture 37%", "work air --temp 12C --rh 85%",
		"weigh 261121A-01 2500", "did trun all", "wheel show nowhere", "make correct 261121A", "book check",
	} {
		w.fits(line)
	}
}

// fits runs a line in wide and in narrow terminals. In a narrow one no line is too
// long, and every word is one that the wide one has too. The book's path is as long
// as the machine likes.
func (w *world) fits(line string) {
	w.t.Helper()
	shown := func(wide int) string {
		w.env.Width = wide
		w.ran = 0
		r := w.line(line)
		return strings.ReplaceAll(r.Out+r.Err, w.book, "BOOK")
	}
	whole := map[string]bool{`\`: true}
	for _, word := range strings.Fields(shown(140)) {
		whole[strings.TrimRight(word, ";")] = true
	}
	for _, wide := range []int{80, 60} {
		out := shown(wide)
		for _, l := range strings.Split(out, "\n") {
			if text.Width(l) > wide && strings.Contains(strings.TrimSpace(l), " ") {
				w.t.Errorf("rindkeep %s in %d columns has a line of %d:\n%s", line, wide, text.Width(l), l)
			}
			for _, word := range strings.Fields(l) {
				if !whole[strings.TrimRight(word, ";")] {
					w.t.Errorf("rindkeep %s in %d columns breaks a word: %q in\n%s", line, wide, word, l)
				}
			}
		}
	}
}

func ExampleRun_help() {
	fmt.Println(strings.Join(exampleLines(`  rindkeep wheel send W-01 --to "The Corner Shop"      a remark`, 44), "\n"))
	// Output:
	//   rindkeep wheel send W-01 \
	//       --to "The Corner Shop"
	//         a remark
}
