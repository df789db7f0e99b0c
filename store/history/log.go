package history

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

	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/table"
	"rindkeep/wheel"
)

// Logged is an entry as the log shows it.
type Logged struct {
	wheel.Entry
	Struck bool // it was withdrawn, or is a strike that was
}

// Query says which entries a Log is asked for. The zero value asks for all of them.
type Query struct {
	Subjects []uuid.UUID       // wheels and makes; nil: all
	From, To time.Time         // happened in [From, To); zero: no bound
	Kind     wheel.Kind        // only of this kind; 0: all
	Match    func(Logged) bool // nil: all
	Most     int               // only the newest; 0: all
	Together int               // how many are sorted at once, about 100 bytes each; 0: 400,000
}

// Log goes through the entries of a book.
type Log struct {
	Tab    *table.Tx
	Query  Query
	Unread func(key []byte, err error) error // is told of an entry that can't be read

	Whole func(subject uuid.UUID, n int) error // is told how many were found of one that was asked for
}

const hour = int64(time.Hour / time.Millisecond)

// Ordered goes through entries in the order they happened, those of one instant as
// they were written, and gives how many match in all. The book keeps entries by
// wheel, so they are sorted an hour's worth or more at a time, with one reading
// of the book for each: memory stays bounded whatever the book holds. fn is told
// how many there will be with the first.
func (l *Log) Ordered(ctx context.Context, fn func(e Logged, total int) error) (int, error) {
	byHour := map[int64]int{}
	total := 0
	if err := l.Each(ctx, func(e Logged) error {
		byHour[e.At.UnixMilli()/hour]++
		total++
		return nil
	}); err != nil {
		return 0, err
	}
	hours := slices.Sorted(maps.Keys(byHour))
	skip := 0
	if l.Query.Most > 0 {
		skip = max(0, total-l.Query.Most)
	}
	for len(hours) > 0 && skip >= byHour[hours[0]] {
		skip -= byHour[hours[0]]
		hours = hours[1:]
	}
	together := cmp.Or(l.Query.Together, 400_000)
	for len(hours) > 0 {
		n, sum := 1, byHour[hours[0]]
		for n < len(hours) && sum+byHour[hours[n]] <= together {
			sum += byHour[hours[n]]
			n++
		}
		one := func(e Logged) error { return fn(e, total) }
		if err := l.slice(ctx, hours[0]*hour, (hours[n-1]+1)*hour, sum, skip, one); err != nil {
			return total, err
		}
		hours, skip = hours[n:], 0
	}
	return total, nil
}

// slice gives the entries of [from, to), in milliseconds, in order.
func (l *Log) slice(ctx context.Context, from, to int64, n, skip int, fn func(Logged) error) error {
	type ref struct {
		at, written int64
		k, v        []byte // lent by the transaction until it ends
		struck      bool
		target      uuid.UUID
	}
	refs := make([]ref, 0, n)
	if err := l.match(ctx, from, to, func(k, v []byte, e Logged) error {
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
			return l.Tab.Damaged(err, "entry", r.k)
		}
		e.Target = r.target
		if err := fn(Logged{e, r.struck}); err != nil {
			return err
		}
	}
	return nil
}

// Each goes through the entries asked for in the order the book keeps
// them, which is by wheel: for sums, in one reading. Most has no say.
func (l *Log) Each(ctx context.Context, fn func(Logged) error) error {
	return l.match(ctx, math.MinInt64, math.MaxInt64, func(_, _ []byte, e Logged) error { return fn(e) })
}

// match goes through what the query asks for, of [from, to) in milliseconds,
// subject by subject: what was withdrawn shows only in the whole of them.
func (l *Log) match(ctx context.Context, from, to int64, fn func(k, v []byte, e Logged) error) error {
	if !l.Query.From.IsZero() {
		from = max(from, l.Query.From.UnixMilli())
	}
	if !l.Query.To.IsZero() {
		to = min(to, l.Query.To.UnixMilli())
	}
	m := matching{Log: l, from: from, to: to, fn: fn}
	n := 0
	for _, prefix := range l.Query.prefixes() {
		before := n
		for k, v := range l.Tab.In(layout.Entries, prefix) {
			if n++; n%4096 == 0 && ctx.Err() != nil {
				return ctx.Err()
			}
			if len(k) != pack.EntryKeySize || len(v) < 2 {
				_ = l.Unread(k, pack.ErrForm)
				continue
			}
			if len(m.keys) > 0 && string(m.keys[0][:16]) != string(k[:16]) {
				if err := m.subject(); err != nil {
					return err
				}
			}
			m.keys, m.values = append(m.keys, k), append(m.values, v)
			m.strikes = m.strikes || wheel.Kind(v[1]) == wheel.Struck
		}
		if err := m.subject(); err != nil {
			return err
		}
		if prefix == nil {
			continue // none was asked for: what strayed is met anywhere
		}
		if err := l.Whole(uuid.UUID(prefix), n-before); err != nil {
			return err
		}
	}
	return nil
}

// prefixes are what the keys of the entries begin with.
func (q Query) prefixes() (out [][]byte) {
	if q.Subjects == nil {
		return [][]byte{nil}
	}
	for _, id := range q.Subjects {
		out = append(out, id[:])
	}
	return out
}

// matching gathers the entries of one subject.
type matching struct {
	*Log
	from, to     int64
	fn           func(k, v []byte, e Logged) error
	keys, values [][]byte
	strikes      bool // there are some among them
}

// subject tells of the entries of the subject that match, and makes room for the next.
func (m *matching) subject() error {
	var withdrawn map[uuid.UUID]bool
	rounds := map[uuid.UUID]uuid.UUID{} // whose round each records, after what was struck
	if m.strikes {
		es := make([]wheel.Entry, len(m.keys))
		for i := range m.keys {
			es[i], _ = pack.ReadEntry(m.keys[i], m.values[i]) // noted below if it can't be read
		}
		withdrawn = Struck(es)
		for _, e := range wheel.Live(es) {
			rounds[e.ID] = e.Target
		}
	}
	for i, k := range m.keys {
		e, ok, err := m.entry(k, m.values[i])
		if err != nil {
			return err
		}
		if !ok {
			continue
		}
		if of, ok := rounds[e.ID]; ok {
			e.Target = of
		}
		l := Logged{e, withdrawn[e.ID]}
		if m.Query.Match != nil && !m.Query.Match(l) {
			continue
		}
		if err := m.fn(k, m.values[i], l); err != nil {
			return err
		}
	}
	m.keys, m.values, m.strikes = m.keys[:0], m.values[:0], false
	return nil
}

// entry reads an entry; ok is false for one of another time or kind, or that can't be read.
func (m *matching) entry(k, v []byte) (e wheel.Entry, ok bool, err error) {
	if _, err := pack.Unseal(k, v); err != nil { // its time or kind may be the damage
		_ = m.Unread(k, err)
		return e, false, nil
	}
	if at := int64(binary.BigEndian.Uint64(k[16:])); at < m.from || at >= m.to {
		return e, false, nil
	}
	if m.Query.Kind != 0 && wheel.Kind(v[1]) != m.Query.Kind {
		return e, false, nil
	}
	if e, err = pack.ReadEntry(k, v); err != nil {
		return e, false, m.Unread(k, err)
	}
	return e, true, nil
}
