package sites

import (
	"context"
	"crypto/ed25519"
	"os"
	"time"

	"github.com/google/uuid"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/carrier/dial"
	"rindkeep/cmd/carrier/keys"
	"rindkeep/store"
	"rindkeep/store/members"
	"rindkeep/store/register"
)

// Why a site can't be founded, invited or joined.
type (
	// SharedAlready is a book that is a site's already.
	SharedAlready struct {
		Name string `json:"name"`
	}
	// NameTaken is a name that another site has.
	NameTaken struct {
		Name string `json:"name"`
	}
	// OnlyFirst is what only the first site may do.
	OnlyFirst struct {
		First string `json:"first"`
	}
	// NoSite is a name that no site has.
	NoSite struct {
		Name  string `json:"name"`
		Known string `json:"known"`
	}
)

// OnlyAs is a book that left the other sites and would come back as another.
type OnlyAs struct {
	Name  string `json:"name"`
	First string `json:"first"`
}

// OtherZone is a book with another time zone than that of the sites it would join.
type OtherZone struct {
	Zone   string `json:"zone"`
	Theirs string `json:"theirs"`
}

// The codes of these reasons.
func (OtherZone) Code() string     { return "site-other-zone" }
func (OnlyAs) Code() string        { return "site-only-as-before" }
func (SharedAlready) Code() string { return "site-founded-already" }
func (NameTaken) Code() string     { return "site-name-taken" }
func (OnlyFirst) Code() string     { return "only-the-first-site" }
func (NoSite) Code() string        { return "no-such-site" }

// NotInvitation is a text that isn't an invitation, or not the whole of one.
const NotInvitation reason.Flat = "not-an-invitation"

// ringOf is the ring of the app's book.
func ringOf(a *app.App) *keys.Ring { return keys.Open(a.Book) }

// FoundQuery makes a book the first site's.
type FoundQuery struct {
	Name    string // of the site
	Address string // where bundles go; "": nowhere yet
}

// Membership is which site a book has become.
type Membership struct {
	Schema  string `json:"schema"`
	Site    string `json:"site"`
	First   string `json:"first_site"`
	Address string `json:"address"`
}

// Found makes the book that of the first site of several.
func Found(ctx context.Context, a *app.App, c app.Caller, q FoundQuery) (app.Did[Membership], error) {
	ring := ringOf(a)
	return app.Act(ctx, a, c, func(s *app.Session) (d Membership, err error) {
		own, again, err := again(s)
		if err != nil {
			return d, err
		}
		if err := register.CheckSiteName(q.Name); err != nil {
			return d, app.At("name", err)
		}
		switch {
		case again && (own.Site != own.Root.Site || q.Name != own.Name):
			return d, app.Refuse(OnlyAs{Name: own.Name, First: own.Root.Name})
		case !again:
			own.Name = q.Name
			for _, id := range []*uuid.UUID{&own.Group, &own.Site} {
				if *id, err = uuid.NewV7(); err != nil {
					return d, err
				}
			}
		}
		key, err := ring.Make(own.Group, own.Site, own.Epoch, nil)
		if err != nil {
			return d, err
		}
		if err := prepare(ctx, ring, q.Address, own); err != nil {
			return d, err
		}
		own.Key = key.Public()
		own.Root = members.Key{Site: own.Site, Epoch: own.Epoch, Key: key.Public(), Name: own.Name}
		if err := s.Write.Share(own); err != nil {
			return d, err
		}
		err = s.Write.PutPact(register.Pact{
			ID: s.NextID(), Kind: register.Founded, Site: own.Site, Name: own.Name, Epoch: own.Epoch, Public: key.Public(),
			From: own.Site, Written: s.Time, By: s.Who,
		})
		return Membership{app.Schema("site-found"), own.Name, own.Name, dial.Public(q.Address)}, err
	})
}

// again is what a book may become: the site that it was, in a new epoch, where it left the others.
func again(s *app.Session) (own members.Own, again bool, err error) {
	own, again = s.Tx.Own()
	switch own.Epoch = s.Tx.Settings().ID; {
	case again && own.Left == nil:
		err = app.Refuse(SharedAlready{own.Name})
	case again:
		own.Left = nil
		own.Epoch, err = uuid.NewV7()
	}
	return own, again, err
}

// prepare makes the place where bundles go, and remembers it.
func prepare(ctx context.Context, ring *keys.Ring, address string, own members.Own) error {
	if address == "" {
		return nil
	}
	if err := dial.Prepare(ctx, address, own.Group, own.Site); err != nil {
		return err
	}
	return ring.SetWays(address)
}

// InviteQuery lets another site join.
type InviteQuery struct {
	Name string        // of the site: a new one, or one whose book was lost
	For  time.Duration // how long the invitation is good for
}

// Invitation is what the other site needs.
type Invitation struct {
	Schema string `json:"schema"`
	Site   string `json:"site"`
	Text   string `json:"invitation"`
	Until  string `json:"until"`
	Again  bool   `json:"again"` // the site was there before: its book is made again
}

// Invite lets a site join, or join again.
func Invite(ctx context.Context, a *app.App, c app.Caller, q InviteQuery) (app.Did[Invitation], error) {
	ways, err := ringOf(a).Ways()
	if err != nil {
		return app.Did[Invitation]{}, err
	}
	return app.Act(ctx, a, c, func(s *app.Session) (d Invitation, err error) {
		own, err := s.TakesPart()
		if err != nil {
			return d, err
		}
		if err := register.CheckSiteName(q.Name); err != nil {
			return d, app.At("name", err)
		}
		if q.Name == own.Name {
			return d, app.Refuse(NameTaken{q.Name})
		}
		i := keys.Invitation{
			Group: own.Group, RootSite: own.Root.Site, RootEpoch: own.Root.Epoch, RootKey: [32]byte(own.Root.Key),
			RootName: own.Root.Name, From: own.Site, Name: q.Name, Zone: s.Tx.Settings().Zone,
		}
		if len(ways) > 0 {
			i.Address = dial.Public(ways[0].Address)
		}
		if i.Site, d.Again, err = invitable(s, own, q.Name); err != nil {
			return d, err
		}
		i.Renew()
		earlier, err := s.Tx.LetIn(i.Site)
		if err != nil {
			return d, err
		}
		until := s.Time.Add(q.For)
		if err := s.Write.PutPact(register.Pact{
			ID: s.NextID(), Kind: register.Invited, Site: i.Site, Name: q.Name, From: own.Site,
			Public: i.Key().Public().(ed25519.PublicKey), Of: earlier, Until: until, Written: s.Time, By: s.Who,
		}); err != nil {
			return d, err
		}
		text, err := i.Text()
		return Invitation{app.Schema("site-invite"), q.Name, text, app.Instant(until, s.Zone), d.Again}, err
	})
}

// invitable is the site of a name that is to be invited, a new one if there is none; again says whether
// it joined before. Only the first site invites one that did, or that another invited.
func invitable(s *app.Session, own members.Own, name string) (site uuid.UUID, again bool, err error) {
	all, err := s.Tx.Pacts()
	if err != nil {
		return site, false, err
	}
	heads, err := s.Tx.Heads()
	if err != nil {
		return site, false, err
	}
	if site, err = uuid.NewV7(); err != nil {
		return site, false, err
	}
	again = len(epochsOf(name, heads, all)) > 0
	known := again
	for _, p := range all {
		if p.Name == name {
			site, known = p.Site, known || p.From != own.Site
		}
	}
	if name == own.Root.Name {
		site, known = own.Root.Site, true
	}
	if known && own.Site != own.Root.Site {
		return site, again, app.Refuse(OnlyFirst{own.Root.Name})
	}
	return site, again, nil
}

// JoinQuery makes a book another site's.
type JoinQuery struct {
	Invitation string
	Address    string         // where bundles go, if it isn't where the invitation says
	Settings   store.Settings // of the book that's made where there is none; its zone is the other sites'
}

// Join makes the app's book the site's that was invited, a new book if there is none.
func Join(ctx context.Context, a *app.App, c app.Caller, q JoinQuery) (d app.Did[Membership], err error) {
	i, err := keys.ParseInvitation(q.Invitation)
	if err != nil {
		return d, app.At("invitation", reason.Err(NotInvitation))
	}
	if q.Address == "" {
		q.Address = i.Address
	}
	q.Settings.Zone = i.Zone
	made, err := a.Create(q.Settings)
	if err != nil {
		return d, err
	}
	ring := ringOf(a)
	d, err = app.Act(ctx, a, c, func(s *app.Session) (d Membership, err error) {
		own, again, err := again(s)
		if err != nil {
			return d, err
		}
		if zone := s.Tx.Settings().Zone; zone != i.Zone {
			return d, app.Refuse(OtherZone{Zone: zone, Theirs: i.Zone})
		}
		if again && (own.Group != i.Group || own.Site != i.Site) {
			return d, app.Refuse(OnlyAs{Name: own.Name, First: own.Root.Name})
		}
		own.Group, own.Site, own.Name = i.Group, i.Site, i.Name
		own.Root = members.Key{Site: i.RootSite, Epoch: i.RootEpoch, Key: i.RootKey[:], Name: i.RootName}
		key, err := ring.Make(own.Group, own.Site, own.Epoch, i.Key())
		if err != nil {
			return d, err
		}
		own.Key = key.Public()
		if err := prepare(ctx, ring, q.Address, own); err != nil {
			return d, err
		}
		return Membership{app.Schema("site-join"), own.Name, i.RootName, dial.Public(q.Address)}, s.Write.Share(own)
	})
	if err != nil && made {
		_ = os.Remove(a.Book) // it holds nothing but its settings
	}
	return d, err
}
