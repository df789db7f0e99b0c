//go:build release

package main

import (
	"archive/tar"
	"bufio"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"
)

// A release for this machine's system is built as .goreleaser.yaml says, without a tag, and has what people need: the
// program with its version, man pages, completions and packages. It needs goreleaser, and is run by
// go test -tags release.
func TestARelease(t *testing.T) {
	clone := filepath.Join(t.TempDir(), "rindkeep")
	run := func(name string, args ...string) string {
		t.Helper()
		cmd := exec.Command(name, args...)
		cmd.Dir, cmd.Env = clone, append(os.Environ(), "TZ=UTC")
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
		}
		return string(out)
	}
	// Go stamps no commit in a second working tree of a repository.
	if out, err := exec.Command("git", "clone", "--quiet", repo, clone).CombinedOutput(); err != nil {
		t.Fatalf("git clone: %v\n%s", err, out)
	}
	config, err := os.ReadFile(filepath.Join(clone, ".goreleaser.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	run("goreleaser", "check")

	// All of it but the other systems, which take minutes to compile.
	one := string(config)
	for key, only := range map[string]string{"goos": runtime.GOOS, "goarch": runtime.GOARCH} {
		line := regexp.MustCompile(`(?m)^( +` + key + `: )\[.*\]$`)
		if !line.MatchString(one) {
			t.Fatalf("no %s in the configuration", key)
		}
		one = line.ReplaceAllString(one, "${1}["+only+"]")
	}
	dist := filepath.Join(clone, ".release", "dist")
	file := filepath.Join(t.TempDir(), "one.yaml")
	if err := os.WriteFile(file, []byte(one), 0o600); err != nil {
		t.Fatal(err)
	}
	run("goreleaser", "release", "--snapshot", "--clean", "--config", file)

	archive := theOne(t, dist, "rindkeep_*_"+runtime.GOOS+"_"+runtime.GOARCH+".tar.gz")
	has := unpacked(t, archive)
	for _, want := range []string{
		"LICENSE", "README.md", "man/rindkeep.1", "man/rindkeep-weigh.1", "completion/rindkeep.bash",
		"completion/rindkeep.zsh", "completion/rindkeep.fish", "completion/rindkeep.powershell",
	} {
		if len(has[want]) == 0 {
			t.Errorf("the archive has no %s", want)
		}
	}
	program := filepath.Join(t.TempDir(), "rindkeep")
	if err := os.WriteFile(program, has["rindkeep"], 0o700); err != nil {
		t.Fatal(err)
	}
	commit := strings.TrimSpace(run("git", "rev-parse", "--short=12", "HEAD"))
	date := strings.TrimSpace(run("git", "log", "-1", "--date=format-local:%Y-%m-%d", "--format=%cd"))
	want := `^rindkeep \d+\.\d+\.\d+-next, .*\ncommit ` + commit + `.* of ` + date
	if got := run(program, "version"); !regexp.MustCompile(want).MatchString(got) {
		t.Errorf("its version: %s, want %s", got, want)
	}
	if page := string(has["man/rindkeep-weigh.1"]); !strings.Contains(page, "--from") {
		t.Errorf("the man page of weigh:\n%s", page)
	}

	sums := map[string]string{} // by file
	list, err := os.ReadFile(filepath.Join(dist, "SHA256SUMS"))
	if err != nil {
		t.Fatal(err)
	}
	for l := range strings.Lines(string(list)) {
		if sum, name, ok := strings.Cut(strings.TrimSpace(l), "  "); ok {
			sums[name] = sum
		}
	}
	files := []string{archive}
	if runtime.GOOS == "linux" {
		files = append(files, theOne(t, dist, "rindkeep_*.deb"), theOne(t, dist, "rindkeep_*.rpm"))
	}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		if sum := sha256.Sum256(b); sums[filepath.Base(f)] != hex.EncodeToString(sum[:]) {
			t.Errorf("the sum of %s is %q in SHA256SUMS", filepath.Base(f), sums[filepath.Base(f)])
		}
	}
}

// theOne is the one file of a name in a folder.
func theOne(t *testing.T, folder, name string) string {
	t.Helper()
	found, err := filepath.Glob(filepath.Join(folder, name))
	if err != nil || len(found) != 1 {
		t.Fatalf("%s: %q, %v", name, found, err)
	}
	return found[0]
}

// unpacked is what an archive holds, by name.
func unpacked(t *testing.T, archive string) map[string][]byte {
	t.Helper()
	f, err := os.Open(archive)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(bufio.NewReader(f))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]byte{}
	for r := tar.NewReader(z); ; {
		h, err := r.Next()
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		if out[h.Name], err = io.ReadAll(r); err != nil {
			t.Fatal(err)
		}
	}
}
