package store

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"iter"
	"slices"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/day"
	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/store/derive"
	"rindkeep/store/finding"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/sorts"
	"rindkeep/wheel"
)

// Progress is told now and then how far a long job has come, in steps of its
// own; nil is told nothing.
type Progress func(done, total int)

// checker gathers what is found.
type checker struct {
	t       *ReadTx
	ctx     context.Context
	tell    Progress
	found   []bookfile.Finding
	done    int
	total   int
	shelves map[cave.Place]int
	counts  counts
	indexed map[string]int            // bucket -> keys that should be there
	lots    map[uuid.UUID][]uuid.UUID // make -> its wheels
	order   []uuid.UUID               // of the makes
	newer   error                     // a fact was written by a newer program
	facts   bool                      // what is derived from them is not looked at
	had     map[string]bool           // keys of tags that wheels had
	sharing uuid.UUID                 // the wheel whose record in the index of entries was asked for last
}

// Check proves the book: every page, every record, and that every index says
// what the facts say. The error is a context that ended, or a book that cannot
// be read at all; findings are no error.
func (b *Book) Check(ctx context.Context, tell Progress) ([]bookfile.Finding, error) {
	k := &checker{ctx: ctx, tell: tell}
	return b.check(k)
}

// CheckFacts proves the pages, the facts and the chain, and counts what it read: all
// that can't be derived again.
func (b *Book) CheckFacts(ctx context.Context) ([]bookfile.Finding, Counts, error) {
	k := &checker{ctx: ctx, facts: true}
	found, err := b.check(k)
	n := Counts{Makes: k.counts.Makes, Wheels: k.counts.Wheels, Entries: k.counts.Entries}
	if err == nil && len(found) == 0 {
		_ = b.View(func(t *ReadTx) error { // where the index of counts can be read
			c, err := t.Counts()
			if err == nil {
				n = c
			}
			return err
		})
	}
	return found, n, err
}

func (b *Book) check(k *checker) ([]bookfile.Finding, error) {
	found, err := b.CheckPages(k.ctx, k.tell)
	if err != nil || len(found) > 0 {
		return found, err // nothing above a broken page can be trusted
	}
	k.shelves, k.indexed, k.lots = map[cave.Place]int{}, map[string]int{}, map[uuid.UUID][]uuid.UUID{}
	k.had = map[string]bool{}
	k.counts = counts{Closed: day.None}
	err = b.View(func(t *ReadTx) error {
		k.t, t.tab.Checking = t, true
		return k.run()
	})
	if err == nil && len(k.found) == 0 {
		err = k.newer
	}
	return k.found, err
}

// CheckPages proves the pages alone.
func (b *Book) CheckPages(ctx context.Context, tell Progress) ([]bookfile.Finding, error) {
	k := &checker{tell: tell}
	half, err := b.file.CheckPages(ctx, func(fault error) { k.wrong(bookfile.At("page", nil), fault) }, k.say)
	if half || b.file.Half { // a copy has both
		k.found = slices.Insert(k.found, 0, bookfile.Finding{At: bookfile.At("page", 0), What: finding.HalfMetadata})
	}
	if err != nil {
		return nil, err
	}
	return k.found, nil
}

func (k *checker) find(f bookfile.Finding) {
	if len(k.found) < bookfile.MaxFindings {
		k.found = append(k.found, f)
	}
}

// add notes what is wrong with a fact,
func (k *checker) add(at bookfile.Spot, what reason.Reason) {
	k.find(bookfile.Finding{At: at, What: what})
}

// wrong does so by the error that tells of it,
func (k *checker) wrong(at bookfile.Spot, err error) {
	k.add(at, bookfile.FaultOf(err))
}

// and index with what follows from facts.
func (k *checker) derived(at bookfile.Spot, what reason.Reason) {
	if k.facts {
		return
	}
	k.find(bookfile.Finding{At: at, What: what, Derived: true})
}

func (k *checker) say(done, total int) {
	if k.tell != nil {
		k.tell(done, total)
	}
}

func (k *checker) run() error {
	c, err := k.t.count()
	if err != nil {
		k.derived(bookfile.At("counts", nil), bookfile.Undecodable)
		c = &counts{Closed: day.None}
		k.t.counts = c
	}
	k.total = max(1, c.Entries+c.Wheels)
	if err := k.eachFact(); err != nil {
		return err
	}
	if !k.facts && k.newer == nil && len(k.found) == 0 { // else the lots can't be read whole
		err = k.t.inParallel(k.order, k.lotUpdateOf, k.compare)
		if err == nil && len(k.found) == 0 {
			err = k.totals()
		}
		if err != nil {
			return err
		}
	}
	found := k.found
	k.found = nil
	k.found, _, err = k.t.ProveChain(k.ctx)
	if err = cmp.Or(err, k.checkShared()); err != nil {
		return err
	}
	k.found = append(k.found, found[:min(len(found), bookfile.MaxFindings-len(k.found))]...)
	return nil
}

// eachFact proves the facts, and notes what follows from each.
func (k *checker) eachFact() error {
	for _, s := range sorts.All {
		prove := k.single(s)
		if prove == nil {
			continue
		}
		for key, v := range k.records(s.Bucket) {
			if err := prove(key, v); err != nil {
				return err
			}
		}
		if err := k.ctx.Err(); err != nil {
			return err
		}
	}
	return nil
}

// single is what proves one fact of a sort; nil where other parts of the check do.
func (k *checker) single(s sorts.Sort) func(key, v []byte) error {
	switch {
	case s.Bucket == layout.Entries:
		return k.entry
	case s.Bucket == layout.Air:
		return k.reading
	case s.Prove == nil:
		return nil
	}
	return func(key, v []byte) error {
		fact, wrong, err := s.Prove(key, v)
		at := bookfile.At(s.Record, key)
		if s.Bucket == layout.Branches { // nobody reads its key
			at = k.t.factSpot(s.Bucket, key)
		}
		if err != nil {
			return k.unread(at, err)
		}
		if wrong != nil {
			k.add(at, wrong)
			return nil
		}
		switch fact := fact.(type) {
		case wheel.Make:
			return k.make(fact)
		case wheel.Wheel:
			k.wheel(fact)
		}
		return nil
	}
}

// records goes through a bucket until the check is given up.
func (k *checker) records(bucket string) iter.Seq2[[]byte, []byte] {
	return func(yield func(key, v []byte) bool) {
		for key, v := range k.t.tab.In(bucket, nil) {
			if !yield(key, v) || k.done%1000 == 0 && k.ctx.Err() != nil {
				return
			}
		}
	}
}

func (k *checker) tick() {
	if k.done++; k.done%1000 == 0 {
		k.say(k.done, k.total)
	}
}

func (k *checker) reading(key, v []byte) error {
	r, err := pack.ReadAir(key, v)
	if err == nil && r.State().Check() == nil {
		return nil
	}
	return k.unread(bookfile.At("reading", key), err)
}

func (k *checker) make(m wheel.Make) error {
	k.counts.Makes++
	if _, now, err := k.t.corrected(m.ID, nil); err == nil { // else an entry is damaged, and found so
		rs, err := makeIndex(m, now)
		k.indexes(rs, bookfile.At("lot", m.Lot))
		return err
	}
	return nil
}

// indexes proves that derived buckets hold what follows from a fact.
func (k *checker) indexes(rs []indexRecord, of bookfile.Spot) {
	for _, r := range rs {
		k.index(r.bucket, r.key, r.value, of)
	}
}

// index proves that a derived bucket holds a key with the value.
func (k *checker) index(bucket string, key, want []byte, of bookfile.Spot) {
	if k.facts {
		return
	}
	if bucket == layout.Tags || bucket == layout.Lots {
		if id, err := layout.DecodeID(want); err == nil {
			if twin := twinKey(bucket, key, id); k.t.tab.Get(layout.Twins, twin) != nil {
				bucket, key, want = layout.Twins, twin, layout.Plain
			}
		}
	}
	k.indexed[bucket]++
	if got := k.t.tab.Get(bucket, key); got == nil {
		k.derived(of, finding.NotIndexed{Index: bucket})
	} else if !bytes.Equal(got, want) {
		k.derived(of, finding.OtherIndexed{Index: bucket})
	}
}

func (k *checker) entry(key, v []byte) error {
	k.tick()
	fact, wrong, err := sorts.Of[layout.Entries].Prove(key, v)
	if err != nil {
		return k.unreadEntry(key, err)
	}
	e := fact.(wheel.Entry)
	of := bookfile.At("entry", e.ID)
	if wrong != nil {
		k.add(of, wrong)
	}
	if k.t.tab.Get(layout.Wheels, e.Subject[:]) == nil && k.t.tab.Get(layout.Makes, e.Subject[:]) == nil {
		k.add(of, finding.OfNothing)
	}
	k.counts.Entries++
	k.counts.Newest = max(k.counts.Newest, e.At.UnixMilli())
	for _, r := range k.t.hadTags(e) {
		if !k.had[string(r.key)] {
			k.had[string(r.key)] = true
			k.indexes([]indexRecord{r}, of)
		}
	}
	id, value := layout.EntryIndex(key)
	if len(id) != len(e.ID) { // one record for all of the wheel's
		if e.Subject == k.sharing {
			return nil
		}
		k.sharing = e.Subject
	}
	k.index(layout.IDs, id, value, of)
	return nil
}

// unreadEntry names the wheel or make of an entry that can't be read, as far as its
// key tells.
func (k *checker) unreadEntry(key []byte, err error) error {
	if errors.Is(err, pack.ErrNewer) {
		return k.unread(bookfile.At("entry", key), err)
	}
	k.find(k.t.UnreadEntry(key))
	return nil
}

// unread notes a fact that can't be read. One of a newer program is no finding, but
// then the check can't say that all is well.
func (k *checker) unread(at bookfile.Spot, err error) error {
	if errors.Is(err, pack.ErrNewer) {
		k.newer = cmp.Or(k.newer, k.t.tab.Damaged(err, at.Thing, at.Name))
		return nil
	}
	k.add(at, bookfile.Undecodable)
	return nil
}

// wheel notes a wheel, to be derived again with its lot.
func (k *checker) wheel(w wheel.Wheel) {
	if k.t.tab.Get(layout.Makes, w.Make[:]) == nil {
		k.add(bookfile.At("wheel", w.Tag), finding.OfNoMake)
		return
	}
	k.counts.Wheels++
	k.indexes(wheelIndex(w), bookfile.At("wheel", w.Tag))
	if k.lots[w.Make] == nil {
		k.order = append(k.order, w.Make)
	}
	k.lots[w.Make] = append(k.lots[w.Make], w.ID)
}

// mostAgain is how many wheels a book may have for all their curves to be found again, and
// shareAgain how many parts a larger one is checked in: our choice.
const mostAgain, shareAgain = 2000, 10

// again says whether the curves of a lot are found again, to compare them. In a large book that's
// the most of a check: there it's done for some of the lots, for others with each new entry. Of
// the rest it's proved that they were found from just the facts that the book has.
func (k *checker) again(mk uuid.UUID) bool {
	return k.counts.Wheels <= mostAgain || (int(mk[15])+k.counts.Entries)%shareAgain == 0
}

// lotUpdateOf reads a whole lot, every gate to be judged again.
func (k *checker) lotUpdateOf(mk uuid.UUID) (*derive.Update, error) {
	if err := k.ctx.Err(); err != nil {
		return nil, err
	}
	j, err := k.t.lotUpdateOf(mk, k.lots[mk], func(uuid.UUID) touch { return touch{gate: true} }, k.again(mk))
	if errors.Is(err, bookfile.ErrDamaged) {
		k.derived(bookfile.At("make", mk), reason.Of(err))
		return &derive.Update{Lot: &derive.Lot{}}, nil
	}
	return j, err
}

func (k *checker) compare(j *derive.Update) error {
	for i := range j.Out {
		d := &j.Out[i]
		s, of := d.Now, bookfile.At("wheel", d.Now.Tag)
		k.tick()
		k.index(layout.Tags, layout.Fold(s.Tag), layout.IDValue(s.Wheel), of)
		if s.Here() {
			k.counts.Here++
			if s.Place != "" {
				k.shelves[s.Place]++
				k.index(layout.Places, layout.PlaceKey(s.Place, s.Wheel), layout.Versioned([]byte(s.Tag)), of)
			}
		}
		k.indexed[layout.Standings]++
		if d.Old == nil {
			k.derived(of, finding.NoState)
			continue
		}
		k.compareTasks(j, d, of)
		if own, shared := k.t.Own(); shared && d.File.Life.Clashes(own.Name) != nil {
			k.index(layout.Twins, clashKey(s.Wheel), layout.Plain, of)
		}
		if d.Outlook != nil {
			k.index(layout.Outlooks, s.Wheel[:], d.EncodeOutlook(), of)
		}
	}
	for i := range j.Curves {
		if key, want := j.Curves[i].Record(j.Lot.Make.ID); want != nil {
			k.index(layout.Curves, key, want, bookfile.At("lot", j.Lot.Make.Lot))
		}
	}
	return nil
}

// compareTasks compares the due index. What is derived now leaves out tasks
// whose last day was over by today; what stands in the book, those over by the
// wheel's last change. Both agree on the rest.
func (k *checker) compareTasks(j *derive.Update, d *derive.Outcome, of bookfile.Spot) {
	old := *d.Old
	want := map[string][]byte{}
	for i, task := range d.TasksOf(j.Lot.Make) {
		want[string(layout.DueKey(d.Now.Slots[i], d.Now.Place, d.Now.Wheel))] = derive.EncodeTask(task)
	}
	for _, s := range old.Slots {
		key := layout.DueKey(s, old.Place, old.Wheel)
		k.indexed[layout.Due]++
		got := k.t.tab.Get(layout.Due, key)
		task, err := derive.DecodeTask(s, old.Place, old.Wheel, got)
		switch {
		case got == nil || err != nil:
			k.derived(of, finding.NoTask)
		case task.Until != day.None && task.Until <= d.Now.Closed && want[string(key)] == nil:
			// Over by now: it goes with the wheel's next change.
		case !bytes.Equal(want[string(key)], got):
			k.derived(of, finding.OtherTask{Job: task.Job})
		}
		delete(want, string(key))
	}
	if len(want) > 0 {
		k.derived(of, finding.UnnamedTask)
	}
	// The rest of the standing, its tasks apart.
	a, b := old, d.Now
	a.Slots, b.Slots, a.Closed, b.Closed = nil, nil, day.None, day.None
	if !bytes.Equal(derive.EncodeState(a), derive.EncodeState(b)) {
		k.derived(of, finding.OtherState)
	}
	if old.Closed > d.Now.Closed {
		k.derived(of, finding.ClosedAhead)
	}
}

// totals proves the counts, and that no index holds more than it should.
func (k *checker) totals() error {
	c, err := k.t.count()
	if err != nil {
		return err
	}
	was := *c
	if was.Closed = k.counts.Closed; was != k.counts {
		k.derived(bookfile.At("counts", nil), finding.OtherCounts)
	}
	for p, n := range k.shelves {
		k.indexed[layout.Shelves]++
		if got, err := k.t.onShelf(p); err != nil || got != n {
			k.derived(bookfile.At("place", p), finding.OtherCount{Has: n, Says: got})
		}
	}
	for _, name := range layout.Derived {
		if name == layout.Counts { // see above
			continue
		}
		n := 0
		for range k.t.tab.In(name, nil) {
			n++
		}
		if n != k.indexed[name] {
			k.derived(bookfile.At("index", name), finding.OtherCount{Has: k.indexed[name], Says: n})
		}
	}
	return nil
}
