package store

import (
	"bytes"
	"cmp"
	"crypto/ed25519"
	"iter"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"
	bolt "go.etcd.io/bbolt"

	"rindkeep/store/bundle"
	"rindkeep/store/chain"
	"rindkeep/store/layout"
	"rindkeep/store/pack"
	"rindkeep/store/refusal"
	"rindkeep/store/register"
	"rindkeep/store/sites"
	"rindkeep/store/sorts"
	"rindkeep/store/table"
)

// SharedFormat is the format of a book that several sites share: an older program would read
// it as one site's.
const SharedFormat = 4

// ownKey is where Heads keeps which site the book is.
var ownKey = []byte("own")

// OwnSite is which of several sites a book is.
type OwnSite struct {
	Group uuid.UUID `json:"group"` // the book that the sites share
	Site  uuid.UUID `json:"site"`
	Epoch uuid.UUID `json:"epoch"` // changes when an older copy of the book takes its place
	Name  string    `json:"name"`
	Root  SiteKey   `json:"root"` // of the first site: whose word counts is traced to it

	Key  ed25519.PublicKey `json:"key,omitempty"`  // of the epoch; it vouches for that of another copy of the book
	Left *Departure        `json:"left,omitempty"` // nil: it takes part
}

// Departure is when a site left the others, and the last link that it wrote for them.
type Departure struct {
	At     time.Time `json:"at"`
	Number uint64    `json:"number"` // 0: none of its epoch
}

// Tells says whether a link of the book's own is for the other sites too.
func (o OwnSite) Tells(number uint64) bool { return o.Left == nil || number <= o.Left.Number }

// SiteKey is the key with which a site signs in one epoch.
type SiteKey struct {
	Site  uuid.UUID         `json:"site"`
	Epoch uuid.UUID         `json:"epoch"`
	Key   ed25519.PublicKey `json:"key"`
	Name  string            `json:"name"`
}

// Own is which site the book is; ok is false of a book that no others share.
func (t *ReadTx) Own() (own OwnSite, ok bool) {
	if t.book.site == nil {
		return own, false
	}
	return *t.book.site, true
}

// shared says whether several sites share the book.
func (t *ReadTx) shared() bool { return t.book.site != nil }

// isShared says whether a book says which of several sites it is.
func isShared(tx *bolt.Tx) bool {
	heads := tx.Bucket([]byte(layout.Heads))
	return heads != nil && heads.Get(ownKey) != nil
}

// loadSite reads which site the book is.
func (b *Book) loadSite(tx *bolt.Tx) error {
	b.site, b.file.Site = nil, uuid.Nil
	if !isShared(tx) {
		return nil
	}
	own := OwnSite{}
	if err := pack.ReadJSON(tx.Bucket([]byte(layout.Heads)).Get(ownKey), &own); err != nil {
		return err
	}
	b.site, b.file.Site = &own, own.Site
	return nil
}

// Share makes the book one of several sites, or gives it another epoch. Whatever it holds is
// this site's.
func (t *WriteTx) Share(own OwnSite) error {
	if err := register.CheckSiteName(own.Name); err != nil {
		return refusal.Refused{Cause: err}
	}
	v, err := pack.JSON(own)
	if err != nil {
		return err
	}
	if !t.shared() {
		if err := t.flush(); err != nil {
			return err
		}
		if err := t.markStood(own.Site); err != nil {
			return err
		}
	}
	t.tab.Put(layout.Heads, ownKey, v)
	t.tab.Put(layout.Book, []byte("format"), []byte(strconv.Itoa(SharedFormat)))
	t.book.site, t.book.file.Site = &own, own.Site
	return nil
}

// siteHead is how far the book has what a site wrote in one epoch.
type siteHead struct {
	Number uint64            `json:"number"`
	Hash   []byte            `json:"hash"`
	Ms     int64             `json:"ms"` // when its newest link was written, by its clock
	Taken  time.Time         `json:"taken"`
	Key    ed25519.PublicKey `json:"key"`
	Fork   *Fork             `json:"fork,omitempty"` // the last that was seen
}

// Fork is a link of a site that isn't the one that the book has under that number: two copies of
// the site's book wrote in one epoch.
type Fork struct {
	Number uint64    `json:"number"`
	Hash   []byte    `json:"hash"`
	Seen   time.Time `json:"seen"`
}

func headKey(site, epoch uuid.UUID) []byte { return append(bytes.Clone(site[:]), epoch[:]...) }

func (t *ReadTx) siteHead(site, epoch uuid.UUID) (h siteHead, err error) {
	h, _, err = table.Record[siteHead](t.tab, layout.Heads, headKey(site, epoch), "head")
	return h, err
}

// SiteHead is how far the book has what a site wrote in one epoch.
type SiteHead struct {
	bundle.Head
	Name    string
	Written time.Time // its newest link, by its clock
	Taken   time.Time // when the book took that; zero for its own
	Key     ed25519.PublicKey
	Fork    *Fork
}

// Heads lists how far the book has each site's history, its own first, then by name.
func (t *ReadTx) Heads() ([]SiteHead, error) {
	own, ok := t.Own()
	if !ok {
		return nil, nil
	}
	h, _, _, err := t.Head()
	if err != nil {
		return nil, err
	}
	first := SiteHead{
		Head: bundle.Head{Site: own.Site, Epoch: own.Epoch, Number: uint64(h.Number), Hash: h.Hash}, Name: own.Name,
		Written: h.Written, Key: own.Key,
	}
	if err := t.tab.Flush(layout.Heads); err != nil {
		return nil, err
	}
	var out []SiteHead
	for k, v := range t.tab.In(layout.Heads, nil) {
		if bytes.Equal(k, ownKey) {
			continue
		}
		var x siteHead
		if err := pack.ReadJSON(v, &x); err != nil || len(k) != 32 || len(x.Hash) != 32 {
			return nil, t.tab.Damaged(cmp.Or(err, pack.ErrForm), "head", k)
		}
		site := uuid.UUID(k[:16])
		name, _, err := t.SiteName(site)
		if err != nil {
			return nil, err
		}
		out = append(out, SiteHead{
			Head: bundle.Head{Site: site, Epoch: uuid.UUID(k[16:]), Number: x.Number, Hash: [32]byte(x.Hash)},
			Name: name, Written: time.UnixMilli(x.Ms).UTC(), Taken: x.Taken, Key: x.Key, Fork: x.Fork,
		})
	}
	slices.SortFunc(out, func(a, b SiteHead) int {
		return cmp.Or(cmp.Compare(a.Name, b.Name), byID(a.Epoch, b.Epoch))
	})
	return append([]SiteHead{first}, out...), nil
}

// Bundles goes through the bundles of a site's epoch that end after a number, as they came, for
// those who haven't got them.
func (t *ReadTx) Bundles(site, epoch uuid.UUID, after uint64) iter.Seq[[]byte] {
	return func(yield func([]byte) bool) {
		of := headKey(site, epoch)
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
func (t *ReadTx) SiteName(site uuid.UUID) (name string, ok bool, err error) {
	own, _ := t.Own()
	switch site {
	case own.Site:
		return own.Name, true, nil
	case own.Root.Site:
		return own.Root.Name, true, nil
	}
	all, err := t.Pacts()
	for _, p := range all {
		if p.Site == site && p.Name != "" {
			return p.Name, true, err
		}
	}
	return "", false, err
}

// SiteNames are the names of all other sites.
func (t *ReadTx) SiteNames() ([]string, error) {
	own, ok := t.Own()
	if !ok {
		return nil, nil
	}
	out := []string{own.Root.Name}
	all, err := t.Pacts()
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
func (t *ReadTx) LotCode() string {
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

// SiteKeyOf is an epoch of a site.
type SiteKeyOf struct{ Site, Epoch uuid.UUID }

// HasLink says whether the book's own chain has a link of that number and hash.
func (t *ReadTx) HasLink(number uint64, hash [32]byte) bool {
	k := layout.LinkKey(number)
	h, err := chain.HeadAt(k, t.tab.Get(layout.Chain, k))
	return err == nil && h.Hash == hash
}

// HasTaken says whether a link is among those that the book took of another site.
func (t *ReadTx) HasTaken(h bundle.Head) bool {
	of := headKey(h.Site, h.Epoch)
	k, v := t.tab.Bucket(layout.Bundles).Cursor().Seek(append(bytes.Clone(of), layout.LinkKey(h.Number)...))
	if !bytes.HasPrefix(k, of) {
		return false
	}
	body, err := pack.Body(v)
	if err != nil {
		return false
	}
	b, _, err := bundle.Open(body)
	if err != nil || b.Last == h.Number {
		return err == nil && b.After == h.Hash
	}
	links, err := sites.Unpack(b.Payload)
	sum := b.Before
	for n := b.First; err == nil && n <= h.Number; n++ {
		sum = links[n-b.First].Follow(sum, n)
	}
	return err == nil && sum == h.Hash
}

// LinkWritten is when a link of the book's own chain was written; ok is false where it has none
// of that number.
func (t *ReadTx) LinkWritten(number uint64) (at time.Time, ok bool) {
	k := layout.LinkKey(number)
	h, err := chain.HeadAt(k, t.tab.Get(layout.Chain, k))
	return h.Written, err == nil
}

// markStood notes when each record was written that another site's may come to replace, of a
// book that wasn't shared until now.
func (t *WriteTx) markStood(site uuid.UUID) error {
	c := t.tab.Walk(layout.Chain)
	for k, v := c.Seek(nil); k != nil; k, v = c.Next() {
		l, err := chain.Decode(v)
		if err != nil {
			return t.tab.Damaged(err, "chain", nil)
		}
		for _, f := range l.Facts {
			if name := layout.OfCode[f.Code]; layout.ByClock[name] {
				stood := table.Stood(l.Written().UnixMilli(), site)
				t.tab.Put(layout.Stood, table.StoodKey(name, f.Key), stood)
				if v := t.tab.Get(name, f.Key); f.Is(chain.Digest(f.Code, f.Key, v)) {
					t.tab.Version(name, f.Key, nil, bytes.Clone(v), stood)
				}
			}
		}
	}
	return nil
}

// takeHeadLine takes a line of Heads: which site the book is, or how far it has another's
// history.
func (t *WriteTx) takeHeadLine(s sorts.Sort, line []byte) error {
	x, err := sorts.Parse(t.tab, layout.Heads, line, func(x sorts.Shared) []byte { return x.Key })
	switch {
	case err != nil:
		return err
	case !bytes.Equal(x.Key, ownKey):
		return s.Take(t.Writer, t.tab, line)
	}
	var own OwnSite
	if err := pack.ReadJSON(x.Value, &own); err != nil {
		return err
	}
	return t.Share(own)
}
