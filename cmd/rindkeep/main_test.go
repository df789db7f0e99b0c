package main

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"math"
	"net"
	"net/http"
	"os"
	"os/signal"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"rindkeep/cmd/app/drying"
	"rindkeep/cmd/cli"
	"rindkeep/store"
)

var update = flag.Bool("update", false, "rewrite the golden files")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"rindkeep": program, "holdbook": holdBook, "alterbook": alterBook})
}

// program is main with a clock that a script can set, and that moves on a
// second with every command, and with another limit from which on a table is loaded; the
// program itself knows no such variables.
func program() {
	now := time.Now
	if s := os.Getenv("RINDKEEP_TEST_NOW"); s != "" {
		t, err := time.Parse(time.RFC3339, s)
		if err != nil {
			panic(err)
		}
		if f, err := os.OpenFile(os.Getenv("RINDKEEP_TEST_TICKS"), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600); err == nil {
			_, _ = f.Write([]byte{'.'})
			if st, err := f.Stat(); err == nil {
				t = t.Add(time.Duration(st.Size()) * time.Second)
			}
			f.Close()
		}
		now = func() time.Time { return t }
	}
	if n, err := strconv.Atoi(os.Getenv("RINDKEEP_TEST_LONG")); err == nil {
		drying.Long = n
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := cli.Run(ctx, os.Args[1:], cli.System(now))
	stop()
	os.Exit(code)
}

// holdBook is another process that keeps a book open for writing until it is
// ended: holdbook BOOK READY, where READY is a file it makes once it holds it.
func holdBook() {
	b, err := store.Open(os.Args[1], store.Write, store.Options{})
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	defer b.Close()
	if err := os.WriteFile(os.Args[2], nil, 0o600); err != nil {
		os.Exit(1)
	}
	time.Sleep(time.Minute)
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 filepath.Join("testdata", "script"),
		UpdateScripts:       *update,
		RequireExplicitExec: false,
		RequireUniqueNames:  true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("TZ", "Europe/Dublin")
			e.Setenv("RINDKEEP_TEST_NOW", "2026-11-25T08:00:00Z")
			e.Setenv("RINDKEEP_TEST_TICKS", filepath.Join(e.WorkDir, "tmp", "ticks"))
			e.Setenv("RINDKEEP_BY", "Nora")
			e.Setenv("RINDKEEP_BOOK", filepath.Join(e.WorkDir, "cave.book"))
			e.Setenv("PAGE", freeAddress())
			e.Setenv("AFFINEUR", strconv.Itoa(setting("RINDKEEP_AFFINEUR", 400, 12000)))
			e.Setenv("TMPDIR", filepath.Join(e.WorkDir, "tmp"))
			return os.MkdirAll(filepath.Join(e.WorkDir, "tmp"), 0o755)
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"json": checkJSON, "code": exitsWith, "bytes": writeBytes, "rows": writeRows, "until": waitFor, "plain": checkPlain,
			"fits": checkWidth, "keep": keepField, "http": askPage, "cells": cellsOf, "sheets": sheetsOf,
			"golden": goldenFile, "needs": needsPrograms, "words": wordsOf, "codes": codesOf,
		},
	})
}

// checkJSON compares one field: json FILE PATH VALUE, where PATH is like
// wheels.0.verdict or wheels.len for a length, and VALUE is JSON, or a bare word
// for a string. With ! the field must differ.
func checkJSON(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 3 {
		ts.Fatalf("usage: json FILE PATH VALUE")
	}
	have, err := fieldOf([]byte(ts.ReadFile(args[0])), args[1])
	ts.Check(err)
	var want any
	if json.Unmarshal([]byte(args[2]), &want) != nil {
		want = args[2]
	}
	if same := reflect.DeepEqual(have, want); same == neg {
		b, _ := json.Marshal(have)
		ts.Fatalf("%s %s is %s, want %s (negated: %v)", args[0], args[1], b, args[2], neg)
	}
}

// fieldOf finds a field of a JSON document.
func fieldOf(doc []byte, path string) (any, error) {
	var v any
	if err := json.Unmarshal(doc, &v); err != nil {
		return nil, fmt.Errorf("not one JSON document: %w\n%s", err, doc)
	}
	for _, k := range strings.Split(path, ".") {
		switch x := v.(type) {
		case map[string]any:
			f, ok := x[k]
			if !ok {
				return nil, fmt.Errorf("no field %q of %q", k, path)
			}
			v = f
		case []any:
			if k == "len" {
				v = float64(len(x))
				continue
			}
			i, err := strconv.Atoi(k)
			if err != nil || i < 0 || i >= len(x) {
				return nil, fmt.Errorf("no element %q of %q among %d", k, path, len(x))
			}
			v = x[i]
		default:
			return nil, fmt.Errorf("%q of %q is in no object", k, path)
		}
	}
	return v, nil
}

// keepField puts a string of a document in a variable: keep FILE PATH NAME.
func keepField(ts *testscript.TestScript, neg bool, args []string) {
	have, err := fieldOf([]byte(ts.ReadFile(args[0])), args[1])
	ts.Check(err)
	s, ok := have.(string)
	if !ok || neg {
		ts.Fatalf("%s %s is no string", args[0], args[1])
	}
	ts.Setenv(args[2], s)
}

// freeAddress is an address of this machine on which nobody listens.
func freeAddress() string {
	l, err := net.Listen("tcp", "localhost:0")
	if err != nil {
		return "localhost:47011"
	}
	defer l.Close()
	_, port, _ := net.SplitHostPort(l.Addr().String())
	return "localhost:" + port
}

// askPage asks a page, once it answers: http STATUS METHOD URL [@HEAD-FILE]
// [BODY], where the head file has a line NAME: VALUE for each, and may name variables
// of the script. What came back is
// in the files answer and answer-head.
func askPage(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) < 3 || neg {
		ts.Fatalf("usage: http STATUS METHOD URL [@HEAD-FILE] [BODY]")
	}
	rest, head := args[3:], ""
	if len(rest) > 0 && strings.HasPrefix(rest[0], "@") {
		head, rest = os.Expand(ts.ReadFile(rest[0][1:]), ts.Getenv), rest[1:]
	}
	client := &http.Client{Timeout: 20 * time.Second,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	for try := 0; ; try++ {
		req, err := http.NewRequest(args[1], args[2], strings.NewReader(strings.Join(rest, " ")))
		ts.Check(err)
		for _, l := range strings.Split(head, "\n") {
			if k, v, ok := strings.Cut(l, ": "); ok {
				if k == "Host" {
					req.Host = v
				}
				req.Header.Set(k, v)
			}
		}
		r, err := client.Do(req)
		if err != nil && try < 500 {
			time.Sleep(10 * time.Millisecond)
			continue
		}
		ts.Check(err)
		b, err := io.ReadAll(r.Body)
		r.Body.Close()
		ts.Check(err)
		var h bytes.Buffer
		ts.Check(r.Header.Write(&h))
		ts.Check(os.WriteFile(ts.MkAbs("answer"), b, 0o666))
		ts.Check(os.WriteFile(ts.MkAbs("answer-head"), bytes.ReplaceAll(h.Bytes(), []byte("\r"), nil), 0o666))
		if got := strconv.Itoa(r.StatusCode); got != args[0] {
			ts.Fatalf("%s %s: %s, want %s\n%s", args[1], args[2], got, args[0], b)
		}
		return
	}
}

// exitsWith runs a program and wants its exit code: code N PROGRAM ARGS...
func exitsWith(ts *testscript.TestScript, neg bool, args []string) {
	want, err := strconv.Atoi(args[0])
	if err != nil || neg || len(args) < 2 {
		ts.Fatalf("usage: code N PROGRAM ARGS...")
	}
	err = ts.Exec(args[1], args[2:]...)
	var got int
	if x, ok := err.(interface{ ExitCode() int }); ok {
		got = x.ExitCode()
	} else if err != nil {
		ts.Fatalf("%v", err)
	}
	if got != want {
		ts.Fatalf("exit code %d, want %d", got, want)
	}
}

// writeBytes writes a file from a Go string literal: bytes FILE '"\xef\xbb..."'.
func writeBytes(ts *testscript.TestScript, neg bool, args []string) {
	s, err := strconv.Unquote(args[1])
	ts.Check(err)
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(s), 0o666))
}

// writeRows writes a table of N weighings spread over lots of forty wheels:
// rows FILE N FROM LOT..., where every wheel loses a little from row to row,
// twelve hours apart, and FROM is the date of the first.
func writeRows(ts *testscript.TestScript, neg bool, args []string) {
	n, err := strconv.Atoi(args[1])
	ts.Check(err)
	from, err := time.Parse("2006-01-02", args[2])
	ts.Check(err)
	lots := args[3:]
	var b bytes.Buffer
	b.WriteString("tag,weight,date,time\n")
	wheels := 40 * len(lots)
	for i := range n {
		k, nth := i%wheels, i/wheels
		at := from.Add(time.Duration(nth) * 12 * time.Hour)
		d := at.Sub(from).Hours()/24 + 1
		loss := 0.0105 * (math.Sqrt(1+d) - 1)
		fmt.Fprintf(&b, "%s-%02d,%.0f,%s\n", lots[k/40], k%40+1, 2100*(1-loss), at.Format("2006-01-02,15:04"))
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), b.Bytes(), 0o666))
}

// waitFor waits until a file is there.
func waitFor(ts *testscript.TestScript, neg bool, args []string) {
	for range 500 {
		if _, err := os.Stat(ts.MkAbs(args[0])); err == nil {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	ts.Fatalf("%s did not come", args[0])
}

var control = regexp.MustCompile(
	`[\x00-\x08\x0b-\x1f\x7f-\x9f\x{200b}-\x{200f}\x{202a}-\x{202e}\x{2066}-\x{2069}\x{feff}]`)

// checkPlain wants no byte in the files that could act on a terminal.
func checkPlain(ts *testscript.TestScript, neg bool, args []string) {
	for _, f := range args {
		if m := control.FindStringIndex(ts.ReadFile(f)); m != nil {
			ts.Fatalf("%s holds a raw control character at byte %d", f, m[0])
		}
	}
}

// checkWidth wants no line of the files wider than 80 characters; every
// character the program itself prints is one column wide.
func checkWidth(ts *testscript.TestScript, neg bool, args []string) {
	for _, f := range args {
		for i, l := range strings.Split(ts.ReadFile(f), "\n") {
			if n := len([]rune(l)); n > 80 {
				ts.Fatalf("%s line %d is %d columns wide: %s", f, i+1, n, l)
			}
		}
	}
}
