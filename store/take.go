package store

import (
	"bytes"
	"cmp"
	"crypto/ed25519"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/store/bookfile"
	"rindkeep/store/bundle"
	"rindkeep/store/layout"
	"rindkeep/store/members"
	"rindkeep/store/pack"
	"rindkeep/store/register"
	"rindkeep/store/sites"
	"rindkeep/store/sorts"
	"rindkeep/store/table"
)

// Taken says what became of one bundle.
type Taken struct {
	bundle.Fate
	bundle.Head
	Name  string // of the site, where it's known
	Links int    // that were new
	Facts int

	// Asks is the key of a newcomer that nobody knows yet. By, the one-time key of an invitation,
	// vouches for it, and the site that gave the invitation may admit it.
	Asks *members.Key
	By   ed25519.PublicKey
}

// Take takes up what another site wrote. All of a transaction that takes bundles is other
// sites': nothing else may be put in it. A bundle that can't be taken up yet changes nothing;
// the error is of one that is damaged or forged, or of the book.
func (t *WriteTx) Take(raw []byte) (out Taken, err error) {
	b, key, err := bundle.Open(raw)
	if err != nil {
		return out, err
	}
	own, ok := t.Own()
	if out.Head = b.Head(); !ok || b.Group != own.Group {
		out.Fate = bundle.OtherGroup
		return out, nil
	}
	h, err := t.Reached(b.Site, b.Epoch)
	if err == nil {
		err = t.meet(&out, own, b, key, h)
	}
	if out.Fate == "" && err == nil {
		err = t.goOn(&out, b, key, h, raw)
	}
	return out, err
}

// meet says why a bundle can't be taken up, and notes one of another branch than the book's.
func (t *WriteTx) meet(out *Taken, own members.Own, b bundle.Bundle, key ed25519.PublicKey, h members.Reached) error {
	if b.Last <= h.Number { // some of the same transaction may not be there yet
		if err := t.tab.Flush(layout.Bundles); err != nil {
			return err
		}
	}
	err := t.fate(out, own, b, key, h)
	switch {
	case err != nil:
	case out.Fate == bundle.Forked:
		out.Fate, err = t.forked(b, h)
	case out.Fate == bundle.Early && t.HasBranch(b.Head()):
		out.Fate = bundle.Repeated
	}
	return err
}

// goOn takes up a bundle that goes on from what the book has of its site.
func (t *WriteTx) goOn(out *Taken, b bundle.Bundle, key ed25519.PublicKey, h members.Reached, raw []byte) error {
	links, err := sites.Unpack(b.Payload)
	if errors.Is(err, pack.ErrNewer) {
		out.Fate = bundle.NewerSender
		return nil
	}
	if err != nil {
		return fmt.Errorf("%w: %w", bundle.ErrUnfit, err)
	}
	zone, forked, err := h.Follows(b, links)
	switch {
	case err != nil:
	case forked:
		out.Fate, err = t.forked(b, h)
	case slices.ContainsFunc(links, sites.Link.Newer):
		out.Fate = bundle.NewerSender
	case zone != "" && zone != t.Settings().Zone:
		out.Fate = bundle.OtherZone
	default:
		err = t.takeUp(out, b, links[h.Number+1-b.First:], raw, h, key)
	}
	return err
}

// fate says why a bundle can't be taken up, before its links are looked at.
func (t *ReadTx) fate(out *Taken, own members.Own, b bundle.Bundle, key ed25519.PublicKey, h members.Reached) error {
	name, named, err := t.SiteName(b.Site)
	if err != nil {
		return err
	}
	out.Name = name
	if other, err := t.HasNamesake(b.Site, name); other || err != nil {
		out.Fate = bundle.NameTaken
		return err
	}
	if out.Fate, err = t.MayWrite(own, b, key, h.Key); out.Fate == "" && !named {
		out.Fate = bundle.UnknownKey
	}
	switch {
	case out.Fate == "":
		out.Fate = t.placeOf(h, b, own)
	case out.Fate == bundle.UnknownKey && b.Voucher.For(b.Group, b.Site, b.Epoch, key):
		out.Asks, out.By = &members.Key{Site: b.Site, Epoch: b.Epoch, Key: key, Name: out.Name}, b.Voucher.By[:]
	}
	return err
}

// placeOf says why a bundle doesn't go on from what the book has; "" where it does.
func (t *ReadTx) placeOf(h members.Reached, b bundle.Bundle, own members.Own) bundle.Fate {
	switch {
	case b.Site == own.Site && b.Epoch == own.Epoch:
		return bundle.Repeated
	case b.Last <= h.Number && !t.HasTaken(b.Head()):
		return bundle.Forked
	case b.Last <= h.Number:
		return bundle.Repeated
	case b.First > h.Number+1:
		return bundle.Early
	}
	return ""
}

// takeUp writes the facts of links, and keeps the bundle.
func (t *WriteTx) takeUp(
	out *Taken, b bundle.Bundle, links []sites.Link, raw []byte, h members.Reached, key ed25519.PublicKey,
) error {
	if t.tab.Changed && !t.tab.Foreign {
		return errors.New("bundles are taken in a transaction of their own")
	}
	t.tab.Foreign = true
	var err error
	if out.Facts, err = t.takeLinks(out.Name, b.Site, links); err != nil {
		return err
	}
	for _, l := range links {
		h.Ms = max(h.Ms, l.Ms)
	}
	h.Name, h.Number, h.Hash, h.Key, h.Taken = out.Name, b.Last, b.After[:], key, pack.Milli(t.Now())
	if err := t.putReached(b.Site, b.Epoch, h); err != nil {
		return err
	}
	t.tab.Put(layout.Bundles, append(members.HeadKey(b.Site, b.Epoch), layout.LinkKey(b.Last)...), pack.Sealed(raw))
	out.Fate, out.Links = bundle.TakenUp, len(links)
	return nil
}

// writer writes the facts of one site into the book of another.
type writer struct {
	t     *WriteTx
	names sites.Names
	site  uuid.UUID

	again  bool // every wheel here is to be judged again
	remake bool // everything that is derived must be derived again
}

// writerFor reads the facts of a site, or writes them where it has a transaction.
func (t *ReadTx) writerFor(name string, site uuid.UUID) *writer {
	own, _ := t.Own()
	return &writer{names: sites.Names{From: name, Here: own.Name, Site: site}, site: site}
}

// mostYearsAhead is how far ahead a site's clock may be for others to take up what it wrote: our
// choice. A clock that was never set may be a century off. What takes the place of a record is written
// later than that, so a link at the end of time would leave none.
const mostYearsAhead = 200

// takeLinks writes the facts of a site's links.
func (t *WriteTx) takeLinks(name string, site uuid.UUID, links []sites.Link) (facts int, err error) {
	w := t.writerFor(name, site)
	w.t = t
	for _, l := range links {
		if l.Ms > t.Now().AddDate(mostYearsAhead, 0, 0).UnixMilli() {
			return facts, fmt.Errorf("%w: in %d", bundle.ErrUnfit, time.UnixMilli(l.Ms).Year())
		}
		for _, f := range l.Facts {
			if err := w.take(l.Ms, f); err != nil {
				if broken := (*bookfile.Error)(nil); errors.As(err, &broken) {
					return facts, err
				}
				return facts, fmt.Errorf("%w: %s: %w", bundle.ErrUnfit, layout.OfCode[f.Code], err)
			}
			facts++
		}
	}
	return facts, w.end()
}

// local is a fact as this book keeps it; ok is false of one that stays where it was written.
func (w *writer) local(f sites.Fact) (bucket string, k, v []byte, ok bool, err error) {
	bucket = layout.OfCode[f.Code]
	if bucket == layout.Book || sites.Stays[bucket] && !w.names.Own() {
		return bucket, nil, nil, false, nil
	}
	if bucket == layout.AirSources {
		var a register.AirSource
		err := pack.ReadJSON(f.Value, &a)
		site, _ := cave.Sited(a.Room)
		if err != nil || site != "" || a.Number > sites.OwnSources {
			return bucket, nil, nil, false, err
		}
		if !w.names.Own() {
			a.Number, a.Room = w.names.Source(a.Number), w.names.Name(a.Room)
			v, err = pack.JSON(a)
			return bucket, a.Key(), v, true, err
		}
	}
	if bucket == layout.Pacts { // nobody writes them for another
		var p register.Pact
		if err := pack.ReadJSON(f.Value, &p); err != nil || p.From != w.site {
			return bucket, nil, nil, false, err
		}
	}
	k, v, err = w.names.Fact(bucket, f.Key, f.Value)
	return bucket, k, v, k != nil, err
}

// take writes one fact, whatever the book has of it already.
func (w *writer) take(ms int64, f sites.Fact) error {
	bucket, k, v, ok, err := w.local(f)
	if err != nil || !ok {
		return err
	}
	if _, wrong, err := sorts.Of[bucket].Prove(f.Key, f.Value); err != nil || wrong != nil {
		return cmp.Or(err, reason.Err(wrong))
	}
	if layout.AnySite[bucket] {
		w.t.tab.Version(bucket, k, f.Was, v, table.Stood(ms, w.site))
	}
	return w.put(ms, bucket, k, v)
}

func (w *writer) put(ms int64, bucket string, k, v []byte) error {
	switch bucket {
	case layout.Entries:
		return w.entry(k, v)
	case layout.Makes:
		return w.make(k, v)
	case layout.Wheels:
		return w.wheel(k, v)
	}
	old := w.t.tab.Get(bucket, k)
	switch {
	case old == nil && bucket == layout.Branches:
		w.t.putBranch(k, v, true)
		return nil
	case bytes.Equal(old, v): // written again, it stands from then on
		if layout.ByClock[bucket] && w.later(ms, bucket, k, nil, v) {
			w.t.tab.Put(layout.Stood, table.StoodKey(bucket, k), table.Stood(ms, w.site))
		}
		return nil
	case old == nil:
	case layout.ByClock[bucket]:
		if !w.later(ms, bucket, k, old, v) {
			w.aside(bucket, k, v)
			return nil
		}
	case bucket == layout.Air: // only its own site writes it, in order
	case pack.Compare(old, v) < 0: // a record that never changes, and did
		w.aside(bucket, k, v)
		return nil
	}
	if layout.ByClock[bucket] {
		w.t.tab.Put(layout.Stood, table.StoodKey(bucket, k), table.Stood(ms, w.site))
	}
	w.aside(bucket, k, old)
	w.t.tab.Put(bucket, k, v)
	return w.t.Took(bucket, k)
}

// later says whether a record was written after the one that stands. Two copies of a site's
// book may have written at the same instant: then the bytes decide, in every book alike.
func (w *writer) later(ms int64, bucket string, k, old, v []byte) bool {
	c := bytes.Compare(w.t.tab.Get(layout.Stood, table.StoodKey(bucket, k)), table.Stood(ms, w.site))
	return c < 0 || c == 0 && pack.Compare(old, v) < 0
}

// aside keeps a record that gives way, or that comes too late to stand: the own chain may be over
// it, and somebody may prefer it.
func (w *writer) aside(bucket string, k, old []byte) {
	room := (bucket == layout.Air || bucket == layout.Rooms) && !w.names.Own()
	if old != nil && !room {
		w.t.tab.Put(layout.Aside, table.AsideKey(layout.Codes[bucket], k, old), bytes.Clone(old))
	}
}

// base says whether the book has the make or wheel that a fact is about. Without it the fact
// waits for it.
func (w *writer) base(of uuid.UUID, bucket string, k, v []byte) bool {
	t := w.t
	if t.tab.Get(layout.Makes, of[:]) != nil || bucket != layout.Wheels && t.tab.Get(layout.Wheels, of[:]) != nil {
		return true
	}
	t.tab.Put(layout.Waiting, layout.WaitingKey(of, bucket, k), v)
	return false
}

// came takes up what waited for a make or wheel.
func (w *writer) came(of uuid.UUID) error {
	t := w.t
	if err := t.tab.Flush(layout.Waiting); err != nil {
		return err
	}
	type fact struct {
		code byte
		k, v []byte
	}
	var all []fact
	for k, v := range t.tab.In(layout.Waiting, of[:]) {
		all = append(all, fact{k[16], bytes.Clone(k[17:]), bytes.Clone(v)})
	}
	for _, f := range all {
		t.tab.Put(layout.Waiting, layout.WaitingKey(of, layout.OfCode[f.code], f.k), nil)
		if err := w.put(0, layout.OfCode[f.code], f.k, f.v); err != nil {
			return err
		}
	}
	return nil
}
