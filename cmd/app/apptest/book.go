// Package apptest has the book that tests of the use cases begin with.
package apptest

import (
	"path/filepath"
	"testing"
	"time"

	"rindkeep/cmd/app"
	"rindkeep/store"
)

// Book is an empty book in Dublin's time zone, at 08:00 on 25 November 2026.
func Book(t testing.TB) *app.App {
	t.Helper()
	a := &app.App{
		Book: filepath.Join(t.TempDir(), "cave.book"),
		Now:  func() time.Time { return time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC) },
	}
	if _, err := a.Create(store.Settings{Zone: "Europe/Dublin"}); err != nil {
		t.Fatal(err)
	}
	return a
}
