package console

import (
	"os"
	"path/filepath"
	"strings"
	"time"
)

// refusedFile keeps when a command that was typed last wrote nothing, in the folder of
// the user's data. The book can't: a refused command leaves no trace there.
func (e Env) refusedFile() string { return filepath.Join(filepath.Dir(e.DefaultBook()), "refused") }

// noteRefused keeps that the command just typed was refused. It's for strike last alone,
// so a failure only means that it doesn't ask.
func (e Env) noteRefused() {
	file := e.refusedFile()
	if !e.InTTY || !filepath.IsAbs(file) || os.MkdirAll(filepath.Dir(file), 0o700) != nil {
		return
	}
	_ = os.WriteFile(file, []byte(e.Now().UTC().Format(time.RFC3339Nano)), 0o600)
}

// RefusedSince says whether a command typed after an instant was refused.
func (e Env) RefusedSince(at time.Time) bool {
	b, err := os.ReadFile(e.refusedFile())
	if err != nil {
		return false
	}
	when, err := time.Parse(time.RFC3339Nano, strings.TrimSpace(string(b)))
	return err != nil || when.After(at)
}
