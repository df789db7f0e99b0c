package store

import (
	"bytes"
	"context"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	bolt "go.etcd.io/bbolt"

	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/register"
	"rindkeep/wheel"
)

const ownRule = `name      = "my-rule"
title     = "Mine"
countries = ["JP"]
days      = 30
source    = "an invented rule"
read      = "2026-11-25"
`

// holds are the laws a wheel is held by at an instant.
func (f *farm) holds(w wheel.Wheel, when string) []string {
	f.t.Helper()
	out := []string{}
	f.view(func(tx *ReadTx) error {
		x := at(f.t, when)
		c, err := tx.CaseBefore(w.ID, x)
		for _, h := range c.LawHolds(x) {
			out = append(out, h.Rule.Name)
		}
		return err
	})
	return out
}

func (f *farm) follow(countries, when string) register.Follow {
	return register.Follow{ID: newID(f.t), Countries: countries, Written: at(f.t, when), By: "Ann"}
}

func TestABookFollowsTheLawOfTheCountriesLastSaid(t *testing.T) {
	f := newFarm(t)
	m, ws := lotOf(t, "261120A", "2026-11-20", 1, "cellar")
	m.Milk.Treatment = wheel.Raw
	f.update(func(tx *WriteTx) error {
		if err := tx.PutMake(m); err != nil {
			return err
		}
		return tx.AddWheels(ws)
	})
	want := func(what, when string, names ...string) {
		t.Helper()
		if d := cmp.Diff(append([]string{}, names...), f.holds(ws[0], when)); d != "" {
			t.Errorf("%s (-want +got):\n%s", what, d)
		}
		f.clean()
	}
	put := func(x register.Follow) (written bool, err error) {
		err = f.book.Update(func(tx *WriteTx) (err error) { written, err = tx.PutFollow(x); return err })
		return written, err
	}
	now := "2026-11-25 09:00"
	want("none named: no law holds it", now)

	ca := f.follow("CA US", "2026-11-25 08:00")
	if ok, err := put(ca); !ok || err != nil {
		t.Fatalf("%v %v", ok, err)
	}
	want("two countries", now, "ca-raw-milk", "us-cheddar")
	want("before that was said", "2026-11-25 07:59")
	if ok, err := put(ca); ok || err != nil {
		t.Errorf("sent twice: %v %v", ok, err)
	}
	again := ca
	again.Written = at(t, "2026-11-25 08:10")
	if ok, err := put(again); ok || err != nil {
		t.Errorf("sent once more a while later, under its identity: %v %v", ok, err)
	}
	if ok, err := put(f.follow("CA US", "2026-11-25 08:30")); ok || err != nil {
		t.Errorf("the same again: %v %v", ok, err)
	}
	other := ca
	other.Countries = "FR"
	if _, err := put(other); err == nil || err.Error() != "different-content" {
		t.Error(err)
	}
	for _, c := range []struct {
		name, want string
		x          register.Follow
	}{
		{"in the future", "time-in-future {At:2026-11-25 10:00:00 +0000 GMT}", f.follow("FR", "2026-11-25 10:00")},
		{"a country there is not", "unreadable {What:country Word:XX}",
			f.follow("XX", now)},
		{"not sorted", "unreadable {What:countries Word:US CA}", f.follow("US CA", now)},
		{"by nobody's identity", "missing {What:id}", register.Follow{Countries: "FR", Written: at(t, now)}},
	} {
		if _, err := put(c.x); err == nil || err.Error() != c.want {
			t.Errorf("%s: %v, want %s", c.name, err, c.want)
		}
	}
	// Out of order: what was said before does not take the later one's place.
	if ok, err := put(f.follow("FR", "2026-11-25 07:00")); !ok || err != nil {
		t.Errorf("%v %v", ok, err)
	}
	want("an earlier one written later", now, "ca-raw-milk", "us-cheddar")
	want("and as it stood then", "2026-11-25 07:30")

	// A rule of the user's own, and what the make itself says.
	f.update(func(tx *WriteTx) error {
		_, err := register.Rules.Put(tx.Writer, "my.toml", []byte(ownRule))
		return err
	})
	if ok, err := put(f.follow("JP", "2026-11-25 08:45")); !ok || err != nil {
		t.Errorf("%v %v", ok, err)
	}
	want("its own rule", now, "my-rule")
	m2, ws2 := lotOf(t, "261121A", "2026-11-21", 1, "cellar")
	m2.Milk.Treatment, m2.Countries = wheel.Raw, "CA"
	f.update(func(tx *WriteTx) error {
		if err := tx.PutMake(m2); err != nil {
			return err
		}
		return tx.AddWheels(ws2)
	})
	if d := cmp.Diff([]string{"ca-raw-milk"}, f.holds(ws2[0], now)); d != "" {
		t.Errorf("a make that says its own (-want +got):\n%s", d)
	}
	f.view(func(tx *ReadTx) error {
		s, err := tx.MakeLaw(m2, "JP")
		if d := cmp.Diff([][]string{{"CA"}, {"JP"}}, s.By); d != "" {
			t.Errorf("sent to one more (-want +got):\n%s", d)
		}
		q, qerr := tx.CaseAlone(ws2[0].ID)
		if err == nil {
			err = qerr
		}
		if d := cmp.Diff([]string{"CA"}, q.Law.Countries); d != "" {
			t.Errorf("in a load of many (-want +got):\n%s", d)
		}
		return err
	})
	m3, _ := lotOf(t, "261122A", "2026-11-22", 1, "cellar")
	m3.Countries = "US CA"
	if err := f.book.Update(func(tx *WriteTx) error { return tx.PutMake(m3) }); err == nil ||
		err.Error() != "261122A: unreadable {What:countries Word:US CA}" {
		t.Error(err)
	}
	f.clean()

	var out bytes.Buffer
	if err := Above.Export(context.Background(), f.book, &out); err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(t.TempDir(), "again.book")
	if err := Above.Import(context.Background(), to, bytes.NewReader(out.Bytes()), Options{Now: f.clock.now}); err != nil {
		t.Fatal(err)
	}
	b, err := Open(to, Read, Options{Now: f.clock.now})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	wantClean(t, b)
	if d := cmp.Diff(f.dump(), dumpBook(t, b)); d != "" {
		t.Errorf("out and in again (-want +got):\n%s", d)
	}
}

func TestAWheelSentToAPartOfTheUSIsHeldByOneRuleOfIt(t *testing.T) {
	f := newFarm(t)
	m, _ := lotOf(t, "261120A", "2026-11-20", 1, "cellar")
	f.view(func(tx *ReadTx) error {
		for to, want := range map[string][]string{
			"US": {"us-cheddar"}, "US-WI": {"us-cheddar"}, "CA": {"ca-raw-milk"},
		} {
			s, err := tx.MakeLaw(m, to)
			if err != nil {
				return err
			}
			got := []string{}
			for _, r := range s.Rules {
				got = append(got, r.Name)
			}
			if d := cmp.Diff(want, got); d != "" {
				t.Errorf("a book of no country, sent to %s (-want +got):\n%s", to, d)
			}
		}
		return nil
	})
}

func TestACheckNamesAlteredRulesAndChoicesOfCountries(t *testing.T) {
	f := newFarm(t)
	f.update(func(tx *WriteTx) error {
		if _, err := register.Rules.Put(tx.Writer, "my.toml", []byte(ownRule)); err != nil {
			return err
		}
		_, err := tx.PutFollow(f.follow("CA", "2026-11-25 08:00"))
		return err
	})
	f.spoil(layout.Laws, func(b *bolt.Bucket) error {
		return b.Put([]byte("my-rule"), pack.Sealed([]byte(strings.Replace(ownRule, "days", "days ", 1))))
	})
	f.spoil(layout.Follows, func(b *bolt.Bucket) error {
		k, _ := b.Cursor().First()
		return b.Delete(k)
	})
	want := []string{
		"rule my-rule: its record was changed outside the program; it was written 2026-11-25 09:00 (link 3)",
		"countries followed from 2026-11-25 08:00: its record was removed outside the program; it was written " +
			"2026-11-25 09:00 (link 3)",
	}
	if d := cmp.Diff(want, altered(t, f.book)); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
	names := f.book.readTx(nil).Names()
	for code, name := range layout.OfCode {
		switch name {
		case "", layout.Makes, layout.Wheels, layout.Entries: // named by what they are about
			continue
		}
		if x := names.Fact(chain.Trace{Code: byte(code), Key: []byte("key")}); x.Of.Thing == "" || x.What == "" {
			t.Errorf("a fact of %s is called %+v", name, x)
		}
	}
}

func TestABookMayBeBegunForCountries(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ca.book")
	s := testSettings()
	s.Countries = "US CA"
	if _, err := Create(path, s, Options{}); err == nil ||
		err.Error() != "unreadable {What:countries Word:US CA}" {
		t.Fatal(err)
	}
	s.Countries = "CA US"
	b, err := Create(path, s, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if err := b.View(func(tx *ReadTx) error {
		cs, err := tx.Countries(pack.MaxTime)
		if d := cmp.Diff([]string{"CA", "US"}, cs); d != "" {
			t.Error(d)
		}
		return err
	}); err != nil {
		t.Fatal(err)
	}
}

func TestARuleThatIsUnsoundIsRefused(t *testing.T) {
	f := newFarm(t)
	err := f.book.Update(func(tx *WriteTx) error {
		_, err := register.Rules.Put(tx.Writer, "my.toml", []byte("name = 3"))
		return err
	})
	if err == nil || err.Error() != "my.toml line 1: name: wrong-kind {Want:text}" {
		t.Error(err)
	}
}
