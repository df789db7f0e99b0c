package chain

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"rindkeep/store/pack"
	"rindkeep/wheel"
)

var (
	idA = uuid.MustParse("01932e4f-8c00-7000-8000-0000000000aa")
	idB = uuid.MustParse("01932e4f-8c00-7000-8000-0000000000bb")
	idC = uuid.MustParse("01932e4f-8c00-7000-8000-0000000000cc")
)

func milliAt(ms int64) time.Time { return time.UnixMilli(ms).UTC() }

// goldenLink is a link over three facts: a weighing, another of the same wheel,
// and a customer that takes the place of an older record.
func goldenLink() *openLink {
	l := newLink(genesis(idC), 7, Written, 1764057604000)
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
	d := Digest(7, pack.EntryKey(e), pack.Entry(e))
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
	l, err := Decode(v)
	if err != nil {
		t.Fatal(err)
	}
	a, b := goldenEntries[0].e, goldenEntries[1].e
	b.At = b.At.Add(24 * time.Hour)
	tag := func(code byte, key, rec []byte) [tagSize]byte {
		d := Digest(code, key, rec)
		return [tagSize]byte(d[:])
	}
	want := Link{Kind: Written, ms: 1764057604000, hash: sum, Facts: []Trace{
		{Code: 7, Key: pack.EntryKey(a)[:24], Kind: wheel.Weighed, tag: tag(7, pack.EntryKey(a), pack.Entry(a))},
		{Code: 7, Key: pack.EntryKey(b)[:24], Kind: wheel.Did, tag: tag(7, pack.EntryKey(b), pack.Entry(b))},
		{Code: 9, Key: []byte("shop"), tag: tag(9, []byte("shop"), pack.Sealed([]byte(`{"new":1}`))),
			Was: pack.Sealed([]byte(`{"old":1}`))},
	}}
	if d := cmp.Diff(want, l, cmp.AllowUnexported(Link{}, Trace{})); d != "" {
		t.Error(d)
	}
	for n := range v {
		if got, err := Decode(v[:n]); err == nil && got.hash == sum {
			t.Errorf("%d of %d bytes were taken for the link", n, len(v))
		}
	}
}

func FuzzDecodeLink(f *testing.F) {
	_, v := goldenLink().seal()
	f.Add(v)
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, v []byte) {
		l, err := Decode(v)
		if err != nil {
			return
		}
		again := &openLink{kind: l.Kind, ms: l.ms, count: len(l.Facts)}
		for _, x := range l.Facts {
			again.body = appendFact(again.body, again.key, x)
			again.key = append(again.key[:0], x.Key...)
		}
		_, w := again.seal()
		back, err := Decode(append(w[:len(w)-sha256.Size], l.hash[:]...))
		if d := cmp.Diff(l, back, cmp.AllowUnexported(Link{}, Trace{})); err != nil || d != "" {
			t.Fatalf("%v %s", err, d)
		}
	})
}

// BenchmarkFact is what one fact costs in the chain, beside one bare digest of
// as many bytes, and the bytes a link keeps of it.
func BenchmarkFact(b *testing.B) {
	e := goldenEntries[0].e
	key, v := pack.EntryKey(e), pack.Entry(e)
	b.Run("one digest", func(b *testing.B) {
		both := append(bytes.Clone(key), v...)
		for b.Loop() {
			sha256.Sum256(both)
		}
	})
	b.Run("one fact of many", func(b *testing.B) {
		l := newLink(genesis(idC), 1, Written, 0)
		for b.Loop() {
			if l.full() {
				l.seal()
				l = newLink(genesis(idC), 1, Written, 0)
			}
			key[20]++
			key[23]++
			l.add(7, key, nil, v)
		}
		b.ReportMetric(float64(len(l.body))/float64(l.count), "B/fact")
	})
}
