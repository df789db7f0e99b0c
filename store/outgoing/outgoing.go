// Package outgoing packs what a site wrote for the others.
package outgoing

import (
	"bytes"

	"rindkeep/store"
	"rindkeep/store/bundle"
	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/sites"
	"rindkeep/store/sorts"
	"rindkeep/store/table"
)

// Next gathers the book's own links after a number for a bundle, as many as fit into
// most bytes but at least one. ok is false where there are none. The bundle isn't sealed.
func Next(t *store.ReadTx, after uint64, most int) (b bundle.Bundle, ok bool, err error) {
	own, shared := t.Own()
	if !shared {
		return b, false, nil
	}
	tab, err := t.Table()
	if err != nil {
		return b, false, err
	}
	c := tab.Walk(layout.Chain)
	if b.Before = chain.Genesis(t.Settings().ID); after > 0 {
		k, v := c.Seek(layout.LinkKey(after))
		h, err := chain.HeadAt(k, v)
		if err != nil || uint64(h.Number) != after {
			return b, false, nil
		}
		b.Before = h.Hash
	}
	b.Group, b.Site, b.Epoch, b.First, b.Last, b.After = own.Group, own.Site, own.Epoch, after+1, after, b.Before
	g := &gathering{tab: tab}
	var links []sites.Link
	size := 0
	for k, v := c.Seek(layout.LinkKey(after + 1)); k != nil && own.Tells(b.Last+1); k, v = c.Next() {
		l, err := chain.Decode(v)
		if err != nil {
			return b, false, tab.Damaged(err, "chain", nil)
		}
		next, n, err := g.link(l)
		if err != nil {
			return b, false, err
		}
		if size += n; len(links) > 0 && size > most {
			break
		}
		links, b.Last = append(links, next), b.Last+1
		if b.After = next.Follow(b.After, b.Last); b.After != l.Hash() {
			return b, false, tab.Damaged(nil, "chain", b.Last)
		}
	}
	if len(links) == 0 {
		return b, false, nil
	}
	b.Payload = sites.Pack(links)
	return b, true, nil
}

// gathering finds the facts that links were written over.
type gathering struct {
	tab  *table.Tx
	gone map[string][][]byte // name of a fact -> the records that gave way to another of it
}

// link is a link with its facts, and about how many bytes they take.
func (g *gathering) link(l chain.Link) (out sites.Link, size int, err error) {
	out = sites.Link{Kind: l.Kind, Ms: l.Written().UnixMilli(), Facts: make([]sites.Fact, len(l.Facts))}
	for i, f := range l.Facts {
		k, v, err := g.fact(f)
		if err != nil {
			return out, 0, err
		}
		out.Facts[i] = sites.Fact{Code: f.Code, Key: k, Value: v}
		if name := layout.OfCode[f.Code]; layout.AnySite[name] {
			out.Facts[i].Was = table.DigestOf(name, k, f.Was)
		}
		size += len(k) + len(v) + 8
	}
	return out, size, nil
}

// fact finds the record that a link was written over: where it stands, where it was put
// aside for another site's, or in a later link that put another in its place.
func (g *gathering) fact(f chain.Trace) (k, v []byte, err error) {
	name := layout.OfCode[f.Code]
	is := func(k, v []byte) bool { return f.Is(chain.Digest(f.Code, k, v)) }
	if f.Code == layout.CodeEntry {
		for k, v := range g.tab.In(layout.Entries, f.Key) {
			if is(k, v) {
				return bytes.Clone(k), bytes.Clone(v), nil
			}
		}
	} else if v := g.tab.Get(name, f.Key); v != nil && is(f.Key, v) {
		return f.Key, bytes.Clone(v), nil
	}
	for k, v := range g.tab.In(layout.Aside, table.AsidePrefix(f.Code, f.Key)) {
		if k, ok := table.AsideOf(k); ok && is(k, v) {
			return k, bytes.Clone(v), nil
		}
	}
	if g.gone == nil {
		if err := g.gather(); err != nil {
			return nil, nil, err
		}
	}
	for _, v := range g.gone[f.Name()] {
		if is(f.Key, v) {
			return f.Key, v, nil
		}
	}
	return nil, nil, g.tab.Damaged(nil, sorts.Things[name], f.Key)
}

// gather notes every record that links keep because another took its place.
func (g *gathering) gather() error {
	g.gone = map[string][][]byte{}
	c := g.tab.Walk(layout.Chain)
	for k, v := c.Seek(nil); k != nil; k, v = c.Next() {
		l, err := chain.Decode(v)
		if err != nil {
			return g.tab.Damaged(err, "chain", nil)
		}
		for _, f := range l.Facts {
			if f.Was != nil {
				g.gone[f.Name()] = append(g.gone[f.Name()], f.Was)
			}
		}
	}
	return nil
}
