package pack_test

import (
	"encoding/binary"
	"encoding/hex"
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"pgregory.net/rapid"

	"rindkeep/cave"
	"rindkeep/cave/quantity"
	"rindkeep/store/pack"
	"rindkeep/wheel"
)

var (
	idA = uuid.MustParse("01932e4f-8c00-7000-8000-0000000000aa")
	idB = uuid.MustParse("01932e4f-8c00-7000-8000-0000000000bb")
	idC = uuid.MustParse("01932e4f-8c00-7000-8000-0000000000cc")
)

func milliAt(ms int64) time.Time { return time.UnixMilli(ms).UTC() }

// goldenEntries are one of each shape of entry with the bytes it is kept as.
// The bytes are a promise to every book ever written: a change here needs a
// new version byte and a reader for the old one.
var goldenEntries = []struct {
	name string
	e    wheel.Entry
	hex  string
}{
	{
		"a weighing by Ann, written four seconds later",
		wheel.Entry{ID: idA, Subject: idB, Kind: wheel.Weighed, At: milliAt(1764057600000), Written: milliAt(1764057604000),
			By: "Ann", Weight: 1942},
		"010105c03e03416e6ee087ed011ccd",
	},
	{
		"a turning that nobody signed",
		wheel.Entry{ID: idA, Subject: idB, Kind: wheel.Did, At: milliAt(1764057600000), Written: milliAt(1764057600000),
			Job: wheel.Turn},
		"01020200010f91",
	},
	{
		"a hand check with every answer",
		wheel.Entry{ID: idA, Subject: idB, Kind: wheel.Checked, At: milliAt(1764057600000), Written: milliAt(1764057600000),
			Found: wheel.HandCheck{DryToTouch: wheel.Yes, Weeping: wheel.No, Cracks: wheel.No, Mould: wheel.Yes,
				Mites: wheel.NotSaid}, Note: "white bloom"},
		"010880410096010b776869746520626c6f6f6df8d6",
	},
	{
		"a hand check of a blown wheel, nothing else looked at",
		wheel.Entry{ID: idA, Subject: idB, Kind: wheel.Checked, At: milliAt(1764057600000), Written: milliAt(1764057600000),
			Found: wheel.HandCheck{Gas: wheel.Yes}},
		"0108800100801059bc",
	},
	{
		"a hand check with all six answers",
		wheel.Entry{ID: idA, Subject: idB, Kind: wheel.Checked, At: milliAt(1764057600000), Written: milliAt(1764057600000),
			Found: wheel.HandCheck{DryToTouch: wheel.Yes, Weeping: wheel.No, Cracks: wheel.Yes, Mould: wheel.No,
				Mites: wheel.Yes, Gas: wheel.No}},
		"0108800100e60c9179",
	},
	{
		"a tasting with its scores and faults",
		wheel.Entry{ID: idA, Subject: idB, Kind: wheel.Tasted, At: milliAt(1764057600000), Written: milliAt(1764057604000),
			By: "Ann", Note: "young", Detail: `{"texture":4,"flavour":3,"faults":["bitter","crumbly"]}`},
		"010981c001c03e03416e6e05796f756e67377b2274657874757265223a342c22666c61766f7572223a332c226661756c7473223a5b22626" +
			"974746572222c226372756d626c79225d7d89c0",
	},
	{
		"a line of a make's log",
		wheel.Entry{ID: idA, Subject: idB, Kind: wheel.Logged, At: milliAt(1764057600000), Written: milliAt(1764057600000),
			Detail: `{"what":"acidity","stage":"milling","ph":5.4}`},
		"0114808001002d7b2277686174223a2261636964697479222c227374616765223a226d696c6c696e67222c227068223a352e347d8ff6",
	},
	{
		"a coat with both weights, confirmed",
		wheel.Entry{ID: idA, Subject: idB, Kind: wheel.CoatedOn, At: milliAt(1764057600000),
			Written: milliAt(1764057500000), Weight: 1900.5, Before: 1850.25, Coat: "wax", Sure: true},
		"0104ac20bf9a0ca8ffe70194eee1010377617889c2",
	},
	{
		"a core of odd weight",
		wheel.Entry{ID: idA, Subject: idB, Kind: wheel.Cored, At: milliAt(1764057600000), Written: milliAt(1764057600000),
			Removed: quantity.Grams(math.Pi)},
		"0105100001400921fb54442d18439c",
	},
	{
		"a turning by a phone three hours slow",
		wheel.Entry{ID: idA, Subject: idB, Kind: wheel.Did, At: milliAt(1764057600000), Written: milliAt(1764057600000),
			Job: wheel.Turn, Clock: milliAt(1764046800000)},
		"0102828002000180929096d76661ab",
	},
	{
		"a turning whose time is uncertain",
		wheel.Entry{ID: idA, Subject: idB, Kind: wheel.Did, At: milliAt(1764057600000), Written: milliAt(1764057600000),
			Job: wheel.Turn, Clock: milliAt(1764046800000), Unsure: true},
		"0102828006000180929096d7667d57",
	},
	{
		"a strike",
		wheel.Entry{ID: idA, Subject: idB, Kind: wheel.Struck, At: milliAt(1764057600000), Written: milliAt(1764057600000),
			Target: idC, Note: "wrong wheel"},
		"010f80500001932e4f8c00700080000000000000cc0b77726f6e6720776865656c86f6",
	},
	{
		"a move, a tag and a plan together",
		wheel.Entry{ID: idA, Subject: idB, Kind: wheel.Moved, At: milliAt(0), Written: milliAt(pack.MaxMilli),
			Place: "cellar/A/1", Tag: "X-1", Plan: "tomme", To: "the shop"},
		"0107c00efeeffea1fa9d730a63656c6c61722f412f3105746f6d6d6503582d31087468652073686f70efd8",
	},
}

func TestEntriesKeepTheirBytes(t *testing.T) {
	for _, g := range goldenEntries {
		t.Run(g.name, func(t *testing.T) {
			v := pack.Entry(g.e)
			if hex.EncodeToString(v) != g.hex {
				t.Errorf("got  %x\nwant %s", v, g.hex)
			}
			back, err := pack.ReadEntry(pack.EntryKey(g.e), v)
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(g.e, back); d != "" {
				t.Error(d)
			}
		})
	}
}

// What a tasting or a make's log is kept as is read by what wrote it.
func TestTheDetailsKeptAreReadAndWrittenAgainAsTheyWere(t *testing.T) {
	seen := 0
	for _, g := range goldenEntries {
		var again string
		switch g.e.Kind {
		case wheel.Tasted:
			x, err := wheel.ParseTasting(g.e.Detail)
			if err != nil {
				t.Fatalf("%s: %v", g.name, err)
			}
			again = x.Detail()
		case wheel.Logged:
			x, err := wheel.ParseMakeLog(g.e.Detail)
			if err != nil {
				t.Fatalf("%s: %v", g.name, err)
			}
			again = x.Detail()
		default:
			continue
		}
		seen++
		if again != g.e.Detail {
			t.Errorf("%s: %s is written again as %s", g.name, g.e.Detail, again)
		}
	}
	if seen < 2 {
		t.Errorf("%d entries with a detail: does this test still look at both kinds?", seen)
	}
}

// The answer about gas came after the other five: a check from before it is
// read as one that did not look, and the bits no answer has are refused.
func TestAHandCheckFromBeforeThereWasGasSaysItWasNotLookedAt(t *testing.T) {
	e := wheel.Entry{ID: idA, Subject: idB, Kind: wheel.Checked, At: milliAt(1764057600000),
		Written: milliAt(1764057600000), Found: wheel.HandCheck{DryToTouch: wheel.No, Weeping: wheel.Yes, Cracks: wheel.Yes,
			Mould: wheel.Yes, Mites: wheel.Yes}}
	before := []byte{1, 8, 0x80, 1, 0, 0xa9,
		5} // as it was written then: version, kind, bits, written, 5 answers in 10 bits
	got, err := pack.EntryOf(pack.EntryKey(e), before)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(e, got); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
	for _, u := range []uint64{3, 3 << 8, 3 << 10, 1 << 12, 2 << 12} {
		if e, err := pack.EntryOf(pack.EntryKey(e), append(before[:5:5], binary.AppendUvarint(nil, u)...)); err == nil {
			t.Errorf("answers of %#x were taken for %+v", u, e.Found)
		}
	}
}

func TestACutOrLengthenedEntryIsRefused(t *testing.T) {
	for _, g := range goldenEntries {
		k, v := pack.EntryKey(g.e), pack.Entry(g.e)
		for n := range v {
			if _, err := pack.ReadEntry(k, v[:n]); err == nil {
				t.Errorf("%s: %d of %d bytes were taken for an entry", g.name, n, len(v))
			}
		}
		for i := range 8 * len(v) {
			v[i/8] ^= 1 << (i % 8)
			if _, err := pack.ReadEntry(k, v); err == nil {
				t.Errorf("%s: bit %d turned over was not noticed", g.name, i)
			}
			v[i/8] ^= 1 << (i % 8)
		}
		if _, err := pack.ReadEntry(k, append(append([]byte{}, v...), 0)); err == nil {
			t.Errorf("%s: a byte too many was taken", g.name)
		}
		if _, err := pack.ReadEntry(k[1:], v); err == nil {
			t.Errorf("%s: a short key was taken", g.name)
		}
	}
}

func FuzzDecodeEntry(f *testing.F) {
	for _, g := range goldenEntries {
		f.Add(pack.EntryKey(g.e), pack.EntryBody(&g.e))
	}
	f.Fuzz(func(t *testing.T, k, v []byte) {
		pack.ReadEntry(k, v)
		e, err := pack.EntryOf(k, v) // past the seal, which stops nearly all
		if err != nil {
			return
		}
		again, err := pack.ReadEntry(pack.EntryKey(e), pack.Entry(e))
		if err != nil {
			t.Fatalf("%+v does not decode: %v", e, err)
		}
		if e != again && !math.IsNaN(float64(e.Weight+e.Before+e.Removed)) {
			t.Fatalf("%+v came back as %+v", e, again)
		}
	})
}

func TestFiguresComeBackExactly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64().Draw(t, "x")
		r := pack.NewReader(pack.AppendFigure(nil, x))
		if y := r.Figure(); y != x || math.Signbit(x) != math.Signbit(y) || r.Done() != nil {
			t.Fatalf("%v came back as %v", x, y)
		}
	})
	for _, x := range []float64{0, 0.25, 1942, 1941.7, 0.1, 123456.789, 1e300, -4, math.Inf(1)} {
		r := pack.NewReader(pack.AppendFigure(nil, x))
		if y := r.Figure(); y != x || r.Done() != nil {
			t.Errorf("%v came back as %v", x, y)
		}
	}
}

func FuzzReadAir(f *testing.F) {
	key := binary.BigEndian.AppendUint64([]byte("cellar\x00"), 1764057600000)
	f.Add(pack.Air(key, cave.Reading{Temp: 12.125, RH: 0.8525}))
	f.Add(pack.Air(key, cave.Reading{
		At: milliAt(1764057600000), Temp: 12.125, RH: 0.8525, Source: 3, Written: milliAt(1764057604000),
	}))
	f.Fuzz(func(t *testing.T, v []byte) {
		r, err := pack.ReadAir(key, v)
		if err != nil || math.Abs(float64(r.RH)) > 1e6 {
			return
		}
		if again, err := pack.ReadAir(key, pack.Air(key, r)); err != nil || again != r {
			t.Errorf("%v came back as %v, %v", r, again, err)
		}
	})
}
