// Package members reads which sites share a book, how far the book has what each wrote, and who
// may write as which.
package members

import (
	"bytes"
	"cmp"
	"crypto/ed25519"
	"crypto/sha256"
	"iter"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	bolt "go.etcd.io/bbolt"

	"rindkeep/store/bundle"
	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/register"
	"rindkeep/store/sites"
	"rindkeep/store/table"
)

// OwnKey is where Heads keeps which site the book is.
var OwnKey = []byte("own")

// Own is which of several sites a book is.
type Own struct {
	Group uuid.UUID `json:"group"` // the book that the sites share
	Site  uuid.UUID `json:"site"`
	Epoch uuid.UUID `json:"epoch"` // changes when an older copy of the book takes its place
	Name  string    `json:"name"`
	Root  Key       `json:"root"` // of the first site: whose word counts is traced to it

	Key  ed25519.PublicKey `json:"key,omitempty"`  // of the epoch; it vouches for that of another copy of the book
	Left *Departure        `json:"left,omitempty"` // nil: it takes part
}

// Departure is when a site left the others, and the last link that it wrote for them.
type Departure struct {
	At     time.Time `json:"at"`
	Number uint64    `json:"number"` // 0: none of its epoch
}

// Tells says whether a link of the book's own is for the other sites too.
func (o Own) Tells(number uint64) bool { return o.Left == nil || number <= o.Left.Number }

// Key is the key with which a site signs in one epoch.
type Key struct {
	Site  uuid.UUID         `json:"site"`
	Epoch uuid.UUID         `json:"epoch"`
	Key   ed25519.PublicKey `json:"key"`
	Name  string            `json:"name"`
}

// Members are the sites that share a book, as the book's records tell of them.
type Members struct {
	tab   *table.Tx
	pacts func() ([]register.Pact, error)
	own   **Own
}

// Read reads the members from a book's records. own leads to which site the book is, nil where no
// others share it.
func Read(tab *table.Tx, pacts func() ([]register.Pact, error), own **Own) *Members {
	return &Members{tab, pacts, own}
}

// Own is which site the book is; ok is false of a book that no others share.
func (t *Members) Own() (own Own, ok bool) {
	if *t.own == nil {
		return own, false
	}
	return **t.own, true
}

// Shared says whether several sites share the book.
func (t *Members) Shared() bool { return *t.own != nil }

// IsShared says whether a book says which of several sites it is.
func IsShared(tx *bolt.Tx) bool {
	heads := tx.Bucket([]byte(layout.Heads))
	return heads != nil && heads.Get(OwnKey) != nil
}

// Reached is how far the book has what a site wrote in one epoch.
type Reached struct {
	Name   string            `json:"name,omitempty"` // of the site, whatever others call it since
	Number uint64            `json:"number"`
	Hash   []byte            `json:"hash"`
	Ms     int64             `json:"ms"` // when its newest link was written, by its clock
	Taken  time.Time         `json:"taken"`
	Key    ed25519.PublicKey `json:"key"`
	Fork   *Fork             `json:"fork,omitempty"` // the last that was seen
}

// Follows proves that the links of a bundle follow from each other and from what the book has of that
// site; forked where they don't follow from that. The first link has the settings of the book that wrote
// it, and so its time zone. The error is bundle.ErrUnfit.
func (h Reached) Follows(b bundle.Bundle, links []sites.Link) (zone string, forked bool, err error) {
	if uint64(len(links)) != b.Last-b.First+1 {
		return "", false, bundle.ErrUnfit
	}
	sum := b.Before
	if b.First == 1 {
		var set struct {
			ID   uuid.UUID `json:"id"`
			Zone string    `json:"zone"`
		}
		f := links[0].Facts[0]
		if f.Code != layout.Codes[layout.Book] || pack.ReadJSON(f.Value, &set) != nil || chain.Genesis(set.ID) != sum {
			return "", false, bundle.ErrUnfit
		}
		zone = set.Zone
	}
	for i, l := range links {
		n := b.First + uint64(i)
		if h.Number > 0 && n == h.Number+1 && !bytes.Equal(sum[:], h.Hash) {
			return zone, true, nil
		}
		sum = l.Follow(sum, n)
	}
	if sum != b.After {
		return zone, false, bundle.ErrUnfit
	}
	return zone, false, nil
}

// Fork is a link of a site that isn't the one that the book has under that number: two copies of
// the site's book wrote in one epoch.
type Fork struct {
	Number uint64    `json:"number"`
	Hash   []byte    `json:"hash"`
	Seen   time.Time `json:"seen"`
	After  *uint64   `json:"after,omitempty"` // the last link that both have; nil: it isn't known yet
}

// HeadKey is the key in Heads of a site in one epoch.
func HeadKey(site, epoch uuid.UUID) []byte { return append(bytes.Clone(site[:]), epoch[:]...) }

// Reached is how far the book has what a site wrote in one epoch; zero of one it never heard of.
func (t *Members) Reached(site, epoch uuid.UUID) (h Reached, err error) {
	h, _, err = table.Record[Reached](t.tab, layout.Heads, HeadKey(site, epoch), "head")
	return h, err
}

// Head is how far the book has what a site wrote in one epoch.
type Head struct {
	bundle.Head
	Name    string
	Written time.Time // its newest link, by its clock
	Taken   time.Time // when the book took that; zero for its own
	Key     ed25519.PublicKey
	Fork    *Fork
}

// Heads lists how far the book has each site's history, its own first, then by name.
func (t *Members) Heads() ([]Head, error) {
	own, ok := t.Own()
	if !ok {
		return nil, nil
	}
	h, _, _, err := chain.HeadOf(t.tab.Bucket(layout.Chain))
	if err != nil {
		return nil, t.tab.Damaged(err, "chain", nil)
	}
	first := Head{
		Head: bundle.Head{Site: own.Site, Epoch: own.Epoch, Number: uint64(h.Number), Hash: h.Hash}, Name: own.Name,
		Written: h.Written, Key: own.Key,
	}
	if err := t.tab.Flush(layout.Heads); err != nil {
		return nil, err
	}
	var out []Head
	for k, v := range t.tab.In(layout.Heads, nil) {
		if bytes.Equal(k, OwnKey) {
			continue
		}
		var x Reached
		whole := func(hash []byte) bool { return len(hash) == sha256.Size }
		if err := pack.ReadJSON(v, &x); err != nil || len(k) != 32 || !whole(x.Hash) || x.Fork != nil && !whole(x.Fork.Hash) {
			return nil, t.tab.Damaged(cmp.Or(err, pack.ErrForm), "head", k)
		}
		site := uuid.UUID(k[:16])
		name, _, err := t.SiteName(site)
		if err != nil {
			return nil, err
		}
		out = append(out, Head{
			Head: bundle.Head{Site: site, Epoch: uuid.UUID(k[16:]), Number: x.Number, Hash: [32]byte(x.Hash)},
			Name: name, Written: time.UnixMilli(x.Ms).UTC(), Taken: x.Taken, Key: x.Key, Fork: x.Fork,
		})
	}
	slices.SortFunc(out, func(a, b Head) int {
		return cmp.Or(cmp.Compare(a.Name, b.Name), bytes.Compare(a.Epoch[:], b.Epoch[:]))
	})
	return append([]Head{first}, out...), nil
}

// Last is the head of a site's epoch that was written last.
type Last struct {
	Head
	gone bool // the site left with it, or was revoked: nothing more comes
}

// Past says whether nothing more comes of the site that it wrote up to an instant.
func (l Last) Past(at time.Time) bool { return l.gone || l.Written.After(at) }

// Lasts lists how far the book has each site's history, of the epoch that it wrote last.
func (t *Members) Lasts() (out []Last, err error) {
	heads, err := t.Heads()
	if err != nil {
		return nil, err
	}
	all, err := t.pacts()
	own, _ := t.Own()
	for _, h := range heads {
		_, gone := endedOf(h.Site, own, all)[h.Epoch]
		i := slices.IndexFunc(out, func(l Last) bool { return l.Site == h.Site })
		switch {
		case i < 0:
			out = append(out, Last{h, gone})
		case h.Written.After(out[i].Written):
			out[i] = Last{h, gone}
		}
	}
	return out, err
}

// Bundles goes through the bundles of a site's epoch that end after a number, as they came, for
// those who haven't got them.
func (t *Members) Bundles(site, epoch uuid.UUID, after uint64) iter.Seq[[]byte] {
	return func(yield func([]byte) bool) {
		of := HeadKey(site, epoch)
		for k, v := range t.tab.In(layout.Bundles, of) {
			if len(k) == len(of)+8 && bytes.Compare(k[len(of):], layout.LinkKey(after)) > 0 {
				if body, err := pack.Body(v); err != nil || !yield(body) {
					return
				}
			}
		}
	}
}

// SiteName is what a site is called; ok is false where no pact names it.
func (t *Members) SiteName(site uuid.UUID) (name string, ok bool, err error) {
	own, _ := t.Own()
	switch site {
	case own.Site:
		return own.Name, true, nil
	case own.Root.Site:
		return own.Root.Name, true, nil
	}
	if err := t.tab.Flush(layout.Heads); err != nil {
		return "", false, err
	}
	for k, v := range t.tab.In(layout.Heads, site[:]) {
		var h Reached
		if err := pack.ReadJSON(v, &h); err != nil {
			return "", false, t.tab.Damaged(err, "head", k)
		}
		if h.Name != "" {
			return h.Name, true, nil
		}
	}
	all, err := t.pacts()
	for _, p := range all {
		if p.Site == site && p.Name != "" {
			return p.Name, true, err
		}
	}
	return "", false, err
}

// HasNamesake says whether the book is, or has anything of, another site of a name. Two that
// hadn't heard of each other may have invited one each: the names of rooms, lots and wheels begin
// with the site's, so that the book can take only one of them.
func (t *Members) HasNamesake(site uuid.UUID, name string) (bool, error) {
	heads, err := t.Heads() // its own first
	return slices.ContainsFunc(heads, func(h Head) bool { return h.Name == name && h.Site != site }), err
}

// SiteNames are the names of all other sites.
func (t *Members) SiteNames() ([]string, error) {
	own, ok := t.Own()
	if !ok {
		return nil, nil
	}
	out := []string{own.Root.Name}
	all, err := t.pacts()
	for _, p := range all {
		if p.Name != "" {
			out = append(out, p.Name)
		}
	}
	slices.Sort(out)
	out = slices.Compact(out)
	return slices.DeleteFunc(out, func(n string) bool { return n == own.Name }), err
}

// LotCode stands in the lot codes that the book gives, so that no two sites' are the same: as much
// of the site's name as no other's begins with. "" of the first site, and of a book that isn't shared.
func (t *Members) LotCode() string {
	own, shared := t.Own()
	others, err := t.SiteNames()
	if !shared || err != nil || own.Site == own.Root.Site {
		return ""
	}
	name, n := []rune(own.Name), 1
	begins := func(o string) bool { return strings.HasPrefix(o, string(name[:n])) }
	for n < len(name) && slices.ContainsFunc(others, begins) {
		n++
	}
	return strings.ToUpper(string(name[:n]))
}

// Epoch is an epoch of a site.
type Epoch struct{ Site, Epoch uuid.UUID }

// HasLink says whether the book's own chain has a link of that number and hash.
func (t *Members) HasLink(number uint64, hash [32]byte) bool {
	k := layout.LinkKey(number)
	h, err := chain.HeadAt(k, t.tab.Get(layout.Chain, k))
	return err == nil && h.Hash == hash
}

// HasTaken says whether a link is among those that the book took of another site.
func (t *Members) HasTaken(h bundle.Head) bool {
	if t.tab.Bucket(layout.Bundles) == nil {
		return false
	}
	of := HeadKey(h.Site, h.Epoch)
	k, v := t.tab.Bucket(layout.Bundles).Cursor().Seek(append(bytes.Clone(of), layout.LinkKey(h.Number)...))
	return bytes.HasPrefix(k, of) && holds(v, h, nil)
}

// HasBranch says whether a site told of a link, of another branch of an epoch, and the book took that up,
// or can't though it knows the key.
func (t *Members) HasBranch(h bundle.Head) bool {
	of := HeadKey(h.Site, h.Epoch)
	known, err := t.Reached(h.Site, h.Epoch)
	for k, v := range t.tab.In(layout.Branches, of) {
		if err != nil || bytes.Compare(k[len(of):], layout.LinkKey(h.Number)) < 0 {
			continue
		}
		var by ed25519.PublicKey // anybody may have told of one that waits
		waits := t.waits(k)
		if waits {
			by = known.Key
		}
		if (by != nil || !waits) && holds(v, h, by) {
			return true
		}
	}
	return false
}

// Elsewhere says whether another epoch of a link's site has that link too, of all heads. Then the
// computer that wrote it has gone on in that epoch.
func (t *Members) Elsewhere(heads []Head, of bundle.Head) bool {
	return slices.ContainsFunc(heads, func(h Head) bool {
		is := bundle.Head{Site: of.Site, Epoch: h.Epoch, Number: of.Number, Hash: of.Hash}
		return h.Site == of.Site && h.Epoch != of.Epoch &&
			(t.HasTaken(is) || h.Taken.IsZero() && t.HasLink(of.Number, of.Hash))
	})
}

// Doubled says whether a site told of links of the book's own epoch that the book hasn't got: another
// computer wrote as its site.
func (t *Members) Doubled() bool {
	own, _ := t.Own()
	for k, v := range t.tab.In(layout.Branches, HeadKey(own.Site, own.Epoch)) {
		if b, _, err := opened(v); err == nil && !t.waits(k) && !t.HasLink(b.Last, b.After) {
			return true
		}
	}
	return false
}

// waits says whether the book doesn't know yet who wrote a branch.
func (t *Members) waits(branch []byte) bool {
	return t.tab.Get(layout.Waiting, layout.WaitingKey(uuid.Nil, layout.Branches, branch)) != nil
}

// holds says whether a link is in a bundle as the book keeps it, by a key if there is one.
func holds(kept []byte, h bundle.Head, by ed25519.PublicKey) bool {
	b, key, err := opened(kept)
	if err != nil || by != nil && !key.Equal(by) {
		return false
	}
	if b.First > h.Number || b.Last == h.Number {
		return b.Head() == h
	}
	links, err := sites.Unpack(b.Payload)
	if uint64(len(links)) != b.Last-b.First+1 {
		return false
	}
	sum := b.Before
	for n := b.First; err == nil && n <= h.Number; n++ {
		sum = links[n-b.First].Follow(sum, n)
	}
	return err == nil && sum == h.Hash
}

// LinkWritten is when a link of the book's own chain was written; ok is false where it has none
// of that number.
func (t *Members) LinkWritten(number uint64) (at time.Time, ok bool) {
	k := layout.LinkKey(number)
	h, err := chain.HeadAt(k, t.tab.Get(layout.Chain, k))
	return h.Written, err == nil
}

// EachBundle goes through the bundles that the book keeps, site by site in the order of
// their links, each opened.
func (t *Members) EachBundle(each func(b bundle.Bundle, key ed25519.PublicKey, err error) error) error {
	for k, v := range t.tab.In(layout.Bundles, nil) {
		b, key, err := opened(v)
		if err == nil && !bytes.Equal(k, append(HeadKey(b.Site, b.Epoch), layout.LinkKey(b.Last)...)) {
			err = pack.ErrForm
		}
		if err := each(b, key, err); err != nil {
			return err
		}
	}
	return nil
}

// EachBranch goes through the bundles that sites told of, and that the book took up, each opened.
func (t *Members) EachBranch(each func(b bundle.Bundle, key ed25519.PublicKey, err error) error) error {
	for k, v := range t.tab.In(layout.Branches, nil) {
		if t.waits(k) {
			continue
		}
		if err := each(opened(v)); err != nil {
			return err
		}
	}
	return nil
}

// opened opens a bundle as the book keeps it.
func opened(kept []byte) (b bundle.Bundle, key ed25519.PublicKey, err error) {
	body, err := pack.Body(kept)
	if err != nil {
		return b, nil, err
	}
	return bundle.Open(body)
}
