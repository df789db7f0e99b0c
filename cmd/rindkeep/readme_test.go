package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"rindkeep/cmd/carrier/natstest"
	"rindkeep/cmd/cli"
)

// documents are what shows the program's output: README, DEVELOPERS and the pages of help.
func documents(t *testing.T) []string {
	pages, err := filepath.Glob(filepath.Join(repo, "cmd/cli/topics/*.txt"))
	if err != nil || len(pages) == 0 {
		t.Fatalf("no page of help found: %v", err)
	}
	for i, page := range pages {
		pages[i] = "cmd/cli/topics/" + filepath.Base(page)
	}
	return append([]string{"README.md", "DEVELOPERS.md"}, pages...)
}

// The documents show what the program prints. Each fenced block marked console
// is a run of commands after "$ " with their output; this test runs them all in
// order, on one book, at one fixed time, and compares. With -update it writes
// what was printed. A page of help begins with the demo's book, and shows output
// as it's in the narrowest terminal.
func TestWhatTheDocumentsShowIsWhatTheProgramPrints(t *testing.T) {
	var demo []byte // the demo's book, for each page of help
	for _, name := range documents(t) {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(repo, name)
			doc, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			run := sessionIn(t, 80)
			if strings.HasSuffix(name, ".txt") {
				run = sessionIn(t, 60)
				if demo == nil {
					run("rindkeep demo --quiet --book demo.book")
					demo, err = os.ReadFile("demo.book")
				} else {
					err = os.WriteFile("demo.book", demo, 0o600)
				}
				if err != nil {
					t.Fatal(err)
				}
			}
			fence := regexp.MustCompile("(?s)```console\n(.*?)```")
			n := 0
			got := fence.ReplaceAllStringFunc(string(doc), func(block string) string {
				n++
				var b strings.Builder
				b.WriteString("```console\n")
				for _, l := range strings.Split(block, "\n") {
					if cmd, ok := strings.CutPrefix(l, "$ "); ok {
						b.WriteString(l + "\n" + run(cmd))
					}
				}
				return b.String() + "```"
			})
			if name == "README.md" && n == 0 {
				t.Fatal("no console block found")
			}
			if lines := strings.Count(string(doc), "\n"); name == "README.md" && lines > 260 {
				t.Errorf("README has %d lines; a page of help has room for more", lines)
			}
			got = withTables(t, got)
			if got == string(doc) {
				return
			}
			if *update {
				if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			t.Errorf("%s shows what the program does not print (go test ./cmd/rindkeep -update rewrites it); "+
				"first difference:\n%s", name, firstDifference(string(doc), got))
		})
	}
}

// sessionIn gives a function that runs one command line as in the documents, in
// a folder of its own, and returns what it printed on both outputs in so many
// columns. "| head -n N" is the only pipe there is; "    # refused" says that the program is to
// refuse, and any other command must succeed.
func sessionIn(t *testing.T, wide int) func(string) string {
	dir := t.TempDir()
	t.Chdir(dir)
	now := time.Date(2026, 11, 25, 8, 10, 0, 0, time.UTC)
	env := map[string]string{"TZ": "Europe/Dublin", "RINDKEEP_BOOK": "demo.book", "RINDKEEP_BY": "Nora"}
	return func(cmd string) string {
		head := 0
		if m := regexp.MustCompile(`^(.*) \| head -n (\d+)$`).FindStringSubmatch(cmd); m != nil {
			cmd = m[1]
			head, _ = strconv.Atoi(m[2])
		}
		cmd, refused := strings.CutSuffix(cmd, "    # refused")
		args := words(cmd)
		if len(args) == 0 || args[0] != "rindkeep" {
			t.Errorf("%q is no command of rindkeep", cmd)
			return ""
		}
		now = now.Add(time.Second)
		var out bytes.Buffer
		code := cli.Run(context.Background(), args[1:], cli.Env{
			In: strings.NewReader(""), Out: &out, Err: &out, Now: func() time.Time { return now },
			Getenv: func(k string) string { return env[k] }, Width: wide,
		})
		if refused != (code == 1) || !refused && code != 0 {
			t.Errorf("%s: exit code %d\n%s", cmd, code, out.String())
		}
		lines := strings.SplitAfter(out.String(), "\n")
		if head > 0 && len(lines) > head {
			lines = lines[:head]
		}
		s := strings.Join(lines, "")
		if s != "" && !strings.HasSuffix(s, "\n") {
			s += "\n"
		}
		return s
	}
}

// words splits a command line as a shell does, double quotes only.
func words(s string) []string {
	var out []string
	for _, m := range regexp.MustCompile(`"([^"]*)"|(\S+)`).FindAllStringSubmatch(s, -1) {
		out = append(out, m[1]+m[2])
	}
	return out
}

// withTables puts the tables that tests wrote into the places marked for them:
// <!-- table: testdata/reference/NAME.md --> ... <!-- end -->.
func withTables(t *testing.T, doc string) string {
	mark := regexp.MustCompile(`(?s)(<!-- table: (\S+) -->\n).*?(<!-- end -->)`)
	return mark.ReplaceAllStringFunc(doc, func(s string) string {
		m := mark.FindStringSubmatch(s)
		// The working folder is the session's by now.
		b, err := os.ReadFile(filepath.Join(repo, m[2]))
		if err != nil {
			t.Error(err)
			return s
		}
		body := regexp.MustCompile(`(?s)<!--.*?-->\n*`).ReplaceAllString(string(b), "")
		return m[1] + "\n" + strings.TrimSpace(body) + "\n\n" + m[3]
	})
}

// repo is the top folder, found before any test changes the working folder.
var repo = func() string {
	d, err := filepath.Abs(filepath.Join("..", ".."))
	if err != nil {
		panic(err)
	}
	return d
}()

func firstDifference(a, b string) string {
	x, y := strings.Split(a, "\n"), strings.Split(b, "\n")
	for i := range max(len(x), len(y)) {
		var l, r string
		if i < len(x) {
			l = x[i]
		}
		if i < len(y) {
			r = y[i]
		}
		if l != r {
			return "line " + strconv.Itoa(i+1) + "\n  document: " + l + "\n  program:  " + r
		}
	}
	return ""
}

// README sets up several sites with the files that rindkeep help sites has, and its server lets a
// site publish on what those of the tests do, and syncs every message.
func TestREADMESetsUpSitesAsTheHelpDoes(t *testing.T) {
	readme, err := os.ReadFile(filepath.Join(repo, "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	help, err := os.ReadFile(filepath.Join(repo, "cmd/cli/topics/sites.txt"))
	if err != nil {
		t.Fatal(err)
	}
	_, section, _ := strings.Cut(string(readme), "\n## Several sites\n")
	section, _, _ = strings.Cut(section, "\n## ")
	files := func(doc string) (out []string) {
		for _, m := range regexp.MustCompile("(?s)\n```\n(.*?)\n```\n").FindAllStringSubmatch(doc, -1) {
			if !strings.HasPrefix(m[1], "rindkeep ") {
				out = append(out, m[1])
			}
		}
		return out
	}
	shown := files(section)
	if want := files(string(help)); len(shown) != 2 || !slices.Equal(shown, want) {
		t.Fatalf("README shows\n%s\nand rindkeep help sites\n%s", strings.Join(shown, "\n\n"), strings.Join(want, "\n\n"))
	}
	var may []string
	for _, m := range regexp.MustCompile(`(?m)^ *"(\S+)"$`).FindAllStringSubmatch(shown[1], -1) {
		may = append(may, m[1])
	}
	if want := natstest.Permissions("GROUP", "SITE"); !slices.Equal(may, want) {
		t.Errorf("README's server lets a site publish on\n%q\nand those of the tests on\n%q", may, want)
	}
	for file, line := range []string{"\nExecStart=/usr/bin/rindkeep sites exchange ", "sync_interval: always"} {
		if !strings.Contains(shown[file], line) {
			t.Errorf("README's file has no line %q:\n%s", strings.TrimSpace(line), shown[file])
		}
	}
}

func TestEveryFileTheDocumentsPointAtIsThere(t *testing.T) {
	link := regexp.MustCompile(`\]\(([^)#]+)\)`)
	n := 0
	for _, name := range []string{"README.md", "DEVELOPERS.md"} {
		doc, err := os.ReadFile(filepath.Join(repo, name))
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range link.FindAllStringSubmatch(string(doc), -1) {
			if strings.Contains(m[1], "://") {
				continue
			}
			n++
			if _, err := os.Stat(filepath.Join(repo, m[1])); err != nil {
				t.Errorf("%s points at %s: %v", name, m[1], err)
			}
		}
	}
	if n == 0 {
		t.Error("no link found: does this test still look at the right thing?")
	}
}
