package store

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
	"rindkeep/cave/day"
	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/lines"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
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
	Lots     []StandInLot        // made again with the variety they're likeliest to be of
	Settings bool                // the settings of the book are lost: those given were taken
}

// StandInLot is a lot whose own record is lost.
type StandInLot struct {
	Lot     string   `json:"lot"`
	Variety string   `json:"variety"`
	Date    day.Date `json:"date"`
	Guessed bool     `json:"date_guessed"` // Date is the first day of which anything is known
}

// Gap words the note that marks what is lost of a wheel or make in its history.
type Gap func(lost []chain.Fact) string

// salvage reads a damaged file into a new book.
type salvage struct {
	*loader
	out  Salvaged
	set  *Settings
	read map[string]map[string][]byte // bucket -> key -> record

	unread map[string]bookfile.Finding // records whose seal is wrong, by the key that a link has for them
	again  []bookfile.Spot             // wheels and lots made again from the indexes
}

// Salvage makes a new book at to of all that can be read of the file at from, page by
// page. The file isn't changed, and nothing that is there already at to. set is taken
// where the book's own settings are lost. What is lost of a wheel or make is marked by a
// note in its history. It holds all records in memory.
func Salvage(ctx context.Context, from, to string, set Settings, gap Gap, o Options) (Salvaged, error) {
	o = o.filled()
	s := &salvage{
		loader: &loader{ctx: ctx, tally: make([]Tally, len(sections)), salvaged: true},
		out:    Salvaged{Path: to}, read: map[string]map[string][]byte{}, unread: map[string]bookfile.Finding{},
	}
	if err := bookfile.MustBeFree(to); err != nil {
		return s.out, err
	}
	scan, err := bookfile.ScanFile(from, s.record)
	if err != nil {
		return s.out, err
	}
	s.out.Pages = scan.Lost
	if s.set == nil {
		if set.ID, err = uuid.NewV7(); err != nil {
			return s.out, err
		}
		set.Created = pack.Milli(o.Now())
		s.set, s.out.Settings = &set, true
	}
	facts := 0
	for _, name := range []string{layout.Entries, layout.Makes, layout.Wheels, layout.Rooms} {
		facts += len(s.read[name])
	}
	if facts == 0 && s.out.Settings {
		return s.out, bookfile.NotABook(from, "")
	}
	tmp, err := bookfile.Beside(to)
	if err != nil {
		return s.out, err
	}
	defer tmp.Drop()
	if err := writeEmpty(tmp.Name, *s.set, nil); err != nil {
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

// record takes one record of a page. Those of pages that nothing leads to are told by
// what they are; they never take the place of one that a bucket leads to.
func (s *salvage) record(bucket string, k, v []byte) {
	if bucket == layout.Book || bucket == "" {
		var set Settings
		if bytes.Equal(k, layout.SettingsKey) && pack.ReadJSON(v, &set) == nil && set.Check() == nil {
			s.set = &set
		}
	}
	if tellsOfLost[bucket] {
		if bare, err := pack.Unseal(k, v); err == nil { // else one of before they had seals, or damaged
			v = bare
		}
		s.keep(bucket, k, v)
		return
	}
	for _, x := range sections {
		if bucket != x.bucket && (bucket != "" || !x.fits(k, v)) {
			continue
		}
		if s.read[x.bucket][string(k)] == nil || bucket != "" {
			s.keep(x.bucket, k, v)
		}
		return
	}
}

func (s *salvage) keep(bucket string, k, v []byte) {
	m := s.read[bucket]
	if m == nil {
		m = map[string][]byte{}
		s.read[bucket] = m
	}
	m[string(k)] = bytes.Clone(v)
}

// fits says whether a record may be one of the section's, by its key and form.
func (s section) fits(k, v []byte) bool {
	switch s.bucket {
	case layout.Entries:
		_, err := pack.ReadEntry(k, v)
		return len(k) == pack.EntryKeySize && err == nil
	case layout.Air:
		_, err := pack.ReadAir(k, v)
		return err == nil
	case layout.Chain:
		_, err := chain.Decode(v)
		return len(k) == 8 && err == nil
	}
	return s.own != nil && s.own(k, v)
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
	s.dropStrikes()
	first := s.firsts()
	s.wheelsAgain(first)
	s.makesAgain(first)
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
	for part := range slices.Chunk(slices.Sorted(maps.Keys(s.read[x.bucket])), linesTogether) {
		if err := b.Update(func(t *WriteTx) error {
			s.t = t
			for _, key := range part {
				if err := s.ctx.Err(); err != nil {
					return err
				}
				k, v := []byte(key), s.read[x.bucket][key]
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
					s.unread[traced(x.bucket, k).Name()] = f
					delete(s.read[x.bucket], key)
					continue
				}
				err = x.take(s.loader, j)
				var be *bookfile.Error
				if errors.As(err, &be) {
					return err
				}
				if err != nil {
					s.out.Unplaced = append(s.out.Unplaced, `{"record":"`+x.record+`",`+string(j[1:]))
				}
			}
			return nil
		}); err != nil {
			return err
		}
	}
	return nil
}

// traced is a record as a link names it.
func traced(bucket string, k []byte) chain.Trace {
	if bucket == layout.Entries {
		k = k[:min(chain.FindKeySize, len(k))]
	}
	return chain.Trace{Code: layout.Codes[bucket], Key: k}
}

// dropStrikes leaves out strikes of entries that are lost: both are gone then.
func (s *salvage) dropStrikes() {
	ids, strikes := map[uuid.UUID]bool{}, map[string]wheel.Entry{}
	for k, v := range s.read[layout.Entries] {
		e, err := pack.ReadEntry([]byte(k), v)
		if err != nil {
			continue
		}
		ids[e.ID] = true
		if e.Kind == wheel.Struck || e.SameRound() {
			strikes[k] = e
		}
	}
	for k, e := range strikes {
		if !ids[e.Target] {
			if j, err := json.Marshal(lines.Entry(e)); err == nil {
				s.out.Unplaced = append(s.out.Unplaced, `{"record":"entry",`+string(j[1:]))
			}
			delete(s.read[layout.Entries], k)
		}
	}
}

// standIns makes the rooms again whose records are lost and where wheels lie.
func (s *salvage) standIns(t *WriteTx) error {
	named := map[string]bool{}
	for _, v := range s.read[layout.Wheels] {
		var w wheel.Wheel
		if pack.ReadJSON(v, &w) == nil && w.Place != "" {
			named[w.Place.Room()] = true
		}
	}
	for k, v := range s.read[layout.Entries] {
		if e, err := pack.ReadEntry([]byte(k), v); err == nil && e.Place != "" {
			named[e.Place.Room()] = true
		}
	}
	for k := range s.read[layout.Air] {
		if len(k) > 9 {
			named[k[:len(k)-9]] = true
		}
	}
	for _, name := range slices.Sorted(maps.Keys(named)) {
		if _, err := t.Room(name); !refusal.IsNotFound(err) {
			continue
		}
		id, err := uuid.NewV7()
		if err != nil {
			return err
		}
		r := cave.Room{
			ID: id, Name: name, Temp: 12, TempLow: 8, TempHigh: 16, RH: 0.85, RHLow: 0.5, RHHigh: 1,
			Movement: air.Gentle, Written: s.set.Created,
		}
		if t.PutRoom(r) == nil {
			s.out.Rooms = append(s.out.Rooms, name)
		}
	}
	return nil
}

// missing names the facts that links of the chain speak of and that weren't read.
func (s *salvage) missing(t *ReadTx) error {
	names := t.names()
	entries := slices.Sorted(maps.Keys(s.read[layout.Entries]))
	for _, at := range s.again {
		s.out.Lost = append(s.out.Lost, bookfile.Finding{At: at, What: LostFact{chain.Fact{Of: at, What: "record"}}})
	}
	told := map[string]bool{}
	for _, v := range s.read[layout.Chain] {
		l, err := chain.Decode(v)
		if err != nil {
			continue
		}
		for _, f := range l.Facts {
			name := f.Name()
			if told[name] || s.has(f, entries) {
				continue
			}
			told[name] = true
			delete(s.unread, name) // the link says more
			fact := names.Fact(f)
			s.out.Lost = append(s.out.Lost, bookfile.Finding{At: fact.Of, What: LostFact{fact}})
		}
	}
	s.out.Lost = slices.AppendSeq(s.out.Lost, maps.Values(s.unread))
	slices.SortStableFunc(s.out.Lost, func(a, b bookfile.Finding) int { return strings.Compare(a.At.Name, b.At.Name) })
	return nil
}

func (s *salvage) has(f chain.Trace, entries []string) bool {
	if f.Code != layout.CodeEntry {
		return layout.OfCode[f.Code] == layout.Book || s.read[layout.OfCode[f.Code]][string(f.Key)] != nil
	}
	for i, _ := slices.BinarySearch(entries, string(f.Key)); i < len(entries); i++ {
		if !bytes.HasPrefix([]byte(entries[i]), f.Key) {
			return false
		}
		if f.Is(chain.Digest(f.Code, []byte(entries[i]), s.read[layout.Entries][entries[i]])) {
			return true
		}
	}
	return false
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
