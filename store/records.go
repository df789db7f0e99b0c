package store

import (
	"bytes"
	"cmp"
	"iter"
	"slices"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/store/pack"
)

// in goes through the records of a bucket whose keys begin with prefix, in order.
// Keys and values are only lent.
func (t *ReadTx) in(bucket string, prefix []byte) iter.Seq2[[]byte, []byte] {
	return func(yield func(k, v []byte) bool) {
		b := t.bucket(bucket)
		if b == nil {
			return
		}
		c := t.walk(bucket, b)
		if t.sealed(bucket) {
			t.inSealed(bucket, c, prefix, yield)
			return
		}
		for k, v := c.seek(prefix); k != nil && bytes.HasPrefix(k, prefix) && yield(k, v); k, v = c.after() {
		}
	}
}

// keys lists the keys of a bucket, those put in this transaction too.
func (t *ReadTx) keys(bucket string) []string {
	var out []string
	for k := range t.pending[bucket] {
		out = append(out, k)
	}
	for k := range t.in(bucket, nil) {
		out = append(out, string(k))
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// recordOf reads a record kept as JSON; ok is false where there is none.
func recordOf[T any](t *ReadTx, bucket string, key []byte, thing reason.Thing) (x T, ok bool, err error) {
	v := t.get(bucket, key)
	if v == nil {
		return x, false, nil
	}
	if err := pack.ReadJSON(v, &x); err != nil {
		return x, false, t.damaged(err, thing, key)
	}
	return x, true, nil
}

// recordsOf reads every record of a bucket kept as JSON. After an error there is
// nothing more.
func recordsOf[T any](t *ReadTx, bucket string, thing reason.Thing) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		if err := t.written(bucket); err != nil {
			yield(*new(T), err)
			return
		}
		for k, v := range t.in(bucket, nil) {
			var x T
			err := pack.ReadJSON(v, &x)
			if err != nil && t.remaking() {
				if err = t.unread(thing, k, err); err == nil {
					continue
				}
			}
			if err != nil {
				err = t.damaged(err, thing, k)
			}
			if !yield(x, err) || err != nil {
				return
			}
		}
	}
}

// putRecord writes a record as JSON; changed is false where it is there already.
func putRecord(t *WriteTx, bucket string, key []byte, x any) (changed bool, err error) {
	rec, err := pack.JSON(x)
	if err != nil || bytes.Equal(t.get(bucket, key), rec) {
		return false, err
	}
	t.put(bucket, key, rec)
	return true, nil
}

// gather makes a list of what is gone through.
func gather[T any](seq iter.Seq2[T, error]) ([]T, error) {
	var out []T
	for x, err := range seq {
		if err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	return out, nil
}

// cacheLimit bounds what a transaction remembers of each kind.
const cacheLimit = 20_000

// remember keeps what was read for the rest of the transaction.
func remember[K comparable, V any](in map[K]V, k K, v V) V {
	if len(in) > cacheLimit {
		clear(in)
	}
	in[k] = v
	return v
}

func byID(a, b uuid.UUID) int { return bytes.Compare(a[:], b[:]) }

// naturally orders names as a person walks past them.
func naturally[S ~string](a, b S) int {
	switch x, y := string(a), string(b); {
	case x == y:
		return 0
	case cave.NaturalCompare(x, y) < 0:
		return -1
	}
	return 1
}

// byPlaceAndTag orders wheels as a person walks by them.
func byPlaceAndTag(a, b WheelState) int {
	return cmp.Or(naturally(a.Place, b.Place), naturally(a.Tag, b.Tag))
}
