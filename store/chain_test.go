package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	bolt "go.etcd.io/bbolt"

	"rindkeep/cave"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel"
)

// goldenLink is a link over three facts: a weighing, another of the same wheel,
// and a customer that takes the place of an older record.
func goldenLink() *openLink {
	l := newLink(genesis(idC), 7, linkWritten, 1764057604000)
	for i, g := range goldenEntries[:2] {
		e := g.e
		e.At = e.At.Add(time.Duration(i) * 24 * time.Hour)
		l.add(7, pack.EntryKey(e), nil, pack.Entry(e))
	}
	l.add(9, []byte("shop"), pack.Sealed([]byte(`{"old":1}`)), pack.Sealed([]byte(`{"new":1}`)))
	return l
}

// The bytes and hashes are a promise to every head ever noted.
const (
	goldenGenesis = "c7e5629235f391e92d63d6ac9df2a9f9081157f058b194925157fed351d48790"
	goldenDigest  = "73049079f67cb8ac2bff4a268516284226bdf45f0aad1023114f52d73db3f672"
	goldenBytes   = "0100a0bf9bd0ab330307001801932e4f8c00700080000000000000bb0000019aba06d0000173049079071404bf2d2c00" +
		"029f5313b319000473686f70129eb4370e0159c2010a7b226f6c64223a317df3091c80af10d59363bed5845153862adb8f0bf71f4343696" +
		"6106f42708e4bb0"
)

// goldenEntries are two entries whose bytes are a promise, as package pack has it.
var goldenEntries = []struct{ e wheel.Entry }{
	{wheel.Entry{
		ID: idA, Subject: idB, Kind: wheel.Weighed, At: milliAt(1764057600000), Written: milliAt(1764057604000),
		By: "Ann", Weight: 1942,
	}},
	{wheel.Entry{
		ID: idA, Subject: idB, Kind: wheel.Did, At: milliAt(1764057600000), Written: milliAt(1764057600000),
		Job: wheel.Turn,
	}},
}

func TestLinksKeepTheirBytesAndTheirHash(t *testing.T) {
	g := genesis(idC)
	e := goldenEntries[0].e
	d := factDigest(7, pack.EntryKey(e), pack.Entry(e))
	sum, v := goldenLink().seal()
	got := map[string]string{"genesis": hex.EncodeToString(g[:]), "digest of a weighing": hex.EncodeToString(d[:]),
		"link": hex.EncodeToString(v)}
	want := map[string]string{"genesis": goldenGenesis, "digest of a weighing": goldenDigest, "link": goldenBytes}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
	// The same by the words of the documentation, put together by hand.
	fact := func(code byte, key, rec []byte) []byte {
		s := sha256.Sum256(bytes.Join([][]byte{{code, byte(len(key))}, key, rec}, nil))
		return s[:]
	}
	a, b := goldenEntries[0].e, goldenEntries[1].e
	b.At = b.At.Add(24 * time.Hour)
	start := sha256.Sum256(bytes.Join([][]byte{[]byte("rindkeep chain 1\n"), idC[:]}, nil))
	hand := sha256.Sum256(bytes.Join([][]byte{
		start[:], {0, 0, 0, 0, 0, 0, 0, 7}, {0}, binary.BigEndian.AppendUint64(nil, 1764057604000),
		fact(7, pack.EntryKey(a), pack.Entry(a)), fact(7, pack.EntryKey(b), pack.Entry(b)), fact(9, []byte("shop"),
			pack.Sealed([]byte(`{"new":1}`))),
	}, nil))
	if hand != sum {
		t.Errorf("by hand %x, the program %x", hand, sum)
	}
}

func TestALinkComesBackWhole(t *testing.T) {
	sum, v := goldenLink().seal()
	l, err := decodeLink(v)
	if err != nil {
		t.Fatal(err)
	}
	a, b := goldenEntries[0].e, goldenEntries[1].e
	b.At = b.At.Add(24 * time.Hour)
	tag := func(code byte, key, rec []byte) [tagSize]byte {
		d := factDigest(code, key, rec)
		return [tagSize]byte(d[:])
	}
	want := link{kind: linkWritten, ms: 1764057604000, hash: sum, facts: []linkFact{
		{code: 7, key: pack.EntryKey(a)[:24], kind: byte(wheel.Weighed), tag: tag(7, pack.EntryKey(a), pack.Entry(a))},
		{code: 7, key: pack.EntryKey(b)[:24], kind: byte(wheel.Did), tag: tag(7, pack.EntryKey(b), pack.Entry(b))},
		{code: 9, key: []byte("shop"), tag: tag(9, []byte("shop"), pack.Sealed([]byte(`{"new":1}`))),
			was: pack.Sealed([]byte(`{"old":1}`))},
	}}
	if d := cmp.Diff(want, l, cmp.AllowUnexported(link{}, linkFact{})); d != "" {
		t.Error(d)
	}
	for n := range v {
		if got, err := decodeLink(v[:n]); err == nil && got.hash == sum {
			t.Errorf("%d of %d bytes were taken for the link", n, len(v))
		}
	}
}

func FuzzDecodeLink(f *testing.F) {
	_, v := goldenLink().seal()
	f.Add(v)
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, v []byte) {
		l, err := decodeLink(v)
		if err != nil {
			return
		}
		again := &openLink{kind: l.kind, ms: l.ms, count: len(l.facts)}
		for _, x := range l.facts {
			again.body = appendFact(again.body, again.key, x)
			again.key = append(again.key[:0], x.key...)
		}
		_, w := again.seal()
		back, err := decodeLink(append(w[:len(w)-sha256.Size], l.hash[:]...))
		if d := cmp.Diff(l, back, cmp.AllowUnexported(link{}, linkFact{})); err != nil || d != "" {
			t.Fatalf("%v %s", err, d)
		}
	})
}

func (f *farm) head() (h Head) {
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
	if _, err := f.book.Backup(context.Background(), older); err != nil {
		t.Fatal(err)
	}
	then := f.head()
	f.put(f.weighed(ws[1].ID, "2026-11-24 08:00", 1980))
	now := f.head()
	if now.Number != then.Number+1 || !now.Written.Equal(f.clock.t) {
		t.Errorf("one change made of %+v the head %+v", then, now)
	}
	digits, err := ParseHead(strings.ToUpper(then.Short()))
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
	b, err := Open(older, Read, Options{Now: f.clock.now, alone: true})
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
		got, err := ParseHead(c.in)
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
		return refuse("", NoSuchEntry)
	}); err == nil {
		t.Fatal("it was taken")
	}
	same("a change that was given up")
	f.book.Close()
	if _, _, err := Compact(f.path, Options{Now: f.clock.now}); err != nil {
		t.Fatal(err)
	}
	f.open(Write)
	same("compacting")
	copied := filepath.Join(t.TempDir(), "copy.book")
	if _, err := f.book.Backup(context.Background(), copied); err != nil {
		t.Fatal(err)
	}
	f.put(f.did(ws[0].ID, wheel.Turn, "2026-11-24 08:00"))
	f.book.Close()
	if _, err := Restore(context.Background(), copied, f.path, true, Options{Now: f.clock.now}); err != nil {
		t.Fatal(err)
	}
	f.open(Write)
	same("a backup put back")
}

func TestManyFactsOfOneTransactionAreSeveralLinks(t *testing.T) {
	f := newFarm(t)
	before := f.head().Number
	const n = 2*factsTogether + 7
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
	want := slices.Concat(layout.Facts, layout.LaterFacts)
	want = slices.DeleteFunc(want, func(name string) bool { return name == layout.Chain })
	order := slices.Clone(layout.ChainOrder)
	slices.Sort(want)
	slices.Sort(coded)
	slices.Sort(order)
	if d := cmp.Diff(want, coded); d != "" {
		t.Errorf("buckets of facts and their codes: see layout.Codes (-facts +coded)\n%s", d)
	}
	if d := cmp.Diff(want, order); d != "" {
		t.Errorf("buckets of facts and the order of a chain begun over them: see chainOrder (-facts +order)\n%s", d)
	}
}

func TestAFactIsNeverDeleted(t *testing.T) {
	f, _ := chainedFarm(t)
	before := f.dump()
	remove := func(tx *WriteTx) error { tx.put(layout.Rooms, []byte("fridge"), nil); return nil }
	if err := f.book.Update(remove); err == nil ||
		!strings.Contains(err.Error(), "a fact cannot be deleted: rooms") {
		t.Errorf("got %v", err)
	}
	if f.dump() != before {
		t.Error("the book was changed")
	}
}

// BenchmarkChain is what one fact costs in the chain, beside one bare digest of
// as many bytes, and the bytes a link keeps of it; and what proving the chain of
// a book costs, beside its whole check.
func BenchmarkChain(b *testing.B) {
	e := goldenEntries[0].e
	key, v := pack.EntryKey(e), pack.Entry(e)
	b.Run("one digest", func(b *testing.B) {
		both := append(bytes.Clone(key), v...)
		for b.Loop() {
			sha256.Sum256(both)
		}
	})
	book, _, _ := benchBook(b, 1e4)
	defer book.Close()
	for _, c := range []struct {
		name  string
		prove func() error
	}{
		{"the whole check of 10000 wheels", func() error { _, err := book.Check(context.Background(), nil); return err }},
		{"the chain of it", func() error {
			return book.View(func(t *ReadTx) error { _, err := (&checker{t: t, ctx: context.Background()}).chain(); return err })
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
	b.Run("one fact of many", func(b *testing.B) {
		l := newLink(genesis(idC), 1, linkWritten, 0)
		for b.Loop() {
			if l.full() {
				l.seal()
				l = newLink(genesis(idC), 1, linkWritten, 0)
			}
			key[20]++
			key[23]++
			l.add(7, key, nil, v)
		}
		b.ReportMetric(float64(len(l.body))/float64(l.count), "B/fact")
	})
}
