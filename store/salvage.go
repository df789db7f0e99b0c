package store

import (
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
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/lines"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/remains"
	"rindkeep/store/table"
	"rindkeep/wheel"
)

// Salvaged is what a salvage saved of a damaged book, and what it didn't.
type Salvaged struct {
	Path     string
	Bytes    int64
	Counts   Counts
	Pages    []bookfile.LostPage // that can't be read
	Lost     []bookfile.Finding  // records that the chain or their page name, and that are lost
	Unplaced []string            // records that read and that no book can take, as lines of an export
	Rooms    []string            // made again under their names, as their own records are lost
	Lots     []remains.Lot       // made again with the variety they're likeliest to be of
	Settings bool                // the settings of the book are lost: those given were taken
}

// Gap words the note that marks what is lost of a wheel or make in its history.
type Gap func(lost []chain.Fact) string

// salvage reads a damaged file into a new book.
type salvage struct {
	*loader
	out  Salvaged
	left *remains.Remains

	unread map[string]bookfile.Finding // records whose seal is wrong, by the key that a link has for them
}

// Salvage makes a new book at to of all that can be read of the file at from, page by
// page. The file isn't changed, and nothing that is there already at to. set is taken
// where the book's own settings are lost. What is lost of a wheel or make is marked by a
// note in its history. It holds all records in memory.
func Salvage(ctx context.Context, from, to string, set Settings, gap Gap, o Options) (Salvaged, error) {
	o = o.filled()
	s := &salvage{
		loader: &loader{ctx: ctx, tally: make([]Tally, len(sections)), salvaged: true},
		out:    Salvaged{Path: to}, unread: map[string]bookfile.Finding{},
	}
	if err := bookfile.MustBeFree(to); err != nil {
		return s.out, err
	}
	found := false
	var sorts []remains.Sort
	for _, x := range sections {
		sorts = append(sorts, remains.Sort{Bucket: x.bucket, Own: x.own})
	}
	var err error
	if s.left, err = remains.Scan(from, sorts, func(_, v []byte) {
		var own Settings
		if pack.ReadJSON(v, &own) == nil && own.Check() == nil {
			set, found = own, true
		}
	}); err != nil {
		return s.out, err
	}
	s.out.Pages = s.left.Pages
	if !found {
		if set.ID, err = uuid.NewV7(); err != nil {
			return s.out, err
		}
		set.Created, s.out.Settings = pack.Milli(o.Now()), true
		if s.left.Facts() == 0 {
			return s.out, bookfile.NotABook(from, "")
		}
	}
	tmp, err := bookfile.Beside(to)
	if err != nil {
		return s.out, err
	}
	defer tmp.Drop()
	if err := writeEmpty(tmp.Name, set, nil); err != nil {
		return s.out, bookfile.Failed(to, "make", err)
	}
	if err := s.fill(tmp.Name, gap, o); err != nil {
		return s.out, calledAs(err, tmp.Name, to)
	}
	if st, err := os.Stat(tmp.Name); err == nil {
		s.out.Bytes = st.Size()
	}
	return s.out, tmp.Place()
}

// fill puts what was read into the new book as an import does, but leaves out what a
// book can't take.
func (s *salvage) fill(path string, gap Gap, o Options) error {
	far := pack.MaxTime.Add(-2 * table.Lead)
	b, err := Open(path, Write, Options{Now: func() time.Time { return far }, alone: true})
	if err != nil {
		return err
	}
	defer b.Close()
	b.file.DB.NoSync, b.file.Unchained = true, true
	for _, e := range s.left.DropStrikes() {
		if j, err := json.Marshal(lines.Entry(e)); err == nil {
			s.unplaced("entry", j)
		}
	}
	s.left.MakeAgain(b.Zone())
	s.out.Lots = s.left.Lots
	for _, x := range sections {
		if x.bucket == layout.Chain {
			continue
		}
		if x.bucket == layout.Makes {
			if err := b.Update(s.standIns); err != nil {
				return err
			}
		}
		if err := s.section(b, x); err != nil {
			return err
		}
	}
	for _, step := range []func() error{
		func() error { return s.index(b) },
		func() error { return s.corrections(b) },
		func() error { return s.chain(b, o.Now()) },
		func() error { b.file.Now = o.Now; return s.derive(b) },
		func() error { return b.View(s.missing) },
		func() error { b.file.Unchained = false; return s.gaps(b, gap) },
		func() error {
			return b.View(func(t *ReadTx) (err error) { s.out.Counts, err = t.Counts(); return err })
		},
	} {
		if err := step(); err != nil {
			return err
		}
	}
	if err := b.file.DB.Sync(); err != nil {
		return bookfile.Failed(path, "write", err)
	}
	return b.Close()
}

// section takes the records of one sort.
func (s *salvage) section(b *Book, x section) error {
	for part := range slices.Chunk(s.left.Keys(x.bucket), linesTogether) {
		if err := b.Update(func(t *WriteTx) error {
			s.t = t
			for _, key := range part {
				if err := s.ctx.Err(); err != nil {
					return err
				}
				k, v := []byte(key), s.left.Get(x.bucket, key)
				line, err := x.line(k, v)
				var j []byte
				if err == nil {
					j, err = json.Marshal(line)
				}
				if err != nil {
					f := bookfile.Finding{At: bookfile.At(things[x.bucket], k), What: bookfile.Undecodable}
					if x.bucket == layout.Entries {
						f = t.unreadEntry(k)
					}
					s.unread[remains.Traced(x.bucket, k).Name()] = f
					s.left.Drop(x.bucket, key)
					continue
				}
				err = x.take(s.loader, j)
				var be *bookfile.Error
				if errors.As(err, &be) {
					return err
				}
				if err != nil {
					s.unplaced(x.record, j)
				}
			}
			return nil
		}); err != nil {
			return err
		}
	}
	return nil
}

// unplaced keeps a record that no book can take, as a line of an export.
func (s *salvage) unplaced(record string, j []byte) {
	s.out.Unplaced = append(s.out.Unplaced, `{"record":"`+record+`",`+string(j[1:]))
}

// standIns makes the rooms again whose records are lost and where wheels lie.
func (s *salvage) standIns(t *WriteTx) error {
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
func (s *salvage) missing(t *ReadTx) error {
	for _, at := range s.left.Again {
		s.out.Lost = append(s.out.Lost, bookfile.Finding{At: at, What: LostFact{chain.Fact{Of: at, What: "record"}}})
	}
	names := t.names()
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
func (s *salvage) gaps(b *Book, gap Gap) error {
	lost := map[uuid.UUID][]chain.Fact{}
	return b.Update(func(t *WriteTx) error {
		for _, f := range s.out.Lost {
			id, ok := t.subjectAt(f.At)
			if !ok {
				continue
			}
			switch what := f.What.(type) {
			case LostFact:
				lost[id] = append(lost[id], what.Fact)
			case UnreadEntry:
				lost[id] = append(lost[id], chain.Fact{Of: f.At, What: "entry", At: what.At})
			}
		}
		now := pack.Milli(t.Now())
		for _, id := range slices.SortedFunc(maps.Keys(lost), byID) {
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
func (t *ReadTx) subjectAt(at bookfile.Spot) (uuid.UUID, bool) {
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
