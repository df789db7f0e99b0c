// Package remains is what is left of a damaged book: the records on pages that can be read,
// and what they tell of wheels, lots and rooms whose own records are lost.
package remains

import (
	"bytes"
	"maps"
	"slices"

	"github.com/google/uuid"

	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/sorts"
	"rindkeep/wheel"
)

// Remains are the records that could be read of a file. All are in memory.
type Remains struct {
	Pages []bookfile.LostPage // that can't be read
	Lots  []Lot               // made again with the variety they're likeliest to be of
	Again []bookfile.Spot     // wheels and lots made again from the indexes

	read map[string]map[string][]byte // bucket -> key -> record
}

// Scan reads a file page by page. settings is told of records that may be the book's
// settings.
func Scan(path string, settings func(k, v []byte)) (*Remains, error) {
	r := &Remains{read: map[string]map[string][]byte{}}
	scan, err := bookfile.ScanFile(path, func(bucket string, k, v []byte) {
		if (bucket == layout.Book || bucket == "") && bytes.Equal(k, layout.SettingsKey) {
			settings(k, v)
		}
		r.record(bucket, k, v)
	})
	r.Pages = scan.Lost
	return r, err
}

// record takes one record of a page. Those of pages that nothing leads to are told by
// what they are; they never take the place of one that a bucket leads to.
func (r *Remains) record(bucket string, k, v []byte) {
	if tellsOfLost[bucket] {
		if bare, err := pack.Unseal(k, v); err == nil { // else one of before they had seals, or damaged
			v = bare
		}
		r.keep(bucket, k, v)
		return
	}
	for _, x := range sorts.All {
		if bucket != x.Bucket && (bucket != "" || !fits(x, k, v)) {
			continue
		}
		if bucket != "" || r.read[x.Bucket][string(k)] == nil {
			r.keep(x.Bucket, k, v)
		}
		return
	}
}

func (r *Remains) keep(bucket string, k, v []byte) {
	m := r.read[bucket]
	if m == nil {
		m = map[string][]byte{}
		r.read[bucket] = m
	}
	m[string(k)] = bytes.Clone(v)
}

// fits says whether a record may be one of the sort, by its key and form.
func fits(x sorts.Sort, k, v []byte) bool {
	switch x.Bucket {
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
	return x.Own != nil && x.Own(k, v)
}

// Facts is how many records there are of what a book is about.
func (r *Remains) Facts() (n int) {
	for _, name := range []string{layout.Entries, layout.Makes, layout.Wheels, layout.Rooms} {
		n += len(r.read[name])
	}
	return n
}

// Keys lists the keys of a bucket in their order.
func (r *Remains) Keys(bucket string) []string { return slices.Sorted(maps.Keys(r.read[bucket])) }

// Get is a record; nil where there is none.
func (r *Remains) Get(bucket, key string) []byte { return r.read[bucket][key] }

// Drop leaves a record out.
func (r *Remains) Drop(bucket, key string) { delete(r.read[bucket], key) }

// DropStrikes leaves out strikes of entries that are lost, and gives them: both are gone
// then.
func (r *Remains) DropStrikes() (dropped []wheel.Entry) {
	ids, strikes := map[uuid.UUID]bool{}, map[string]wheel.Entry{}
	for k, v := range r.read[layout.Entries] {
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
			dropped = append(dropped, e)
			r.Drop(layout.Entries, k)
		}
	}
	return dropped
}

// Rooms are the names of all rooms that something is said of, in order.
func (r *Remains) Rooms() []string {
	named := map[string]bool{}
	for _, v := range r.read[layout.Wheels] {
		var w wheel.Wheel
		if pack.ReadJSON(v, &w) == nil && w.Place != "" {
			named[w.Place.Room()] = true
		}
	}
	for k, v := range r.read[layout.Entries] {
		if e, err := pack.ReadEntry([]byte(k), v); err == nil && e.Place != "" {
			named[e.Place.Room()] = true
		}
	}
	for k := range r.read[layout.Air] {
		if len(k) > 9 {
			named[k[:len(k)-9]] = true
		}
	}
	return slices.Sorted(maps.Keys(named))
}

// Missing lists the facts that links of the chain speak of and that weren't read, each once.
func (r *Remains) Missing() (out []chain.Trace) {
	entries := r.Keys(layout.Entries)
	told := map[string]bool{}
	for _, v := range r.read[layout.Chain] {
		l, err := chain.Decode(v)
		if err != nil {
			continue
		}
		for _, f := range l.Facts {
			if name := f.Name(); !told[name] && !r.has(f, entries) {
				told[name] = true
				out = append(out, f)
			}
		}
	}
	return out
}

func (r *Remains) has(f chain.Trace, entries []string) bool {
	if f.Code != layout.CodeEntry {
		return layout.OfCode[f.Code] == layout.Book || r.read[layout.OfCode[f.Code]][string(f.Key)] != nil
	}
	for i, _ := slices.BinarySearch(entries, string(f.Key)); i < len(entries); i++ {
		if !bytes.HasPrefix([]byte(entries[i]), f.Key) {
			return false
		}
		if f.Is(chain.Digest(f.Code, []byte(entries[i]), r.read[layout.Entries][entries[i]])) {
			return true
		}
	}
	return false
}

// Traced is a record as a link names it.
func Traced(bucket string, k []byte) chain.Trace {
	if bucket == layout.Entries {
		k = k[:min(chain.FindKeySize, len(k))]
	}
	return chain.Trace{Code: layout.Codes[bucket], Key: k}
}
