package sites

import (
	"context"
	"errors"

	"rindkeep/cmd/app"
	"rindkeep/cmd/carrier"
	"rindkeep/cmd/carrier/dial"
	"rindkeep/store/bookfile"
	"rindkeep/store/members"
)

// owner is which site the app's book is. The error is of one that exchanges nothing.
func owner(ctx context.Context, a *app.App) (members.Own, error) {
	return app.Ask(ctx, a, app.Caller{}, (*app.Session).TakesPart)
}

// Via exchanges over the carrier at an address, and notes how far.
func Via(ctx context.Context, a *app.App, address string) (Exchanged, error) {
	c, err := open(ctx, a, address)
	if err != nil {
		return Exchanged{}, err
	}
	defer c.Close()
	return via(ctx, a, c, address)
}

func open(ctx context.Context, a *app.App, address string) (carrier.Carrier, error) {
	own, err := owner(ctx, a)
	if err != nil {
		return nil, err
	}
	return dial.Open(ctx, address, own.Group, own.Site)
}

func via(ctx context.Context, a *app.App, c carrier.Carrier, address string) (Exchanged, error) {
	ring := ringOf(a)
	x, err := Exchange(ctx, a, ring, c)
	x.Carrier = dial.Public(address)
	if err == nil {
		err = ring.Exchanged(address, x.upTo, a.Now())
	}
	return x, err
}

// All exchanges over each address of the book. The error is the first one's, after all were tried.
func All(ctx context.Context, a *app.App) (all []Exchanged, err error) {
	ways, err := ringOf(a).Ways()
	if err != nil {
		return nil, err
	}
	if _, err := owner(ctx, a); err != nil {
		return nil, err
	}
	if len(ways) == 0 {
		return nil, app.Refuse(NoWay)
	}
	for _, w := range ways {
		x, werr := Via(ctx, a, w.Address)
		if werr == nil {
			all = append(all, x)
		}
		err = errors.Join(err, werr)
	}
	return all, err
}

// Loops are what keeps a book in exchange while a program runs: one for each of its addresses, none
// where it shares nothing. said is told of what an exchange came to.
func Loops(ctx context.Context, a *app.App, said func(Exchanged)) ([]*carrier.Loop, error) {
	if takes, err := app.Ask(ctx, a, app.Caller{}, func(s *app.Session) (bool, error) {
		own, shared := s.Tx.Own()
		return shared && own.Left == nil, nil
	}); err != nil || !takes {
		return nil, err
	}
	ways, err := ringOf(a).Ways()
	var loops []*carrier.Loop
	for _, w := range ways {
		loops = append(loops, &carrier.Loop{
			Place: dial.Public(w.Address), Rest: dial.Rest(w.Address), Now: a.Now,
			Rev:  func() (uint64, error) { return bookfile.Revision(a.Book) },
			Open: func(ctx context.Context) (carrier.Carrier, error) { return open(ctx, a, w.Address) },
			Exchange: func(ctx context.Context, c carrier.Carrier) error {
				x, err := via(ctx, a, c, w.Address)
				said(x)
				return err
			},
		})
	}
	return loops, err
}

// ViaQuery says where a book's bundles go from now on.
type ViaQuery struct{ Addresses []string }

// SetVia makes the group's place at each address, where it isn't there, and keeps them.
func SetVia(ctx context.Context, a *app.App, c app.Caller, q ViaQuery) (Listed, error) {
	own, err := owner(ctx, a)
	if err != nil {
		return Listed{}, err
	}
	for _, address := range q.Addresses {
		if err := dial.Prepare(ctx, address, own.Group, own.Site); err != nil {
			return Listed{}, err
		}
	}
	if err := ringOf(a).SetWays(q.Addresses...); err != nil {
		return Listed{}, err
	}
	return List(ctx, a, c)
}
