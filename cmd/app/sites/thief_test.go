package sites

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"rindkeep/cave"
	"rindkeep/store/bundle"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/register"
	"rindkeep/wheel"
)

// TestWhatAThiefSignsHarmsNoBook has a thief of one site's key sign what follows on that site's links and no
// honest program writes. The other's book takes it up or refuses it, and stays sound either way.
func TestWhatAThiefSignsHarmsNoBook(t *testing.T) {
	r := rob(t)
	all := r.forgeries()
	for _, name := range slices.Sorted(maps.Keys(all)) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			fate := r.meets(t, r.sign(t, r.now, all[name]))
			if strings.Contains(name, "good") && fate != bundle.TakenUp {
				t.Errorf("it's %s", fate)
			}
			t.Log(fate)
		})
	}
}

// A thief can sign what follows as a branch, too, of which another site tells.
func TestWhatAThiefTellsOfHarmsNoBook(t *testing.T) {
	r := rob(t)
	all := r.forgeries()
	for i, name := range slices.Sorted(maps.Keys(all)) {
		if i%10 > 0 {
			continue
		}
		raw := r.sign(t, r.now, all[name])
		b, _ := bundle.Peek(raw)
		d, last := sha256.Sum256(raw), layout.LinkKey(b.Last)
		k := slices.Concat(b.Site[:], b.Epoch[:], last, d[:])
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			r.meets(t, r.sign(t, r.now, []forged{{layout.Branches, k, raw}}))
		})
	}
}

// What takes another site's place is written later than that, however far a clock was off. So no link
// may be of a time that leaves none.
func TestAThiefsClockStopsNobody(t *testing.T) {
	r := rob(t)
	fs := []forged{ownText(register.Plans, r.wheel.Plan)}
	for i := range 2 {
		shop := register.Customer{ID: newID(20), Name: fmt.Sprintf("Shop%d", i), Written: r.now}
		fs = append(fs, record(layout.Customers, shop.Key(), shop),
			text(layout.Plans, fmt.Sprintf("house-%d", i), fmt.Sprintf(planText, i, 5)))
	}
	for at, want := range map[time.Time]bundle.Fate{
		pack.MaxTime: bundle.Unfit, r.now.AddDate(190, 0, 0): bundle.TakenUp, time.UnixMilli(0): bundle.TakenUp,
	} {
		if fate := r.meets(t, r.sign(t, at, fs)); fate != want {
			t.Errorf("a link of %v is %s", at, fate)
		}
	}
}

func FuzzTakeSignedFacts(f *testing.F) {
	r := rob(f)
	all := r.forgeries()
	for _, name := range slices.Sorted(maps.Keys(all)) {
		if fs := append(slices.Clone(all[name]), forged{}, forged{}, forged{}); len(fs) < 7 {
			f.Add(layout.Codes[fs[0].bucket], fs[0].key, fs[0].body, layout.Codes[fs[1].bucket], fs[1].key, fs[1].body,
				layout.Codes[fs[2].bucket], fs[2].key, fs[2].body)
		}
	}
	f.Fuzz(func(t *testing.T, c1 byte, k1, b1 []byte, c2 byte, k2, b2 []byte, c3 byte, k3, b3 []byte) {
		var fs []forged
		for _, x := range []struct {
			code byte
			k, b []byte
		}{{c1, k1, b1}, {c2, k2, b2}, {c3, k3, b3}} {
			if int(x.code) < len(layout.OfCode) && layout.OfCode[x.code] != "" {
				fs = append(fs, forged{layout.OfCode[x.code], x.k, x.b})
			}
		}
		if len(fs) > 0 {
			r.meets(t, r.sign(t, r.now, fs))
		}
	})
}

func text(bucket, key, body string) forged { return forged{bucket, []byte(key), []byte(body)} }

func record(bucket string, key []byte, v any) forged {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	return forged{bucket, key, b}
}

func entry(e wheel.Entry) forged {
	return forged{layout.Entries, pack.EntryKey(e), pack.EntryBody(&e)}
}

func reading(room string, at time.Time, r cave.Reading) forged {
	k := layout.AirKey(room, at)
	r.At = at
	v := pack.Air(k, r)
	return forged{layout.Air, k, v[:len(v)-2]}
}

// ownText is a text of the program's as the user's own.
func ownText[T any](of register.Texts[T], name string) forged {
	x, _ := of.Find(name)
	_, body := of.Of(x)
	return text(of.Bucket, name, body)
}

func with[T any](x T, change func(*T)) T { change(&x); return x }
