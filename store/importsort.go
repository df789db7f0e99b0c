package store

import (
	"bufio"
	"bytes"
	"container/heap"
	"encoding/binary"
	"fmt"
	"io"
	"os"
	"slices"
)

// sorter puts records of one size in the order of their bytes, on disk past a
// bound: keys go into a book in order or not at all fast.
type sorter struct {
	size  int
	dir   string
	most  int // records held in memory
	held  []byte
	runs  []*os.File
	count int
}

// sortTogether is how many bytes of records a sorter holds.
const sortTogether = 48 << 20

func newSorter(size int, dir string) *sorter {
	return &sorter{size: size, dir: dir, most: sortTogether / size}
}

// add takes one record.
func (s *sorter) add(rec []byte) error {
	s.held = append(s.held, rec...)
	s.count++
	if len(s.held)/s.size >= s.most {
		return s.spill()
	}
	return nil
}

func (s *sorter) sort() {
	n := len(s.held) / s.size
	at := make([]int32, n)
	for i := range at {
		at[i] = int32(i)
	}
	rec := func(i int32) []byte { return s.held[int(i)*s.size : (int(i)+1)*s.size] }
	slices.SortFunc(at, func(a, b int32) int { return bytes.Compare(rec(a), rec(b)) })
	out := make([]byte, 0, len(s.held))
	for _, i := range at {
		out = append(out, rec(i)...)
	}
	s.held = out
}

// spill writes what is held to a file of its own, which has no name: it goes
// when the program does.
func (s *sorter) spill() error {
	s.sort()
	f, err := os.CreateTemp(s.dir, ".rindkeep-sort-*")
	if err != nil {
		return err
	}
	s.runs = append(s.runs, f)
	if err := os.Remove(f.Name()); err != nil && !os.IsPermission(err) {
		return err // some systems keep the name of an open file: close removes it
	}
	if _, err := f.Write(s.held); err != nil {
		return err
	}
	s.held = s.held[:0]
	return nil
}

// each gives the records in order. They are only lent.
func (s *sorter) each(fn func(rec []byte) error) error {
	s.sort()
	q := &runs{}
	if len(s.held) > 0 {
		q.list = append(q.list, &sorted{r: bufio.NewReaderSize(bytes.NewReader(s.held), 16), rec: make([]byte, s.size)})
	}
	for _, f := range s.runs {
		if _, err := f.Seek(0, io.SeekStart); err != nil {
			return err
		}
		q.list = append(q.list, &sorted{r: bufio.NewReaderSize(f, 256<<10), rec: make([]byte, s.size)})
	}
	live := q.list[:0]
	for _, r := range q.list {
		ok, err := r.next()
		if err != nil {
			return err
		}
		if ok {
			live = append(live, r)
		}
	}
	q.list = live
	heap.Init(q)
	for len(q.list) > 0 {
		r := q.list[0]
		if err := fn(r.rec); err != nil {
			return err
		}
		ok, err := r.next()
		if err != nil {
			return err
		}
		if ok {
			heap.Fix(q, 0)
		} else {
			heap.Pop(q)
		}
	}
	return nil
}

func (s *sorter) close() {
	for _, f := range s.runs {
		f.Close()
		os.Remove(f.Name())
	}
	s.runs, s.held = nil, nil
}

// sorted is one run of records being read.
type sorted struct {
	r   *bufio.Reader
	rec []byte
}

func (r *sorted) next() (bool, error) {
	_, err := io.ReadFull(r.r, r.rec)
	if err == io.EOF {
		return false, nil
	}
	return err == nil, err
}

// runs is a heap of runs by their next record.
type runs struct{ list []*sorted }

func (q *runs) Len() int           { return len(q.list) }
func (q *runs) Less(i, j int) bool { return bytes.Compare(q.list[i].rec, q.list[j].rec) < 0 }
func (q *runs) Swap(i, j int)      { q.list[i], q.list[j] = q.list[j], q.list[i] }
func (q *runs) Push(x any)         { q.list = append(q.list, x.(*sorted)) }
func (q *runs) Pop() any {
	x := q.list[len(q.list)-1]
	q.list = q.list[:len(q.list)-1]
	return x
}

// idRecord is what the index of entries is made from: the entry, where it is
// kept, and the line it stood on.
func idRecord(b []byte, key []byte, line int) []byte {
	b = append(b[:0], key[24:]...)
	b = append(b, key[:24]...)
	return binary.BigEndian.AppendUint64(b, uint64(line))
}

const idRecordSize = entryKeySize + 8

// twice is an identity that came on two lines.
func twice(id, lineA, lineB []byte) error {
	a, b := binary.BigEndian.Uint64(lineA), binary.BigEndian.Uint64(lineB)
	return &ImportError{Line: int(max(a, b)), Why: fmt.Sprintf("entry %x-%x-%x-%x-%x is in the file already, on line %d", id[:4], id[4:6], id[6:8], id[8:10], id[10:], min(a, b))}
}
