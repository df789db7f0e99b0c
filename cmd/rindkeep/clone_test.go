package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// README is followed as somebody does who has only just cloned the repository: the files
// that git knows, an empty home folder, and the commands that README shows for the set-up
// and a first book.
func TestREADMEWorksFromABareCloneWithAnEmptyHome(t *testing.T) {
	files, err := exec.Command("git", "-C", repo, "ls-files", "-z", "--", "cmd", "cave", "wheel", "schedule", "store",
		"README.md", "go.mod", "go.sum").Output()
	if err != nil {
		if os.Getenv("RINDKEEP_TEST_ALL") == "1" {
			t.Fatalf("git ls-files: %v", err)
		}
		t.Skip("this is no git repository")
	}
	clone, home := t.TempDir(), t.TempDir()
	for name := range strings.SplitSeq(strings.TrimSuffix(string(files), "\x00"), "\x00") {
		if strings.Contains(name, "/testdata/") {
			continue
		}
		b, err := os.ReadFile(filepath.Join(repo, name))
		if os.IsNotExist(err) {
			continue // removed, and not yet from git
		}
		if err == nil {
			err = os.MkdirAll(filepath.Dir(filepath.Join(clone, name)), 0o755)
		}
		if err == nil {
			err = os.WriteFile(filepath.Join(clone, name), b, 0o644)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	readme, err := os.ReadFile(filepath.Join(clone, "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	var env []string
	for _, v := range []string{"GOCACHE", "GOMODCACHE", "GOPROXY"} {
		out, err := exec.Command("go", "env", v).Output()
		if err != nil {
			t.Fatal(err)
		}
		env = append(env, v+"="+strings.TrimSpace(string(out)))
	}
	bin := filepath.Join(home, "bin")
	env = append(env, "HOME="+home, "USER=nora", "GOBIN="+bin, "PATH="+bin+":"+os.Getenv("PATH"), "GOFLAGS=-trimpath")
	run := func(line string) string {
		t.Helper()
		name := words(line)[0]
		if name == "rindkeep" {
			name = filepath.Join(bin, name)
		}
		cmd := exec.Command(name, words(line)[1:]...)
		cmd.Dir, cmd.Env = clone, env
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%s: %v\n%s", line, err, out)
		}
		return string(out)
	}
	for _, what := range []string{
		"go run \\./cmd/rindkeep [^`\n]+", "go install \\./cmd/rindkeep", "(?m)^rindkeep start --.*",
	} {
		line := regexp.MustCompile(what).FindString(string(readme))
		if line == "" {
			t.Fatalf("README shows no command like %s", what)
		}
		run(line)
	}
	if today := run("rindkeep today"); !strings.Contains(today, "turn ") {
		t.Errorf("the list after README's first book:\n%s", today)
	}
	if out := run("rindkeep"); strings.Contains(out, "no book yet") {
		t.Errorf("rindkeep doesn't find the book that README begins:\n%s", out)
	}
}
