package store_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"rindkeep/store"
	"rindkeep/store/load"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

func TestALoadIsWrittenInPartsAndManyTransactions(t *testing.T) {
	const partRows, batch = 4000, 700
	path, tags, now := aged(t, 300)
	o := store.Options{Now: func() time.Time { return now }}
	how := load.Options{By: "Ann", Written: now, Part: partRows, Batch: batch}
	how.Doubt = func(c verdict.Case, added []wheel.Entry) map[uuid.UUID]error {
		t.Errorf("%s was left to the model: %d weights", c.Life.Tag, len(added))
		return nil
	}
	l := load.New(context.Background(), path, o, how)
	parts := 0
	part := func() {
		parts++
		if bad, err := l.Check(); err != nil || len(bad) > 0 {
			t.Fatal(err, sentences(bad))
		}
		if err := l.Write(); err != nil {
			t.Fatal(err)
		}
	}
	from := store.At(t, "2026-01-10 08:00").UnixMilli()
	const each = 100
	for i := range each { // as weighed: all wheels one day after the other
		for k, tag := range tags {
			r := agedRow(tag, k, i, from)
			r.Line = 2 + i*len(tags) + k
			l.Add(r)
			if l.Full() {
				part()
			}
		}
	}
	part()
	if parts != 300*each/partRows+1 {
		t.Errorf("%d parts", parts)
	}
	if want := (load.Result{Rows: 300 * each, Written: 300 * each, Wheels: 300}); l.Done() != want {
		t.Fatalf("%+v, want %+v", l.Done(), want)
	}
	b, err := store.Open(path, store.Read, o)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	store.WantClean(t, b)
	if err := b.View(func(tx *store.ReadTx) error {
		w, err := tx.WheelByTag(tags[123])
		if err != nil {
			return err
		}
		es, err := tx.History(w.ID)
		if err != nil {
			return err
		}
		for i, e := range es {
			if r := agedRow(tags[123], 123, i, from); e.At.UnixMilli() != r.At || e.Weight != r.Weight {
				return fmt.Errorf("weighing %d is %v at %v", i, e.Weight, e.At)
			}
		}
		if len(es) != each {
			return fmt.Errorf("%d weighings", len(es))
		}
		return nil
	}); err != nil {
		t.Error(err)
	}
}

func TestAllWeightsOfOneWheelAreLoadedHoweverMany(t *testing.T) {
	path, tags, now := aged(t, 2)
	l := load.New(context.Background(), path, store.Options{Now: func() time.Time { return now }},
		load.Options{Written: now, Sure: true, Batch: 100})
	from := store.At(t, "2026-01-10 08:00").UnixMilli()
	for i := range 1001 { // the last row first
		r := agedRow(tags[0], 0, 0, from+int64(1000-i)*1000)
		r.Line = 2 + i
		l.Add(r)
	}
	if bad, err := l.Check(); err != nil || len(bad) > 0 {
		t.Fatal(err, sentences(bad))
	}
	if err := l.Write(); err != nil || l.Done() != (load.Result{Rows: 1001, Written: 1001, Wheels: 1}) {
		t.Fatal(l.Done(), err)
	}
	b, err := store.Open(path, store.Read, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	store.WantClean(t, b)
}

func TestAnInterruptedLoadIsSoundAndIsFinishedByTheNext(t *testing.T) {
	path, tags, now := aged(t, 60)
	o := store.Options{Now: func() time.Time { return now }}
	from := store.At(t, "2026-01-10 08:00").UnixMilli()
	begin := func(ctx context.Context, tell func(done, total int)) (*load.Loader, error) {
		l := load.New(ctx, path, o, load.Options{By: "Ann", Written: now, Batch: 500, Tell: tell})
		for k, tag := range tags {
			for i := range 50 {
				l.Add(agedRow(tag, k, i, from))
			}
		}
		return l, nil
	}
	ctx, stop := context.WithCancel(context.Background())
	writing := false
	l, err := begin(ctx, func(done, _ int) {
		if writing && done >= 1000 {
			stop()
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	if bad, err := l.Check(); err != nil || len(bad) > 0 {
		t.Fatal(err, bad)
	}
	writing = true
	err = l.Write()
	if got := l.Done(); !errors.Is(err, context.Canceled) || got.Written != 1000 {
		t.Fatalf("interrupted: %+v %v", l.Done(), err)
	}
	check := func(entries int) {
		b, err := store.Open(path, store.Read, o)
		if err != nil {
			t.Fatal(err)
		}
		defer b.Close()
		store.WantClean(t, b)
		if err := b.View(func(tx *store.ReadTx) error {
			c, err := tx.Counts()
			if c.Entries != entries {
				t.Errorf("%d entries, want %d", c.Entries, entries)
			}
			return err
		}); err != nil {
			t.Fatal(err)
		}
	}
	check(1000)
	l, err = begin(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if bad, err := l.Check(); err != nil || len(bad) > 0 {
		t.Fatal(err, sentences(bad))
	}
	if err := l.Write(); err != nil || l.Done() != (load.Result{Rows: 3000, Written: 2000, Same: 1000, Wheels: 60}) {
		t.Fatalf("finished: %+v %v", l.Done(), err)
	}
	check(3000)
}

func TestOthersMayWriteBetweenTheTransactionsOfALoad(t *testing.T) {
	path, tags, now := aged(t, 40)
	o := store.Options{Now: func() time.Time { return now }}
	from := store.At(t, "2026-01-10 08:00").UnixMilli()
	var last wheel.Wheel
	send := func(b *store.Book) error {
		return b.Update(func(tx *store.WriteTx) error {
			_, err := tx.Put(wheel.Entry{
				ID: store.NewID(t), Subject: last.ID, Kind: wheel.Sent, At: store.At(t, "2026-01-20 08:00"), Written: now,
				By: "Nora",
			})
			return err
		})
	}
	began := false
	how := load.Options{By: "Ann", Written: now, Batch: 200}
	how.Tell = func(done, _ int) {
		if !began {
			return
		}
		began = false
		b, err := store.Open(path, store.Write, o)
		if err != nil {
			t.Error(err)
			return
		}
		defer b.Close()
		if err := send(b); err != nil {
			t.Error(err)
		}
	}
	l := load.New(context.Background(), path, o, how)
	for k, tag := range tags {
		for i := range 50 {
			l.Add(agedRow(tag, k, i, from))
		}
	}
	b, err := store.Open(path, store.Read, o)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.View(func(tx *store.ReadTx) error {
		for w, err := range tx.EachWheel() { // in the order of the load
			if err != nil {
				return err
			}
			last = w
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	b.Close()
	if bad, err := l.Check(); err != nil || len(bad) > 0 {
		t.Fatal(err, bad)
	}
	began = true
	err = l.Write()
	got := l.Done()
	var c load.Problem
	if !errors.As(err, &c) || c.Field != "date" || !strings.HasSuffix(err.Error(), "gone {How:sent On:2026-01-20}") {
		t.Fatalf("%+v: %v", got, err)
	}
	if got.Written != 1800 {
		t.Errorf("%+v were written before, want 1800", got)
	}
	if b, err = store.Open(path, store.Read, o); err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	store.WantClean(t, b)
}
