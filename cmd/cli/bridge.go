package cli

import (
	"bytes"
	"context"
	"io"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/rs/zerolog"
	"github.com/spf13/cobra"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	uc "rindkeep/cmd/app"
	"rindkeep/cmd/app/rooms"
	"rindkeep/cmd/cli/console"
	"rindkeep/cmd/intake"
	"rindkeep/cmd/words"
	"rindkeep/store"
	"rindkeep/wheel"
)

// This file lets the commands that are not yet in a folder of their subject go on
// as before. It goes with the last of them.

type app struct {
	*console.Console
	env     console.Env
	ctx     context.Context
	log     zerolog.Logger
	command string
	book    string
	json    bool
	by      string
	on, at  string
	id      string
	units   quantity.Units
	quiet   bool
	verbose bool
}

type usageError = console.Usage

const (
	exitDone        = console.ExitDone
	maxWord         = uc.MaxWord
	exitNoBook      = console.ExitNoBook
	exitUsage       = console.ExitUsage
	exitBusy        = console.ExitBusy
	exitNotFound    = console.ExitNotFound
	exitFault       = console.ExitBug
	exitInterrupted = console.ExitInterrupted
	exitRefused     = console.ExitRefused
	whatHelp        = console.What
)

var (
	usagef    = console.Usagef
	hint      = console.Hint
	unsure    = console.Unsure
	at        = console.At
	exactly   = console.Exactly
	atLeast   = console.AtLeast
	none      = console.NoArgs
	unknown   = console.UnknownCommand
	indent    = console.Indent
	safeWord  = console.SafeWord
	safePath  = console.SafePath
	exitCode  = console.ExitCode
	notFound  = console.NotFound
	plainOS   = console.PlainOS
	writeFile = console.WriteFile

	mayReplace = console.MayReplace
	shellWord  = words.Shell

	freeToWrite = console.FreeToWrite
	isNotFound  = uc.IsNotFound
	schema      = uc.Schema
	num         = uc.Num[float64]
	rounded     = uc.Rounded
	estOf       = uc.EstOf
	pctEst      = uc.PctEst
	grams       = uc.Grams
	dateOrNull  = uc.DateOrNull
	instant     = uc.Instant
	sortTagged  = uc.SortByTag
	tagsOf      = uc.Tags
	sharedBy    = uc.SharedBy
)

type est = uc.Est

func filled[T any](s []T) []T { return uc.Filled(s) }

func need[T any](flag, value string, parse func(string) (T, error)) (T, error) {
	return console.Need(flag, value, parse)
}

func (a *app) print(format string, v ...any)            { a.Print(format, v...) }
func (a *app) note(format string, v ...any)             { a.Note(format, v...) }
func (a *app) next(format string, v ...any)             { a.Next(format, v...) }
func (a *app) lines(ls []string)                        { a.Lines(ls) }
func (a *app) document(v any) error                     { return a.Document(v) }
func (a *app) style(code string) func(string) string    { return a.Style(code) }
func (a *app) caution(c string)                         { a.Caution(c) }
func (a *app) indented(s string)                        { a.Indented(s) }
func (a *app) openFile(n string) (io.ReadCloser, error) { return a.OpenFile(n) }
func (a *app) nearly(err error) string                  { return a.WithHint(err) }
func (s *session) entry(e wheel.Entry) wheel.Entry      { return s.S.Entry(e) }
func (s *session) then(t time.Time) string              { return words.Printer{}.When(s.S.Earlier(t)) }
func orNull(s string) *string                           { return uc.OrNull(s) }
func naturally(a, b string) int                         { return cave.NaturalCompare(a, b) }

func (a *app) openTable(path, shown, sheet string) (io.ReadCloser, error) {
	return a.OpenTable(path, shown, sheet)
}

func roomsAlarms(s *session, until time.Time) ([]rooms.Alarm, error) {
	list, err := rooms.Alarms(s.S, until)
	s.Words.FillAlarms(list)
	return list, err
}

func someOf(tags []string) string { return words.Printer{}.Tags(tags) }

func (a *app) group(use, short string, subs ...*cobra.Command) *cobra.Command {
	return console.Group(use, short, subs...)
}

func (a *app) cmd(use, short, ex string, args cobra.PositionalArgs, run console.Run) *cobra.Command {
	return a.Cmd(use, short, ex, args, func(cmd *cobra.Command, args []string) error {
		a.copied()
		return run(cmd, args)
	})
}

func (a *app) nowCmd(use, short, ex string, args cobra.PositionalArgs, run console.Run) *cobra.Command {
	return a.NowCmd(use, short, ex, args, func(cmd *cobra.Command, args []string) error {
		a.copied()
		return run(cmd, args)
	})
}

func (a *app) copied() {
	a.env, a.ctx, a.log, a.command, a.book, a.json = a.Env, a.Ctx, a.Log, a.Command, a.Book, a.JSON
	a.by, a.on, a.at, a.id, a.units, a.quiet, a.verbose = a.By, a.On, a.At, a.ID, a.Units, a.Quiet, a.Verbose
}

func (a *app) completes(c *cobra.Command, flag string, from func(*session) []string) {
	a.Completes(c, flag, func(s *uc.Session) []string { return from(a.session(s)) })
}

func (a *app) completesArgs(c *cobra.Command, from func(s *session, nth int, word string) []string) *cobra.Command {
	return a.CompletesArgs(c, func(s *uc.Session, nth int, word string) []string { return from(a.session(s), nth, word) })
}

func whatWords(s *session, word string) []string { return console.WhatWords(s.S, word) }
func (s *session) roomNames() []string           { return console.RoomNames(s.S) }
func (s *session) lotNames() []string            { return console.LotNames(s.S) }

type session struct {
	*app
	S     *uc.Session
	tx    *store.ReadTx
	write *store.WriteTx
	loc   *time.Location
	now   time.Time
	today day.Date
	who   string
	said  map[string]bool
}

func (a *app) session(s *uc.Session) *session {
	a.units = a.Units // the book's, where the reader chose none
	if s == nil {
		return &session{app: a}
	}
	return &session{app: a, S: s, tx: s.Tx, write: s.Write, loc: s.Zone, now: s.Time, today: s.Today, who: s.Who}
}

func (a *app) view(fn func(*session) error) error {
	_, err := uc.Ask(a.Ctx, a.App, a.Caller(), func(s *uc.Session) (int, error) { return 0, fn(a.session(s)) })
	return err
}

func (a *app) look(fn func(*session) error) error {
	_, err := uc.AskLong(a.Ctx, a.App, a.Caller(), func(s *uc.Session) (int, error) { return 0, fn(a.session(s)) })
	return err
}

func (a *app) update(fn func(*session) error) error {
	return a.updated(func() error {
		d, err := uc.Act(a.Ctx, a.App, a.Caller(), func(s *uc.Session) (int, error) { return 0, fn(a.session(s)) })
		if err != nil || d.Known == nil {
			return err
		}
		_, _, err = console.Saved(a.Console, d, err)
		return err
	})
}

// updated keeps back what write prints until its transaction is synced.
func (a *app) updated(write func() error) error {
	out := a.Env.Out
	var held bytes.Buffer
	a.Env.Out, a.env.Out = &held, &held
	defer func() { a.Env.Out, a.env.Out = out, out }()
	if err := write(); err != nil {
		return err
	}
	a.Committed = true
	_, _ = out.Write(held.Bytes()) // Output remembers a failure
	return nil
}

func (s *session) nextID() uuid.UUID                 { return s.S.NextID() }
func (s *session) recordID() (uuid.UUID, error)      { return s.S.RecordID() }
func (s *session) subjectName(id uuid.UUID) string   { return s.S.SubjectName(id) }
func (s *session) noTag(tag string, err error) error { return s.S.NoTag(tag, err) }

func (s *session) moment() (time.Time, bool, error) { return s.S.Moment() }

func (s *session) momentOf(word, field string) (time.Time, bool, error) {
	return s.S.MomentOf(word, strings.TrimPrefix(field, "--"))
}

func (s *session) asOf() (time.Time, day.Date, error) { return s.S.AsOf() }

func (s *session) pick(words []string) ([]store.WheelState, error) { return s.S.Pick(words) }

func (s *session) pickWord(word string) ([]store.WheelState, error) { return s.S.PickWord(word) }

func (s *session) standingsOf(mk uuid.UUID) ([]store.WheelState, error) { return s.S.WheelsHere(mk) }

func (a *app) create(zone string) error { return a.CreateBook(store.Settings{Zone: zone}) }

func (a *app) problems(file string, bad []intake.Problem) error { return a.Problems(file, bad) }

func bulk(u quantity.Units, g quantity.Grams) string { return words.Printer{Units: u}.Bulk(g) }

func saltWeight(u quantity.Units, g quantity.Grams) string { return words.Printer{Units: u}.Salt(g) }
