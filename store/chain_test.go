package store

import (
	"bytes"
	"context"
	"encoding/hex"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	bolt "go.etcd.io/bbolt"

	"rindkeep/cave"
	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/wheel"
)

func (f *farm) head() (h chain.Head) {
	f.t.Helper()
	f.view(func(tx *ReadTx) (err error) { h, _, _, err = tx.Head(); return err })
	return h
}

// history is a book of two wheels, with one link for each of a few changes:
//
//	1 settings  2 rooms  3 lot and wheels  4 a weighing of -01  5 another
//	6 a turning of -02  7 a customer  8 the customer changed  9 the air
func chainedFarm(t *testing.T) (f *farm, ws []wheel.Wheel) {
	f = newFarm(t)
	_, ws = f.lot("261120A", "2026-11-20", 2, "cellar")
	f.put(f.weighed(ws[0].ID, "2026-11-21 08:00", 2000))
	f.put(f.weighed(ws[0].ID, "2026-11-22 08:00", 1990))
	f.put(f.did(ws[1].ID, wheel.Turn, "2026-11-22 09:00"))
	c := customer(t, "Shop", "ring Mary", "")
	f.update(func(tx *WriteTx) error { return tx.PutCustomer(c) })
	c.Contact = "ring Joe"
	f.update(func(tx *WriteTx) error { return tx.PutCustomer(c) })
	f.update(func(tx *WriteTx) error {
		_, err := tx.PutAir("cellar", []cave.Reading{{At: at(t, "2026-11-22 10:00"), Temp: 12.5, RH: 0.85}})
		return err
	})
	f.clean()
	return f, ws
}

func TestAnOlderFileIsKnownByTheHead(t *testing.T) {
	f, ws := chainedFarm(t)
	f.clock.t = at(t, "2026-11-25 09:10")
	older := filepath.Join(t.TempDir(), "older.book")
	if _, err := Above.Backup(context.Background(), f.book, older); err != nil {
		t.Fatal(err)
	}
	then := f.head()
	f.put(f.weighed(ws[1].ID, "2026-11-24 08:00", 1980))
	now := f.head()
	if now.Number != then.Number+1 || !now.Written.Equal(f.clock.t) {
		t.Errorf("one change made of %+v the head %+v", then, now)
	}
	digits, err := chain.ParseHead(strings.ToUpper(then.Short()))
	if err != nil {
		t.Fatal(err)
	}
	f.view(func(tx *ReadTx) error {
		h, ok, err := tx.FindLink(digits)
		if !ok || err != nil || h != then {
			t.Errorf("the older head is not found in the newer book: %+v %v", h, err)
		}
		return nil
	})
	b, err := Open(older, Read, Options{Now: f.clock.now, Alone: true})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	wantClean(t, b)
	if err := b.View(func(tx *ReadTx) error {
		_, ok, err := tx.FindLink(hex.EncodeToString(now.Hash[:]))
		if ok {
			t.Error("the newer head is found in the older book")
		}
		return err
	}); err != nil {
		t.Error(err)
	}
}

func TestAHeadIsReadAsAPersonNotedIt(t *testing.T) {
	long := strings.Repeat("9f86d081884c7d65", 4)
	for _, c := range []struct{ in, want, err string }{
		{"9f86-d081-884c-7d65", "9f86d081884c7d65", ""},
		{" 9F86 D081 884C 7D65 ", "9f86d081884c7d65", ""},
		{long, long, ""},
		{"9f86-d081", "", "head-length {Digits:8 Least:16 Most:64}"},
		{long + "0", "", "head-length {Digits:65 Least:16 Most:64}"},
		{"", "", "head-length {Digits:0 Least:16 Most:64}"},
		{"9f86-d081-884c-7d6g", "", "unreadable {What:head Word:9f86-d081-884c-7d6g}"},
	} {
		got, err := chain.ParseHead(c.in)
		said := ""
		if err != nil {
			said = err.Error()
		}
		if got != c.want || said != c.err {
			t.Errorf("%q: got %q, %q; want %q, %q", c.in, got, said, c.want, c.err)
		}
	}
}

func TestOnlyAChangeOfFactsMakesALink(t *testing.T) {
	f, ws := chainedFarm(t)
	before := f.head()
	same := func(what string) {
		t.Helper()
		if h := f.head(); h != before {
			t.Errorf("%s: the head was %+v and is %+v", what, before, h)
		}
		f.clean()
	}
	f.put(f.weighed(ws[0].ID, "2026-11-21 08:00", 2000)) // as it stands already
	same("the same weight again")
	f.update(func(tx *WriteTx) error {
		_, err := tx.PutAir("cellar", []cave.Reading{{At: at(t, "2026-11-22 10:00"), Temp: 12.5, RH: 0.85}})
		return err
	})
	same("the same reading again")
	if err := f.book.Rebuild(t.Context()); err != nil {
		t.Fatal(err)
	}
	same("a rebuild")
	if err := f.book.Update(func(tx *WriteTx) error {
		if _, err := tx.Put(f.weighed(ws[0].ID, "2026-11-23 08:00", 1970)); err != nil {
			return err
		}
		return refusal.Because("", refusal.NoSuchEntry)
	}); err == nil {
		t.Fatal("it was taken")
	}
	same("a change that was given up")
	f.book.Close()
	if _, _, err := Above.Compact(f.path, Options{Now: f.clock.now}); err != nil {
		t.Fatal(err)
	}
	f.open(Write)
	same("compacting")
	copied := filepath.Join(t.TempDir(), "copy.book")
	if _, err := Above.Backup(context.Background(), f.book, copied); err != nil {
		t.Fatal(err)
	}
	f.put(f.did(ws[0].ID, wheel.Turn, "2026-11-24 08:00"))
	f.book.Close()
	if _, err := Above.Restore(context.Background(), copied, f.path, true, Options{Now: f.clock.now}); err != nil {
		t.Fatal(err)
	}
	f.open(Write)
	same("a backup put back")
}

func TestManyFactsOfOneTransactionAreSeveralLinks(t *testing.T) {
	f := newFarm(t)
	before := f.head().Number
	const n = 2*4096 + 7
	f.update(func(tx *WriteTx) error {
		rs := make([]cave.Reading, n)
		for i := range rs {
			rs[i] = cave.Reading{At: at(t, "2026-11-01 00:00").Add(time.Duration(i) * time.Minute), Temp: 12, RH: 0.85}
		}
		_, err := tx.PutAir("cellar", rs)
		return err
	})
	if got := f.head().Number - before; got != 3 {
		t.Errorf("%d readings made %d links, want 3", n, got)
	}
	f.clean()
	k := layout.AirKey("cellar", at(t, "2026-11-01 00:00").Add(5000*time.Minute))
	f.spoil(layout.Air, func(b *bolt.Bucket) error {
		_, v := b.Cursor().First()
		x := bytes.Clone(v[:len(v)-2])
		x[1] ^= 4
		return b.Put(k, pack.Seal(k, x))
	})
	want := []string{"room cellar: its reading of its air at 2026-11-04 11:20 was changed outside the program; it " +
		"was written 2026-11-25 09:00 (link 4)"}
	if d := cmp.Diff(want, altered(t, f.book)); d != "" {
		t.Errorf("one of many (-want +got)\n%s", d)
	}
}

func TestEveryBucketOfFactsIsInTheChain(t *testing.T) {
	var coded []string
	for name := range layout.Codes {
		coded = append(coded, name)
	}
	want := slices.Concat(layout.Facts, layout.LaterFacts, []string{layout.Branches})
	want = slices.DeleteFunc(want, func(name string) bool { return name == layout.Chain })
	order := slices.Clone(layout.ChainOrder)
	slices.Sort(want)
	slices.Sort(coded)
	slices.Sort(order)
	if d := cmp.Diff(want, coded); d != "" {
		t.Errorf("buckets of facts and their codes: see layout.Codes (-facts +coded)\n%s", d)
	}
	if d := cmp.Diff(want, order); d != "" {
		t.Errorf("buckets of facts and the order of a chain begun over them: see layout.ChainOrder (-facts +order)\n%s", d)
	}
}

func TestAFactIsNeverDeleted(t *testing.T) {
	f, _ := chainedFarm(t)
	before := f.dump()
	remove := func(tx *WriteTx) error { tx.tab.Put(layout.Rooms, []byte("fridge"), nil); return nil }
	if err := f.book.Update(remove); err == nil ||
		!strings.Contains(err.Error(), "a fact cannot be deleted: rooms") {
		t.Errorf("got %v", err)
	}
	if f.dump() != before {
		t.Error("the book was changed")
	}
}

// BenchmarkChain is what proving the chain of a book costs, beside its whole check.
func BenchmarkChain(b *testing.B) {
	book, _, _ := benchBook(b, 1e4)
	defer book.Close()
	for _, c := range []struct {
		name  string
		prove func() error
	}{
		{"the whole check of 10000 wheels", func() error { _, err := book.Check(context.Background(), nil); return err }},
		{"the chain of it", func() error {
			return book.View(func(t *ReadTx) error { _, _, err := t.ProveChain(b.Context()); return err })
		}},
	} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				if err := c.prove(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
