package store

import (
	"bytes"
	"cmp"
	"context"
	"encoding/binary"
	"maps"
	"math"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/store/history"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/wheel"
)

// Logged is an entry as the log shows it.
type Logged struct {
	wheel.Entry
	Struck bool // it was withdrawn, or is a strike that was
}

// LogQuery says which entries Log is asked for. The zero value asks for all of
// them.
type LogQuery struct {
	Subjects []uuid.UUID       // wheels and makes; nil: all
	From, To time.Time         // happened in [From, To); zero: no bound
	Kind     wheel.Kind        // only of this kind; 0: all
	Match    func(Logged) bool // nil: all
	Most     int               // only the newest; 0: all
}

// slice is how many entries Log sorts at once, about 100 bytes each. A var for
// the tests.
var slice = 400_000

const hour = int64(time.Hour / time.Millisecond)

// Log goes through entries in the order they happened, those of one instant as
// they were written, and gives how many match in all. The book keeps entries by
// wheel, so they are sorted an hour's worth or more at a time, with one reading
// of the book for each: memory stays bounded whatever the book holds. fn is told
// how many there will be with the first.
func (t *ReadTx) Log(ctx context.Context, q LogQuery, fn func(e Logged, total int) error) (int, error) {
	if err := t.ready(); err != nil {
		return 0, err
	}
	byHour := map[int64]int{}
	total := 0
	if err := t.matching(ctx, q, math.MinInt64, math.MaxInt64, func(_, _ []byte, e Logged) error {
		byHour[e.At.UnixMilli()/hour]++
		total++
		return nil
	}); err != nil {
		return 0, err
	}
	hours := slices.Sorted(maps.Keys(byHour))
	skip := 0
	if q.Most > 0 {
		skip = max(0, total-q.Most)
	}
	for len(hours) > 0 && skip >= byHour[hours[0]] {
		skip -= byHour[hours[0]]
		hours = hours[1:]
	}
	for len(hours) > 0 {
		n, sum := 1, byHour[hours[0]]
		for n < len(hours) && sum+byHour[hours[n]] <= slice {
			sum += byHour[hours[n]]
			n++
		}
		one := func(e Logged) error { return fn(e, total) }
		if err := t.logSlice(ctx, q, hours[0]*hour, (hours[n-1]+1)*hour, sum, skip, one); err != nil {
			return total, err
		}
		hours, skip = hours[n:], 0
	}
	return total, nil
}

// logSlice gives the entries of [from, to), in milliseconds, in order.
func (t *ReadTx) logSlice(ctx context.Context, q LogQuery, from, to int64, n, skip int, fn func(Logged) error) error {
	type ref struct {
		at, written int64
		k, v        []byte // lent by the transaction until it ends
		struck      bool
		target      uuid.UUID
	}
	refs := make([]ref, 0, n)
	if err := t.matching(ctx, q, from, to, func(k, v []byte, e Logged) error {
		refs = append(refs, ref{e.At.UnixMilli(), e.Written.UnixMilli(), k, v, e.Struck, e.Target})
		return nil
	}); err != nil {
		return err
	}
	slices.SortFunc(refs, func(a, b ref) int {
		return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.written, b.written), bytes.Compare(a.k[24:], b.k[24:]))
	})
	for i, r := range refs[min(skip, len(refs)):] {
		if i%1024 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		e, err := pack.ReadEntry(r.k, r.v)
		if err != nil {
			return t.tab.Damaged(err, "entry", r.k)
		}
		e.Target = r.target
		if err := fn(Logged{e, r.struck}); err != nil {
			return err
		}
	}
	return nil
}

// EachLogged goes through the entries asked for in the order the book keeps
// them, which is by wheel: for sums, in one reading. Most has no say.
func (t *ReadTx) EachLogged(ctx context.Context, q LogQuery, fn func(Logged) error) error {
	if err := t.ready(); err != nil {
		return err
	}
	return t.matching(ctx, q, math.MinInt64, math.MaxInt64, func(_, _ []byte, e Logged) error { return fn(e) })
}

// matching goes through what a query asks for, of [from, to) in milliseconds,
// subject by subject: what was withdrawn shows only in the whole of them.
func (t *ReadTx) matching(ctx context.Context, q LogQuery, from, to int64, fn func(k, v []byte, e Logged) error) error {
	if !q.From.IsZero() {
		from = max(from, q.From.UnixMilli())
	}
	if !q.To.IsZero() {
		to = min(to, q.To.UnixMilli())
	}
	var keys, values [][]byte
	strikes := false
	flush := func() error {
		defer func() { keys, values, strikes = keys[:0], values[:0], false }()
		var withdrawn map[uuid.UUID]bool
		rounds := map[uuid.UUID]uuid.UUID{} // whose round each records, after what was struck
		if strikes {
			es := make([]wheel.Entry, len(keys))
			for i := range keys {
				var err error
				if es[i], err = pack.ReadEntry(keys[i], values[i]); err != nil {
					continue // noted below
				}
			}
			withdrawn = history.Struck(es)
			for _, e := range wheel.Live(es) {
				rounds[e.ID] = e.Target
			}
		}
		for i, k := range keys {
			if _, err := pack.Unseal(k, values[i]); err != nil { // its time or kind may be the damage
				_ = t.unread("entry", k, err)
				continue
			}
			if at := int64(binary.BigEndian.Uint64(k[16:])); at < from || at >= to {
				continue
			}
			if q.Kind != 0 && wheel.Kind(values[i][1]) != q.Kind {
				continue
			}
			e, err := pack.ReadEntry(k, values[i])
			if err != nil {
				if err := t.unread("entry", k, err); err != nil {
					return err
				}
				continue
			}
			if of, ok := rounds[e.ID]; ok {
				e.Target = of
			}
			l := Logged{e, withdrawn[e.ID]}
			if q.Match != nil && !q.Match(l) {
				continue
			}
			if err := fn(k, values[i], l); err != nil {
				return err
			}
		}
		return nil
	}
	prefixes := [][]byte{nil}
	if q.Subjects != nil {
		prefixes = prefixes[:0]
		for _, id := range q.Subjects {
			prefixes = append(prefixes, id[:])
		}
	}
	n := 0
	for _, prefix := range prefixes {
		for k, v := range t.tab.In(layout.Entries, prefix) {
			if n++; n%4096 == 0 && ctx.Err() != nil {
				return ctx.Err()
			}
			if len(k) != pack.EntryKeySize || len(v) < 2 {
				_ = t.unread("entry", k, pack.ErrForm)
				continue
			}
			if len(keys) > 0 && string(keys[0][:16]) != string(k[:16]) {
				if err := flush(); err != nil {
					return err
				}
			}
			keys, values = append(keys, k), append(values, v)
			strikes = strikes || wheel.Kind(v[1]) == wheel.Struck
		}
		if err := flush(); err != nil {
			return err
		}
	}
	return nil
}
