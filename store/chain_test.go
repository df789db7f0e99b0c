package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	bolt "go.etcd.io/bbolt"
	"pgregory.net/rapid"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
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

// altered is what a check finds of the history, a line each.
func altered(t testing.TB, b *Book) []string {
	t.Helper()
	found, err := b.Check(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	out := []string{}
	for _, x := range found {
		if x.History {
			out = append(out, said(x))
		}
	}
	return out
}

// spoiling changes a bucket outside the program.
type spoiling = func(*testing.T, *bolt.Bucket)

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

// rewrite changes an entry in the file, seal and all.
func rewrite(t testing.TB, b *bolt.Bucket, old wheel.Entry, change func(e *wheel.Entry)) {
	t.Helper()
	e, err := pack.ReadEntry(pack.EntryKey(old), b.Get(pack.EntryKey(old)))
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Delete(pack.EntryKey(e)); err != nil {
		t.Fatal(err)
	}
	change(&e)
	if err := b.Put(pack.EntryKey(e), pack.Entry(e)); err != nil {
		t.Fatal(err)
	}
}

func TestACheckNamesWhatWasAlteredOutsideTheProgram(t *testing.T) {
	const (
		put       = "was put in outside the program: no link of the chain speaks of it"
		was       = "outside the program; it was written 2026-11-25 09:00"
		rewritten = "one of the two, or what came before, was rewritten outside the program"
	)
	edit := func(key []byte, from, to string) func(t *testing.T, b *bolt.Bucket) {
		return func(t *testing.T, b *bolt.Bucket) {
			body, err := pack.Body(b.Get(key))
			if err != nil || !strings.Contains(string(body), from) {
				t.Fatalf("%v, no %s in %s", err, from, body)
			}
			if err := b.Put(key, pack.Sealed([]byte(strings.Replace(string(body), from, to, 1)))); err != nil {
				t.Fatal(err)
			}
		}
	}
	drop := func(t *testing.T, b *bolt.Bucket, key []byte) {
		if b.Get(key) == nil {
			t.Fatalf("no %x", key)
		}
		if err := b.Delete(key); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		name   string
		bucket string
		change func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling
		want   []string
	}{
		{"a weight is another, its seal made again", bEntries,
			func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
				return func(t *testing.T, b *bolt.Bucket) {
					rewrite(t, b, es[1], func(e *wheel.Entry) { e.Weight = 1950 })
				}
			}, []string{`wheel 261120A-01: its entry "weighed" of 2026-11-22 08:00 was changed ` + was + " (link 5)"}},
		{"who did it is another", bEntries, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return func(t *testing.T, b *bolt.Bucket) {
				rewrite(t, b, es[2], func(e *wheel.Entry) { e.By = "Zoe" })
			}
		}, []string{`wheel 261120A-02: its entry "did" of 2026-11-22 09:00 was changed ` + was + " (link 6)"}},
		{"an entry is removed", bEntries, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return func(t *testing.T, b *bolt.Bucket) { drop(t, b, pack.EntryKey(es[0])) }
		}, []string{`wheel 261120A-01: its entry "weighed" of 2026-11-21 08:00 was removed ` + was + " (link 4)"}},
		{"an entry is put in", bEntries, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return func(t *testing.T, b *bolt.Bucket) {
				e := f.weighed(ws[1].ID, "2026-11-23 08:00", 1980)
				b.Put(pack.EntryKey(e), pack.Entry(e))
			}
		}, []string{`wheel 261120A-02: its entry "weighed" of 2026-11-23 08:00 ` + put}},
		{"one is removed and one put in", bEntries, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return func(t *testing.T, b *bolt.Bucket) {
				drop(t, b, pack.EntryKey(es[0]))
				e := f.weighed(ws[1].ID, "2026-11-23 08:00", 1980)
				b.Put(pack.EntryKey(e), pack.Entry(e))
			}
		}, []string{
			`wheel 261120A-02: its entry "weighed" of 2026-11-23 08:00 ` + put,
			`wheel 261120A-01: its entry "weighed" of 2026-11-21 08:00 was removed ` + was + " (link 4)",
		}},
		{"the times of two weighings are exchanged", bEntries,
			func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
				return func(t *testing.T, b *bolt.Bucket) {
					rewrite(t, b, es[0], func(e *wheel.Entry) { e.At = es[1].At })
					rewrite(t, b, es[1], func(e *wheel.Entry) { e.At = es[0].At })
				}
			}, []string{
				`wheel 261120A-01: its entry "weighed" of 2026-11-22 08:00 was moved to 2026-11-21 08:00 ` + was + " (link 5)",
				`wheel 261120A-01: its entry "weighed" of 2026-11-21 08:00 was moved to 2026-11-22 08:00 ` + was + " (link 4)",
			}},
		{"the time is another, the lag of its writing kept", bEntries,
			func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
				return func(t *testing.T, b *bolt.Bucket) {
					rewrite(t, b, es[2], func(e *wheel.Entry) { e.At, e.Written = e.At.Add(time.Hour), e.Written.Add(time.Hour) })
				}
			}, []string{`wheel 261120A-02: its entry "did" of 2026-11-22 09:00 was moved to 2026-11-22 10:00 ` + was +
				" (link 6)"}},
		{"an entry is given to another wheel", bEntries,
			func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
				return func(t *testing.T, b *bolt.Bucket) {
					rewrite(t, b, es[0], func(e *wheel.Entry) { e.Subject = ws[1].ID })
				}
			}, []string{`wheel 261120A-01: its entry "weighed" of 2026-11-21 08:00 was made over to wheel 261120A-02 (entry ` +
				`"weighed" of 2026-11-21 08:00) ` + was + " (link 4)"}},
		{"a make's acidity is another", bMakes, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return edit(ws[0].Make[:], `"ph":5.3`, `"ph":5.1`)
		}, []string{"lot 261120A: its record was changed " + was + " (link 3)"}},
		{"who made a wheel is another", bWheels, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return edit(ws[0].ID[:], `"by":"Ann"`, `"by":"Zoe"`)
		}, []string{"wheel 261120A-01: its record was changed " + was + " (link 3)"}},
		{"a room is removed", bRooms, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return func(t *testing.T, b *bolt.Bucket) { drop(t, b, []byte("fridge")) }
		}, []string{"room fridge: its record was removed " + was + " (link 2)"}},
		{"a reading of the air is another", bAir, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return func(t *testing.T, b *bolt.Bucket) {
				k := airKey("cellar", at(t, "2026-11-22 10:00"))
				body, err := pack.Unseal(k, b.Get(k))
				if err != nil {
					t.Fatal(err)
				}
				v := bytes.Clone(body)
				v[1] ^= 2
				b.Put(k, pack.Seal(k, v))
			}
		}, []string{"room cellar: its reading of its air at 2026-11-22 10:00 was changed " + was + " (link 9)"}},
		{"a reading is put in", bAir, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return func(t *testing.T, b *bolt.Bucket) {
				_, v := b.Cursor().First()
				body, k := bytes.Clone(v[:len(v)-2]), airKey("cellar", at(t, "2026-11-22 11:00"))
				b.Put(k, pack.Seal(k, body))
			}
		}, []string{"room cellar: its reading of its air at 2026-11-22 11:00 " + put}},
		{"the settings are others", bBook, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return edit(settingsKey, `"name":"Test cave"`, `"name":"Our cave"`)
		}, []string{"settings of the book: its record was changed outside the program; it was written 2026-11-25 09:00 " +
			"(link 1)"}},
		{"a record from before a change is another in its link", bChain,
			func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
				return func(t *testing.T, b *bolt.Bucket) {
					v := bytes.Clone(b.Get(linkKey(8)))
					i := bytes.Index(v, []byte("Mary"))
					copy(v[i:], "Jane")
					b.Put(linkKey(8), v)
				}
			}, []string{"customer shop: its record was changed " + was + " (link 7)"}},
		{"a link is removed", bChain, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return func(t *testing.T, b *bolt.Bucket) { drop(t, b, linkKey(5)) }
		}, []string{
			"chain: link 5 is missing: what was written before 2026-11-25 09:00 and after 2026-11-25 09:00 was taken out " +
				"of the history outside the program",
			`wheel 261120A-01: its entry "weighed" of 2026-11-22 08:00 ` + put,
		}},
		{"the first links are removed", bChain, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return func(t *testing.T, b *bolt.Bucket) { drop(t, b, linkKey(1)); drop(t, b, linkKey(2)) }
		}, []string{
			"chain: links 1 to 2 are missing: what was written before 2026-11-25 09:00 was taken out of the history " +
				"outside the program",
			"settings of the book: its record " + put, "room cellar: its record " + put, "room fridge: its record " + put,
		}},
		{"the last link is cut off", bChain, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return func(t *testing.T, b *bolt.Bucket) { drop(t, b, linkKey(9)) }
		}, []string{"room cellar: its reading of its air at 2026-11-22 10:00 " + put}},
		{"two links are exchanged", bChain, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return func(t *testing.T, b *bolt.Bucket) {
				x, y := bytes.Clone(b.Get(linkKey(4))), bytes.Clone(b.Get(linkKey(5)))
				b.Put(linkKey(4), y)
				b.Put(linkKey(5), x)
			}
		}, []string{
			`link 4: written 2026-11-25 09:00 (wheel 261120A-01 entry "weighed" of 2026-11-22 08:00), does not follow from ` +
				`link 3, written 2026-11-25 09:00 (wheel 261120A-01 record and 2 more): ` + rewritten,
			`link 5: written 2026-11-25 09:00 (wheel 261120A-01 entry "weighed" of 2026-11-21 08:00), does not follow from ` +
				`link 4, written 2026-11-25 09:00 (wheel 261120A-01 entry "weighed" of 2026-11-22 08:00): ` + rewritten,
			`link 6: written 2026-11-25 09:00 (wheel 261120A-02 entry "did" of 2026-11-22 09:00), does not follow from ` +
				`link 5, written 2026-11-25 09:00 (wheel 261120A-01 entry "weighed" of 2026-11-21 08:00): ` + rewritten,
		}},
		{"a link says it was written at another time", bChain,
			func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
				return func(t *testing.T, b *bolt.Bucket) {
					v := bytes.Clone(b.Get(linkKey(6)))
					v[6] ^= 1
					b.Put(linkKey(6), v)
				}
			}, []string{
				`link 6: written 2026-11-22 06:26 (wheel 261120A-02 entry "did" of 2026-11-22 09:00), does not follow from ` +
					`link 5, written 2026-11-25 09:00 (wheel 261120A-01 entry "weighed" of 2026-11-22 08:00): ` + rewritten,
			}},
		{"a link is no link", bChain, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return func(t *testing.T, b *bolt.Bucket) { b.Put(linkKey(6), []byte("no link")) }
		}, []string{
			"link 6: link-does-not-decode",
			`wheel 261120A-02: its entry "did" of 2026-11-22 09:00 ` + put,
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, ws := chainedFarm(t)
			var es []wheel.Entry
			f.view(func(tx *ReadTx) error {
				for _, w := range ws {
					h, err := tx.History(w.ID)
					if err != nil {
						return err
					}
					es = append(es, h...)
				}
				return nil
			})
			change := c.change(t, f, ws, es)
			f.spoil(c.bucket, func(b *bolt.Bucket) error { change(t, b); return nil })
			if d := cmp.Diff(c.want, altered(t, f.book)); d != "" {
				t.Errorf("(-want +got)\n%s", d)
			}
		})
	}
}

// forge rewrites the links over what the file holds now, from one number to
// another: what somebody does who knows how the chain is made.
func forge(t *testing.T, f *farm, from, to uint64) {
	t.Helper()
	f.spoil(bChain, func(b *bolt.Bucket) error {
		c := &chainCheck{k: &checker{t: f.book.readTx(b.Tx()), ctx: t.Context()},
			entries: b.Tx().Bucket([]byte(bEntries)).Cursor(), earlier: map[string][]byte{}}
		for n := from; n <= to; n++ {
			old, err := decodeLink(b.Get(linkKey(n)))
			if err != nil {
				return err
			}
			prev := genesis(f.book.settings.ID)
			if v := b.Get(linkKey(n - 1)); v != nil {
				copy(prev[:], v[len(v)-sha256.Size:])
			}
			l := newLink(prev, n, old.kind, old.ms)
			for _, x := range old.facts {
				bucket := b.Tx().Bucket([]byte(chainBuckets[x.code]))
				key, v := x.key, bucket.Get(x.key)
				if x.code == codeEntry {
					key, v = bucket.Cursor().Seek(x.key)
				}
				if _, amiss := c.find(x); amiss == otherwise && x.code == chainCodes[bCustomers] {
					v = pack.Sealed([]byte("what it was, nobody knows")) // replaced since
				}
				l.add(x.code, bytes.Clone(key), x.was, bytes.Clone(v))
			}
			if _, err := putLink(b, l); err != nil {
				return err
			}
		}
		return nil
	})
}

func TestAForgedLinkIsFoundByTheNextAndAForgedChainByANotedHeadAlone(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261120A", "2026-11-20", 2, "cellar")
	first := f.weighed(ws[0].ID, "2026-11-21 08:00", 2000)
	f.put(first)
	f.put(f.weighed(ws[0].ID, "2026-11-22 08:00", 1990))
	f.put(f.did(ws[1].ID, wheel.Turn, "2026-11-22 09:00"))
	head := f.head()
	if head.Number != 6 {
		t.Fatalf("the head is link %d", head.Number)
	}
	f.spoil(bEntries, func(b *bolt.Bucket) error {
		rewrite(t, b, first, func(e *wheel.Entry) { e.Weight = 1900 })
		return nil
	})
	forge(t, f, 4, 4)
	want := []string{`link 5: written 2026-11-25 09:00 (wheel 261120A-01 entry "weighed" of 2026-11-22 08:00), does ` +
		`not follow from link 4, written 2026-11-25 09:00 (wheel 261120A-01 entry "weighed" of 2026-11-21 08:00): one ` +
		`of the two, or what came before, was rewritten outside the program`}
	if d := cmp.Diff(want, altered(t, f.book)); d != "" {
		t.Errorf("one link forged (-want +got)\n%s", d)
	}
	forge(t, f, 5, 6)
	if d := cmp.Diff([]string{}, altered(t, f.book)); d != "" {
		t.Errorf("all links after it forged too: nothing in the file can show it, yet (-want +got)\n%s", d)
	}
	f.view(func(tx *ReadTx) error {
		if h, ok, err := tx.FindLink(hex.EncodeToString(head.Hash[:])); ok || err != nil {
			t.Errorf("the head noted before is still there: %+v, %v", h, err)
		}
		return nil
	})
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
	if err := f.book.Rebuild(); err != nil {
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

func TestAnAlteredBackupIsPutBackOnlyWhenAskedTo(t *testing.T) {
	f, _ := chainedFarm(t)
	f.spoil(bRooms, func(b *bolt.Bucket) error {
		return b.Put([]byte("fridge"), pack.Sealed(bytes.Replace(b.Get([]byte("fridge"))[5:], []byte("12"), []byte("13"), 1)))
	})
	want := altered(t, f.book)
	if len(want) != 1 {
		t.Fatalf("found %v", want)
	}
	f.book.Close()
	to, o := filepath.Join(t.TempDir(), "back.book"), Options{Now: f.clock.now}
	_, err := Restore(context.Background(), f.path, to, false, o)
	if r, ok := reason.Of(err).(*OtherHistory); !ok || len(r.Findings) != 1 {
		t.Errorf("without being asked to: %v", err)
	}
	if left, _ := os.ReadDir(filepath.Dir(to)); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	o.Altered = true
	if c, err := Restore(context.Background(), f.path, to, false, o); err != nil || len(c.Findings) != 1 {
		t.Fatal(c, err)
	}
	b, err := Open(to, Read, Options{Now: f.clock.now, alone: true})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if d := cmp.Diff(want, altered(t, b)); d != "" {
		t.Errorf("the copy tells of it otherwise\n%s", d)
	}
}

// TestABackupWithAHistoryWrittenAgainIsFoundBesideAnotherCopy has backups that are sound
// in themselves.
func TestABackupWithAHistoryWrittenAgainIsFoundBesideAnotherCopy(t *testing.T) {
	ctx := context.Background()
	for _, c := range []struct {
		name string
		make func(t *testing.T, f *farm, ws []wheel.Wheel, to string) // the backup
		want []reason.Reason
	}{
		{"older", func(t *testing.T, f *farm, ws []wheel.Wheel, to string) {
			f.backup(to)
			f.put(f.weighed(ws[0].ID, "2026-11-23 08:00", 1970))
		}, nil},
		{"newer", func(t *testing.T, f *farm, ws []wheel.Wheel, to string) {
			old := filepath.Join(t.TempDir(), "old.book")
			f.backup(old)
			f.put(f.weighed(ws[0].ID, "2026-11-23 08:00", 1970))
			f.backup(to)
			f.swap(old)
		}, nil},
		{"written again from its beginning", func(t *testing.T, f *farm, ws []wheel.Wheel, to string) {
			f.backup(to)
			rechain(t, to, at(t, "2026-11-25 09:01"))
		}, []reason.Reason{Parted{Path: "", Link: 0}}},
		{"gone on from an older one", func(t *testing.T, f *farm, ws []wheel.Wheel, to string) {
			old := filepath.Join(t.TempDir(), "old.book")
			f.backup(old)
			f.put(f.weighed(ws[0].ID, "2026-11-23 08:00", 1970))
			now := filepath.Join(t.TempDir(), "now.book")
			f.backup(now)
			f.swap(old)
			f.put(f.weighed(ws[0].ID, "2026-11-23 08:00", 1980))
			f.backup(to)
			f.swap(now)
		}, []reason.Reason{Parted{Path: "", Link: 9, Written: at(t, "2026-11-25 09:00")}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, ws := chainedFarm(t)
			backup := filepath.Join(t.TempDir(), "back.book")
			c.make(t, f, ws, backup)
			before := f.dump()
			f.book.Close()
			_, err := Restore(ctx, backup, f.path, true, Options{Now: f.clock.now})
			var got []reason.Reason
			if r, ok := reason.Of(err).(*OtherHistory); ok {
				err = nil
				for _, x := range r.Findings {
					p, _ := x.What.(Parted)
					p.Path = ""
					got = append(got, p)
				}
			}
			if d := cmp.Diff(c.want, got); d != "" || err != nil {
				t.Errorf("%v %s", err, d)
			}
			f.open(Write)
			if len(c.want) > 0 && f.dump() != before {
				t.Error("it was restored")
			}
			f.clean()
		})
	}
}

// backup copies the book as it stands.
func (f *farm) backup(to string) {
	f.t.Helper()
	if _, err := f.book.Backup(context.Background(), to); err != nil {
		f.t.Fatal(err)
	}
}

// swap puts another file in the book's place, as a person does with cp.
func (f *farm) swap(with string) {
	f.t.Helper()
	f.book.Close()
	b, err := os.ReadFile(with)
	if err == nil {
		err = os.WriteFile(f.path, b, 0o600)
	}
	if err != nil {
		f.t.Fatal(err)
	}
	f.open(Write)
}

// rechain writes the whole history of a book again, as somebody may who knows how.
func rechain(t *testing.T, path string, at time.Time) {
	t.Helper()
	b, err := Open(path, Write, Options{alone: true})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if err := b.Update(func(t *WriteTx) error {
		t.changed = true
		return errors.Join(t.emptyBucket(bChain), chainAll(t.tx, linkBegun, at))
	}); err != nil {
		t.Fatal(err)
	}
}

// TestACheckAsksTheNewestBackup puts an older copy and a history written again in the
// book's place.
func TestACheckAsksTheNewestBackup(t *testing.T) {
	f, ws := chainedFarm(t)
	k, err := bookfile.BackupsOf(f.path)
	if err != nil {
		t.Fatal(err)
	}
	old := filepath.Join(t.TempDir(), "old.book")
	f.backup(old)
	f.put(f.weighed(ws[0].ID, "2026-11-23 08:00", 1970))
	auto, err := f.book.BackUp(context.Background(), k, false)
	if err != nil {
		t.Fatal(err)
	}
	history := func(want ...reason.Reason) {
		t.Helper()
		var got []reason.Reason
		found, err := f.book.CheckHistory()
		for _, x := range found {
			got = append(got, x.What)
		}
		if d := cmp.Diff(want, got); d != "" || err != nil {
			t.Errorf("%v %s", err, d)
		}
	}
	nine := at(t, "2026-11-25 09:00")
	history()
	f.put(f.weighed(ws[0].ID, "2026-11-24 08:00", 1960))
	history()
	f.swap(old)
	history(Behind{Path: auto.Path, Links: 1, Since: nine})
	f.put(f.weighed(ws[0].ID, "2026-11-24 08:00", 1960))
	history(Parted{Path: auto.Path, Link: 9, Written: nine})
	f.book.Close()
	rechain(t, f.path, nine.Add(time.Minute))
	f.open(Write)
	f.clean()
	history(Parted{Path: auto.Path})
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
	k := airKey("cellar", at(t, "2026-11-01 00:00").Add(5000*time.Minute))
	f.spoil(bAir, func(b *bolt.Bucket) error {
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
	for name := range chainCodes {
		coded = append(coded, name)
	}
	want := slices.Concat(factBuckets, laterBuckets)
	want = slices.DeleteFunc(want, func(name string) bool { return name == bChain })
	order := slices.Clone(chainOrder)
	slices.Sort(want)
	slices.Sort(coded)
	slices.Sort(order)
	if d := cmp.Diff(want, coded); d != "" {
		t.Errorf("buckets of facts and their codes: see chainCodes (-facts +coded)\n%s", d)
	}
	if d := cmp.Diff(want, order); d != "" {
		t.Errorf("buckets of facts and the order of a chain begun over them: see chainOrder (-facts +order)\n%s", d)
	}
}

func TestAFactIsNeverDeleted(t *testing.T) {
	f, _ := chainedFarm(t)
	before := f.dump()
	if err := f.book.Update(func(tx *WriteTx) error { tx.put(bRooms, []byte("fridge"), nil); return nil }); err == nil ||
		!strings.Contains(err.Error(), "a fact cannot be deleted: rooms") {
		t.Errorf("got %v", err)
	}
	if f.dump() != before {
		t.Error("the book was changed")
	}
}

func TestAnImportKeepsAChainThatFitsAndSaysWhereItBeganAnew(t *testing.T) {
	f, _ := chainedFarm(t)
	text, head := exported(t, f.book), f.head()
	links := func(keep func(line string) bool) string {
		var out []string
		for _, l := range strings.SplitAfter(text, "\n") {
			if l != "" && (!strings.HasPrefix(l, `{"record":"link"`) || keep(l)) && !strings.HasPrefix(l, `{"record":"end"`) {
				out = append(out, l)
			}
		}
		return strings.Join(append(out, fmt.Sprintf("{\"record\":\"end\",\"lines\":%d}\n", len(out))), "")
	}
	all := func(string) bool { return true }
	for _, c := range []struct {
		name, text string
		same       bool
		begun      Beginning
		number     int
	}{
		{"as it was written", text, true, BegunNew, 9},
		{"without its chain", links(func(string) bool { return false }), false, BegunImport, 1},
		{"with a weight changed", strings.Replace(links(all), `"weight_g":1990`, `"weight_g":1890`, 1), false,
			BegunUnfitted, 1},
		{"with who did it changed", strings.Replace(links(all), `"written":"2026-11-22T09:00:00Z","by":"Ann"`,
			`"written":"2026-11-22T09:00:00Z","by":"Zoe"`, 1), false, BegunUnfitted, 1},
		{"with its last link cut off", links(func(l string) bool { return !strings.Contains(l, `"number":9,`) }), false,
			BegunUnfitted, 1},
		{"with a link cut out", links(func(l string) bool { return !strings.Contains(l, `"number":5,`) }), false,
			BegunUnfitted, 1},
	} {
		if c.begun == BegunUnfitted && c.text == text {
			t.Fatalf("%s: nothing was changed", c.name)
		}
		b := imported(t, filepath.Join(t.TempDir(), "new.book"), c.text, f.clock.now)
		wantClean(t, b)
		if err := b.View(func(tx *ReadTx) error {
			h, begun, since, err := tx.Head()
			if (h == head) != c.same || begun != c.begun || h.Number != c.number || !c.same && !since.Equal(f.clock.t) {
				t.Errorf("%s: the head is %+v, begun by %s on %v", c.name, h, begun, since)
			}
			return err
		}); err != nil {
			t.Fatal(err)
		}
		if err := b.Update(func(tx *WriteTx) error { return tx.PutRoom(room(t, "loft", 3, 0.85)) }); err != nil {
			t.Fatal(err)
		}
		wantClean(t, b) // and it goes on from there
		b.Close()
	}
	for _, c := range []struct{ name, from, to, want string }{
		{"a link twice", `"link","number":2,`, `"link","number":1,`, "line 14: line-twice"},
		{"a link of no number", `"link","number":1,`, `"link","number":0,`, "line 13: link-without-number"},
		{"a hash cut short", `"hash":"`, `"hash":"0`, "line 13: line-no-hash"},
		{"a link that is none", `"link":"A`, `"link":"B`, "line 13: link-does-not-decode"},
	} {
		_, _, err := Import(context.Background(), filepath.Join(t.TempDir(), "new.book"),
			strings.NewReader(strings.Replace(text, c.from, c.to, 1)), Options{Now: f.clock.now}, nil)
		if err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%s: got %v", c.name, err)
		}
	}
}

// TestAnyAlterationOfAnyBookIsFound alters one record of a random book in one
// way, its seal made again, and wants it told of.
func TestAnyAlterationOfAnyBookIsFound(t *testing.T) {
	tried := 0
	rapid.Check(t, func(rt *rapid.T) {
		f := newFarm(t)
		defer f.book.Close()
		anyBook(rt, f)
		wantClean(t, f.book)
		head := f.head()
		type fact struct {
			bucket string
			k, v   []byte
		}
		var facts []fact
		f.view(func(tx *ReadTx) error {
			for _, name := range chainOrder {
				for k, v := range tx.in(name, nil) {
					if inChain(name, k) {
						facts = append(facts, fact{name, bytes.Clone(k), bytes.Clone(v)})
					}
				}
			}
			return nil
		})
		x := facts[rapid.IntRange(0, len(facts)-1).Draw(rt, "fact")]
		how := rapid.SampledFrom([]string{"change", "remove", "put in", "seal"}).Draw(rt, "how")
		if x.bucket == bBook {
			how = "change" // without its settings it is no book
		}
		packed := x.bucket == bEntries || x.bucket == bAir
		f.spoil(x.bucket, func(b *bolt.Bucket) error {
			v := bytes.Clone(x.v)
			switch how {
			case "remove":
				return b.Delete(x.k)
			case "put in":
				k := bytes.Clone(x.k)
				k[len(k)-1] ^= 1
				if b.Get(k) != nil {
					k = append(k, 'x')
				}
				if packed {
					v = pack.Seal(k, v[:len(v)-2])
				}
				return b.Put(k, v)
			case "seal":
				v[len(v)-1] ^= 1
				return b.Put(x.k, v)
			}
			if packed {
				i := rapid.IntRange(0, len(v)-3).Draw(rt, "byte")
				v[i] ^= byte(rapid.IntRange(1, 255).Draw(rt, "bits"))
				return b.Put(x.k, pack.Seal(x.k, v[:len(v)-2]))
			}
			i := rapid.IntRange(5, len(v)-1).Draw(rt, "byte")
			v[i] ^= byte(rapid.IntRange(1, 255).Draw(rt, "bits"))
			return b.Put(x.k, pack.Sealed(v[5:]))
		})
		tried++
		got := altered(t, f.book)
		if how == "seal" { // a disk did that
			if found, err := f.book.Check(t.Context(), nil); err != nil || len(found) == 0 || len(got) > 0 {
				rt.Errorf("seal of %s %x: found %v, %v", x.bucket, x.k, found, err)
			}
		} else if len(got) != 1 {
			rt.Errorf("%s of %s %x: found %q", how, x.bucket, x.k, got)
		}
		if f.head() != head {
			rt.Errorf("the head changed")
		}
	})
	if tried < 20 { // as many as a short run takes
		t.Errorf("only %d alterations were tried", tried)
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

func TestALinkThatNamesAnEntryByAnotherKindIsFound(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261120A", "2026-11-20", 1, "cellar")
	f.put(f.weighed(ws[0].ID, "2026-11-21 09:00", 2000))
	wantClean(t, f.book)
	f.spoil(bChain, func(b *bolt.Bucket) error {
		k, v := b.Cursor().Last()
		v = bytes.Clone(v)
		v[len(v)-sha256.Size-tagSize-1] ^= 2 // the kind of its last fact, beside the digest
		return b.Put(bytes.Clone(k), v)
	})
	if got := altered(t, f.book); len(got) != 1 || got[0] != "link 4: link-misnames-entry" {
		t.Errorf("found %q", got)
	}
}
