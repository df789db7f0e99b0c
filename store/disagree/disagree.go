// Package disagree lists what the sites that share a book disagree about, and what a person
// can do about it.
package disagree

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave"
	"rindkeep/cave/reason"
	"rindkeep/store"
	"rindkeep/store/bundle"
	"rindkeep/store/layout"
	"rindkeep/store/members"
	"rindkeep/store/pack"
	"rindkeep/store/register"
	"rindkeep/store/sorts"
	"rindkeep/store/table"
	"rindkeep/wheel"
)

// Kind is in what the sites that share a book disagree. The kinds of wheel.ClashKind
// are among them.
type Kind string

// The kinds of disagreement.
const (
	Replaced     Kind = "replaced"      // two sites wrote a record, neither knowing of the other's
	SameIdentity Kind = "same-identity" // two records that never change have one identity
	SameName     Kind = "same-name"     // two books of one site gave a lot code or tag
	SameTag      Kind = "same-tag"      // wheels of two sites with one tag are both here
	ClockAhead   Kind = "clock-ahead"
	ForkSeen     Kind = "fork"          // two computers wrote as one site in one epoch
	OlderCopy    Kind = "older-copy"    // a site's book went on from an older copy
	ClaimWaits   Kind = "claim-waits"   // a wheel was received whose data hasn't come: none yet
	ClaimUnknown Kind = "claim-unknown" // and no site has such a wheel
	ClaimUnclear Kind = "claim-unclear" // and several have, or several sites received it
)

// Side is what one site says in a disagreement. What isn't known, or doesn't matter, is zero.
type Side struct {
	Site  string
	At    time.Time
	Name  string      // of a wheel or lot
	Entry wheel.Entry // of a clash
	Value []byte      // of a record that was written twice
}

// Disagreement is what only a person can settle.
type Disagreement struct {
	ID     uuid.UUID // the same in every book
	Kind   Kind
	Thing  reason.Thing
	Name   string // what it's about
	Stands Side   // what counts
	Other  Side
	Ahead  time.Duration // of a clock

	bucket string // of a record that was written twice
	key    []byte
}

func (d *Disagreement) identify(parts ...[]byte) {
	h := sha256.New()
	for _, p := range append([][]byte{[]byte(d.Kind)}, parts...) {
		h.Write(append(p[:len(p):len(p)], 0))
	}
	d.ID = uuid.UUID(h.Sum(nil)[:16])
	d.ID[6], d.ID[8] = 0x80|d.ID[6]&0x0f, 0x80|d.ID[8]&0x3f
}

// reader reads a book and its records.
type reader struct {
	*store.ReadTx
	tab *table.Tx
}

// List lists the disagreements that nobody settled. All books that heard of the same list the same,
// but for what is at hand at one site alone.
func List(tx *store.ReadTx) (out []Disagreement, err error) {
	if _, shared := tx.Own(); !shared {
		return nil, nil
	}
	tab, err := tx.Table()
	if err != nil {
		return nil, err
	}
	t := &reader{tx, tab}
	for _, list := range []func() ([]Disagreement, error){
		t.replaced, t.sameIdentity, t.sameNames, t.sameTags, t.clashes, t.ofHeads, t.claims,
	} {
		ds, err := list()
		if err != nil {
			return nil, err
		}
		out = append(out, ds...)
	}
	pacts, err := t.Pacts()
	settled := map[uuid.UUID]bool{}
	for _, p := range pacts {
		if p.Kind == register.Settled {
			settled[p.Of] = true
		}
	}
	return slices.DeleteFunc(out, func(d Disagreement) bool { return settled[d.ID] }), err
}

// replaced lists the records that two sites wrote, neither knowing of the other's.
func (t *reader) replaced() (out []Disagreement, err error) {
	all, err := t.tab.Versions()
	var stands Side
	for _, v := range all {
		side := Side{At: time.UnixMilli(v.Ms).UTC()}
		if side.Site, _, err = t.SiteName(v.Site); err != nil {
			return nil, err
		}
		if v.Standing {
			side.Value = t.tab.Get(v.Bucket, v.Key)
			stands = side
			continue
		}
		side.Value = t.tab.Get(layout.Aside, append(append(table.StoodKey(v.Bucket, v.Key), 0), v.Is[:]...))
		if side.Value == nil || sameRecord(v.Bucket, side.Value, stands.Value) {
			continue
		}
		d := Disagreement{
			Kind: Replaced, Thing: sorts.Things[v.Bucket], Name: recordName(v.Bucket, v.Key, stands.Value),
			Stands: stands, Other: side, bucket: v.Bucket, key: v.Key,
		}
		d.identify(v.Key, v.Is[:])
		out = append(out, d)
	}
	return out, err
}

// sameRecord says whether two records differ only in who wrote them, and when.
func sameRecord(bucket string, a, b []byte) bool {
	if bucket != layout.Customers {
		return bytes.Equal(a, b)
	}
	var x, y register.Customer
	if pack.ReadJSON(a, &x) != nil || pack.ReadJSON(b, &y) != nil {
		return false
	}
	x.ID, x.Written, x.By = y.ID, y.Written, y.By
	return x == y
}

func recordName(bucket string, key, value []byte) string {
	var c register.Customer
	if bucket == layout.Customers && pack.ReadJSON(value, &c) == nil {
		return c.Name
	}
	return string(key)
}

// sameIdentity lists the records that never change and of which two have one identity.
func (t *reader) sameIdentity() (out []Disagreement, err error) {
	for _, bucket := range []string{layout.Makes, layout.Wheels, layout.Entries} {
		for k, v := range t.tab.In(layout.Aside, []byte{layout.Codes[bucket]}) {
			key, ok := table.AsideOf(k)
			if !ok {
				return nil, t.tab.Damaged(pack.ErrForm, "aside", k)
			}
			d := Disagreement{Kind: SameIdentity, Thing: sorts.Things[bucket]}
			if bucket == layout.Entries {
				e, err := pack.ReadEntry(key, v)
				if err != nil {
					return nil, t.tab.Damaged(err, "aside", k)
				}
				stands, ok, err := t.Entry(e.ID)
				if err != nil {
					return nil, err
				}
				if !ok || stands.Subject == e.Subject && stands.Same(e) {
					continue
				}
				d.Name = t.NameOf(stands.Subject)
				d.Stands, d.Other = Side{At: stands.At, Entry: stands}, Side{At: e.At, Entry: e}
			} else if stands := t.tab.Get(bucket, key); stands == nil || bytes.Equal(stands, v) {
				continue
			} else {
				d.Name, d.Stands.Value, d.Other.Value = t.NameOf(uuid.UUID(key)), stands, bytes.Clone(v)
			}
			d.identify([]byte{layout.Codes[bucket]}, key) // the record holds names, which differ from site to site
			out = append(out, d)
		}
	}
	return out, nil
}

// sameNames lists the lot codes and tags that two books of one site gave, while both are here.
func (t *reader) sameNames() (out []Disagreement, err error) {
	for _, bucket := range []string{layout.Lots, layout.Tags} {
		of := layout.TwinsOf(bucket, nil)
		for k := range t.tab.In(layout.Twins, of) {
			n := len(k) - 16 - 1
			if n < len(of) {
				return nil, t.tab.Damaged(pack.ErrForm, "index", layout.Twins)
			}
			id, err := layout.DecodeID(t.tab.Get(bucket, k[len(of):n]))
			if err != nil {
				return nil, t.tab.Damaged(err, "index", bucket)
			}
			d := Disagreement{Kind: SameName, Thing: map[string]reason.Thing{layout.Lots: "lot", layout.Tags: "wheel"}[bucket]}
			here := 0
			for i, of := range []uuid.UUID{id, uuid.UUID(k[n+1:])} {
				side, is, err := t.sideOf(bucket, of)
				if err != nil {
					return nil, err
				}
				d.Name, side.Name = side.Name, layout.TwinName(side.Name, of)
				if is {
					here++
				}
				*[]*Side{&d.Stands, &d.Other}[i] = side
			}
			if here == 2 {
				d.identify([]byte(bucket), id[:], k[n+1:])
				out = append(out, d)
			}
		}
	}
	return out, nil
}

// sideOf is a lot or wheel as a side, and whether any of it is here.
func (t *reader) sideOf(bucket string, id uuid.UUID) (s Side, here bool, err error) {
	if bucket == layout.Tags {
		w, err := t.State(id)
		return Side{Name: w.Tag, At: w.Last}, w.Here(), err
	}
	m, err := t.Make(id)
	if err != nil {
		return s, false, err
	}
	ws, err := t.WheelsOf(id)
	for _, w := range ws {
		st, serr := t.State(w.ID)
		if serr != nil {
			return s, false, serr
		}
		here = here || st.Here()
	}
	return Side{Name: m.Lot, At: m.Written}, here, err
}

// sameTags lists the wheels here whose tags differ only in the site that gave them.
func (t *reader) sameTags() (out []Disagreement, err error) {
	own, _ := t.Own()
	first := map[string]Side{}
	for k, v := range t.tab.In(layout.Places, nil) {
		if len(k) < 17 || len(v) < 1 {
			return nil, t.tab.Damaged(pack.ErrForm, "index", layout.Places)
		}
		site, bare := cave.Sited(string(v[1:]))
		if site == "" || cave.Place(k[:len(k)-17]).Site() != "" {
			continue
		}
		side := Side{Site: site, Name: string(v[1:])}
		other, twice := first[strings.ToLower(bare)]
		if !twice {
			first[strings.ToLower(bare)] = side
			id, derr := layout.DecodeID(t.tab.Get(layout.Tags, layout.Fold(bare)))
			if derr != nil {
				continue // no wheel of this site's has the tag
			}
			s, err := t.State(id)
			if err != nil {
				return nil, err
			}
			if !s.Here() || s.Place.Site() != "" {
				continue
			}
			other = Side{Site: own.Name, Name: s.Tag}
		}
		d := Disagreement{Kind: SameTag, Thing: "wheel", Name: bare, Stands: other, Other: side}
		d.identify(k[len(k)-16:])
		out = append(out, d)
	}
	return out, nil
}

// clashes lists the wheels of which two sites say what can't both be so. That a wheel was never
// sent is only known once its site has been heard of since, or has gone.
func (t *reader) clashes() (out []Disagreement, err error) {
	own, _ := t.Own()
	ids, err := t.Twins(layout.Wheels, nil)
	if err != nil {
		return nil, err
	}
	lasts, err := t.Lasts()
	if err != nil {
		return nil, err
	}
	at := map[string]string{} // the sites at which entries were written, by their keys
	for _, id := range ids {
		l, err := t.LifeAlone(id)
		if err != nil {
			return nil, err
		}
		for _, c := range l.Clashes(own.Name) {
			from := c.From.Site()
			heard := from == "" || slices.ContainsFunc(lasts, func(l members.Last) bool {
				return l.Name == from && l.Past(c.Second.Written)
			})
			if c.Kind == wheel.NeverSent && !heard {
				continue
			}
			d := Disagreement{
				Kind: Kind(c.Kind), Thing: "wheel", Name: l.Tag,
				Stands: Side{At: c.Second.At, Entry: c.Second}, Other: Side{At: c.First.At, Entry: c.First, Site: from},
			}
			if c.Kind != wheel.NeverSent {
				at[string(pack.EntryKey(c.First))], at[string(pack.EntryKey(c.Second))] = own.Name, own.Name
			}
			d.identify(c.First.ID[:], c.Second.ID[:])
			out = append(out, d)
		}
	}
	if len(at) == 0 {
		return out, nil
	}
	err = t.WrittenAt(layout.Entries, at)
	for i := range out {
		if d := &out[i]; d.Kind != Kind(wheel.NeverSent) {
			d.Stands.Site, d.Other.Site = at[string(pack.EntryKey(d.Stands.Entry))], at[string(pack.EntryKey(d.Other.Entry))]
		}
	}
	return out, err
}

// ofHeads lists what the heads of the sites' histories tell: clocks, forks and older copies.
func (t *reader) ofHeads() (out []Disagreement, err error) {
	heads, err := t.Heads()
	if err != nil {
		return nil, err
	}
	pacts, err := t.Pacts()
	if err != nil {
		return nil, err
	}
	forked, err := t.forked(heads)
	if err != nil {
		return nil, err
	}
	for i, h := range heads {
		of := Disagreement{Thing: "site", Name: h.Name, Stands: Side{Site: h.Name, At: h.Taken}}
		of.identify(h.Site[:], h.Epoch[:])
		if ahead := h.Written.Sub(h.Taken); i > 0 && ahead > table.MostAhead && h.Written.After(t.Now()) {
			d := of
			d.Kind, d.Ahead = ClockAhead, ahead
			d.identify(h.Site[:], h.Epoch[:], []byte(h.Written.String()))
			out = append(out, d)
		}
		if forked[members.Epoch{Site: h.Site, Epoch: h.Epoch}] {
			d := of
			d.Kind = ForkSeen
			d.identify(h.Site[:], h.Epoch[:], []byte(ForkSeen))
			out = append(out, d)
		}
		if !slices.ContainsFunc(pacts, func(p register.Pact) bool {
			return (p.Kind == register.Founded || p.Kind == register.Admitted) && p.Site == h.Site && p.Epoch == h.Epoch
		}) && h.Epoch != t.Settings().ID && h.Number > 0 {
			d := of
			d.Kind = OlderCopy
			d.identify(h.Site[:], h.Epoch[:])
			out = append(out, d)
		}
	}
	return out, nil
}

// forked are the epochs in which two computers wrote, unless what each wrote is in another epoch of its
// site: then it went on, and that's an OlderCopy.
func (t *reader) forked(heads []members.Head) (map[members.Epoch]bool, error) {
	out := map[members.Epoch]bool{}
	note := func(of bundle.Head) {
		if !t.Elsewhere(heads, of) {
			out[members.Epoch{Site: of.Site, Epoch: of.Epoch}] = true
		}
	}
	for _, h := range heads {
		if h.Fork != nil {
			note(bundle.Head{Site: h.Site, Epoch: h.Epoch, Number: h.Fork.Number, Hash: [32]byte(h.Fork.Hash)})
		}
	}
	return out, t.EachBranch(func(b bundle.Bundle, _ ed25519.PublicKey, err error) error {
		if err == nil { // else the check tells of it
			note(b.Head())
		}
		return nil
	})
}

// Restore writes the record of a Replaced again that didn't come to stand: from now on it does.
func Restore(t *store.WriteTx, d Disagreement) error {
	tab, err := t.Table()
	if err != nil {
		return err
	}
	tab.Put(d.bucket, d.key, bytes.Clone(d.Other.Value))
	return t.Took(d.bucket, d.key)
}
