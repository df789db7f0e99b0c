package table

import (
	"bytes"
	"errors"
	"iter"
	"slices"

	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/store/pack"
)

// Keys lists the keys of a bucket, those put in this transaction too.
func (t *Tx) Keys(bucket string) []string {
	var out []string
	for k := range t.pending[bucket] {
		out = append(out, k)
	}
	for k := range t.In(bucket, nil) {
		out = append(out, string(k))
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// Tried lists the keys that were put on trial and begin with prefix, in order.
func (t *Tx) Tried(bucket string, prefix []byte) (out [][]byte) {
	if !t.Trial {
		return nil
	}
	for k := range t.pending[bucket] {
		if bytes.HasPrefix([]byte(k), prefix) {
			out = append(out, []byte(k))
		}
	}
	slices.SortFunc(out, bytes.Compare)
	return out
}

// Record reads a record kept as JSON; ok is false where there is none.
func Record[T any](t *Tx, bucket string, key []byte, thing reason.Thing) (x T, ok bool, err error) {
	v := t.Get(bucket, key)
	if v == nil {
		return x, false, nil
	}
	if x, err = read[T](key, v); err != nil {
		return x, false, t.Damaged(err, thing, key)
	}
	return x, true, nil
}

// read reads a record kept as JSON. Its seal isn't over its key: a record that tells its key
// is under no other.
func read[T any](key, v []byte) (x T, err error) {
	err = pack.ReadJSON(v, &x)
	if own, ok := any(x).(interface{ Key() []byte }); err == nil && ok && !bytes.Equal(own.Key(), key) {
		err = pack.ErrForm
	}
	return x, err
}

// Records reads every record of a bucket kept as JSON. After an error there is
// nothing more.
func Records[T any](t *Tx, bucket string, thing reason.Thing) iter.Seq2[T, error] {
	return func(yield func(T, error) bool) {
		if err := t.Flush(bucket); err != nil {
			yield(*new(T), err)
			return
		}
		for k, v := range t.In(bucket, nil) {
			x, err := read[T](k, v)
			if err != nil && t.Remaking {
				if err = t.Unread(thing, k, err); err == nil {
					continue
				}
			}
			if err != nil {
				err = t.Damaged(err, thing, k)
			}
			if !yield(x, err) || err != nil {
				return
			}
		}
	}
}

// List lists every record of a bucket kept as JSON.
func List[T any](t *Tx, bucket string, thing reason.Thing) (out []T, err error) {
	for x, err := range Records[T](t, bucket, thing) {
		if err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	return out, nil
}

// PutRecord writes a record as JSON; changed is false where it is there already.
func PutRecord(t *Tx, bucket string, key []byte, x any) (changed bool, err error) {
	rec, err := pack.JSON(x)
	if err != nil || bytes.Equal(t.Get(bucket, key), rec) {
		return false, err
	}
	t.Put(bucket, key, rec)
	return true, nil
}

// Unread notes a record that can't be read, which is then left out. An error is one of
// a newer program.
func (t *Tx) Unread(thing reason.Thing, key []byte, err error) error {
	if errors.Is(err, pack.ErrNewer) {
		return t.Damaged(err, thing, key)
	}
	t.File.Note(bookfile.Finding{At: bookfile.At(thing, key), What: bookfile.Undecodable})
	return nil
}

// Note notes what couldn't be read and was left out.
func (f *File) Note(x bookfile.Finding) {
	vague := func(what reason.Reason) bool { return what == bookfile.Undecodable }
	i := slices.IndexFunc(f.Harm, func(o bookfile.Finding) bool {
		return o.At == x.At && (o.What == x.What || vague(o.What) || vague(x.What))
	})
	switch {
	case i >= 0 && !vague(x.What):
		f.Harm[i] = x // it says more
	case i < 0 && len(f.Harm) < bookfile.MaxFindings:
		f.Harm = append(f.Harm, x)
	}
}
