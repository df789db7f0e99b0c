package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	bolt "go.etcd.io/bbolt"
	"pgregory.net/rapid"

	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel"
)

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
		{"a weight is another, its seal made again", layout.Entries,
			func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
				return func(t *testing.T, b *bolt.Bucket) {
					rewrite(t, b, es[1], func(e *wheel.Entry) { e.Weight = 1950 })
				}
			}, []string{`wheel 261120A-01: its entry "weighed" of 2026-11-22 08:00 was changed ` + was + " (link 5)"}},
		{"who did it is another", layout.Entries, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return func(t *testing.T, b *bolt.Bucket) {
				rewrite(t, b, es[2], func(e *wheel.Entry) { e.By = "Zoe" })
			}
		}, []string{`wheel 261120A-02: its entry "did" of 2026-11-22 09:00 was changed ` + was + " (link 6)"}},
		{"an entry is removed", layout.Entries, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return func(t *testing.T, b *bolt.Bucket) { drop(t, b, pack.EntryKey(es[0])) }
		}, []string{`wheel 261120A-01: its entry "weighed" of 2026-11-21 08:00 was removed ` + was + " (link 4)"}},
		{"an entry is put in", layout.Entries, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return func(t *testing.T, b *bolt.Bucket) {
				e := f.weighed(ws[1].ID, "2026-11-23 08:00", 1980)
				b.Put(pack.EntryKey(e), pack.Entry(e))
			}
		}, []string{`wheel 261120A-02: its entry "weighed" of 2026-11-23 08:00 ` + put}},
		{"one is removed and one put in", layout.Entries,
			func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
				return func(t *testing.T, b *bolt.Bucket) {
					drop(t, b, pack.EntryKey(es[0]))
					e := f.weighed(ws[1].ID, "2026-11-23 08:00", 1980)
					b.Put(pack.EntryKey(e), pack.Entry(e))
				}
			}, []string{
				`wheel 261120A-02: its entry "weighed" of 2026-11-23 08:00 ` + put,
				`wheel 261120A-01: its entry "weighed" of 2026-11-21 08:00 was removed ` + was + " (link 4)",
			}},
		{"the times of two weighings are exchanged", layout.Entries,
			func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
				return func(t *testing.T, b *bolt.Bucket) {
					rewrite(t, b, es[0], func(e *wheel.Entry) { e.At = es[1].At })
					rewrite(t, b, es[1], func(e *wheel.Entry) { e.At = es[0].At })
				}
			}, []string{
				`wheel 261120A-01: its entry "weighed" of 2026-11-22 08:00 was moved to 2026-11-21 08:00 ` + was + " (link 5)",
				`wheel 261120A-01: its entry "weighed" of 2026-11-21 08:00 was moved to 2026-11-22 08:00 ` + was + " (link 4)",
			}},
		{"the time is another, the lag of its writing kept", layout.Entries,
			func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
				return func(t *testing.T, b *bolt.Bucket) {
					rewrite(t, b, es[2], func(e *wheel.Entry) { e.At, e.Written = e.At.Add(time.Hour), e.Written.Add(time.Hour) })
				}
			}, []string{`wheel 261120A-02: its entry "did" of 2026-11-22 09:00 was moved to 2026-11-22 10:00 ` + was +
				" (link 6)"}},
		{"an entry is given to another wheel", layout.Entries,
			func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
				return func(t *testing.T, b *bolt.Bucket) {
					rewrite(t, b, es[0], func(e *wheel.Entry) { e.Subject = ws[1].ID })
				}
			}, []string{`wheel 261120A-01: its entry "weighed" of 2026-11-21 08:00 was made over to wheel 261120A-02 (entry ` +
				`"weighed" of 2026-11-21 08:00) ` + was + " (link 4)"}},
		{"a make's acidity is another", layout.Makes,
			func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
				return edit(ws[0].Make[:], `"ph":5.3`, `"ph":5.1`)
			}, []string{"lot 261120A: its record was changed " + was + " (link 3)"}},
		{"who made a wheel is another", layout.Wheels,
			func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
				return edit(ws[0].ID[:], `"by":"Ann"`, `"by":"Zoe"`)
			}, []string{"wheel 261120A-01: its record was changed " + was + " (link 3)"}},
		{"a room is removed", layout.Rooms, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return func(t *testing.T, b *bolt.Bucket) { drop(t, b, []byte("fridge")) }
		}, []string{"room fridge: its record was removed " + was + " (link 2)"}},
		{"a reading of the air is another", layout.Air,
			func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
				return func(t *testing.T, b *bolt.Bucket) {
					k := layout.AirKey("cellar", at(t, "2026-11-22 10:00"))
					body, err := pack.Unseal(k, b.Get(k))
					if err != nil {
						t.Fatal(err)
					}
					v := bytes.Clone(body)
					v[1] ^= 2
					b.Put(k, pack.Seal(k, v))
				}
			}, []string{"room cellar: its reading of its air at 2026-11-22 10:00 was changed " + was + " (link 9)"}},
		{"a reading is put in", layout.Air, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return func(t *testing.T, b *bolt.Bucket) {
				_, v := b.Cursor().First()
				body, k := bytes.Clone(v[:len(v)-2]), layout.AirKey("cellar", at(t, "2026-11-22 11:00"))
				b.Put(k, pack.Seal(k, body))
			}
		}, []string{"room cellar: its reading of its air at 2026-11-22 11:00 " + put}},
		{"the settings are others", layout.Book, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return edit(layout.SettingsKey, `"name":"Test cave"`, `"name":"Our cave"`)
		}, []string{"settings of the book: its record was changed outside the program; it was written 2026-11-25 09:00 " +
			"(link 1)"}},
		{"a record from before a change is another in its link", layout.Chain,
			func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
				return func(t *testing.T, b *bolt.Bucket) {
					v := bytes.Clone(b.Get(layout.LinkKey(8)))
					i := bytes.Index(v, []byte("Mary"))
					copy(v[i:], "Jane")
					b.Put(layout.LinkKey(8), v)
				}
			}, []string{"customer shop: its record was changed " + was + " (link 7)"}},
		{"a link is removed", layout.Chain, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return func(t *testing.T, b *bolt.Bucket) { drop(t, b, layout.LinkKey(5)) }
		}, []string{
			"chain: link 5 is missing: what was written before 2026-11-25 09:00 and after 2026-11-25 09:00 was taken out " +
				"of the history outside the program",
			`wheel 261120A-01: its entry "weighed" of 2026-11-22 08:00 ` + put,
		}},
		{"the first links are removed", layout.Chain,
			func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
				return func(t *testing.T, b *bolt.Bucket) { drop(t, b, layout.LinkKey(1)); drop(t, b, layout.LinkKey(2)) }
			}, []string{
				"chain: links 1 to 2 are missing: what was written before 2026-11-25 09:00 was taken out of the history " +
					"outside the program",
				"settings of the book: its record " + put, "room cellar: its record " + put, "room fridge: its record " + put,
			}},
		{"the last link is cut off", layout.Chain,
			func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
				return func(t *testing.T, b *bolt.Bucket) { drop(t, b, layout.LinkKey(9)) }
			}, []string{"room cellar: its reading of its air at 2026-11-22 10:00 " + put}},
		{"two links are exchanged", layout.Chain, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return func(t *testing.T, b *bolt.Bucket) {
				x, y := bytes.Clone(b.Get(layout.LinkKey(4))), bytes.Clone(b.Get(layout.LinkKey(5)))
				b.Put(layout.LinkKey(4), y)
				b.Put(layout.LinkKey(5), x)
			}
		}, []string{
			`link 4: written 2026-11-25 09:00 (wheel 261120A-01 entry "weighed" of 2026-11-22 08:00), does not follow from ` +
				`link 3, written 2026-11-25 09:00 (wheel 261120A-01 record and 2 more): ` + rewritten,
			`link 5: written 2026-11-25 09:00 (wheel 261120A-01 entry "weighed" of 2026-11-21 08:00), does not follow from ` +
				`link 4, written 2026-11-25 09:00 (wheel 261120A-01 entry "weighed" of 2026-11-22 08:00): ` + rewritten,
			`link 6: written 2026-11-25 09:00 (wheel 261120A-02 entry "did" of 2026-11-22 09:00), does not follow from ` +
				`link 5, written 2026-11-25 09:00 (wheel 261120A-01 entry "weighed" of 2026-11-21 08:00): ` + rewritten,
		}},
		{"a link says it was written at another time", layout.Chain,
			func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
				return func(t *testing.T, b *bolt.Bucket) {
					v := bytes.Clone(b.Get(layout.LinkKey(6)))
					v[6] ^= 1
					b.Put(layout.LinkKey(6), v)
				}
			}, []string{
				`link 6: written 2026-11-22 06:26 (wheel 261120A-02 entry "did" of 2026-11-22 09:00), does not follow from ` +
					`link 5, written 2026-11-25 09:00 (wheel 261120A-01 entry "weighed" of 2026-11-22 08:00): ` + rewritten,
			}},
		{"a link is no link", layout.Chain, func(t *testing.T, f *farm, ws []wheel.Wheel, es []wheel.Entry) spoiling {
			return func(t *testing.T, b *bolt.Bucket) { b.Put(layout.LinkKey(6), []byte("no link")) }
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
	f.spoil(layout.Chain, func(b *bolt.Bucket) error {
		var old [][2][]byte
		c := b.Cursor()
		for k, v := c.Seek(layout.LinkKey(from)); k != nil; k, v = c.Seek(layout.LinkKey(from)) {
			old = append(old, [2][]byte{bytes.Clone(k), bytes.Clone(v)})
			if err := c.Delete(); err != nil {
				return err
			}
		}
		for i, kv := range old {
			if from+uint64(i) > to {
				if err := b.Put(kv[0], kv[1]); err != nil {
					return err
				}
				continue
			}
			l, err := chain.Decode(kv[1])
			if err != nil {
				return err
			}
			tail, err := chain.TailOf(b, f.book.settings.ID, l.Kind, l.Written())
			if err != nil {
				return err
			}
			for _, x := range l.Facts {
				bucket := b.Tx().Bucket([]byte(layout.OfCode[x.Code]))
				key, v := x.Key, bucket.Get(x.Key)
				if x.Code == layout.CodeEntry {
					key, v = bucket.Cursor().Seek(x.Key)
				}
				if x.Code == layout.Codes[layout.Customers] && !x.Is(chain.Digest(x.Code, key, v)) {
					v = pack.Sealed([]byte("what it was, nobody knows")) // replaced since
				}
				if _, err := tail.Add(layout.OfCode[x.Code], bytes.Clone(key), x.Was, bytes.Clone(v)); err != nil {
					return err
				}
			}
			if err := tail.End(); err != nil {
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
	f.spoil(layout.Entries, func(b *bolt.Bucket) error {
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
			for _, name := range layout.ChainOrder {
				for k, v := range tx.tab.In(name, nil) {
					if layout.InChain(name, k) {
						facts = append(facts, fact{name, bytes.Clone(k), bytes.Clone(v)})
					}
				}
			}
			return nil
		})
		x := facts[rapid.IntRange(0, len(facts)-1).Draw(rt, "fact")]
		how := rapid.SampledFrom([]string{"change", "remove", "put in", "seal"}).Draw(rt, "how")
		if x.bucket == layout.Book {
			how = "change" // without its settings it is no book
		}
		packed := x.bucket == layout.Entries || x.bucket == layout.Air
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

func TestALinkThatNamesAnEntryByAnotherKindIsFound(t *testing.T) {
	f := newFarm(t)
	_, ws := f.lot("261120A", "2026-11-20", 1, "cellar")
	f.put(f.weighed(ws[0].ID, "2026-11-21 09:00", 2000))
	wantClean(t, f.book)
	f.spoil(layout.Chain, func(b *bolt.Bucket) error {
		k, v := b.Cursor().Last()
		v = bytes.Clone(v)
		v[len(v)-sha256.Size-4-1] ^= 2 // the kind of its last fact, beside the digest
		return b.Put(bytes.Clone(k), v)
	})
	if got := altered(t, f.book); len(got) != 1 || got[0] != "link 4: link-misnames-entry" {
		t.Errorf("found %q", got)
	}
}
