// Package app answers questions about a book and records acts in it: one typed
// request and one typed result for each, one transaction each. The command
// line, the page and the sheets turn what a person gave into a request and
// render the result.
//
// This package holds what every use case shares: the transaction, the clock, who
// is acting, the choice of wheels, refusals. The use cases are in the packages
// below it, by subject. None of them knows a flag, HTML or a sentence.
package app

import (
	"context"
	"errors"
	"os"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/rs/zerolog"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/store"
	"rindkeep/store/bookfile"
	"rindkeep/store/derive"
	"rindkeep/store/register"
	"rindkeep/wheel/holdrule"
)

// App is the program on one book.
type App struct {
	Book   string           // path of the book's file
	Now    func() time.Time // the clock
	Person string           // who acts where neither the caller nor the book says; may be ""
	Log    zerolog.Logger   // what is being done, for --verbose

	Opened func(*store.ReadTx)      // told of each book that is opened, where set
	Harmed func([]bookfile.Finding) // told what couldn't be read and was left out, where set

	Backups  bool                 // it makes backups of the book by itself
	Wrote    func(store.Settings) // told of each act that may have changed the book, where set
	NoBackup func(*Refusal)       // told of an act that goes on without a backup from before it, where set

	Pace func(recording bool, done, of int) // told how far an act on many wheels has come, where set
}

// Caller is who asks, and when what they record happened. The zero Caller is the
// book's own person, now.
type Caller struct {
	By      string        // who did it; "": the book's person, else the App's
	ID      string        // the sender's own UUID of the act, so that a repeat changes nothing; "": one is made
	On      string        // the date it happened on, or to look at, as typed; "": now
	At      string        // the time it happened at, as typed; not with On
	Within  time.Duration // how far back at most it may have happened; 0: however far
	Clock   time.Time     // what the caller's own clock says of that time, if it's off; zero: it's right
	Unsure  bool          // the caller's clock was set meanwhile, so that time may be wrong
	Phone   uuid.UUID     // the phone it was entered on; zero: none that numbers its entries
	Number  int           // the entry's number there
	Command string        // the act's name, kept so that the last act can be cancelled
	Part    bool          // one of several transactions of an act: a repeat isn't looked for
}

// Session is one open transaction with the clock, zone and person it runs under.
type Session struct {
	App
	Caller
	Ctx   context.Context
	Tx    *store.ReadTx
	Write *store.WriteTx // nil in a question
	Zone  *time.Location
	Time  time.Time // now, UTC, to the millisecond
	Today day.Date
	Who   string

	batch  uuid.UUID // what the IDs of this act's entries begin with
	seq    uint32
	most   int                 // wheels that may be picked in one transaction; 0: however many
	picked []derive.WheelState // instead of those that words name; nil: those
	all    []derive.WheelState // whom the act is about, where it takes several transactions

	laws     map[uuid.UUID]holdrule.Set // by make, as they are asked for
	held     map[lay]bool               // by law, as they are asked for
	bought   map[string][]boughtLot     // by supplier and its lot code, as they are asked for
	received map[string][]uuid.UUID     // makes by supplier and its lot code; nil: not read yet
}

// Did is what an act came to.
type Did[R any] struct {
	Result R
	Known  *Known // set where the act was in the book already: nothing was changed, Result is empty
}

// Deed is an act as the edges know it: what a person gave in, what it came to out.
type Deed[Q, R any] func(context.Context, *App, Caller, Q) (Did[R], error)

// Known tells of an act that was recorded before under the same ID.
type Known struct {
	Schema  string   `json:"schema"`
	ID      string   `json:"id"`
	Entries int      `json:"entries"`
	Of      []string `json:"of"` // tags and lots it was about
}

// Ask answers a question in one read transaction.
func Ask[R any](ctx context.Context, a *App, c Caller, fn func(*Session) (R, error)) (r R, err error) {
	err = a.with(ctx, c, store.Read, false, func(s *Session) error {
		r, err = fn(s)
		return err
	})
	return r, err
}

// AskLong is Ask for what may take long in a big book: it reads a copy, so that
// nobody who records something meanwhile has to wait.
func AskLong[R any](ctx context.Context, a *App, c Caller, fn func(*Session) (R, error)) (r R, err error) {
	err = a.with(ctx, c, store.Read, true, func(s *Session) error {
		r, err = fn(s)
		return err
	})
	return r, err
}

// Act records something in one write transaction: all of it, synced to disk
// when Act returns, or nothing.
func Act[R any](ctx context.Context, a *App, c Caller, fn func(*Session) (R, error)) (d Did[R], err error) {
	err = a.with(ctx, c, store.Write, false, func(s *Session) error {
		if c.ID != "" && !c.Part {
			if d.Known, err = s.known(); d.Known != nil || err != nil {
				return errors.Join(err, s.arrived())
			}
		}
		if d.Result, err = fn(s); err != nil {
			return err
		}
		if err := s.Write.SetLastCommand(s.last()); err != nil {
			return err
		}
		return s.arrived()
	})
	return d, err
}

// last is the act as the book notes it.
func (s *Session) last() register.LastCommand {
	return register.LastCommand{Command: s.Command, By: s.Who, At: s.Time, Batch: s.batch}
}

// errTried ends a transaction that was only tried.
var errTried = errors.New("only tried")

// Try does what Act would do, and keeps nothing of it.
func Try[R any](ctx context.Context, a *App, c Caller, fn func(*Session) (R, error)) (r R, err error) {
	c.ID = ""
	_, err = Act(ctx, a, c, func(s *Session) (R, error) {
		if r, err = fn(s); err == nil {
			err = errTried
		}
		return r, err
	})
	if errors.Is(err, errTried) {
		err = nil
	}
	return r, err
}

// arrived notes that the book has what was entered on a phone.
func (s *Session) arrived() error {
	if s.Phone == uuid.Nil {
		return nil
	}
	return s.Write.Arrived(s.Phone, s.Number, s.Who)
}

// Check opens the book and closes it again: an error says why it can't be used.
func (a *App) Check(ctx context.Context) error {
	return a.with(ctx, Caller{}, store.Read, false, func(*Session) error { return nil })
}

// Units are the units in which the book's own people read figures.
func (a *App) Units(ctx context.Context) (quantity.Units, error) {
	return Ask(ctx, a, Caller{}, func(s *Session) (quantity.Units, error) {
		if u, err := quantity.ParseUnits(s.Tx.Settings().Units); err == nil {
			return u, nil
		}
		return quantity.Metric, nil
	})
}

// snapshotFrom is how many wheels make AskLong read a copy.
const snapshotFrom = 1000

func (a *App) with(ctx context.Context, c Caller, mode store.Mode, long bool, fn func(*Session) error) (err error) {
	if err := ctx.Err(); err != nil {
		return err
	}
	opt := store.Options{Now: a.Now}
	if c.Part { // better late than half
		opt.Wait = time.Minute
	}
	b, err := store.Open(a.Book, mode, opt)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	if long {
		if b, err = snapshotOf(b); err != nil {
			return err
		}
	}
	run := func(tx *store.ReadTx, w *store.WriteTx) error {
		s, err := a.session(ctx, tx, c)
		if err != nil {
			return err
		}
		s.Write = w
		if err := fn(s); err != nil {
			return err
		}
		return ctx.Err()
	}
	a.Log.Debug().Str("book", a.Book).Msg("open")
	if mode == store.Write {
		err = b.Update(func(w *store.WriteTx) error { return run(w.ReadTx, w) })
	} else {
		err = b.View(func(tx *store.ReadTx) error { return run(tx, nil) })
	}
	if err == nil {
		a.TellHarm(b)
	}
	if err == nil && mode == store.Write && a.Wrote != nil {
		a.Wrote(b.Settings())
	}
	return err
}

// TellHarm tells what couldn't be read of a book and was left out.
func (a *App) TellHarm(b *store.Book) {
	if harm := b.Harm(); len(harm) > 0 && a.Harmed != nil {
		a.Harmed(harm)
	}
}

// snapshotOf gives a copy to read from where the book holds many wheels.
func snapshotOf(b *store.Book) (*store.Book, error) {
	var c store.Counts
	if err := b.View(func(tx *store.ReadTx) (err error) {
		c, err = tx.Counts()
		return err
	}); err != nil || c.Here < snapshotFrom {
		return b, err
	}
	return b.Snapshot()
}

func (a *App) session(ctx context.Context, tx *store.ReadTx, c Caller) (*Session, error) {
	set := tx.Settings()
	if a.Opened != nil {
		a.Opened(tx)
	}
	zone := tx.Zone()
	now := a.Now().UTC().Truncate(time.Millisecond)
	s := &Session{App: *a, Caller: c, Ctx: ctx, Tx: tx, Zone: zone, Time: now, Today: day.At(now, zone)}
	for _, who := range []string{c.By, set.By, a.Person} {
		if s.Who == "" {
			s.Who = who
		}
	}
	if s.Who != "" {
		if err := cave.CheckName("person", s.Who); err != nil {
			return nil, At("by", err)
		}
	}
	var err error
	s.batch, err = newBatch(c.ID, now)
	return s, err
}

// newBatch is what the IDs of one act's entries begin with. The last four bytes
// count the entries, so that all of them share a beginning and can be cancelled
// together (RFC 9562, 6.2, monotonic random).
func newBatch(id string, now time.Time) (uuid.UUID, error) {
	if id != "" {
		sent, err := uuid.Parse(id)
		if err != nil {
			return sent, &Refusal{Kind: Misused, Why: NotUUID{Word: id}, At: Place{Field: "id"}}
		}
		return SharedBy(sent), nil
	}
	batch, err := uuid.NewV7()
	if err != nil {
		return batch, err
	}
	ms := uint64(now.UnixMilli())
	for i := range 6 {
		batch[i] = byte(ms >> (8 * (5 - i)))
	}
	batch[12], batch[13], batch[14], batch[15] = 0, 0, 0, 0
	return batch, nil
}

// SharedBy is what the IDs of an act sent under an ID begin with. It makes room
// for the count in a sender's ID: its last four bytes are
// folded into the four before, but for the variant's bits. Senders that count up
// within a millisecond (RFC 9562, 6.2) differ in nothing else.
func SharedBy(id uuid.UUID) uuid.UUID {
	id[8] ^= id[12] & 0x3f
	id[9] ^= id[13]
	id[10] ^= id[14]
	id[11] ^= id[15]
	id[12], id[13], id[14], id[15] = 0, 0, 0, 0
	return id
}

// NextID is the ID of this act's next entry.
func (s *Session) NextID() uuid.UUID {
	s.seq++
	id := s.batch
	id[12], id[13], id[14], id[15] = byte(s.seq>>24), byte(s.seq>>16), byte(s.seq>>8), byte(s.seq)
	return id
}

// Continue has the session go on with an act where another transaction of it ended.
func (s *Session) Continue(o *Session) {
	s.batch, s.seq, s.Time, s.Today = o.batch, o.seq, o.Time, o.Today
}

// Trial is a question's session as an act would have it, that checks what is put and never
// writes it.
func (s *Session) Trial() *Session {
	t := *s
	t.Write = s.Tx.Trial()
	t.Tx = t.Write.ReadTx
	return &t
}

// Batch is what the IDs of this act's entries begin with.
func (s *Session) Batch() uuid.UUID { return s.batch }

// RecordID is the ID of a make or a wheel this act records: one of the act's own
// where the sender gave it an ID, else a new one.
func (s *Session) RecordID() (uuid.UUID, error) {
	if s.ID != "" {
		return s.NextID(), nil
	}
	return uuid.NewV7()
}

// known is what the act wrote when it was recorded before under the sender's ID;
// nil where it wasn't. Such an act changes nothing, whatever happened to its
// wheels since.
func (s *Session) known() (*Known, error) {
	if left, err := s.Tx.Left(s.batch); left > 0 || err != nil {
		return nil, err // it stopped half-way
	}
	es, err := s.Tx.EntriesByCommand(s.batch)
	if err != nil {
		return nil, err
	}
	first := s.batch
	first[15] = 1
	mk, err := s.Tx.Make(first)
	if err != nil && !IsNotFound(err) {
		return nil, err
	}
	if err != nil && len(es) == 0 {
		return nil, nil
	}
	k := &Known{Schema: Schema("known"), ID: s.ID, Entries: len(es), Of: []string{}}
	if err == nil {
		k.Of = append(k.Of, mk.Lot)
	}
	for _, e := range es {
		if name := s.SubjectName(e.Subject); !slices.Contains(k.Of, name) {
			k.Of = append(k.Of, name)
		}
	}
	return k, nil
}

// SubjectName is the tag of a wheel, or the lot of a make behind "lot ".
func (s *Session) SubjectName(id uuid.UUID) string {
	return s.Tx.Called(id)
}

// Create makes the book where there is none, with settings of which only the time
// zone (IANA) has to be given, and says whether it did.
func (a *App) Create(set store.Settings) (created bool, err error) {
	if _, err := os.Stat(a.Book); err == nil || !errors.Is(err, os.ErrNotExist) {
		return false, nil
	}
	if _, err := time.LoadLocation(set.Zone); err != nil || set.Zone == "Local" {
		return false, &Refusal{Kind: Misused, Why: NoSuchZone{Zone: set.Zone}, At: Place{Field: "zone"}}
	}
	b, err := store.Create(a.Book, set, store.Options{Now: a.Now})
	if errors.Is(err, bookfile.ErrExists) { // another command made it meanwhile
		return false, nil
	}
	if err != nil {
		return false, err
	}
	return true, b.Close()
}

// Begin lets fill record what a book begins with. Where there is no book it makes one,
// under another name until fill is done: all of it is there at once, or nothing.
func (a *App) Begin(set store.Settings, fill func(*App) error) (created bool, err error) {
	if _, err := os.Lstat(a.Book); err == nil || !errors.Is(err, os.ErrNotExist) {
		return false, fill(a)
	}
	d, err := bookfile.Beside(a.Book)
	if err != nil {
		return false, err
	}
	defer d.Drop()
	d.Name += ".book" // Create wants a name that no file has
	draft := *a
	draft.Book = d.Name
	if _, err := draft.Create(set); err != nil {
		return false, err
	}
	if err := fill(&draft); err != nil {
		return false, err
	}
	return true, d.Place()
}
