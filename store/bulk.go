package store

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/day"
	"rindkeep/cave/quantity"
	"rindkeep/wheel"
	"rindkeep/wheel/verdict"
)

// WeightRow is one row of a load of weights. Line and Columns (of its tag,
// weight, date and id, 0 where there is none) are only handed back with what is
// wrong with it.
type WeightRow struct {
	Tag     string
	At      int64 // ms since 1970
	Dated   bool  // only its date is known
	Weight  quantity.Grams
	Note    string
	ID      uuid.UUID // the writer's own; Nil: it follows from what the row says
	Line    int
	Columns [4]int32
}

// RowProblem is what is wrong with one row. Field is tag, weight, date, id or
// note; Column is 0 where it is not known.
type RowProblem struct {
	Line, Column int
	Field        string
	Err          error
}

// LoadHow is how a load of weights is to be written.
type LoadHow struct {
	By      string
	Written time.Time
	Note    string // for rows without their own
	Sure    bool   // weights that look wrong are taken
	Command LastCommand

	// NextID gives the identities of rows without one, in time order of each
	// wheel; nil: they follow from book, wheel, instant and weight, so that the
	// same row is known again. Then rows are written in several transactions.
	NextID func() uuid.UUID

	// Doubt looks at one wheel's new weights, in time order, with the case as
	// it was before them: what looks wrong, by entry. It is called from several
	// goroutines at once.
	Doubt func(c verdict.Case, added []wheel.Entry) map[uuid.UUID]error

	// Tell is told how far it has come: rows of all rows. May be nil.
	Tell func(done, total int64)
}

// Loaded is what a load came to.
type Loaded struct {
	Rows, Written, Same int64
	Wheels              int
}

// WeightLoad takes weights by the million: rows are added, all of them are
// checked, and only then are they written, sorted by wheel and time. Memory is
// bounded, whatever the number of rows. Every transaction leaves a sound book
// with whole wheels; what an interrupted load has written is known again by
// the next. Others may use the book meanwhile: it is held for one transaction
// at a time.
type WeightLoad struct {
	ctx  context.Context
	path string
	opt  Options
	how  LoadHow

	held   []loadRow
	tags   []int32 // of the held rows, by their place in names
	tcol   []int32 // where their tags stood
	nth    map[string]int32
	names  []string    // tags that came
	wheels []uuid.UUID // theirs, of those that were looked up
	found  map[uuid.UUID]int32
	first  []int32 // of each of wheels, the first place that it has there
	miss   map[int32]error
	sort   rowSorter
	ids    *sorter // identities that rows gave

	bad   []RowProblem
	zone  *time.Location
	bookI uuid.UUID
}

// MostProblems is how many bad rows are looked for before a load is given up.
const MostProblems = 1000

// NewWeightLoad begins a load into the book at path, which nothing is written
// to before Write.
func NewWeightLoad(ctx context.Context, path string, o Options, how LoadHow) *WeightLoad {
	how.Written = milli(how.Written)
	return &WeightLoad{ctx: ctx, path: path, opt: o, how: how, nth: map[string]int32{}, found: map[uuid.UUID]int32{}, miss: map[int32]error{}, sort: rowSorter{dir: filepath.Dir(path)}}
}

// Close lets go of what a load keeps on the disk.
func (l *WeightLoad) Close() {
	l.sort.close()
	if l.ids != nil {
		l.ids.close()
	}
}

// Add takes one more row.
func (l *WeightLoad) Add(r WeightRow) error {
	n := int32(0)
	if k := len(l.tags); k > 0 && l.names[l.tags[k-1]] == r.Tag {
		n = l.tags[k-1]
	} else if at, ok := l.nth[r.Tag]; ok {
		n = at
	} else {
		n = int32(len(l.names))
		l.nth[r.Tag], l.names = n, append(l.names, r.Tag)
	}
	if k := len(l.held); k == cap(l.held) && k > rowsHeld/8 { // a long table: for good
		l.held = slices.Grow(l.held, rowsHeld-k)
		l.tags, l.tcol = slices.Grow(l.tags, rowsHeld-k), slices.Grow(l.tcol, rowsHeld-k)
	}
	x := loadRow{at: r.At, weight: float64(r.Weight), line: int64(r.Line), cols: [2]int32{r.Columns[1], r.Columns[2]}, dated: r.Dated}
	if r.Note != "" || r.ID != uuid.Nil {
		x.words = &rowWords{r.Note, r.ID, r.Columns[3]}
	}
	l.held = append(l.held, x)
	l.tags, l.tcol = append(l.tags, n), append(l.tcol, r.Columns[0])
	if r.ID != uuid.Nil {
		if l.ids == nil {
			l.ids = newSorter(idFactSize, l.sort.dir)
		}
		if err := l.ids.add(idFact(r)); err != nil {
			return fileErr(l.sort.dir, "write in", err)
		}
	}
	if len(l.held) >= rowsHeld {
		return l.spill()
	}
	return nil
}

// Full says whether so many rows are wrong that there is no use in adding more.
func (l *WeightLoad) Full() bool { return len(l.bad) >= MostProblems }

func (l *WeightLoad) problem(line int64, column int32, field string, err error) {
	l.bad = append(l.bad, RowProblem{Line: int(line), Column: int(column), Field: field, Err: err})
}

// same keeps what the load is told by the book, and proves that it is the same
// book each time.
func (l *WeightLoad) same(b *Book) error {
	switch id := b.Settings().ID; {
	case l.zone == nil:
		l.zone, l.bookI = b.Zone(), id
	case l.bookI != id:
		return bookErr(ErrNotABook, l.path, nil, "%s is another book than the load began with", show(l.path))
	}
	return nil
}

// look runs fn on the book, which is opened for it.
func (l *WeightLoad) look(fn func(*ReadTx) error) (err error) {
	if err := l.ctx.Err(); err != nil {
		return err
	}
	b, err := Open(l.path, Read, l.opt)
	if err != nil {
		return err
	}
	defer func() {
		if cerr := b.Close(); err == nil {
			err = cerr
		}
	}()
	if err := l.same(b); err != nil {
		return err
	}
	return b.View(fn)
}

// namesKept bounds how many tags a load remembers the wheels of.
const namesKept = 1 << 20

// spill finds the wheels of the held rows and writes these out, sorted.
func (l *WeightLoad) spill() error {
	if err := l.lookUp(); err != nil {
		return err
	}
	rows, of := l.held[:0], l.tags[:0]
	for i, r := range l.held {
		n := l.tags[i]
		if err, ok := l.miss[n]; ok {
			if !l.Full() {
				l.problem(r.line, l.tcol[i], "tag", err)
			}
			continue
		}
		rows, of = append(rows, r), append(of, l.first[n])
	}
	err := l.sort.spill(rows, of, l.wheels)
	l.held, l.tags, l.tcol = l.held[:0], l.tags[:0], l.tcol[:0]
	if len(l.names) > namesKept {
		l.names, l.wheels, l.first = l.names[:0], l.wheels[:0], l.first[:0]
		clear(l.nth)
		clear(l.found)
		clear(l.miss)
	}
	return err
}

// lookUp finds the wheels of tags that were not asked for yet.
func (l *WeightLoad) lookUp() error {
	if len(l.wheels) == len(l.names) && l.zone != nil {
		return nil
	}
	return l.look(func(t *ReadTx) error {
		for _, tag := range l.names[len(l.wheels):] {
			n := int32(len(l.wheels))
			var id uuid.UUID
			if v := t.get(bTags, fold(tag)); v != nil {
				var err error
				if id, err = decodeID(v); err != nil {
					return t.damaged(err, "tag %s", tag)
				}
			} else {
				nf := NotFound{Thing: "wheel", Name: tag}
				if len(l.miss) < MostProblems { // names that come near are looked for among all
					if _, err := t.WheelByTag(tag); !errors.As(err, &nf) {
						return err
					}
				}
				l.miss[n] = nf
			}
			first, ok := l.found[id]
			if !ok {
				first = n
				l.found[id] = n
			}
			l.wheels, l.first = append(l.wheels, id), append(l.first, first)
		}
		return nil
	})
}

// idFact is an identity that a row gave, the row's line, and a digest of what
// it says.
func idFact(r WeightRow) []byte {
	b := append(make([]byte, 0, idFactSize+len(r.Tag)), r.ID[:]...)
	b = be64(b, uint64(r.Line))
	d := fnv64(string(fold(r.Tag)), uint64(r.At), float64(r.Weight))
	b = be64(b, d)
	return be64(b, uint64(r.Columns[3]))
}

const idFactSize = 16 + 8 + 8 + 8

// Check proves every row against the book and the others. What it finds is in
// the order of the lines, at most MostProblems of them.
func (l *WeightLoad) Check() ([]RowProblem, error) {
	if err := l.spill(); err != nil {
		return nil, err
	}
	l.held, l.tags, l.tcol, l.nth, l.names, l.wheels, l.found, l.first = nil, nil, nil, nil, nil, nil, nil, nil
	if err := l.checkIDs(); err != nil {
		return nil, err
	}
	done := int64(0)
	err := l.batches(func(ws []*loadWheel) error {
		if l.Full() {
			return errEnough
		}
		if err := l.look(func(t *ReadTx) error {
			if err := l.read(t, ws); err != nil {
				return err
			}
			parallel(len(ws), func(i int) { ws[i].judge(l) })
			return l.doubts(t, ws)
		}); err != nil {
			return err
		}
		for _, w := range ws {
			l.bad = append(l.bad, w.bad...)
			done += int64(len(w.rows))
		}
		l.tell(done)
		return nil
	})
	if err != nil && !errors.Is(err, errEnough) {
		return nil, err
	}
	slices.SortStableFunc(l.bad, func(a, b RowProblem) int { return cmp.Or(a.Line-b.Line, a.Column-b.Column) })
	return l.bad[:min(len(l.bad), MostProblems)], nil
}

var errEnough = errors.New("enough is wrong")

func (l *WeightLoad) tell(done int64) {
	if l.how.Tell != nil {
		l.how.Tell(done, l.sort.rows)
	}
}

// checkIDs finds identities that two rows give to different weighings.
func (l *WeightLoad) checkIDs() error {
	if l.ids == nil {
		return nil
	}
	var was []byte
	return l.ids.each(func(rec []byte) error {
		if was != nil && bytes.Equal(was[:16], rec[:16]) && !bytes.Equal(was[24:32], rec[24:32]) && !l.Full() {
			a, b := fromBE64(was[16:]), fromBE64(rec[16:])
			l.problem(int64(b), int32(fromBE64(rec[32:])), "id", fmt.Errorf("line %d gives another weighing that identity", a))
		}
		was = append(was[:0], rec...)
		return nil
	})
}

// rowsTogether and loadTogether bound one transaction of a load: rows, and
// wheels.
var (
	rowsTogether = 50_000
	loadTogether = 2_000
)

// batches cuts the sorted rows into lots of whole wheels; where the identities
// are not the rows' own, all of them are one.
func (l *WeightLoad) batches(fn func([]*loadWheel) error) error {
	type cut struct {
		ws  []*loadWheel
		err error
	}
	out := make(chan cut, 1)
	ctx, stop := context.WithCancel(l.ctx)
	defer stop()
	go func() {
		defer close(out)
		var ws []*loadWheel
		n := 0
		send := func() error {
			if len(ws) == 0 {
				return nil
			}
			select {
			case out <- cut{ws: ws}:
				ws, n = nil, 0
				return nil
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		err := l.sort.each(func(id uuid.UUID, rows []loadRow) error {
			ws = append(ws, &loadWheel{id: id, rows: rows})
			n += len(rows)
			if l.how.NextID == nil && (n >= rowsTogether || len(ws) >= loadTogether) {
				return send()
			}
			return nil
		})
		if err == nil {
			err = send()
		}
		if err != nil {
			select {
			case out <- cut{err: err}:
			case <-ctx.Done():
			}
		}
	}()
	for c := range out {
		if c.err != nil {
			return c.err
		}
		if err := fn(c.ws); err != nil {
			return err
		}
	}
	return l.ctx.Err()
}

// loadWheel is one wheel of a load.
type loadWheel struct {
	id   uuid.UUID
	rows []loadRow

	// From the book.
	wheel wheel.Wheel
	mk    wheel.Make
	tag   string
	usual quantity.Grams            // what a wheel of the variety weighs; 0: not known
	old   []wheel.Entry             // its history
	known map[uuid.UUID]wheel.Entry // entries anywhere in the book of the identities that rows give

	// Worked out.
	withdrawn map[uuid.UUID]bool
	kept      []int32       // the rows that are new
	same      int           // how many are in the book already
	fresh     []wheel.Entry // of the rows kept
	all       []wheel.Entry // old and fresh, as Sort has them
	doubtful  bool
	bad       []RowProblem
	life      wheel.Life // with the fresh entries
	keys      []byte     // of fresh, and their records
	values    []byte
	ends      []int32 // of the records
	digests   [][sha256.Size]byte

	room loadRoom
}

// loadRoom is what a wheel's fresh entries, and what is made of them, are kept
// in. It goes from a wheel that was written to one that is to be.
type loadRoom struct {
	fresh        []wheel.Entry
	keys, values []byte
	ends         []int32
	digests      [][sha256.Size]byte
}

// sized is a slice of n, in the room of s where that is enough. What it holds
// is anything.
func sized[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	return s[:n]
}

// read fills in what the book says of the wheels.
func (l *WeightLoad) read(t *ReadTx, ws []*loadWheel) error {
	for _, w := range ws {
		var err error
		if w.wheel, err = t.Wheel(w.id); err != nil {
			return err
		}
		if w.mk, err = t.Make(w.wheel.Make); err != nil {
			return err
		}
		s, ok, err := t.standing(w.id)
		if err != nil {
			return err
		}
		if w.tag = s.Tag; !ok {
			w.tag = w.wheel.Tag
		}
		v, err := t.varietyOf(w.mk)
		if err != nil {
			return err
		}
		w.usual = v.Weight
		if w.old, err = t.history(w.id); err != nil {
			return err
		}
		for i := range w.rows {
			id := w.rows[i].id()
			if id == uuid.Nil {
				continue
			}
			e, ok, err := t.entry(id)
			if err != nil {
				return err
			}
			if ok {
				if w.known == nil {
					w.known = map[uuid.UUID]wheel.Entry{}
				}
				w.known[id] = e
			}
		}
	}
	return nil
}

// sig is what makes two weighings of one wheel the same.
type sig struct {
	at     int64 // ms, or the day
	weight float64
}

// refuse notes what is wrong with a row.
func (w *loadWheel) refuse(r *loadRow, field string, err error) {
	column := int32(0)
	switch field {
	case "weight":
		column = r.cols[0]
	case "date":
		column = r.cols[1]
	case "id":
		column = r.idCol()
	}
	w.bad = append(w.bad, RowProblem{Line: int(r.line), Column: int(column), Field: field, Err: err})
}

// sortOut looks which rows are new, as Put and the command line have it: what
// stands in the book for the same instant with the same weight is the same
// weighing, and where only a row's date is known, so is one of that day. Rows
// that the book does not take are refused.
func (w *loadWheel) sortOut(l *WeightLoad) {
	w.withdrawn = struck(w.old)
	var stand, onDay map[sig]bool // weighings that count, by instant and by day
	leaving := false
	for i := range w.old {
		e := &w.old[i]
		leaving = leaving || leaves(e.Kind) && !w.withdrawn[e.ID]
		if e.Kind == wheel.Weighed && !w.withdrawn[e.ID] {
			if stand == nil {
				stand, onDay = make(map[sig]bool, len(w.old)), map[sig]bool{}
			}
			stand[sig{e.At.UnixMilli(), float64(e.Weight)}] = true
			onDay[sig{int64(day.At(e.At, l.zone)), float64(e.Weight)}] = true
		}
	}
	made, late := w.mk.Date.Start(l.zone).UnixMilli(), l.now().Add(lead).UnixMilli()
	note := l.how.Note
	checked := false
	w.kept = make([]int32, 0, len(w.rows))
	for i := range w.rows {
		r := &w.rows[i]
		if stand != nil && (stand[sig{r.at, r.weight}] || r.dated && onDay[sig{int64(day.At(time.UnixMilli(r.at), l.zone)), r.weight}]) {
			w.same++
			continue
		}
		twice := false
		for k := len(w.kept) - 1; k >= 0 && w.rows[w.kept[k]].at == r.at; k-- {
			twice = twice || w.rows[w.kept[k]].weight == r.weight
		}
		if twice {
			w.same++
			continue
		}
		switch {
		case r.id() != uuid.Nil:
			e := w.entry(l, i)
			if k, ok := w.known[r.id()]; ok {
				if k.Subject == e.Subject && k.Same(e) {
					w.same++
				} else {
					w.refuse(r, "id", fmt.Errorf("that entry is in the book already and says something else (%s)", k.Word()))
				}
				continue
			}
		case l.how.NextID == nil && len(w.withdrawn) > 0 && w.withdrawn[weightID(l.bookI, w.id, r.at, r.weight)]:
			w.same++ // written by this table before, and struck since
			continue
		}
		g := quantity.Grams(r.weight)
		if !checked || r.note() != "" || !(g > 0 && g <= quantity.MaxWeight) {
			e := w.entry(l, i)
			e.ID = uuid.Max
			if err := e.Check(); err != nil {
				field := "weight"
				if wheel.CheckNote(e.Note) != nil {
					field = "note"
				}
				w.refuse(r, field, Refused{Subject: w.tag, Why: err.Error(), Index: -1, Cause: err})
				continue
			}
			checked = r.note() == "" || r.note() == note
		}
		switch {
		case r.at < made:
			w.refuse(r, "date", Refused{Subject: w.tag, Why: fmt.Sprintf("%s is before it was made, %s", day.At(time.UnixMilli(r.at), l.zone), w.mk.Date), Index: -1})
			continue
		case r.at > late || l.how.Written.UnixMilli() > late:
			w.refuse(r, "date", Refused{Subject: w.tag, Why: fmt.Sprintf("%s is in the future", time.UnixMilli(max(r.at, l.how.Written.UnixMilli())).In(l.zone).Format("2006-01-02 15:04")), Index: -1})
			continue
		}
		if leaving {
			if err := checkAgainst(w.entry(l, i), w.old, w.withdrawn, l.zone); err != nil {
				w.refuse(r, "date", indexed(err, w.tag, -1))
				continue
			}
		}
		w.kept = append(w.kept, int32(i))
	}
}

// entry is what a row comes to, without an identity where the row gives none.
func (w *loadWheel) entry(l *WeightLoad, i int) (e wheel.Entry) {
	w.fill(l, &w.rows[i], &e)
	return e
}

// fill makes the entry of a row; nothing is kept of what e was.
func (w *loadWheel) fill(l *WeightLoad, r *loadRow, e *wheel.Entry) {
	*e = wheel.Entry{}
	e.ID, e.Subject, e.Kind = r.id(), w.id, wheel.Weighed
	e.At, e.Written, e.By = time.UnixMilli(r.at).UTC(), l.how.Written, l.how.By
	e.Weight, e.Sure = quantity.Grams(r.weight), l.how.Sure
	if e.Note = r.note(); e.Note == "" {
		e.Note = l.how.Note
	}
}

// enter makes the entries of the rows that were kept.
func (w *loadWheel) enter(l *WeightLoad) {
	w.fresh = sized(w.room.fresh, len(w.kept))
	for k, i := range w.kept {
		r, e := &w.rows[i], &w.fresh[k]
		w.fill(l, r, e)
		switch {
		case e.ID != uuid.Nil:
		case l.how.NextID != nil:
			e.ID = uuid.UUID{0: 1, 12: byte(k >> 24), 13: byte(k >> 16), 14: byte(k >> 8), 15: byte(k)} // until it is counted
		default:
			e.ID = weightID(l.bookI, w.id, r.at, r.weight)
		}
	}
}

func (l *WeightLoad) now() time.Time { return l.opt.filled().Now() }

// join makes one history of the old entries and the fresh ones.
func (w *loadWheel) join() {
	w.all = w.fresh
	if len(w.old) > 0 {
		w.all = slices.Concat(w.old, w.fresh)
	}
	for i := 1; i < len(w.all); i++ {
		if !w.all[i].At.After(w.all[i-1].At) {
			if len(w.old) == 0 {
				w.all = slices.Clone(w.fresh)
			}
			wheel.Sort(w.all)
			return
		}
	}
}

// judge looks for what is wrong with the rows of one wheel, quickly.
func (w *loadWheel) judge(l *WeightLoad) {
	w.sortOut(l)
	if len(w.bad) > 0 || l.how.Sure || len(w.kept) == 0 {
		return
	}
	if w.onlyWeighed() {
		w.doubtful = !w.plausible()
	} else {
		w.enter(l)
		w.join()
		old := make(map[uuid.UUID]bool, len(w.old))
		for i := range w.old {
			old[w.old[i].ID] = true
		}
		w.doubtful = !verdict.PlausibleRun(wheel.Live(w.all), func(id uuid.UUID) bool { return !old[id] }, w.usual)
	}
	if w.doubtful && w.fresh == nil {
		w.enter(l)
	}
}

// onlyWeighed says whether nothing but weighings bears on the wheel's chain.
func (w *loadWheel) onlyWeighed() bool {
	for i := range w.old {
		if k := w.old[i].Kind; k.Reweighs() || k == wheel.SentPart || k == wheel.Struck {
			return false
		}
	}
	return true
}

func (w *loadWheel) plausible() bool {
	n := len(w.kept) + len(w.old)
	at, weights, fresh := make([]time.Time, 0, n), make([]quantity.Grams, 0, n), make([]bool, 0, n)
	k := 0
	upTo := func(t int64) {
		for ; k < len(w.kept) && w.rows[w.kept[k]].at < t; k++ {
			r := &w.rows[w.kept[k]]
			at, weights, fresh = append(at, time.UnixMilli(r.at)), append(weights, quantity.Grams(r.weight)), append(fresh, true)
		}
	}
	for i := range w.old {
		if e := &w.old[i]; e.Kind == wheel.Weighed {
			upTo(e.At.UnixMilli())
			at, weights, fresh = append(at, e.At), append(weights, e.Weight), append(fresh, false)
		}
	}
	upTo(math.MaxInt64)
	return verdict.PlausibleWeights(at, weights, fresh, w.usual)
}

// doubts has the drying model judge the wheels that judge did not pass.
func (l *WeightLoad) doubts(t *ReadTx, ws []*loadWheel) error {
	if l.how.Doubt == nil {
		return nil
	}
	var doubtful []*loadWheel
	var cases []verdict.Case
	for _, w := range ws {
		if !w.doubtful {
			continue
		}
		c, err := t.CaseAlone(w.id)
		if err != nil {
			return err
		}
		doubtful, cases = append(doubtful, w), append(cases, c)
	}
	parallel(len(doubtful), func(i int) {
		w := doubtful[i]
		if l.ctx.Err() != nil {
			return
		}
		found := l.how.Doubt(cases[i], w.fresh)
		for k, e := range w.fresh {
			if err, ok := found[e.ID]; ok {
				r := &w.rows[w.kept[k]]
				w.bad = append(w.bad, RowProblem{Line: int(r.line), Column: int(r.cols[0]), Field: "weight", Err: err})
			}
		}
	})
	return l.ctx.Err()
}

// parallel runs fn for 0 to n-1 on all processors. A panic of one comes out
// here.
func parallel(n int, fn func(int)) {
	var wg sync.WaitGroup
	var mu sync.Mutex
	var fault any
	next := make(chan int)
	for range min(n, runtime.GOMAXPROCS(0)) {
		wg.Add(1)
		go func() {
			defer wg.Done()
			defer func() {
				if v := recover(); v != nil {
					mu.Lock()
					fault = v
					mu.Unlock()
					for range next { // so that nobody waits for this one
					}
				}
			}()
			for from := range next {
				for i := from; i < min(n, from+parallelStep); i++ {
					fn(i)
				}
			}
		}()
	}
	for i := 0; i < n; i += parallelStep {
		next <- i
	}
	close(next)
	wg.Wait()
	if fault != nil {
		panic(fault)
	}
}

// parallelStep is how many steps a processor takes at a time.
const parallelStep = 8
