package sites

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/carrier/dial"
	"rindkeep/cmd/carrier/keys"
	"rindkeep/store/members"
	"rindkeep/store/register"
)

// NoWay is a shared book that nothing is exchanged via.
const NoWay reason.Flat = "no-way-to-exchange"

// Listed are the sites that share a book, as it knows them, and how far what it wrote has gone.
type Listed struct {
	Schema string   `json:"schema"`
	Group  string   `json:"group"` // the identity of the book that they share
	Site   string   `json:"site"`  // the book's own
	Sites  []Member `json:"sites"`
	Via    []Way    `json:"via"`

	OnTheWay      []Traveller    `json:"on_the_way"`
	Early         []Early        `json:"received_without_data"`
	Disagreements []Disagreement `json:"disagreements"`
}

// Member is one site.
type Member struct {
	Name    string  `json:"name"`
	ID      string  `json:"id"`
	Own     bool    `json:"own"`
	State   State   `json:"state"`
	Links   uint64  `json:"links"`         // of its history that the book has, of all its epochs
	Newest  *string `json:"newest"`        // when it wrote the last of them, by its clock; null: none
	Taken   *string `json:"taken"`         // when the book took that up; null: it's the book's own
	Until   *string `json:"invited_until"` // of one that hasn't joined
	Revoked *string `json:"revoked"`       // when
	Left    *string `json:"left"`          // when; null: it takes part
}

// State is how a site takes part.
type State string

// The states.
const (
	Joined  State = "joined"
	Invited State = "invited"
	Revoked State = "revoked"
	Left    State = "left"
)

// Way is where bundles go, and what of the book's own history isn't there yet.
type Way struct {
	Address string  `json:"address"` // without a password
	Last    *string `json:"last_exchange"`
	Waiting uint64  `json:"waiting_links"`
	Since   *string `json:"waiting_since"`
}

// List lists the sites that share the book.
func List(ctx context.Context, a *app.App, c app.Caller) (Listed, error) {
	ways, err := ringOf(a).Ways()
	if err != nil {
		return Listed{}, err
	}
	return app.Ask(ctx, a, c, func(s *app.Session) (Listed, error) { return list(s, ways) })
}

func list(s *app.Session, ways []keys.Way) (Listed, error) {
	own, ok := s.Tx.Own()
	if !ok {
		return Listed{}, app.Refuse(app.NotShared)
	}
	heads, err := s.Tx.Heads()
	if err != nil {
		return Listed{}, err
	}
	all, err := s.Tx.Pacts()
	if err != nil {
		return Listed{}, err
	}
	out := Listed{Schema: app.Schema("sites"), Group: own.Group.String(), Site: own.Name, Via: []Way{}}
	out.Sites = listMembers(s, own, heads, all)
	for _, w := range ways {
		out.Via = append(out.Via, way(s, told(own, heads), w))
	}
	if out.OnTheWay, err = travellers(s, own); err == nil {
		out.Disagreements, out.Early, err = disagreements(s)
	}
	return out, err
}

// told is the last of the book's own links that is for the other sites.
func told(own members.Own, heads []members.Head) uint64 {
	if own.Left != nil {
		return min(own.Left.Number, heads[0].Number)
	}
	return heads[0].Number
}

// way says what of the book's own links hasn't gone that way yet.
func way(s *app.Session, number uint64, w keys.Way) Way {
	out := Way{Address: dial.Public(w.Address), Last: instant(s, w.Last)}
	if number > w.Sent {
		out.Waiting = number - w.Sent
		if at, ok := s.Tx.LinkWritten(w.Sent + 1); ok {
			out.Since = instant(s, at)
		}
	}
	return out
}

// listMembers puts together what the heads and the pacts say of each site, the book's own first.
func listMembers(s *app.Session, own members.Own, heads []members.Head, all []register.Pact) []Member {
	byID := map[uuid.UUID]*Member{}
	var order []uuid.UUID
	of := func(site uuid.UUID, name string) *Member {
		if byID[site] == nil {
			byID[site] = &Member{Name: name, ID: site.String(), Own: site == own.Site, State: Joined}
			order = append(order, site)
		}
		return byID[site]
	}
	newest := map[uuid.UUID]time.Time{}
	for _, h := range heads {
		m := of(h.Site, h.Name)
		if m.Links += h.Number; h.Written.After(newest[h.Site]) {
			newest[h.Site] = h.Written
			m.Newest, m.Taken = instant(s, h.Written), instant(s, h.Taken)
		}
	}
	of(own.Root.Site, own.Root.Name)
	withdrawn := map[uuid.UUID]bool{}
	for _, p := range all {
		withdrawn[p.ID] = p.Kind == register.Invited && p.Withdrawn(all, own.Root.Site)
	}
	for _, p := range all {
		if m := byID[p.Site]; m.heeds(p, own.Root.Site, withdrawn) {
			of(p.Site, p.Name).hears(s, p, m != nil)
		}
	}
	if m := of(own.Site, own.Name); own.Left == nil && m.State == Left { // it joined again, and waits for the word
		m.State, m.Left = Joined, nil
	}
	var out []Member
	for _, id := range order {
		out = append(out, *byID[id])
	}
	slices.SortStableFunc(out[1:], func(a, b Member) int { return cmp.Compare(a.Name, b.Name) })
	return out
}

// heeds says whether a pact tells how the site takes part; nil is one that nothing is known of. Only
// its own word, the first site's or that of who had invited it revokes it.
func (m *Member) heeds(p register.Pact, first uuid.UUID, withdrawn map[uuid.UUID]bool) bool {
	switch p.Kind {
	case register.Claimed, register.Settled:
		return false
	case register.Invited:
		return m == nil || !withdrawn[p.ID]
	case register.Admitted:
		return !withdrawn[p.Of] // else the two crossed
	case register.Revoked:
		return p.From == first || p.From == p.Site || withdrawn[p.Of] && m != nil && m.State == Invited
	}
	return true
}

// hears goes on to what a pact says of the site.
func (m *Member) hears(s *app.Session, p register.Pact, known bool) {
	switch {
	case p.Kind == register.Invited && (!known || m.State == Invited || m.State == Revoked && m.Links == 0):
		m.State, m.Until, m.Revoked = Invited, instant(s, p.Until), nil
	case p.Kind == register.Admitted:
		m.State, m.Until, m.Left, m.Revoked = Joined, nil, nil, nil
	case p.Kind == register.Left && p.From == p.Site:
		m.State, m.Left = Left, instant(s, p.Written)
	case p.Kind == register.Revoked:
		m.State, m.Until, m.Revoked = Revoked, nil, instant(s, p.Written)
	}
}

// instant is null where it isn't known.
func instant(s *app.Session, t time.Time) *string {
	if t.IsZero() {
		return nil
	}
	out := app.Instant(t, s.Zone)
	return &out
}

// RevokeQuery names a site whose word isn't taken any more, and says why.
type RevokeQuery struct{ Name, Why string }

// Ended is what revoking a site came to.
type Ended struct {
	Schema    string `json:"schema"`
	Site      string `json:"site"`
	Joined    bool   `json:"joined"` // it had, and what the book has of it stays
	Withdrawn int    `json:"invitations_withdrawn"`
}

// Revoke has what a site writes from now on taken by nobody, as its computer was lost or stolen, and
// withdraws its invitations.
func Revoke(ctx context.Context, a *app.App, c app.Caller, q RevokeQuery) (app.Did[Ended], error) {
	return app.Act(ctx, a, c, func(s *app.Session) (d Ended, err error) {
		own, err := s.TakesPart()
		if err != nil {
			return d, err
		}
		heads, err := s.Tx.Heads()
		if err != nil {
			return d, err
		}
		all, err := s.Tx.Pacts()
		if err != nil {
			return d, err
		}
		epochs, invitations := epochsOf(q.Name, heads, all), unusedOf(q.Name, all)
		if len(epochs)+len(invitations) == 0 || q.Name == own.Name {
			known, err := s.Tx.SiteNames()
			return d, errors.Join(err, app.Refuse(NoSite{q.Name, strings.Join(known, ", ")}))
		}
		if own.Site != own.Root.Site && slices.ContainsFunc(slices.Concat(epochs, invitations), func(p register.Pact) bool {
			return p.From != own.Site
		}) {
			return d, app.Refuse(OnlyFirst{own.Root.Name})
		}
		for _, p := range slices.Concat(epochs, invitations) {
			p.ID, p.Kind, p.Name, p.From, p.Why = s.NextID(), register.Revoked, q.Name, own.Site, q.Why
			p.Written, p.By = s.Time, s.Who
			if err := s.Write.PutPact(p); err != nil {
				return d, err
			}
		}
		return Ended{app.Schema("site-revoke"), q.Name, len(epochs) > 0, len(invitations)}, nil
	})
}

// unusedOf are the withdrawals of a site's invitations that let nobody in.
func unusedOf(name string, all []register.Pact) (out []register.Pact) {
	for _, p := range all {
		if p.Kind == register.Invited && p.Name == name && !slices.ContainsFunc(all, func(o register.Pact) bool {
			return o.Kind == register.Admitted && o.Of == p.ID
		}) {
			out = append(out, register.Pact{Site: p.Site, Of: p.ID, From: p.From})
		}
	}
	return out
}

// epochsOf are the epochs of a site, each with the last link that the book has of it.
func epochsOf(name string, heads []members.Head, all []register.Pact) (out []register.Pact) {
	add := func(site, epoch uuid.UUID, number uint64) {
		same := func(p register.Pact) bool { return p.Site == site && p.Epoch == epoch }
		if !slices.ContainsFunc(out, same) {
			out = append(out, register.Pact{Site: site, Epoch: epoch, Number: number})
		}
	}
	for _, h := range heads {
		if h.Name == name {
			add(h.Site, h.Epoch, h.Number)
		}
	}
	for _, p := range all {
		if p.Name == name && p.Kind == register.Admitted {
			add(p.Site, p.Epoch, 0)
		}
	}
	return out
}
