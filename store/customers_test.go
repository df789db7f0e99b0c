package store

import (
	"errors"
	"testing"

	"rindkeep/store/bookfile"
	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/refusal"
	"rindkeep/store/register"
	"rindkeep/store/sorts"

	"github.com/google/go-cmp/cmp"
	bolt "go.etcd.io/bbolt"
)

func customer(t testing.TB, name, contact, address string) register.Customer {
	return register.Customer{
		ID: newID(t), Name: name, Contact: contact, Address: address, Written: at(t, "2026-11-25 08:00"),
		By: "Ann"}
}

func (f *farm) hasBucket(name string) (yes bool) {
	f.t.Helper()
	if err := f.book.file.DB.View(
		func(tx *bolt.Tx) error { yes = tx.Bucket([]byte(name)) != nil; return nil }); err != nil {
		f.t.Fatal(err)
	}
	return yes
}

func TestABookWithoutCustomersIsReadAndGetsThemWithTheFirst(t *testing.T) {
	f := newFarm(t)
	if f.hasBucket(layout.Customers) {
		t.Fatal("a new book should look like one from before there were customers")
	}
	f.reopen(Read)
	f.view(func(tx *ReadTx) error {
		all, err := tx.Customers()
		if len(all) != 0 || err != nil {
			t.Errorf("got %v, %v", all, err)
		}
		_, err = tx.Customer("Shop")
		want := refusal.NotFound{Thing: "customer", Name: "Shop"}
		if d := cmp.Diff(error(want), err); d != "" {
			t.Error(d)
		}
		return nil
	})
	f.reopen(Write)
	f.clean()
	if err := f.book.Rebuild(t.Context()); err != nil {
		t.Fatal(err)
	}
	if f.hasBucket(layout.Customers) {
		t.Error("a rebuild made the bucket; only the first customer should")
	}
	c := customer(t, "The Corner Shop", "ring Mary", "1 Main Street\nHollow Ash")
	f.update(func(tx *WriteTx) error {
		if err := tx.PutCustomer(c); err != nil {
			return err
		}
		got, err := tx.Customer("the corner shop") // seen before it is written
		if d := cmp.Diff(c, got); d != "" {
			t.Error(d)
		}
		return err
	})
	f.reopen(Read)
	f.view(func(tx *ReadTx) error {
		all, err := tx.Customers()
		if d := cmp.Diff([]register.Customer{c}, all); d != "" {
			t.Error(d)
		}
		return err
	})
}

func TestCustomersAreListedByNameAndKeptThroughARebuildAndACompaction(t *testing.T) {
	f := newFarm(t)
	var want []register.Customer
	for _, n := range []string{"Áine", "market 2", "Market 10", "the Corner Shop"} {
		want = append(want, customer(t, n, "", ""))
	}
	f.update(func(tx *WriteTx) error {
		for _, i := range []int{2, 0, 3, 1} {
			if err := tx.PutCustomer(want[i]); err != nil {
				return err
			}
		}
		return nil
	})
	want = []register.Customer{want[1], want[2], want[3], want[0]}
	listed := func(when string) {
		t.Helper()
		f.view(func(tx *ReadTx) error {
			got, err := tx.Customers()
			if d := cmp.Diff(want, got); d != "" {
				t.Errorf("%s: %s", when, d)
			}
			return err
		})
	}
	listed("as written")
	if err := f.book.Rebuild(t.Context()); err != nil {
		t.Fatal(err)
	}
	listed("rebuilt")
	f.book.Close()
	if _, _, err := Above.Compact(f.path, Options{Now: f.clock.now}); err != nil {
		t.Fatal(err)
	}
	f.open(Write)
	listed("compacted")
	f.clean()
}

func TestACustomerIsOneInAnyCaseAndChangesWithoutLosingItsIdentity(t *testing.T) {
	f := newFarm(t)
	first := customer(t, "Corner Shop", "ring Mary", "")
	put := func(c register.Customer) {
		t.Helper()
		f.update(func(tx *WriteTx) error { return tx.PutCustomer(c) })
	}
	is := func(want register.Customer) {
		t.Helper()
		f.view(func(tx *ReadTx) error {
			got, err := tx.Customers()
			if d := cmp.Diff([]register.Customer{want}, got); d != "" {
				t.Error(d)
			}
			return err
		})
	}
	put(first)
	again := customer(t, "Corner Shop", "ring Mary", "")
	again.By = "Bo"
	put(again)
	is(first) // the same facts by another hand change nothing
	changed := customer(t, "CORNER Shop", "ring Joe", "1 Main Street")
	put(changed)
	changed.ID = first.ID
	is(changed)
}

func TestACustomerThatIsNotFoundSuggestsTheNearest(t *testing.T) {
	f := newFarm(t)
	f.update(func(tx *WriteTx) error {
		for _, n := range []string{"The Corner Shop", "The Corn Store", "Lab"} {
			if err := tx.PutCustomer(customer(t, n, "", "")); err != nil {
				return err
			}
		}
		for _, c := range []struct {
			why, name string
			near      []string
		}{
			{"a letter left out", "The Cornr Shop", []string{"The Corner Shop", "The Corn Store"}},
			{"the last half of the name", "corner shop", []string{"The Corner Shop"}},
			{"more than the name", "County Lab, second floor", []string{"Lab"}},
			{"nothing like any", "Grocer", nil},
		} {
			_, err := tx.Customer(c.name)
			if d := cmp.Diff(error(refusal.NotFound{Thing: "customer", Name: c.name, Near: c.near}), err); d != "" {
				t.Errorf("%s: %s", c.why, d)
			}
		}
		return nil
	})
}

func TestWhatIsNoCustomerIsRefusedInASentence(t *testing.T) {
	f := newFarm(t)
	for _, c := range []struct {
		name   string
		change func(*register.Customer)
		want   string
	}{
		{"no name", func(c *register.Customer) { c.Name = "" }, "no-name {What:customer}"},
		{"an escape sequence in the name", func(c *register.Customer) { c.Name = "a\x1b[2J" },
			"unprintable {What:customer Char:27 Byte:2}"},
		{"an escape sequence in the address", func(c *register.Customer) { c.Address = "a\x1b[2J" },
			"unprintable {What:note Char:27 Byte:2}"},
		{"no identity", func(c *register.Customer) { c.ID = [16]byte{} }, "missing {What:id}"},
	} {
		x := customer(t, "Shop", "", "")
		c.change(&x)
		err := f.book.Update(func(tx *WriteTx) error { return tx.PutCustomer(x) })
		var r refusal.Refused
		if !errors.As(err, &r) || r.Error() != c.want {
			t.Errorf("%s: got %v, want %q", c.name, err, c.want)
		}
	}
	if f.hasBucket(layout.Customers) {
		t.Error("what was refused left a bucket")
	}
}

func TestACheckFindsACustomerThatIsNotWhole(t *testing.T) {
	shop, lab := bookfile.At("customer", "shop"), bookfile.At("customer", "lab")
	third := chain.LinkSpot{Number: 3, Written: at(t, "2026-11-25 09:00")}
	for _, c := range []struct {
		name   string
		change func(b *bolt.Bucket) error
		want   []bookfile.Finding
	}{
		{"a byte is another", func(b *bolt.Bucket) error {
			v := append([]byte(nil), b.Get([]byte("shop"))...)
			v[len(v)-3] ^= 1
			return b.Put([]byte("shop"), v)
		}, []bookfile.Finding{
			{At: shop, What: bookfile.Undecodable},
		}},
		{"it stands under another name", func(b *bolt.Bucket) error {
			v := append([]byte(nil), b.Get([]byte("shop"))...)
			b.Delete([]byte("shop"))
			return b.Put([]byte("lab"), v)
		}, []bookfile.Finding{
			{At: lab, What: chain.PutIn{Fact: chain.Fact{Of: lab, What: "record"}}, History: true},
			{At: shop, History: true,
				What: chain.Altered{Fact: chain.Fact{Of: shop, What: "record"}, Removed: true, Link: third}},
			{At: lab, What: sorts.Unlike},
		}},
	} {
		f := newFarm(t)
		f.update(func(tx *WriteTx) error { return tx.PutCustomer(customer(t, "Shop", "ring Mary", "")) })
		f.clean()
		f.spoil(layout.Customers, c.change)
		got, err := f.book.Check(t.Context(), nil)
		if d := cmp.Diff(c.want, got); d != "" || err != nil {
			t.Errorf("%s: %v %s", c.name, err, d)
		}
	}
}
