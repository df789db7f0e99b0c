package bundle

import (
	"bytes"
	"compress/flate"
	"crypto/ed25519"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
)

var (
	group = uuid.MustParse("00000000-0000-4000-8000-000000000001")
	north = uuid.MustParse("00000000-0000-4000-8000-00000000000a")
	south = uuid.MustParse("00000000-0000-4000-8000-00000000000b")
	epoch = uuid.MustParse("00000000-0000-4000-8000-0000000000e1")
)

func keyOf(n byte) ed25519.PrivateKey {
	return ed25519.NewKeyFromSeed(bytes.Repeat([]byte{n}, ed25519.SeedSize))
}

func public(k ed25519.PrivateKey) ed25519.PublicKey { return k.Public().(ed25519.PublicKey) }

func sample() Bundle {
	return Bundle{
		Group: group, Site: north, Epoch: epoch, First: 8, Last: 9,
		Before: [32]byte{1, 2}, After: [32]byte{3, 4},
		Voucher: Vouch(keyOf(9), group, north, epoch, public(keyOf(1))),
		Payload: []byte("turned, turned, turned, turned, weighed"),
	}
}

func seal(t testing.TB, k ed25519.PrivateKey, b Bundle) []byte {
	t.Helper()
	raw, err := Seal(k, b)
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

func TestABundleComesOutAsItWentIn(t *testing.T) {
	noise := make([]byte, mostPacked-1000)
	src := rand.NewChaCha8([32]byte{1})
	_, _ = src.Read(noise)
	for name, payload := range map[string][]byte{
		"short": {0}, "text": sample().Payload, "one letter": bytes.Repeat([]byte{'a'}, 1<<20),
		"most, noise": noise,
	} {
		b := sample()
		b.Payload = payload
		raw := seal(t, keyOf(1), b)
		if len(raw) > MostRaw {
			t.Errorf("%s: %d bytes on the wire, at most %d", name, len(raw), MostRaw)
		}
		got, key, err := Open(raw)
		if err != nil || !key.Equal(public(keyOf(1))) {
			t.Fatalf("%s: %v, key %x", name, err, key)
		}
		if d := cmp.Diff(b, got); d != "" {
			t.Errorf("%s: %s", name, d)
		}
		seen, err := Peek(raw)
		b.Payload = nil
		if d := cmp.Diff(b, seen); d != "" || err != nil {
			t.Errorf("%s: Peek: %v %s", name, err, d)
		}
	}
}

// What other books hold must stay readable: the bytes before the deflated payload are fixed.
func TestTheHeadOfABundleIsAlwaysTheSameBytes(t *testing.T) {
	b := sample()
	b.Voucher = Voucher{}
	raw := seal(t, keyOf(1), b)
	const want = "726b626e01" +
		"00000000000040008000000000000001" + "0000000000004000800000000000000a" + "000000000000400080000000000000e1" +
		"0000000000000008" + "0000000000000009" +
		"0102000000000000000000000000000000000000000000000000000000000000" +
		"0304000000000000000000000000000000000000000000000000000000000000" +
		"8a88e3dd7409f195fd52db2d3cba5d72ca6709bf1d94121bf3748801b40f6f5c"
	if got := hex.EncodeToString(raw[:len(want)/2]); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if n := binary.BigEndian.Uint32(raw[headSize-8:]); int(n) != len(b.Payload) {
		t.Errorf("it says %d bytes unpacked, %d are", n, len(b.Payload))
	}
}

func TestNoChangeToABundlePasses(t *testing.T) {
	raw := seal(t, keyOf(1), sample())
	for i := range raw {
		for _, bit := range []byte{1, 0x80} {
			changed := bytes.Clone(raw)
			changed[i] ^= bit
			if b, key, err := Open(changed); err == nil {
				t.Errorf("byte %d changed by %x: it opened as %v, key %x", i, bit, b, key)
			}
		}
	}
	for n := range raw {
		if _, _, err := Open(raw[:n]); !errors.Is(err, ErrForm) {
			t.Errorf("the first %d bytes: %v", n, err)
		}
		if _, err := Peek(raw[:n]); !errors.Is(err, ErrForm) {
			t.Errorf("the first %d bytes, peeked at: %v", n, err)
		}
	}
	if _, _, err := Open(append(bytes.Clone(raw), 0)); !errors.Is(err, ErrForm) {
		t.Errorf("a byte more: %v", err)
	}
}

// Somebody with a key of their own can sign whatever they like: it opens, under their key.
func TestAnotherKeyShows(t *testing.T) {
	mine, _, err := Open(seal(t, keyOf(1), sample()))
	if err != nil {
		t.Fatal(err)
	}
	_, key, err := Open(seal(t, keyOf(2), mine))
	if err != nil || key.Equal(public(keyOf(1))) {
		t.Fatalf("%v, key %x", err, key)
	}
	if mine.Voucher.For(mine.Group, mine.Site, mine.Epoch, key) {
		t.Error("the voucher of one key passes for another")
	}
	// The signature of one bundle under the head of another site.
	raw := seal(t, keyOf(1), sample())
	copy(raw[len(magic)+16:], south[:])
	if _, _, err := Open(raw); !errors.Is(err, ErrSignature) {
		t.Errorf("as another site: %v", err)
	}
}

// What is signed is unpacked only within bounds, and must be what the head says.
func TestAPayloadIsWhatItsSizesSay(t *testing.T) {
	deflated := func(payload []byte) []byte {
		var b bytes.Buffer
		w, _ := flate.NewWriter(&b, flate.BestCompression)
		_, _ = w.Write(payload)
		_ = w.Close()
		return b.Bytes()
	}
	k := keyOf(1)
	head := seal(t, k, sample())[:headSize-8]
	made := func(unpacked, packed uint32, body []byte) []byte {
		raw := binary.BigEndian.AppendUint32(bytes.Clone(head), unpacked)
		raw = append(binary.BigEndian.AppendUint32(raw, packed), body...)
		return append(raw, ed25519.Sign(k, signed(raw))...)
	}
	ten := deflated([]byte("0123456789"))
	if _, _, err := Open(made(10, uint32(len(ten)), ten)); err != nil {
		t.Fatalf("a sound one made by hand: %v", err)
	}
	large := deflated(bytes.Repeat([]byte{0}, 8<<20))
	for name, raw := range map[string][]byte{
		"more than it says":    made(9, uint32(len(ten)), ten),
		"less than it says":    made(11, uint32(len(ten)), ten),
		"bytes after":          made(10, uint32(len(ten)+1), append(bytes.Clone(ten), 0)),
		"cut":                  made(10, uint32(len(ten)-1), ten[:len(ten)-1]),
		"empty":                made(0, uint32(len(ten)), ten),
		"none packed":          made(10, 0, nil),
		"more than is allowed": made(MostPayload+1, uint32(len(large)), large),
		"a bomb":               made(MostPayload, uint32(len(large)), large),
		"longer than packed":   made(10, 1<<31, ten),
		"not deflated":         made(10, 10, []byte("\xff123456789")),
	} {
		if _, _, err := Open(raw); !errors.Is(err, ErrForm) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestBundlesOneAfterAnotherAreCutApart(t *testing.T) {
	one, two := seal(t, keyOf(1), sample()), seal(t, keyOf(2), sample())
	all := append(bytes.Clone(one), two...)
	a, rest, err := Cut(all)
	b, end, err2 := Cut(rest)
	if !bytes.Equal(a, one) || !bytes.Equal(b, two) || len(end) != 0 || err != nil || err2 != nil {
		t.Errorf("%d, %d and %d bytes of %d; %v, %v", len(a), len(b), len(end), len(all), err, err2)
	}
	for n := range two {
		if _, _, err := Cut(two[:n]); !errors.Is(err, ErrForm) {
			t.Errorf("the first %d bytes: %v", n, err)
		}
	}
}

func TestWhatNoBundleHolds(t *testing.T) {
	for name, change := range map[string]func(*Bundle){
		"no group":   func(b *Bundle) { b.Group = uuid.Nil },
		"no site":    func(b *Bundle) { b.Site = uuid.Nil },
		"no epoch":   func(b *Bundle) { b.Epoch = uuid.Nil },
		"no first":   func(b *Bundle) { b.First = 0 },
		"backwards":  func(b *Bundle) { b.Last = b.First - 1 },
		"no payload": func(b *Bundle) { b.Payload = nil },
		"too large":  func(b *Bundle) { b.Payload = make([]byte, MostPayload+1) },
		"too large packed": func(b *Bundle) {
			b.Payload = make([]byte, mostPacked)
			rand.NewChaCha8([32]byte{}).Read(b.Payload)
		},
		"not a thing": func(b *Bundle) { *b = Bundle{} },
	} {
		b := sample()
		change(&b)
		if _, err := Seal(keyOf(1), b); !errors.Is(err, ErrForm) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestAVoucherIsForOneKeyInOneEpoch(t *testing.T) {
	k := public(keyOf(1))
	v := Vouch(keyOf(9), group, north, epoch, k)
	if !v.For(group, north, epoch, k) || v.By != [32]byte(public(keyOf(9))) {
		t.Error("it doesn't vouch for what it was made for")
	}
	forged := v
	forged.By = [32]byte(public(keyOf(8)))
	for name, yes := range map[string]bool{
		"group": v.For(south, north, epoch, k), "site": v.For(group, south, epoch, k),
		"epoch": v.For(group, north, south, k), "key": v.For(group, north, epoch, public(keyOf(2))),
		"none": Voucher{}.For(group, north, epoch, k), "forged": forged.For(group, north, epoch, k),
	} {
		if yes {
			t.Errorf("it passes for another %s", name)
		}
	}
}

func FuzzOpen(f *testing.F) {
	raw := seal(f, keyOf(1), sample())
	f.Add(raw)
	f.Add(raw[:headSize])
	f.Add([]byte(magic))
	f.Fuzz(func(t *testing.T, raw []byte) {
		peeked, perr := Peek(raw)
		b, key, err := Open(raw)
		if err != nil {
			return
		}
		if perr != nil || peeked.Head() != b.Head() {
			t.Fatalf("Peek says %v, %v of a bundle that opens", peeked, perr)
		}
		if len(b.Payload) > MostPayload || len(b.Payload) == 0 || len(key) != ed25519.PublicKeySize {
			t.Fatalf("%d bytes, key %x", len(b.Payload), key)
		}
	})
}
