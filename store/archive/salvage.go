package archive

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"maps"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/air"
	"rindkeep/cave/reason"
	"rindkeep/store"
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/finding"
	"rindkeep/store/layout"
	"rindkeep/store/lines"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/remains"
	"rindkeep/store/sorts"
	"rindkeep/wheel"
)

// Salvaged is what a salvage saved of a damaged book, and what it didn't.
type Salvaged struct {
	Path     string
	Bytes    int64
	Counts   store.Counts
	Pages    []bookfile.LostPage // that can't be read
	Lost     []bookfile.Finding  // records that the chain or their page name, and that are lost
	Unplaced []string            // records that read and that no book can take, as lines of an export
	Rooms    []string            // made again under their names, as their own records are lost
	Lots     []remains.Lot       // made again with the variety they're likeliest to be of
	Settings bool                // the settings of the book are lost: those given were taken
}

// Gap words the note that marks what is lost of a wheel or make in its history.
type Gap func(lost []chain.Fact) string

// LostFact: a fact that a link of the chain speaks of can't be read any more.
type LostFact struct {
	Fact chain.Fact `json:"fact"`
}

// Code implements reason.Reason.
func (LostFact) Code() string { return "lost" }

// salvage reads a damaged file into a new book.
type salvage struct {
	ctx  context.Context
	out  Salvaged
	left *remains.Remains

	unread map[string]bookfile.Finding // records whose seal is wrong, by the key that a link has for them
}

// Salvage makes a new book at to of all that can be read of the file at from, page by
// page. The file isn't changed, and nothing that is there already at to. set is taken
// where the book's own settings are lost. What is lost of a wheel or make is marked by a
// note in its history. It holds all records in memory.
func Salvage(
	ctx context.Context, from, to string, set store.Settings, gap Gap, o store.Options,
) (Salvaged, error) {
	o = o.Filled()
	s := &salvage{ctx: ctx, out: Salvaged{Path: to}, unread: map[string]bookfile.Finding{}}
	if err := bookfile.MustBeFree(to); err != nil {
		return s.out, err
	}
	set, err := s.scan(from, set, o)
	if err != nil {
		return s.out, err
	}
	tmp, err := bookfile.Beside(to)
	if err != nil {
		return s.out, err
	}
	defer tmp.Drop()
	if err := s.fill(tmp, set, gap, o); err != nil {
		return s.out, bookfile.CalledAs(err, tmp.Name, to)
	}
	if st, err := os.Stat(tmp.Name); err == nil {
		s.out.Bytes = st.Size()
	}
	return s.out, tmp.Place()
}

// scan reads the file, and gives the settings that the new book gets: its own or, where they
// are lost, those given.
func (s *salvage) scan(from string, given store.Settings, o store.Options) (set store.Settings, err error) {
	found := false
	s.left, err = remains.Scan(from, func(_, v []byte) {
		var own store.Settings
		if pack.ReadJSON(v, &own) == nil && own.Check() == nil {
			set, found = own, true
		}
	})
	if err != nil || found {
		s.out.Pages = s.left.Pages
		return set, err
	}
	s.out.Pages = s.left.Pages
	if s.left.Facts() == 0 {
		return set, bookfile.NotABook(from, "")
	}
	set, s.out.Settings = given, true
	set.Created = pack.Milli(o.Now())
	set.ID, err = uuid.NewV7()
	return set, err
}

// fill puts what was read into the new book as an import does, but leaves out what a
// book can't take.
func (s *salvage) fill(tmp *bookfile.Draft, set store.Settings, gap Gap, o store.Options) error {
	b, err := store.Fill(tmp, set)
	if err != nil {
		return err
	}
	defer b.Close()
	for _, e := range s.left.DropStrikes() {
		if j, err := json.Marshal(lines.Entry(e)); err == nil {
			s.unplaced("entry", j)
		}
	}
	s.left.MakeAgain(b.Zone())
	s.out.Lots = s.left.Lots
	for _, step := range []func() error{
		func() error { return s.facts(b) },
		func() error { return b.Index(s.ctx) },
		b.Correct,
		func() error { return s.chain(b, o.Now()) },
		func() error { return b.Derive(s.ctx, o.Now) },
		func() error { return b.View(s.missing) },
		func() error { return s.gaps(b, gap) },
	} {
		if err := step(); err != nil {
			return err
		}
	}
	s.out.Counts, err = b.Finish()
	return err
}

// chain keeps the chain that was read where it's that of the facts, and else begins another.
func (s *salvage) chain(b store.Filling, at time.Time) error {
	var found []bookfile.Finding
	if err := b.View(func(t *store.ReadTx) (err error) {
		found, _, err = t.ProveChain(s.ctx)
		return err
	}); err != nil || len(found) == 0 {
		return err
	}
	return b.Rechain(chain.Salvaged, at)
}

// facts takes the records of every sort.
func (s *salvage) facts(b store.Filling) error {
	for _, x := range sorts.All {
		if x.Bucket == layout.Chain {
			continue
		}
		if x.Bucket == layout.Makes {
			if err := b.Update(s.standIns); err != nil {
				return err
			}
		}
		for part := range slices.Chunk(s.left.Keys(x.Bucket), linesTogether) {
			if err := b.Update(func(t *store.WriteTx) error { return s.part(t, x, part) }); err != nil {
				return err
			}
		}
	}
	return nil
}

// part takes some records of one sort.
func (s *salvage) part(t *store.WriteTx, x sorts.Sort, keys []string) error {
	for _, key := range keys {
		if err := s.ctx.Err(); err != nil {
			return err
		}
		k := []byte(key)
		line, err := x.Line(k, s.left.Get(x.Bucket, key))
		var j []byte
		if err == nil {
			j, err = json.Marshal(line)
		}
		if err != nil {
			f := bookfile.Finding{At: bookfile.At(x.Record, k), What: bookfile.Undecodable}
			if x.Bucket == layout.Entries {
				f = t.UnreadEntry(k)
			}
			s.unread[remains.Traced(x.Bucket, k).Name()] = f
			s.left.Drop(x.Bucket, key)
			continue
		}
		_, _, err = t.TakeLine(x, j)
		var be *bookfile.Error
		switch {
		case errors.As(err, &be):
			return err
		case err != nil:
			s.unplaced(x.Record, j)
		}
	}
	return nil
}

// unplaced keeps a record that no book can take, as a line of an export.
func (s *salvage) unplaced(record reason.Thing, j []byte) {
	s.out.Unplaced = append(s.out.Unplaced, `{"record":"`+string(record)+`",`+string(j[1:]))
}

// standIns makes the rooms again whose records are lost and where wheels lie.
func (s *salvage) standIns(t *store.WriteTx) error {
	for _, name := range s.left.Rooms() {
		if _, err := t.Room(name); !refusal.IsNotFound(err) {
			continue
		}
		id, err := uuid.NewV7()
		if err != nil {
			return err
		}
		r := cave.Room{
			ID: id, Name: name, Temp: 12, TempLow: 8, TempHigh: 16, RH: 0.85, RHLow: 0.5, RHHigh: 1,
			Movement: air.Gentle, Written: t.Settings().Created,
		}
		if t.PutRoom(r) == nil {
			s.out.Rooms = append(s.out.Rooms, name)
		}
	}
	return nil
}

// missing names the facts that links of the chain speak of and that weren't read.
func (s *salvage) missing(t *store.ReadTx) error {
	for _, at := range s.left.Again {
		s.out.Lost = append(s.out.Lost, bookfile.Finding{At: at, What: LostFact{chain.Fact{Of: at, What: "record"}}})
	}
	names := t.Names()
	for _, f := range s.left.Missing() {
		delete(s.unread, f.Name()) // the link says more
		fact := names.Fact(f)
		s.out.Lost = append(s.out.Lost, bookfile.Finding{At: fact.Of, What: LostFact{fact}})
	}
	s.out.Lost = slices.AppendSeq(s.out.Lost, maps.Values(s.unread))
	slices.SortStableFunc(s.out.Lost, func(a, b bookfile.Finding) int { return strings.Compare(a.At.Name, b.At.Name) })
	return nil
}

// gaps marks what is lost of wheels and makes in their histories.
func (s *salvage) gaps(b store.Filling, gap Gap) error {
	lost := map[uuid.UUID][]chain.Fact{}
	return b.Update(func(t *store.WriteTx) error {
		for _, f := range s.out.Lost {
			id, ok := subjectAt(t, f.At)
			if !ok {
				continue
			}
			switch what := f.What.(type) {
			case LostFact:
				lost[id] = append(lost[id], what.Fact)
			case finding.UnreadEntry:
				lost[id] = append(lost[id], chain.Fact{Of: f.At, What: "entry", At: what.At})
			}
		}
		now := pack.Milli(t.Now())
		for _, id := range slices.SortedFunc(maps.Keys(lost), func(a, b uuid.UUID) int { return bytes.Compare(a[:], b[:]) }) {
			e := wheel.Entry{Subject: id, Kind: wheel.Noted, At: now, Written: now, Note: gap(lost[id])}
			var err error
			if e.ID, err = uuid.NewV7(); err != nil {
				return err
			}
			if _, err := t.Put(e); err != nil {
				return err
			}
		}
		return nil
	})
}

// subjectAt is the wheel or make that a spot names.
func subjectAt(t *store.WriteTx, at bookfile.Spot) (uuid.UUID, bool) {
	switch at.Thing {
	case "wheel":
		if w, err := t.WheelByTag(at.Name); err == nil {
			return w.ID, true
		}
	case "lot":
		if m, err := t.MakeByLot(at.Name); err == nil {
			return m.ID, true
		}
	}
	return uuid.Nil, false
}
