package cli

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cmd/text"
	"rindkeep/store"
	"rindkeep/wheel/holdrule"
)

// session is one open transaction with the clock, zone and person it runs
// under.
type session struct {
	*app
	tx    *store.ReadTx
	write *store.WriteTx // nil in a session that only reads
	loc   *time.Location
	now   time.Time
	today day.Date
	who   string
	batch uuid.UUID // first of this command's entry IDs
	seq   uint32
	said  map[string]bool
	laws  map[uuid.UUID]holdrule.Set // by make, as they are asked for
}

// view runs fn on the book for reading.
func (a *app) view(fn func(*session) error) error {
	return a.with(store.Read, fn)
}

// look is view for what may take long on a book of many wheels: it reads a copy
// of such a book, so that whoever writes meanwhile does not wait for it.
func (a *app) look(fn func(*session) error) error {
	a.aside = true
	return a.with(store.Read, fn)
}

// many is how many wheels here make a look long: it settles a hundred thousand
// in a minute.
const many = 1000

// asideOf gives a copy to read from where the book is one of many wheels.
func asideOf(b *store.Book) (*store.Book, error) {
	var c store.Counts
	if err := b.View(func(tx *store.ReadTx) (err error) {
		c, err = tx.Counts()
		return err
	}); err != nil || c.Here < many {
		return b, err
	}
	return b.Snapshot()
}

// update runs fn in one transaction: all of it, synced, or nothing.
func (a *app) update(fn func(*session) error) error {
	return a.with(store.Write, fn)
}

func (a *app) with(mode store.Mode, fn func(*session) error) (err error) {
	if err := a.ctx.Err(); err != nil {
		return err
	}
	b, err := store.Open(a.book, mode, store.Options{Now: a.env.Now})
	if err != nil {
		return err
	}
	defer func() {
		if cerr := b.Close(); err == nil {
			err = cerr
		}
	}()
	if mode == store.Read && a.aside {
		if b, err = asideOf(b); err != nil {
			return err
		}
	}
	run := func(tx *store.ReadTx, w *store.WriteTx) error {
		s, err := a.session(tx)
		if err != nil {
			return err
		}
		s.write = w
		if w != nil && a.id != "" {
			if known, err := s.known(); known || err != nil {
				return err
			}
		}
		if err := fn(s); err != nil {
			return err
		}
		if w != nil {
			if err := w.SetLastCommand(store.LastCommand{Command: a.command, By: s.who, At: s.now, Batch: s.batch}); err != nil {
				return err
			}
		}
		return a.ctx.Err()
	}
	a.log.Debug().Str("book", a.book).Msg("open")
	if mode == store.Write {
		return a.updated(func() error { return b.Update(func(w *store.WriteTx) error { return run(w.ReadTx, w) }) })
	}
	return b.View(func(tx *store.ReadTx) error { return run(tx, nil) })
}

// updated keeps back what write prints until its transaction is synced: what a
// person or a program read as done must be in the book, whatever happens next.
func (a *app) updated(write func() error) error {
	out := a.env.Out
	var held bytes.Buffer
	a.env.Out = &held
	defer func() { a.env.Out = out }()
	if err := write(); err != nil {
		return err
	}
	a.committed = true
	_, _ = out.Write(held.Bytes()) // pipe remembers a failure
	return nil
}

func (a *app) session(tx *store.ReadTx) (*session, error) {
	set := tx.Settings()
	loc, err := time.LoadLocation(set.Zone)
	if err != nil {
		return nil, fmt.Errorf("the book keeps the time zone %q, which this machine does not know", set.Zone)
	}
	now := a.env.Now().UTC().Truncate(time.Millisecond)
	s := &session{app: a, tx: tx, loc: loc, now: now, today: day.At(now, loc), who: a.by}
	if s.who == "" {
		s.who = set.By
	}
	if s.who == "" {
		s.who = a.env.person()
	}
	if s.who != "" {
		if err := cave.CheckName("person", s.who); err != nil {
			return nil, err
		}
	}
	if a.id != "" {
		id, err := uuid.Parse(a.id)
		s.batch = sharedBy(id)
		return s, err
	}
	s.batch, err = uuid.NewV7()
	if err != nil {
		return nil, err
	}
	// The last four bytes count the entries of one command, so that all of
	// them share a beginning and can be withdrawn together (RFC 9562, 6.2,
	// monotonic random).
	ms := uint64(now.UnixMilli())
	for i := range 6 {
		s.batch[i] = byte(ms >> (8 * (5 - i)))
	}
	s.batch[12], s.batch[13], s.batch[14], s.batch[15] = 0, 0, 0, 0
	return s, nil
}

// sharedBy is the beginning that the entries of a command sent under an identity
// share. Their last four bytes count them, so those of the identity are folded
// into the four before, but for the variant's bits: senders that count up within
// a millisecond (RFC 9562, 6.2) differ in nothing else.
func sharedBy(id uuid.UUID) uuid.UUID {
	id[8] ^= id[12] & 0x3f
	id[9] ^= id[13]
	id[10] ^= id[14]
	id[11] ^= id[15]
	id[12], id[13], id[14], id[15] = 0, 0, 0, 0
	return id
}

// nextID is the ID of this command's next entry.
func (s *session) nextID() uuid.UUID {
	s.seq++
	id := s.batch
	id[12], id[13], id[14], id[15] = byte(s.seq>>24), byte(s.seq>>16), byte(s.seq>>8), byte(s.seq)
	return id
}

// exampleID shows what --id wants.
const exampleID = "0193a5c0-7b1e-7c3a-9f10-2b7d4e9f3c1a"

// recordID is the identity of a make or a wheel this command writes: one of the
// command's own where the sender gave it one, else any.
func (s *session) recordID() (uuid.UUID, error) {
	if s.id != "" {
		return s.nextID(), nil
	}
	return uuid.NewV7()
}

// known says whether the command was done before under the sender's identity,
// and if so answers with what it wrote then. Such a command changes nothing,
// whatever became of its wheels since.
func (s *session) known() (bool, error) {
	es, err := s.tx.EntriesByCommand(s.batch)
	if err != nil {
		return false, err
	}
	first := s.batch
	first[15] = 1
	mk, err := s.tx.Make(first)
	if err != nil && !isNotFound(err) {
		return false, err
	}
	if err != nil && len(es) == 0 {
		return false, nil
	}
	of := []string{}
	if err == nil {
		of = append(of, mk.Lot)
	}
	for _, e := range es {
		if name := s.subjectName(e.Subject); !slices.Contains(of, name) {
			of = append(of, name)
		}
	}
	if s.json {
		return true, s.document(struct {
			Schema  string   `json:"schema"`
			ID      string   `json:"id"`
			Entries int      `json:"entries"`
			Of      []string `json:"of"`
		}{schema("known"), s.id, len(es), of})
	}
	s.print("no change, in the book already: %s\n", someOf(of))
	return true, nil
}

// moment is when the thing being recorded happened, from --at or --on; exact
// is false where only a date is known, and the instant is then its noon, or now
// where the date is today. The present is the default. The future is refused.
func (s *session) moment() (t time.Time, exact bool, err error) {
	word := s.at
	flag := "--at"
	if s.on != "" {
		word, flag = s.on, "--on"
	}
	if word == "" {
		return s.now, true, nil
	}
	return s.momentOf(word, flag)
}

// momentOf is when something happened, in a word: a day of the week is the last
// such day.
func (s *session) momentOf(word, flag string) (t time.Time, exact bool, err error) {
	latest := s.now.Add(2 * time.Minute)
	t, exact, err = day.ParsePastMoment(word, s.today, latest, s.loc)
	if err != nil {
		return t, false, at(flag, usageError{flag + " " + err.Error()})
	}
	if !exact {
		switch d := day.At(t, s.loc); {
		case d == s.today:
			return s.now, false, nil
		case d > s.today:
			return t, false, at(flag, fmt.Errorf("%s is in the future: only what has happened can be recorded", d))
		}
	}
	if t.After(latest) {
		return t, exact, at(flag, fmt.Errorf("%s is in the future: only what has happened can be recorded", t.In(s.loc).Format("2006-01-02 15:04")))
	}
	return t.UTC().Truncate(time.Millisecond), exact, nil
}

// asOf is the instant a look at the book is for: now, the given time, or the
// end of the given date. Dates to come are allowed.
func (s *session) asOf() (time.Time, day.Date, error) {
	word, flag := s.at, "--at"
	if s.on != "" {
		word, flag = s.on, "--on"
	}
	if word == "" {
		return s.now, s.today, nil
	}
	t, exact, err := day.ParseMoment(word, s.today, s.loc)
	if err != nil {
		return t, 0, at(flag, usageError{flag + " " + err.Error()})
	}
	d := day.At(t, s.loc)
	if !exact {
		t = (d + 1).Start(s.loc).Add(-time.Millisecond)
		if d == s.today {
			t = s.now
		}
	}
	return t.UTC(), d, nil
}

// create makes the book if there is none at the path, and says so.
func (a *app) create(zone string) error { return a.createFor(zone, "") }

// createFor is create for a book that follows the law of those countries.
func (a *app) createFor(zone, countries string) error {
	if _, err := os.Stat(a.book); err == nil || !errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if zone == "" {
		zone = a.env.zoneName()
	}
	if _, err := time.LoadLocation(zone); err != nil || zone == "Local" {
		return usagef("no time zone %q; give an IANA name like Europe/Dublin", safeWord(zone))
	}
	if dir := filepath.Dir(a.book); a.book == a.env.defaultBook() {
		if err := os.MkdirAll(dir, 0o755); err != nil {
			return fmt.Errorf("no folder for the book at %s: %s", safePath(dir), plainOS(err))
		}
	} else if _, err := os.Stat(dir); err != nil {
		return at(a.book, hint(fmt.Errorf("no folder %s for the book", safePath(dir)), "is the path right? make the folder first, or leave --book out"))
	}
	id, err := uuid.NewV7()
	if err != nil {
		return err
	}
	b, err := store.Create(a.book, store.Settings{ID: id, Created: a.env.Now().UTC().Truncate(time.Millisecond), Zone: zone, Countries: countries})
	if err != nil {
		return err
	}
	a.note("new book at %s, time zone %s", a.book, zone)
	return b.Close()
}

// note says something on stderr that is no data, unless --quiet.
func (a *app) note(format string, v ...any) {
	if !a.quiet {
		fmt.Fprintf(a.env.Err, format+"\n", v...)
	}
}

// print writes data for a person.
func (a *app) print(format string, v ...any) { fmt.Fprintf(a.env.Out, format, v...) }

// lines writes lines of text.
func (a *app) lines(ls []string) {
	for _, l := range ls {
		fmt.Fprintln(a.env.Out, l)
	}
}

// next says what to do next, unless --quiet or --json.
func (a *app) next(format string, v ...any) {
	if a.quiet || a.json {
		return
	}
	s := fmt.Sprintf(format, v...)
	body := strings.TrimLeft(s, "\n")
	fmt.Fprint(a.env.Out, s[:len(s)-len(body)])
	for _, l := range text.Wrap(body, a.env.width()) {
		fmt.Fprintln(a.env.Out, l)
	}
}

// document writes one JSON document.
func (a *app) document(v any) error {
	enc := json.NewEncoder(a.env.Out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

// safeWord shows a word a person typed without letting it touch the terminal.
func safeWord(s string) string { return text.Cut(strings.ReplaceAll(text.Safe(s), "\n", " "), 60) }
