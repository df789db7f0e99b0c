package sites

import (
	"cmp"
	"context"
	"errors"
	"math/rand/v2"
	"slices"

	"github.com/google/uuid"

	"rindkeep/cmd/carrier"
	"rindkeep/store/bundle"
)

// memory is a carrier that can fail in every way a real one can.
type memory struct {
	kept   []epoch
	before []epoch // an older state, for stale reads
	rnd    *rand.Rand
	lossy  bool
	down   bool             // nobody reaches it
	cut    map[*member]bool // who doesn't reach it
	away   bool             // who asks now does not reach it
}

// epoch is what a carrier has of a site's epoch.
type epoch struct {
	site, epoch uuid.UUID
	raws        [][]byte
}

// of is what the carrier has of a site's epoch.
func (m *memory) of(site, id uuid.UUID) *epoch {
	i := slices.IndexFunc(m.kept, func(e epoch) bool { return e.site == site && e.epoch == id })
	if i < 0 {
		i, m.kept = len(m.kept), append(m.kept, epoch{site: site, epoch: id})
	}
	return &m.kept[i]
}

func (m *memory) Close() error                  { return nil }
func (m *memory) Faults() []carrier.Trouble     { return nil }
func (m *memory) Wait(context.Context) error    { return nil }
func (m *memory) Prepare(context.Context) error { return nil }

// fails says whether something that happens once in n times happens now.
func (m *memory) fails(n int) bool { return m.lossy && m.rnd.IntN(n) == 0 }

func (m *memory) Put(_ context.Context, raw []byte) error {
	switch {
	case m.away || m.fails(6):
		return carrier.Trouble{Kind: carrier.Away}
	case m.fails(12): // somebody else put something there
		return carrier.Trouble{Kind: carrier.Behind}
	}
	b, _, err := bundle.Open(raw)
	if err != nil {
		return err
	}
	last := slices.Clone(raw)
	switch {
	case m.fails(24): // a byte of it goes bad
		last[m.rnd.IntN(len(last))] ^= 1
	case m.fails(24): // only its beginning is kept
		last = last[:m.rnd.IntN(len(last))]
	}
	e := m.of(b.Site, b.Epoch)
	for range 1 + m.rnd.IntN(2) { // kept twice now and then
		e.raws = append(e.raws, last)
	}
	if m.fails(6) { // it's kept, and nobody hears of it
		return carrier.Trouble{Kind: carrier.Away}
	}
	return nil
}

func (m *memory) Heads(context.Context) ([]bundle.Head, error) {
	if m.away {
		return nil, carrier.Trouble{Kind: carrier.Away}
	}
	from := m.kept
	if m.before != nil && m.fails(4) {
		from = m.before
	}
	var out []bundle.Head
	for _, e := range from {
		out = append(out, e.tips()...)
	}
	return out, nil
}

// tips are the ends of all runs that begin with the first link.
func (e epoch) tips() (out []bundle.Head) {
	var parts []bundle.Bundle
	for _, raw := range e.raws {
		if b, err := bundle.Peek(raw); err == nil && b.Site == e.site && b.Epoch == e.epoch {
			parts = append(parts, b)
		}
	}
	slices.SortStableFunc(parts, func(a, b bundle.Bundle) int { return cmp.Compare(a.First, b.First) })
	reached, followed := []bundle.Head{}, map[bundle.Head]bool{}
	for _, b := range parts {
		from := bundle.Head{Site: b.Site, Epoch: b.Epoch, Number: b.First - 1, Hash: b.Before}
		if b.First > 1 && !slices.Contains(reached, from) {
			continue
		}
		followed[from] = true
		if !slices.Contains(reached, b.Head()) {
			reached = append(reached, b.Head())
		}
	}
	return slices.DeleteFunc(reached, func(h bundle.Head) bool { return followed[h] })
}

// Fetch gives bundles in any order, some of them several times. One that is damaged is left
// aside then, so that it can come again.
func (m *memory) Fetch(
	_ context.Context, site, epoch uuid.UUID, after uint64, each func([]byte) error,
) error {
	if m.away {
		return carrier.Trouble{Kind: carrier.Away}
	}
	e := m.of(site, epoch)
	raws := slices.Clone(e.raws)
	if m.lossy {
		m.rnd.Shuffle(len(raws), func(i, j int) { raws[i], raws[j] = raws[j], raws[i] })
	}
	for _, raw := range raws {
		if b, err := bundle.Peek(raw); err == nil && b.Last <= after {
			continue
		}
		if m.fails(10) {
			return carrier.Trouble{Kind: carrier.Away}
		}
		err := each(raw)
		if errors.Is(err, bundle.ErrForm) || errors.Is(err, bundle.ErrSignature) {
			e.raws = slices.DeleteFunc(e.raws, func(o []byte) bool { return slices.Equal(o, raw) })
			err = nil
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// rollBack loses what came last of every list, as servers do that were cut off: their places
// are given again.
func (m *memory) rollBack() {
	for i, e := range m.kept {
		m.kept[i].raws = slices.Clip(e.raws[:m.rnd.IntN(len(e.raws)+1)])
	}
}

func (m *memory) remember() {
	m.before = slices.Clone(m.kept)
	for i, e := range m.before {
		m.before[i].raws = slices.Clone(e.raws)
	}
}
