package store

import (
	"bufio"
	"bytes"
	"container/heap"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"

	"github.com/google/uuid"
)

// A load of weights is sorted by wheel and time before it is put: runs of rows
// are sorted in memory, written to files that have no name, and merged. A run
// holds its rows wheel by wheel, each as what differs from the one before it.

// loadRow is one row of a load. Instants are ms. Of ten million of them half a
// million are held at a time, so what few rows have is kept apart.
type loadRow struct {
	at     int64
	weight float64
	line   int64
	words  *rowWords // nil: neither note nor identity
	cols   [2]int32  // of its weight and date
	dated  bool      // only its date is known
}

type rowWords struct {
	note  string
	id    uuid.UUID // Nil: none given
	idCol int32
}

func (r *loadRow) note() string {
	if r.words == nil {
		return ""
	}
	return r.words.note
}

func (r *loadRow) id() uuid.UUID {
	if r.words == nil {
		return uuid.Nil
	}
	return r.words.id
}

func (r *loadRow) idCol() int32 {
	if r.words == nil {
		return 0
	}
	return r.words.idCol
}

const (
	rowDated = 1 << iota
	rowNoted
	rowNamed
)

// appendRow packs a row behind the one before it.
func appendRow(b []byte, r, was *loadRow) []byte {
	bits := byte(0)
	if r.dated {
		bits |= rowDated
	}
	if r.note() != "" {
		bits |= rowNoted
	}
	if r.id() != uuid.Nil {
		bits |= rowNamed
	}
	b = append(b, bits)
	b = binary.AppendVarint(b, r.at-was.at)
	b = putFigure(b, r.weight)
	b = binary.AppendVarint(b, r.line-was.line)
	b = binary.AppendUvarint(b, uint64(r.cols[0]))
	b = binary.AppendUvarint(b, uint64(r.cols[1]))
	if bits&rowNamed != 0 {
		b = append(b, r.words.id[:]...)
		b = binary.AppendUvarint(b, uint64(r.words.idCol))
	}
	if bits&rowNoted != 0 {
		b = putText(b, r.words.note)
	}
	return b
}

// rowOf unpacks a row.
func (r *reader) row(was *loadRow) (out loadRow) {
	bits := r.byte()
	out.dated = bits&rowDated != 0
	out.at = was.at + r.varint()
	out.weight = r.figure()
	out.line = was.line + r.varint()
	out.cols[0], out.cols[1] = int32(r.uvarint()), int32(r.uvarint())
	if bits&(rowNamed|rowNoted) != 0 {
		out.words = &rowWords{}
	}
	if bits&rowNamed != 0 {
		out.words.id = r.uuid()
		out.words.idCol = int32(r.uvarint())
	}
	if bits&rowNoted != 0 {
		out.words.note = r.text()
	}
	return out
}

// rowSorter gathers rows and gives them back wheel by wheel.
type rowSorter struct {
	dir  string
	runs []*os.File
	rows int64
}

// rowsHeld is how many rows a load holds in memory before it sorts them and
// writes them out.
const rowsHeld = 1 << 19

// spill writes rows as a run: of is the wheel of each, by its place in wheels,
// which names none twice.
func (s *rowSorter) spill(rows []loadRow, of []int32, wheels []uuid.UUID) error {
	if len(rows) == 0 {
		return nil
	}
	// By wheel first, each wheel's rows kept in the order of the file: they
	// mostly come in that of time.
	count := make([]int32, len(wheels))
	for _, n := range of {
		count[n]++
	}
	var order []int32 // of the wheels that have rows
	for n, c := range count {
		if c > 0 {
			order = append(order, int32(n))
		}
	}
	slices.SortFunc(order, func(a, b int32) int { return bytes.Compare(wheels[a][:], wheels[b][:]) })
	start := make([]int32, len(wheels))
	at := int32(0)
	for _, n := range order {
		start[n] = at
		at += count[n]
	}
	place := make([]int32, len(rows))
	for i, n := range of {
		place[start[n]] = int32(i)
		start[n]++
	}
	f, err := os.CreateTemp(s.dir, ".rindkeep-sort-*")
	if err != nil {
		return fileErr(s.dir, "write in", err)
	}
	s.runs = append(s.runs, f)
	if err := os.Remove(f.Name()); err != nil && !os.IsPermission(err) {
		return err // some systems keep the name of an open file: close removes it
	}
	out := bufio.NewWriterSize(f, 256<<10)
	var b []byte
	at = 0
	for _, n := range order {
		group := place[at : at+count[n]]
		at += count[n]
		inOrder := func(a, b int32) int {
			if rows[a].at != rows[b].at {
				if rows[a].at < rows[b].at {
					return -1
				}
				return 1
			}
			return int(a - b)
		}
		if !slices.IsSortedFunc(group, inOrder) {
			slices.SortFunc(group, inOrder)
		}
		b = b[:0]
		var was loadRow
		for _, i := range group {
			b = appendRow(b, &rows[i], &was)
			was = rows[i]
		}
		var head [16 + 2*binary.MaxVarintLen64]byte
		h := append(head[:0], wheels[n][:]...)
		h = binary.AppendUvarint(h, uint64(len(group)))
		h = binary.AppendUvarint(h, uint64(len(b)))
		if _, err := out.Write(h); err != nil {
			return fileErr(s.dir, "write in", err)
		}
		if _, err := out.Write(b); err != nil {
			return fileErr(s.dir, "write in", err)
		}
	}
	s.rows += int64(len(rows))
	return fileErr(s.dir, "write in", out.Flush())
}

// errTooMany is a wheel with more rows than one load may hold in memory.
var errTooMany = errors.New("more weights of one wheel than one load takes")

// mostOfOne is how many weights one load takes of one wheel: they must all be
// held at once.
var mostOfOne = 200_000

// each gives the rows of each wheel, the wheels in the order of their
// identities, the rows in that of time and, of one instant, of their lines.
// They belong to fn.
func (s *rowSorter) each(fn func(w uuid.UUID, rows []loadRow) error) error {
	var q runQueue
	for i, f := range s.runs {
		if _, err := f.Seek(0, io.SeekStart); err != nil {
			return err
		}
		r := &rowRun{in: bufio.NewReaderSize(f, 64<<10), nth: i}
		ok, err := r.next()
		if err != nil {
			return err
		}
		if ok {
			q = append(q, r)
		}
	}
	heap.Init(&q)
	for len(q) > 0 {
		w := q[0].wheel
		var rows []loadRow
		sorted := true
		for len(q) > 0 && q[0].wheel == w {
			r := q[0]
			if len(rows)+r.count > mostOfOne {
				return fmt.Errorf("%w: %d", errTooMany, mostOfOne)
			}
			n := len(rows)
			var err error
			if rows, err = r.rows(rows); err != nil {
				return err
			}
			sorted = sorted && (n == 0 || rows[n-1].at <= rows[n].at)
			ok, err := r.next()
			if err != nil {
				return err
			}
			if ok {
				heap.Fix(&q, 0)
			} else {
				heap.Pop(&q)
			}
		}
		if !sorted {
			slices.SortFunc(rows, func(a, b loadRow) int {
				if a.at != b.at {
					return int(min(1, max(-1, a.at-b.at)))
				}
				return int(min(1, max(-1, a.line-b.line)))
			})
		}
		if err := fn(w, rows); err != nil {
			return err
		}
	}
	return nil
}

func (s *rowSorter) close() {
	for _, f := range s.runs {
		f.Close()
		os.Remove(f.Name())
	}
	s.runs = nil
}

// rowRun is one run being read: its next wheel.
type rowRun struct {
	in    *bufio.Reader
	nth   int
	wheel uuid.UUID
	count int
	size  int
}

func (r *rowRun) next() (bool, error) {
	if _, err := io.ReadFull(r.in, r.wheel[:]); err != nil {
		if err == io.EOF {
			return false, nil
		}
		return false, err
	}
	n, err := binary.ReadUvarint(r.in)
	if err != nil {
		return false, err
	}
	size, err := binary.ReadUvarint(r.in)
	r.count, r.size = int(n), int(size)
	return err == nil, err
}

// rows appends the rows of the wheel.
func (r *rowRun) rows(to []loadRow) ([]loadRow, error) {
	b := make([]byte, r.size)
	if _, err := io.ReadFull(r.in, b); err != nil {
		return nil, err
	}
	in := newReader(b)
	var was loadRow
	to = slices.Grow(to, r.count)
	for range r.count {
		was = in.row(&was)
		to = append(to, was)
	}
	return to, in.done()
}

// runQueue is a heap of runs by their next wheel; of one wheel the earlier run
// comes first.
type runQueue []*rowRun

func (q runQueue) Len() int { return len(q) }
func (q runQueue) Less(i, j int) bool {
	if c := bytes.Compare(q[i].wheel[:], q[j].wheel[:]); c != 0 {
		return c < 0
	}
	return q[i].nth < q[j].nth
}
func (q runQueue) Swap(i, j int) { q[i], q[j] = q[j], q[i] }
func (q *runQueue) Push(x any)   { *q = append(*q, x.(*rowRun)) }
func (q *runQueue) Pop() any {
	last := (*q)[len(*q)-1]
	*q = (*q)[:len(*q)-1]
	return last
}
