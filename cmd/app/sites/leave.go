package sites

import (
	"context"
	"errors"
	"strings"

	"github.com/google/uuid"

	"rindkeep/cave/reason"
	"rindkeep/cmd/app"
	"rindkeep/cmd/carrier"
	"rindkeep/cmd/carrier/dial"
	"rindkeep/cmd/carrier/keys"
	"rindkeep/store"
	"rindkeep/store/members"
	"rindkeep/store/register"
)

// LeaveQuery has the book's site leave the others.
type LeaveQuery struct {
	Why    string
	Sure   bool // the person knows that only an invitation lets it in again
	Unsent bool // though not all that it wrote can be sent
}

// Departed is what leaving came to.
type Departed struct {
	Schema string `json:"schema"`
	Site   string `json:"site"`
	Left   string `json:"left"`         // when
	Unsent uint64 `json:"unsent_links"` // that the others lack, of what the site wrote before
}

// Why a site can't leave, or not yet.
type (
	// FirstStays is the first site, while others are there that only it can let in again.
	FirstStays struct {
		Name   string `json:"name"`
		Others string `json:"others"`
	}
	// LeavesOthers says what leaving means.
	LeavesOthers struct {
		Name  string `json:"name"`
		First string `json:"first"`
	}
	// StillUnsent is what the others lack, and why it can't be sent.
	StillUnsent struct {
		Links int           `json:"links"`
		Why   reason.Reason `json:"why"`
	}
)

// The codes.
func (FirstStays) Code() string   { return "first-site-stays" }
func (LeavesOthers) Code() string { return "site-leaves" }
func (StillUnsent) Code() string  { return "site-links-unsent" }

// Leave has the book's site leave the others: it sends what they lack, says that it leaves, and
// exchanges nothing from then on. Done again, it sends what couldn't be sent.
func Leave(ctx context.Context, a *app.App, c app.Caller, q LeaveQuery) (d app.Did[Departed], err error) {
	return leave(ctx, a, c, q, func() error {
		_, err := All(ctx, a)
		return err
	}, func() error {
		ways, err := ringOf(a).Ways()
		for _, w := range ways {
			err = errors.Join(err, partVia(ctx, a, w.Address))
		}
		return err
	})
}

// leave is Leave with what exchanges and what sends the last.
func leave(
	ctx context.Context, a *app.App, c app.Caller, q LeaveQuery, exchange, part func() error,
) (d app.Did[Departed], err error) {
	own, err := app.Ask(ctx, a, c, func(s *app.Session) (members.Own, error) { return mayLeave(s, q) })
	if err != nil {
		return d, err
	}
	if own.Left == nil {
		if own.Site != own.Root.Site { // else nobody is there any more
			if err := exchange(); err != nil && !q.Unsent {
				return d, stillUnsent(ctx, a, err)
			}
		}
		// An older copy goes on in a new epoch first, even where no carrier can be reached: it's that
		// which ends, not the one in which it wrote more than it knows.
		x := newExchange(ctx, a, ringOf(a), nil)
		if _, err := x.heads(); err != nil {
			return d, err
		}
		if err := x.older(nil); err != nil {
			return d, err
		}
		d, err = app.Act(ctx, a, c, func(s *app.Session) (d Departed, err error) {
			if _, err := mayLeave(s, q); err != nil {
				return d, err
			}
			return d, s.Write.Leave(register.Pact{ID: s.NextID(), Why: q.Why, Written: s.Time, By: s.Who})
		})
		if err != nil || d.Known != nil {
			return d, err
		}
	}
	if err := part(); err != nil && own.Left != nil && !q.Unsent {
		return d, stillUnsent(ctx, a, err)
	}
	d.Result, err = app.Ask(ctx, a, c, departure)
	return d, err
}

// mayLeave refuses where the book's site can't leave, or the person may not know what that means.
func mayLeave(s *app.Session, q LeaveQuery) (own members.Own, err error) {
	own, shared := s.Tx.Own()
	switch {
	case !shared:
		return own, app.Refuse(app.NotShared)
	case own.Left != nil:
		return own, nil
	}
	heads, err := s.Tx.Heads()
	if err != nil {
		return own, err
	}
	all, err := s.Tx.Pacts()
	if err != nil {
		return own, err
	}
	var others []string
	for _, m := range listMembers(s, own, heads, all) {
		if !m.Own && m.State == Joined {
			others = append(others, m.Name)
		}
	}
	switch {
	case own.Site == own.Root.Site && len(others) > 0:
		return own, app.Refuse(FirstStays{own.Name, strings.Join(others, ", ")})
	case !q.Sure:
		return own, app.Unsure(LeavesOthers{own.Name, own.Root.Name})
	}
	return own, nil
}

// stillUnsent refuses, because of an error, to leave what others lack.
func stillUnsent(ctx context.Context, a *app.App, cause error) error {
	why := reason.Of(cause)
	if why == nil {
		return cause
	}
	d, err := app.Ask(ctx, a, app.Caller{}, departure)
	return errors.Join(err, app.Refuse(StillUnsent{Links: int(d.Unsent), Why: why}))
}

// departure is how far the others have what the book's site wrote for them.
func departure(s *app.Session) (d Departed, err error) {
	own, _ := s.Tx.Own()
	heads, err := s.Tx.Heads()
	if err != nil {
		return d, err
	}
	ways, err := ringOf(&s.App).Ways()
	d = Departed{Schema: app.Schema("site-leave"), Site: own.Name}
	if own.Left != nil {
		d.Left = app.Instant(own.Left.At, s.Zone)
	}
	if len(ways) == 0 {
		d.Unsent = told(own, heads)
	}
	for _, w := range ways {
		d.Unsent = max(d.Unsent, way(s, told(own, heads), w).Waiting)
	}
	return d, err
}

// partVia sends the last of what the book's site wrote for the others, once it has left them.
func partVia(ctx context.Context, a *app.App, address string) error {
	x := newExchange(ctx, a, ringOf(a), nil)
	if _, err := x.heads(); err != nil {
		return err
	}
	c, err := dial.Open(ctx, address, x.own.Group, x.own.Site)
	if err != nil {
		return err
	}
	defer c.Close()
	if err := x.part(c); err != nil {
		return err
	}
	return x.ring.Exchanged(address, x.out.upTo, a.Now())
}

// part puts what a carrier lacks, and takes up nothing.
func (x *exchange) part(c carrier.Carrier) error {
	x.c = c
	if _, err := x.heads(); err != nil {
		return err
	}
	there, err := c.Heads(x.ctx)
	if err != nil {
		return err
	}
	return x.giveAll(there)
}

// departed notices that the book is an older copy of one that has left since: so has this one.
func (x *exchange) departed() error {
	first, err := x.beginning(x.own.Epoch)
	if err != nil {
		return err
	}
	var left *register.Pact
	if err := x.view(func(t *store.ReadTx) error {
		all, err := t.Pacts()
		for _, p := range all {
			if p.Kind != register.Left || p.Site != x.own.Site || p.From != p.Site || err != nil {
				continue
			}
			var same uuid.UUID
			if same, err = x.beginning(p.Epoch); same == first {
				left = &p
			}
			if errors.Is(err, keys.ErrNoKey) {
				err = nil
			}
		}
		return err
	}); err != nil || left == nil {
		return err
	}
	x.own.Left = &members.Departure{At: left.Written}
	return errors.Join(x.update(func(t *store.WriteTx) error { return t.Share(x.own) }),
		app.Refuse(app.HasLeft{Name: x.own.Name, First: x.own.Root.Name}))
}

// beginning is the epoch in which the site joined, of one that came of it as older copies went on.
func (x *exchange) beginning(epoch uuid.UUID) (uuid.UUID, error) {
	key, err := x.ring.Key(epoch)
	for err == nil {
		older, ok, berr := x.ring.Before(key)
		if !ok || berr != nil {
			return key.Epoch, berr
		}
		key = older
	}
	return uuid.Nil, err
}
